"""Rancidity, sugar, checking, colour, crust and sogginess."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.failures import checking, colour, crust, rancidity, sogginess, sugar
from hardtack.failures.rancidity import Rancidity
from hardtack.failures.texture import Softening, TextureLimit
from hardtack.states import Barrier, Crossing, Diffusivity, Layer, Piece
from hardtack.units import DAY, ZERO_CELSIUS
from hardtack.water.glass import glass, glass_transition
from hardtack.water.isotherm import moisture
from tests.failures.histories import history

T20 = ZERO_CELSIUS + 20
ISO = reference.isotherm("rusk")
BISCUIT = Rancidity(
    layer="crumb",
    fat=0.040,
    rate=0.05 / DAY,
    temperature=T20,
    a=0.30,
    start=1.0,
    limit=15.6,
    oxygen=0.2095,
    headspace=500e-6,
    ingress=0.0,
    Q10=2.0,
)


def test_in_plenty_of_air_the_peroxide_value_rises_at_the_measured_rate() -> None:
    """(15.6 - 1) / 0.05 a day = 292 days; half of a panel rejects at the limit (Calligaris et al. 2007)."""
    course = rancidity.course(history(np.linspace(0, 400, 401), 20, 0.30), replace(BISCUIT, headspace=1.0))
    assert course.time == pytest.approx(292 * DAY, rel=2e-3)


def test_ten_degrees_warmer_is_faster_by_the_factor() -> None:
    cool, warm = (
        rancidity.course(history(np.linspace(0, 400, 401), t, 0.30), replace(BISCUIT, headspace=10.0)).time
        for t in (20, 30)
    )
    assert cool is not None
    assert warm == pytest.approx(cool / 2.0, rel=2e-3)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.0, 0.21),
    st.floats(1e-5, 5e-3),
    st.floats(0.0, 1e-13),
    st.floats(-10.0, 40.0),
    st.floats(0.0, 0.9),
)
def test_oxygen_is_neither_made_nor_lost(
    oxygen: float, gas: float, ingress: float, degC: float, a: float
) -> None:
    spec = replace(BISCUIT, oxygen=oxygen, headspace=gas, ingress=ingress)
    balance = rancidity.oxygen_balance(history([0, 1, 10, 100], degC, a), spec)
    total = balance.left + balance.taken_up - balance.came_in
    assert total == pytest.approx(np.full(4, total[0]), rel=1e-9, abs=1e-15)
    assert np.all(balance.left >= 0)
    assert np.all(np.diff(balance.taken_up) >= 0)


def test_a_can_flushed_with_nitrogen_runs_out_of_oxygen() -> None:
    """0.5 % of 500 cm3 is 0.104 mmol; the limit takes 14.6 meq/kg x 0.5 x 40 g = 0.292 mmol."""
    flushed = rancidity.course(history([0, 1000, 3000], 20, 0.30), replace(BISCUIT, oxygen=0.005))
    assert flushed.time is None
    assert flushed.share[-1] == pytest.approx(0.104 / 0.292, rel=0.01)
    air = rancidity.course(history([0, 1000, 3000], 20, 0.30), BISCUIT)
    assert air.time is not None
    assert any("flushing can" in line for line in air.told)


def test_slowest_in_the_middle_and_drier_warns() -> None:
    """Least rate around activity 0.2-0.4 (NAP 2002; Labuza's map); below it "drier" costs flavour."""
    a = np.linspace(0.0, 0.8, 81)
    factor = rancidity.activity_factor(a)
    assert np.all(factor[(a > 0.2) & (a < 0.4)] == 1.0)
    assert np.all(np.diff(factor[a <= 0.2]) < 0)
    assert np.all(np.diff(factor[a >= 0.4]) > 0)
    dry, middle = (rancidity.course(history([0, 10], 20, x), BISCUIT) for x in (0.08, 0.30))
    assert dry.share[-1] > middle.share[-1]
    assert any("drying it further" in line for line in dry.told)
    assert not any("drying it further" in line for line in middle.told)


def test_two_percent_of_oxygen_slows_it_much() -> None:
    """Below 2 % oxygen stability is greatly enhanced (Johnson & Decker 2015); in air the factor is 1."""
    assert float(rancidity.oxygen_factor(rancidity.AIR)) == pytest.approx(1.0)
    assert rancidity.oxygen_factor(0.005) < 0.3
    assert rancidity.oxygen_factor(0.02) < 0.6


@pytest.mark.parametrize(
    ("change", "complaint"),
    [({"fat": 0.0}, "above zero"), ({"oxygen": 21.0}, "from 0 to 1"), ({"start": 20.0}, "above the start")],
)
def test_an_impossible_fat_is_refused(change: dict[str, float], complaint: str) -> None:
    with pytest.raises(HardtackError, match=complaint):
        rancidity.course(history([0, 1], 20), replace(BISCUIT, **change))  # type: ignore[arg-type]


def test_sugar_weeps_above_and_grains_below_its_deliquescence_point() -> None:
    """Sucrose deliquesces at about 0.85."""
    up = sugar.course(
        history([0, 1, 2], 25, [0.75, 0.80, 0.90]), sugar.Crossing("crumb", "sucrose", "weeping")
    )
    assert up.time == pytest.approx(1.5 * DAY)
    assert up.share == pytest.approx([0.0, 0.5, 1.5])
    down = sugar.course(
        history([0, 1, 2], 25, [0.90, 0.88, 0.80]), sugar.Crossing("crumb", "sucrose", "graining")
    )
    assert down.share == pytest.approx([0.0, 0.4, 2.0])
    late = sugar.course(history([0, 1], 25, 0.90), sugar.Crossing("crumb", "sucrose", "weeping"))
    assert late.time == 0.0


def test_dry_amorphous_sucrose_keeps_and_damp_does_not() -> None:
    """Makower & Dye 1956: practically no crystals in nearly 3 years at 25 degC below 12 % humidity, crystals
    above. The glass transition of the shelf at 2 % moisture is above 25 degC, at 6 % below."""
    spec = sugar.Glassy("crumb", "sucrose", life=11 * DAY, X=0.06, T=298.15)
    dry = sugar.course(history([0, 1000], 25, moisture=0.02), spec)
    assert dry.time is None
    assert dry.share[-1] == 0.0
    assert "stays a glass" in dry.told[0]
    assert sugar.course(history([0, 30], 25, moisture=0.06), spec).time == pytest.approx(11 * DAY)
    damper = sugar.course(history([0, 30], 25, moisture=0.08), spec).time
    assert damper is not None
    assert damper < 3 * DAY
    with pytest.raises(HardtackError, match="is a glass"):
        sugar.course(history([0, 1], 25), replace(spec, X=0.01))


def test_mobility_follows_the_universal_constants() -> None:
    """Williams, Landel & Ferry: 20 K above Tg, 17.44 x 20 / 71.6 = 4.87 decades."""
    solid = glass("sucrose")
    Tg = float(glass_transition(solid, 0.05))
    assert np.log10(sugar.mobility(solid, 0.05, Tg + 20)) == pytest.approx(4.871, abs=1e-3)
    assert sugar.mobility(solid, 0.05, Tg - 1) == 0.0


def biscuit() -> Piece:
    layer = Layer("biscuit", 6e-3, 0.008, 0.03, ISO, Diffusivity(1e-11))
    glaze = Barrier("glaze", 1e-4, 1e-9)
    return Piece("slab", (glaze, layer), 2e-3, (True, True))


def test_checking_is_the_difference_in_moisture_against_one_percent() -> None:
    """Surface and centre less than 1 % apart, mean 2-3 % (after Dunn & Bailey 1928)."""
    wet, dry = 0.03, 0.01  # wet basis
    a = [float(reference_activity(W / (1 - W))) for W in (wet, dry)]
    profile = np.array([[a[1], a[0], a[1]], [a[0], a[0], a[0]]])
    h = history(
        [0, 2],
        25,
        moisture=0.025,
        layers=("biscuit",),
        profile=profile,
        positions=np.array([1e-3, 3e-3, 5e-3]),
    )
    course = checking.course(h, biscuit(), checking.Checking(("biscuit",), 0.01))
    assert course.share == pytest.approx([2.0, 2.0], abs=1e-6)  # the strain has been: it does not heal
    assert course.time == 0.0
    assert "rule of thumb" in course.told[0]
    low = checking.course(h, biscuit(), checking.Checking(("biscuit",), 0.025))
    assert low.time is None


def test_a_biscuit_that_drinks_from_outside_does_not_check() -> None:
    """Water taken up from the air softens and seldom checks (same source); the drier rim is what matters."""
    profile = np.array([[0.3, 0.1, 0.3], [0.6, 0.1, 0.6]])
    h = history([0, 2], 25, layers=("biscuit",), profile=profile, positions=np.array([1e-3, 3e-3, 5e-3]))
    assert checking.difference(h, biscuit(), ("biscuit",)) == pytest.approx([0.0, 0.0])


def test_centre_and_rim_may_be_two_layers_of_a_round_biscuit() -> None:
    centre = Layer("centre", 0.02, 0.006, 0.035, ISO, Diffusivity(1e-11))
    piece = Piece(
        "cylinder", (centre, replace(centre, name="rim", thickness=0.01, moisture=0.012)), 1e-3, (False, True)
    )
    a = [reference_activity(X) for X in (0.035, 0.012)]
    h = history(
        [0, 1],
        25,
        layers=("centre", "rim"),
        profile=np.array([[a[0], a[0], a[1]]] * 2),
        positions=np.array([5e-3, 14e-3, 25e-3]),
        in_layer=(0, 0, 1),
    )
    found = checking.difference(h, piece, ("centre", "rim"))
    assert found == pytest.approx([0.035 / 1.035 - 0.012 / 1.012] * 2, abs=1e-6)
    course = checking.course(h, piece, checking.Checking(("centre", "rim"), 0.01))
    assert course.layer == "rim"
    assert course.time == 0.0
    with pytest.raises(HardtackError, match="there are: centre, rim"):
        checking.difference(h, piece, ("crust",))


def reference_activity(X: float) -> float:
    from hardtack.water.isotherm import activity

    return float(activity(ISO, X, 298.15))


def test_without_a_profile_checking_cannot_be_seen() -> None:
    with pytest.raises(HardtackError, match="centre and the rim"):
        checking.course(
            history([0, 1], 25, layers=("biscuit",)), biscuit(), checking.Checking(("biscuit",), 0.01)
        )


def test_colour_takes_the_measured_rate_and_the_sourced_temperature_range() -> None:
    """Q10 2.2-3.5, zero order, in Cheddar powder (J. Food Process. Preserv. 1997, 21:379)."""
    Q10 = colour.default_Q10()
    assert (Q10.low, Q10.high) == (2.2, 3.5)
    spec = colour.Colour("crumb", 0.02 / DAY, 4.0, T20, 2.85)
    cool, warm = (colour.course(history([0, 400], t), spec).time for t in (20, 30))
    assert cool == pytest.approx(200 * DAY)
    assert warm == pytest.approx(200 * DAY / 2.85)
    with pytest.raises(HardtackError, match="above zero"):
        colour.course(history([0, 1], 20), replace(spec, rate=0.0))


def test_crust_is_lost_at_the_published_activity() -> None:
    """Bread crust loses its crispness above about activity 0.6 (van Nieuwenhuijzen et al. 2007)."""
    row = reference.crispness_limit("bread crust")
    limit = TextureLimit("crust", row["temperature"], activity=row["limit"], source=row.source.citation)
    X = float(moisture(ISO, 0.6, limit.temperature))
    h = history(
        [0, 1], 25, layers=("crust",), moisture=[0.02, X], crossings=(Crossing("crust", X, True, 0.9 * DAY),)
    )
    course = crust.course(h, limit, ISO)
    assert course.name == "crust"
    assert course.time == 0.9 * DAY
    assert course.share == pytest.approx([0.0, 1.0])
    assert "0.60" in course.limit


def test_sogginess_needs_a_limit_above_the_fresh_moisture() -> None:
    h = history([0, 1], 25, moisture=[0.10, 0.16], crossings=(Crossing("crumb", 0.22, True, None),))
    course = sogginess.course(h, TextureLimit("crumb", 298.15, moisture=0.22), ISO)
    assert course.share == pytest.approx([0.0, 0.5])
    assert course.time is None
    with pytest.raises(HardtackError, match="above its limit"):
        sogginess.course(h, TextureLimit("crumb", 298.15, moisture=0.05), ISO)
    with pytest.raises(HardtackError, match="sigmoid"):
        sogginess.course(h, TextureLimit("crumb", 298.15, softening=Softening(0.5, 0.05, 0.5)), ISO)
