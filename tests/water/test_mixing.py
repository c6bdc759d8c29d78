"""Sealed components at rest: the worked example, and conservation of water."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.states import Isotherm
from hardtack.water.isotherm import activity, moisture
from hardtack.water.mixing import Component, common_activity, salwin_slawson

T = 298.15
SHEET = Isotherm("wafer (invented)", "gab", {"Xm": 0.040, "C": 15.0, "K": 0.90})
FILLING = Isotherm("filling (invented)", "gab", {"Xm": 0.080, "C": 20.0, "K": 0.75})
SWEET = Isotherm("sweet (invented)", "gab", {"Xm": 0.03, "C": 3.0, "K": 1.10})
TABLE = Isotherm("table (invented)", "table", points=((0.1, 0.01), (0.4, 0.05), (0.7, 0.11), (0.9, 0.25)))


def _worked() -> list[Component]:
    return [
        Component("wafer", 0.100, SHEET, moisture(SHEET, 0.15, T)),
        Component("filling", 0.050, FILLING, moisture(FILLING, 0.55, T)),
    ]


def test_worked_example() -> None:
    """Worked by hand: 100 g GAB (4.0, 15, 0.90) at 0.15 and 50 g GAB (8.0, 20, 0.75) at 0.55 share 9.596 g of
    water at 0.3342; straight lines (Salwin and Slawson 1959) give 0.3359."""
    rest = common_activity(_worked(), T)
    assert rest.activity == pytest.approx(0.3342, abs=5e-5)
    assert salwin_slawson(_worked(), T) == pytest.approx(0.3359, abs=5e-5)
    held = 0.100 * rest.moistures[0] + 0.050 * rest.moistures[1]
    assert held == pytest.approx(9.596e-3, abs=5e-7)
    assert rest.free_water == 0.0


ISOTHERMS = st.sampled_from([SHEET, FILLING, SWEET, TABLE])
COMPONENTS = st.lists(
    st.builds(Component, st.just("any"), st.floats(1e-4, 10.0), ISOTHERMS, st.floats(0.0, 0.6)),
    min_size=1,
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(COMPONENTS, st.floats(273.0, 320.0))
def test_water_is_conserved_and_activity_lies_between(components: list[Component], kelvin: float) -> None:
    rest = common_activity(components, kelvin)
    before = sum(part.dry_mass * part.moisture for part in components)
    pairs = zip(components, rest.moistures, strict=True)
    after = sum(part.dry_mass * X for part, X in pairs) + rest.free_water
    assert after == pytest.approx(before, rel=1e-12, abs=1e-300)
    now = [activity(part.isotherm, part.moisture, kelvin) for part in components]
    assert min(now) - 1e-9 <= rest.activity <= max(now) + 1e-9
    if rest.free_water == 0.0:
        for part, X in zip(components, rest.moistures, strict=True):
            assert activity(part.isotherm, X, kelvin) == pytest.approx(rest.activity, abs=1e-7)


def test_alike_components_stay_as_they_are() -> None:
    parts = [Component(str(mass), mass, SHEET, 0.05) for mass in (0.01, 0.3)]
    assert common_activity(parts, T).moistures == pytest.approx((0.05, 0.05), rel=1e-12)


def test_a_pole_below_one_caps_the_common_activity() -> None:
    """GAB with K = 1.10, as published for confectionery, never passes 1/1.10, however wet its neighbour."""
    parts = [Component("sweet", 0.1, SWEET, 0.02), Component("wet", 0.1, FILLING, 0.30)]
    rest = common_activity(parts, T)
    assert rest.activity < 1 / 1.10
    assert 0.1 * sum(rest.moistures) == pytest.approx(0.032, rel=1e-12)


def test_what_nobody_can_hold_is_free_water() -> None:
    soaked = replace(_worked()[1], moisture=2.0)
    rest = common_activity([soaked], T)
    assert rest.activity == 1.0
    assert rest.free_water == pytest.approx(0.050 * (2.0 - moisture(FILLING, 1.0, T)), rel=1e-12)


@pytest.mark.parametrize(("mass", "X"), [(0.0, 0.1), (-1.0, 0.1), (1.0, -0.1), (1.0, float("nan"))])
def test_impossible_components_are_told(mass: float, X: float) -> None:
    with pytest.raises(HardtackError, match="dry mass"):
        common_activity([Component("wafer", mass, SHEET, X)], T)
    with pytest.raises(HardtackError, match="at least one"):
        common_activity([], T)
