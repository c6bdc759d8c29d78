"""Packs and journeys end to end: what each part does to the date, and that the water balance closes with all of them on."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.keeping import KeepingStatement
from hardtack.keeping import keep as keep_product
from hardtack.keeping.pack_told import WET
from hardtack.product import loads
from hardtack.states import History
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density

HEAD = """
hardtack: 1
name: test cracker
kind: soda cracker
origin: invented
packed on: 2026-06-01
piece: {shape: slab, thickness: 4.5 mm, length: 60 mm, width: 50 mm, mass: 7.6 g, count: 26,
  layers: [{name: cracker, moisture: 2.6 %wb, activity: 0.17, activity at: 25 degC}]}
limits: {crispness: {activity: 0.43, at: 25 degC}}
"""
FILM = "film: {transmission: 4 g/m2/day, tested at: {temperature: 25 degC, humidity outside: 75 %, humidity inside: 0 %}, activation energy: 0 J/mol}"
PACK = f"pack: {{{FILM}, area: 0.06 m2, headspace: 250 mL, whole-pack factor: 1.0}}\n"
STORE = "journey: [{leg: store, lasts: until it fails, temperature: 25 degC, humidity: 75 %}]\n"


def keep(pack: str = PACK, journey: str = STORE) -> KeepingStatement:
    return keep_product(loads(HEAD + pack + journey))


def days(pack: str = PACK, journey: str = STORE) -> float:
    found = keep(pack, journey).days
    assert found is not None
    return found


def extra(text: str) -> str:
    return PACK.replace("whole-pack factor: 1.0", f"whole-pack factor: 1.0, {text}")


def test_an_outer_pack_of_air_alone_is_a_resistance_in_series() -> None:
    """Conductances in series: the date is that of the pack with g_pack g_outer / (g_pack + g_outer)."""
    g = 4e-3 / DAY / 0.75 * 0.06  # kg/s per unit activity, by the film's own test
    wanted = g  # of the carton, for each of its 20 packs
    changes = 20 * wanted / (1e-3 * float(vapour_density(saturation_pressure(298.15), 298.15))) * DAY
    boxed = extra(f"outer packs: [{{name: carton, holds: 20, air: 1 L, air changes: {changes} 1/day}}]")
    halved = PACK.replace("area: 0.06 m2", "area: 0.03 m2")
    assert days(boxed) == pytest.approx(days(halved), rel=5e-3)


def test_a_carton_s_board_buys_days_in_damp_air() -> None:
    carton = "outer packs: [{name: carton, holds: 20, air: 6 L, air changes: 0.5 1/h, board: 400 g}]"
    weeks = "journey: [{leg: stock, lasts: 12 days, temperature: 25 degC, humidity: 40 %}, {leg: store, lasts: until it fails, temperature: 25 degC, humidity: 85 %}]\n"
    assert days(extra(carton), weeks) > 1.02 * days(PACK, weeks)


def test_outer_packs_are_off_when_the_leg_says_so() -> None:
    carton = extra("outer packs: [{name: carton, holds: 20, air: 6 L, air changes: 1 1/h}]")
    off = STORE.replace("humidity: 75 %", "humidity: 75 %, outer packs: none")
    assert days(carton, off) == pytest.approx(days(), rel=2e-3)
    assert days(carton) > 1.3 * days()


def test_a_desiccant_buys_what_it_takes_up() -> None:
    statement = keep(extra("desiccant: {kind: silica gel, mass: 10 g}"))
    assert statement.days is not None
    assert statement.days > 1.2 * days()
    X = statement.history.desiccant[:, 0]
    assert X[0] == pytest.approx(0.03 / 0.97)
    assert np.all(np.diff(X) > -1e-9)
    assert any("silica gel took up" in line for line in statement.causes)


def test_ten_grams_of_silica_by_hand() -> None:
    """Both take up at one activity: the days are those of the pieces' and the silica's water over the same drive.

    Water to the limit: cracker by its isotherm, silica from 3 % (as supplied, dry) to its 0.43; within a tenth, as the
    drive falls a little differently on the way.
    """
    plain, dried = keep(), keep(extra("desiccant: {kind: silica gel, mass: 10 g}"))
    own = float(plain.history.water_gained[np.searchsorted(plain.history.times, plain.end)])
    silica = 0.010 * 0.97 * (float(np.interp(0.43, [0.4, 0.6], [0.22, 0.29])) - 0.03 / 0.97)
    assert plain.days is not None
    assert dried.days is not None
    assert dried.days / plain.days == pytest.approx((own + silica) / own, rel=0.1)


def test_a_paper_bag_opens_in_damp_air() -> None:
    law = PACK.replace("activation energy: 0 J/mol}", "activation energy: 0 J/mol, humidity law: paper}")
    damp = STORE.replace("humidity: 75 %", "humidity: 90 %")
    assert days(law, damp) < 0.95 * days(PACK, damp)
    assert any("opens in damp air" in line for line in keep(law, damp).causes)


def test_five_minutes_a_day_and_a_clip_cost_most_of_the_life() -> None:
    home = STORE.replace("humidity: 75 %", "humidity: 75 %, opened: {each day: 5 min, reclosed: clip}")
    half = home.replace("clip}", "clip, pieces left: 50 %}")
    assert days(PACK, home) < 0.25 * days()
    assert days(PACK, half) == pytest.approx(days(PACK, home) / 2, rel=0.05)


def test_a_hole_by_size() -> None:
    assert days(extra("leaks: [{diameter: 1 mm, depth: 50 um}]")) < 0.9 * days()
    assert days(extra("leaks: [{diameter: 20 um, depth: 50 um}]")) == pytest.approx(days(), rel=0.02)


ALL_ON = extra(
    "desiccant: {kind: silica gel, mass: 1 mg, moisture: 24 %wb}, leaks: [{diameter: 20 um, depth: 60 um}], outer packs: "
    "[{name: carton, holds: 24, air: 6 L, air changes: 5 1/h, board: 350 g}]"
).replace("transmission: 4 g/m2/day", "transmission: 0.05 g/m2/day")
ROUGH = """journey:
  - {leg: warehouse, lasts: 2 days, temperature: 4 degC, humidity: 80 %, load lag: 3 h, load starts at: 38 degC, outer packs: none}
  - {leg: stock, lasts: 3 days, temperature: 25 degC, humidity: 70 %}
  - {leg: home, lasts: 2 days, temperature: 25 degC, humidity: 65 %, opened: {each day: 5 min, reclosed: clip, pieces left: 50 %}}
"""


def test_the_balance_closes_with_condensation_desiccant_and_outer_packs() -> None:
    """A moist piece that takes up next to nothing itself, cooled in its pack: the headspace's own water lies on the film."""
    moist = HEAD.replace(
        "moisture: 2.6 %wb, activity: 0.17, activity at: 25 degC", "moisture: 24 %wb, diffusivity: 1e-18 m2/s"
    ).replace("activity: 0.43, at: 25 degC", "moisture: 40 %wb")
    statement = keep_product(loads(moist + ALL_ON + ROUGH))
    history: History = statement.history
    assert history.method == "transport"
    assert history.headspace.max() > WET, "water lay on the film"
    assert history.imbalance <= 1e-12
    assert any("inside of the film" in line for line in statement.causes)


def test_freezing_stops_the_water_and_the_ice_line_holds() -> None:
    frozen = "journey: [{leg: freezer, lasts: 90 days, climate: freezer}, {leg: store, lasts: until it fails, temperature: 25 degC, humidity: 75 %}]\n"
    statement = keep(PACK, frozen)
    assert statement.days == pytest.approx(90 + days(), rel=0.06)
    assert statement.legs[0].humidity[1] <= 0.845
