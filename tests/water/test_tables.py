"""The table for the transport solver: interpolation error against the isotherm itself, and its shape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from hardtack.errors import HardtackError
from hardtack.states import IsostericHeat, Isotherm
from hardtack.water.isotherm import activity, activity_limit, moisture
from hardtack.water.tables import WETTEST, ActivityTable, activity_table
from tests.water.test_isotherm import BY_FORM

T25 = 298.15
CRACKER = Isotherm("", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9})


def hermite(table: ActivityTable, row: int = 0) -> CubicHermiteSpline:
    s = np.linspace(0, table.s_max, table.a.shape[1])
    return CubicHermiteSpline(s, table.a[row], table.dads[row])


def worst(iso: Isotherm, T: float, a: np.ndarray, nodes: int = 513) -> float:
    table = activity_table(iso, [T], nodes)
    X = moisture(iso, a, T)
    return float(np.abs(hermite(table)(X / (X + table.X_half)) - a).max())


def test_the_table_is_as_good_as_the_closed_form() -> None:
    """Cubic Hermite on 513 nodes against closed-form GAB, a in 0.001..0.95."""
    assert worst(CRACKER, T25, np.linspace(0.001, 0.95, 20001)) <= 1e-9


def test_the_interpolation_is_of_fourth_order() -> None:
    """Cubic Hermite error falls as the fourth power of the node distance (any text on interpolation)."""
    a = np.linspace(0.02, 0.95, 5001)
    coarse, fine = (worst(CRACKER, T25, a, nodes) for nodes in (65, 129))
    assert np.log2(coarse / fine) == pytest.approx(4.0, abs=0.25)


@pytest.mark.parametrize(
    ("form", "constants", "bound", "dry_bound"),
    [
        ("bet", {"Xm": 0.04, "C": 10.0}, 1e-10, 1e-10),
        ("oswin", {"A": 0.08, "B": 0.4}, 1e-10, 2e-9),
        ("halsey", {"A": 0.01, "B": 1.6}, 2e-10, 2e-10),
        ("henderson", {"A": 30.0, "B": 1.6}, 2e-10, 1e-6),
        ("peleg", {"C1": 0.08, "C2": 0.6, "C3": 0.2, "C4": 6.0}, 2e-10, 4e-7),
        ("lewicki", {"F": 0.07, "G": 0.4, "H": 0.8}, 1e-8, 3e-5),
        ("chung_pfost", {"A": 5.0, "B": 20.0}, 3e-5, 3e-5),
        ("smith", {"A": 0.03, "B": 0.06}, 3e-4, 3e-4),
    ],
)
def test_error_of_the_other_forms(
    form: str, constants: dict[str, float], bound: float, dry_bound: float
) -> None:
    """Measured errors, held: over a in 0.001..0.95, and in the first thousandth, where forms with an infinite
    slope are no polynomial. Chung-Pfost and Smith are worst where their straight dry end joins, at a = 0.08
    and 0.05."""
    iso = Isotherm("", form, constants)
    assert worst(iso, T25, np.linspace(0.001, 0.95, 20001)) <= bound
    assert worst(iso, T25, np.geomspace(1e-9, 1e-3, 4001)) <= dry_bound


@pytest.mark.parametrize("T", [263.15, 283.15, 313.15])
def test_error_with_temperature(T: float) -> None:
    """The usual cereal heat: as good as at the reference temperature up to where the wet end joins
    (at a = 0.846 for the coldest), a hundred times worse at the join."""
    iso = Isotherm("", "gab", CRACKER.parameters, heat=IsostericHeat(20e3, 0.07))
    assert worst(iso, T, np.linspace(0.001, 0.84, 20001)) <= 1e-9
    assert worst(iso, T, np.linspace(0.84, 0.995, 5001)) <= 1e-7


@pytest.mark.parametrize("iso", BY_FORM)
def test_every_row_rises_between_its_nodes_too(iso: Isotherm) -> None:
    temperatures = [263.15, 283.15, 298.15, 313.15]
    table = activity_table(iso, temperatures, 257)
    assert table.a.shape == table.dads.shape == (4, 257)
    s = np.linspace(0, table.s_max, 20001)
    for row, T in enumerate(temperatures):
        curve = hermite(table, row)
        assert np.diff(curve(s)).min() > -1e-14
        assert table.dads[row].min() >= 0
        assert table.a[row, 0] == 0.0
        assert table.a[row, -1] <= activity_limit(iso, T)
    assert table.a[:, -1].max() >= WETTEST * min(activity_limit(iso, T) for T in temperatures) - 1e-9


@settings(max_examples=25, deadline=None)
@given(
    B=st.floats(0.2, 1.6),
    q0=st.floats(0, 15e3),
    T=st.floats(265.0, 315.0),
)
def test_slopes_at_the_dry_end_never_spoil_the_rise(B: float, q0: float, T: float) -> None:
    """Oswin with B > 1 leaves the origin flat in X, so da/ds is infinite there."""
    iso = Isotherm("", "oswin", {"A": 0.08, "B": B}, heat=IsostericHeat(q0, 0.2))
    table = activity_table(iso, [T], 129)
    assert np.all(np.isfinite(table.dads))
    assert np.diff(hermite(table)(np.linspace(0, table.s_max, 6001))).min() > -1e-14


def test_the_nodes_are_those_of_the_isotherm() -> None:
    table = activity_table(CRACKER, np.array([T25]), 65)
    s = np.linspace(0, table.s_max, 65)
    np.testing.assert_allclose(table.a[0], activity(CRACKER, table.X_half * s / (1 - s), T25), rtol=1e-14)
    assert table.X_half == moisture(CRACKER, 0.5, T25)
    assert table.a[0, -1] == pytest.approx(WETTEST, abs=1e-12)
    h = 1e-7
    inside = s[1:-1]
    shown = [activity(CRACKER, table.X_half * x / (1 - x), T25) for x in (inside + h, inside - h)]
    np.testing.assert_allclose(table.dads[0, 1:-1], (shown[0] - shown[1]) / (2 * h), rtol=1e-6)


def test_a_table_needs_nodes_and_temperatures() -> None:
    for temperatures, nodes in (([], 65), ([T25], 1)):
        with pytest.raises(HardtackError, match="two nodes"):
            activity_table(CRACKER, temperatures, nodes)
