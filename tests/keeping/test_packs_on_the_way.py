"""Packs and journeys end to end: what each part does to the date, and that the water balance closes with all of them on."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack.errors import BalanceError
from hardtack.keeping import KeepingStatement, settle
from hardtack.keeping import keep as keep_product
from hardtack.keeping.pack_told import WET
from hardtack.pack.film import pack_conductance
from hardtack.product import loads
from hardtack.states import History
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import slope

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


def test_the_air_in_the_carton_is_told() -> None:
    carton = "outer packs: [{name: carton, holds: 20, air: 6 L, air changes: 0.02 1/h, board: 400 g}]"
    weeks = "journey: [{leg: stock, lasts: 12 days, temperature: 25 degC, humidity: 40 %}, {leg: store, lasts: until it fails, temperature: 25 degC, humidity: 85 %}]\n"
    told = [line for line in keep(extra(carton), weeks).causes if line.startswith("In the carton")]
    assert len(told) == 2
    assert "(40% to 40% outside)" in told[0]
    near = [float(x) for x in re.findall(r"(\d+)% to (\d+)% on", told[1])[0]]
    assert 17 < near[0] < near[1] < 85, "between the crackers and the air outside"


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


def test_moist_rolls_packed_warm_with_desiccant_and_crate() -> None:
    """The pieces take part: what condenses is theirs, wall and product have their own temperatures, and all is audited."""
    rolls = """
hardtack: 1
name: test rolls
kind: bread
origin: invented
piece: {shape: slab, thickness: 30 mm, length: 80 mm, width: 60 mm, mass: 50 g, count: 6, layers: [{name: crumb, activity: 0.80,
  activity at: 25 degC, isotherm: bread crumb, diffusivity: bread crumb}]}
limits: {drying out: {moisture: 8 %db}}
pack: {film: LDPE, area: 0.12 m2, headspace: 600 mL, desiccant: {kind: silica gel, mass: 0.2 g},
  outer packs: [{name: crate, holds: 12, air: 20 L, air changes: 1 1/h, board: 250 g}]}
journey:
  - {leg: bagged, lasts: 2 days, temperature: 20 degC, humidity: 70 %, load lag: 1.5 h, load starts at: 45 degC}
  - {leg: shop, lasts: 6 days, temperature: 22 degC, humidity: 55 %}
"""
    statement = keep_product(loads(rolls))
    assert 0.0 < statement.history.imbalance <= 1e-12
    (told,) = [line for line in statement.causes if line.startswith("Packed at 45 °C")]
    assert "condense on the film: most after" in told
    assert "and the film at" in told
    assert "taken back after" in told


TIN = extra("outer packs: [{name: tin, holds: 12, air: 4 L, air changes: 0.005 1/h}]").replace(
    "transmission: 4 g/m2/day", "transmission: 80 g/m2/day"
)
TIGHT_CARTON = TIN.replace("air changes: 0.005 1/h", "air changes: 0.005 1/h, board: 150 g")
SERIES = extra(
    "outer packs: [{name: carton, holds: 20, air: 6 L, air changes: 0.2 1/h, board: 300 g}, "
    "{name: hood, holds: 40, air: 600 L, film: LDPE, area: 8 m2, air changes: 0.01 1/h}]"
)
SWINGS = """journey:
  - {leg: stock, lasts: 20 days, temperature: {mean: 24 degC, daily swing: 6 K, warmest at: "14:00"}, humidity: {mean: 70 %, daily swing: -15 %}}
  - {leg: cool store, lasts: 10 days, temperature: 12 degC, humidity: 80 %, outer packs: carton}
  - {leg: shop, lasts: 15 days, temperature: 25 degC, humidity: 70 %, outer packs: none}
"""


@pytest.mark.parametrize(("pack", "journey"), [(TIGHT_CARTON, STORE), (SERIES, STORE), (SERIES, SWINGS)])
def test_packs_outer_airs_and_boards_close_as_one_account(pack: str, journey: str) -> None:
    history = keep(pack, journey).history
    assert history.method == "transport"
    assert 0.0 < history.imbalance <= 1e-12


@pytest.mark.parametrize("leak", ["inflow", "held"])
def test_a_leak_between_pack_and_carton_is_seen(monkeypatch: pytest.MonkeyPatch, leak: str) -> None:
    """One part in a hundred million of what the march let in, or of what it holds, gone astray."""
    honest = settle.history_of

    def leaky(*given: Any) -> History:
        history = honest(*given)
        if leak == "inflow":
            return replace(history, water_gained=history.water_gained * (1 + 1e-8))
        return replace(history, held=history.held * (1 - 1e-8 * history.times / history.times[-1]))

    monkeypatch.setattr(settle, "history_of", leaky)
    with pytest.raises(BalanceError, match="the packs around them"):
        keep(SERIES)


def test_packs_in_a_tight_tin_against_an_integrator() -> None:
    """Pieces as one lump, headspace and tin's air by scipy: the tin is tighter by far than the packs in it.

    The pieces are thin and open, so the lump is right to the share of their own resistance.
    """
    statement = keep(TIN)
    history, piece, pack = statement.history, statement.pieces[0], statement.pack
    assert pack is not None
    layer = piece.layers[0]
    T, full = 298.15, float(vapour_density(saturation_pressure(298.15), 298.15))
    g_pack = float(pack_conductance(pack, T))
    g_tin = 4e-3 * 0.005 / 3600 * full
    assert 12 * g_pack > 50 * g_tin
    dry = piece.count * layer.dry_mass

    def rates(t: float, a: Any) -> list[float]:
        into, through = g_tin * (0.75 - a[1]), g_pack * (a[1] - a[0])
        rise = dry * float(slope(layer.isotherm, np.array([a[0]]), T)[0]) + pack.headspace * full
        return [through / rise, (into - 12 * through) / (4e-3 * full)]

    end = float(history.times[-1])
    start = [float(history.headspace[0]), 0.75]
    exact = solve_ivp(rates, (0.0, end), start, t_eval=history.times, method="Radau", rtol=1e-8, atol=1e-10)
    later = history.times > 10 * DAY
    np.testing.assert_allclose(history.activity[later, 0], exact.y[0][later], atol=2e-3)


def test_packs_in_a_carton_with_board_against_an_integrator() -> None:
    """Pieces as one lump, headspace and the carton's air with its board by scipy, in air that is damp and then dry.

    The carton steps by the hour and more, to the first order: a few thousandths in activity.
    """
    boxed = extra("outer packs: [{name: carton, holds: 20, air: 6 L, air changes: 0.05 1/h, board: 400 g}]")
    weeks = (
        "journey: [{leg: port, lasts: 30 days, temperature: 25 degC, humidity: 85 %}, "
        "{leg: store, lasts: 60 days, temperature: 25 degC, humidity: 40 %}]\n"
    )
    statement = keep_product(loads(HEAD.replace("activity: 0.43", "activity: 0.80") + boxed + weeks))
    history, piece, pack = statement.history, statement.pieces[0], statement.pack
    assert pack is not None
    layer, board = piece.layers[0], pack.outer[0]
    T, full = 298.15, float(vapour_density(saturation_pressure(298.15), 298.15))
    g_pack, g_box = float(pack_conductance(pack, T)), 6e-3 * 0.05 / 3600 * full
    dry = piece.count * layer.dry_mass
    assert board.isotherm is not None

    def rates(t: float, a: Any) -> list[float]:
        outside = 0.85 if t < 30 * DAY else 0.40
        through = g_pack * (a[1] - a[0])
        pieces = dry * float(slope(layer.isotherm, np.array([a[0]]), T)[0]) + pack.headspace * full
        carton = board.board * float(slope(board.isotherm, np.array([a[1]]), 296.15)[0]) + 6e-3 * full
        return [through / pieces, (g_box * (outside - a[1]) - 20 * through) / carton]

    a, exact = [float(history.headspace[0]), 0.85], []
    for first, last in ((0.0, 30 * DAY), (30 * DAY, 90 * DAY)):
        seen = history.times[(history.times >= first) & (history.times <= last)]
        run = solve_ivp(
            rates, (first, last), a, t_eval=seen, method="Radau", rtol=1e-8, atol=1e-10, max_step=DAY
        )
        a = list(run.y[:, -1])
        exact.append(run.y[0] if first == 0.0 else run.y[0][1:])
    wanted = np.concatenate(exact)
    assert np.ptp(wanted) > 0.1
    np.testing.assert_allclose(history.activity[:, 0], wanted, atol=4e-3)


def test_freezing_stops_the_water_and_the_ice_line_holds() -> None:
    frozen = "journey: [{leg: freezer, lasts: 90 days, climate: freezer}, {leg: store, lasts: until it fails, temperature: 25 degC, humidity: 75 %}]\n"
    statement = keep(PACK, frozen)
    assert statement.days == pytest.approx(90 + days(), rel=0.06)
    assert statement.legs[0].humidity[1] <= 0.845
