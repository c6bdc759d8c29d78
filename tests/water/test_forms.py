"""Every isotherm form: published and handbook values, and what holds for all constants."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import curve_fit

from hardtack.errors import HardtackError
from hardtack.water.isotherms import FORMS, bet, form_named, gab, oswin, smith, table

# Regain of hygroscopic materials, % dry basis at RH 10..90 %, about 24 degC: handbook table as remembered.
REGAIN = {
    "crackers": (2.1, 2.8, 3.3, 3.9, 5.0, 6.5, 8.3, 10.9, 14.9),
    "flour": (2.6, 4.1, 5.3, 6.5, 8.0, 9.9, 12.4, 15.4, 19.1),
    "starch": (2.2, 3.8, 5.2, 6.4, 7.4, 8.3, 9.2, 10.6, 12.7),
    "macaroni": (5.1, 7.4, 8.8, 10.2, 11.7, 13.7, 16.2, 19.0, 22.1),
    "white bread": (0.5, 1.7, 3.1, 4.5, 6.2, 8.5, 11.1, 14.5, 19.0),
}
ACTIVITIES = np.arange(0.1, 0.95, 0.1)
REGAIN_POINTS = {
    name: tuple((float(a), X / 100) for a, X in zip(ACTIVITIES, row, strict=True))
    for name, row in REGAIN.items()
}


def _floats(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_subnormal=False)


CONSTANTS: dict[str, st.SearchStrategy] = {
    "gab": st.fixed_dictionaries({"Xm": _floats(0.01, 0.2), "C": _floats(0.1, 500), "K": _floats(0.2, 1.2)}),
    "bet": st.fixed_dictionaries({"Xm": _floats(0.01, 0.2), "C": _floats(0.1, 500)}),
    "oswin": st.fixed_dictionaries({"A": _floats(0.01, 0.5), "B": _floats(0.1, 1.5)}),
    "halsey": st.fixed_dictionaries({"A": _floats(1e-4, 0.5), "B": _floats(0.8, 3)}),
    "henderson": st.fixed_dictionaries({"A": _floats(1, 300), "B": _floats(0.5, 3)}),
    "chung_pfost": st.fixed_dictionaries({"A": _floats(1.5, 12), "B": _floats(5, 60)}),
    "smith": st.fixed_dictionaries({"A": _floats(-0.03, 0.1), "B": _floats(0.01, 0.3)}),
    "peleg": st.fixed_dictionaries(
        {"C1": _floats(0.01, 0.3), "C2": _floats(0.2, 1), "C3": _floats(0.01, 0.5), "C4": _floats(1, 20)}
    ),
    "lewicki": st.fixed_dictionaries({"F": _floats(0.01, 0.3), "G": _floats(0.1, 1.5), "H": _floats(0.2, 8)}),
    "table": st.sampled_from(tuple(REGAIN_POINTS.values())),
}
BY_FORM = [pytest.param(name, id=name) for name in FORMS]
_INSIDE = np.linspace(0.02, 0.97, 96)


def _activities(form, p) -> np.ndarray:
    return _INSIDE * min(1.0, float(form.limit(p)))


@pytest.mark.parametrize("name", BY_FORM)
@settings(max_examples=40, deadline=None)
@given(st.data())
def test_moisture_rises_and_its_inverse_is_exact(name: str, data: st.DataObject) -> None:
    form, p = FORMS[name], data.draw(CONSTANTS[name])
    form.check(p)
    a = _activities(form, p)
    X = form.moisture(a, p)
    assert np.all(np.diff(X) > 0)
    assert np.all(X >= 0)
    np.testing.assert_allclose(form.activity(X, p), a, rtol=0, atol=1e-10)
    np.testing.assert_allclose(form.moisture(form.activity(X, p), p), X, rtol=1e-10)


@pytest.mark.parametrize("name", BY_FORM)
@settings(max_examples=25, deadline=None)
@given(st.data())
def test_slope_is_the_derivative_of_moisture(name: str, data: st.DataObject) -> None:
    form, p = FORMS[name], data.draw(CONSTANTS[name])
    a = _activities(form, p) + 1e-4  # off the places where two pieces join
    h = 1e-6 * np.minimum(a, form.limit(p) - a)
    difference = (form.moisture(a + h, p) - form.moisture(a - h, p)) / (2 * h)
    np.testing.assert_allclose(form.slope(a, p), difference, rtol=2e-6)


@pytest.mark.parametrize("name", BY_FORM)
@settings(max_examples=15, deadline=None)
@given(st.data())
def test_scalars_and_arrays_agree_and_the_dry_end_is_dry(name: str, data: st.DataObject) -> None:
    form, p = FORMS[name], data.draw(CONSTANTS[name])
    X = form.moisture(np.array([0.0, 0.3]), p)
    assert X[0] == 0.0
    assert form.moisture(0.3, p) == pytest.approx(X[1], rel=1e-15)
    assert isinstance(form.activity(float(X[1]), p), float)
    assert form.activity(0.0, p) == pytest.approx(0.0, abs=1e-300)
    assert form.slope(0.0, p) >= 0
    top = form.limit(p)
    assert np.isfinite(form.moisture(top, p))
    assert form.activity(form.moisture(top, p), p) == pytest.approx(top, abs=1e-10)


@pytest.mark.parametrize("name", [name for name in FORMS if name != "table"])
@pytest.mark.parametrize("value", [-1.0, 0.0, float("nan"), float("inf")])
def test_impossible_constants_are_refused(name: str, value: float) -> None:
    form = FORMS[name]
    last = form.PARAMETERS[-1]
    with pytest.raises(HardtackError, match=f"{last}.*\n.*mend"):
        form.check(dict.fromkeys(form.PARAMETERS, 0.5) | {last: value})
    with pytest.raises(HardtackError, match="missing"):
        form.check({"Q": 1.0})


def test_a_form_is_found_in_the_usual_writings() -> None:
    assert form_named("GAB") is gab
    assert form_named("Chung-Pfost") is FORMS["chung_pfost"]
    with pytest.raises(HardtackError, match="oswin"):
        form_named("osmin")


# GAB -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("constants", "a", "X"),
    [((0.040, 15.0, 0.90), 0.15, 0.03240), ((0.080, 20.0, 0.75), 0.55, 0.12712)],
)
def test_gab_worked_values(constants: tuple[float, ...], a: float, X: float) -> None:
    """Worked by hand for the sharing example of two ingredients, printed to 0.001 %."""
    p = dict(zip(gab.PARAMETERS, constants, strict=True))
    assert gab.moisture(a, p) == pytest.approx(X, abs=5.1e-6)


def test_gab_slopes_of_the_worked_example() -> None:
    """Same example: weights 10.858 and 18.846 % per unit activity for the Salwin-Slawson rule. Those printed
    are differences over a +- 0.01; the slopes at the point are 10.8458 and 18.8431 (exact fractions)."""
    for a, p, printed, exact in (
        (0.15, {"Xm": 0.04, "C": 15.0, "K": 0.9}, 0.10858, 0.10845797),
        (0.55, {"Xm": 0.08, "C": 20.0, "K": 0.75}, 0.18846, 0.18843072),
    ):
        difference = (gab.moisture(a + 0.01, p) - gab.moisture(a - 0.01, p)) / 0.02
        assert difference == pytest.approx(printed, abs=5.1e-6)
        assert gab.slope(a, p) == pytest.approx(exact, abs=1e-8)


def test_gab_is_a_quadratic_in_activity() -> None:
    """a/X = alpha a^2 + beta a + gamma with alpha = (K/Xm)(1/C - 1), beta = (1/Xm)(1 - 2/C),
    gamma = 1/(Xm C K): the linearised form of van den Berg and Bruin (1981)."""
    Xm, C, K, a = 0.04, 15.0, 0.9, np.linspace(0.05, 0.9, 18)
    line = (K / Xm) * (1 / C - 1) * a**2 + (1 / Xm) * (1 - 2 / C) * a + 1 / (Xm * C * K)
    np.testing.assert_allclose(a / gab.moisture(a, {"Xm": Xm, "C": C, "K": K}), line, rtol=1e-13)


@pytest.mark.parametrize(
    ("material", "Xm", "C", "K", "E"),
    [
        ("crackers", 3.395, 9.23, 0.868, 5.6),
        ("flour", 6.468, 6.01, 0.765, 3.2),
        ("starch", 6.675, 8.22, 0.577, 2.9),
        ("macaroni", 8.804, 15.36, 0.690, 1.5),
    ],
)
def test_gab_fits_of_the_regain_table(material: str, Xm: float, C: float, K: float, E: float) -> None:
    """Unweighted least squares of GAB on the handbook regain table; constants computed elsewhere from
    the same remembered table, printed to four digits. E is the mean relative deviation in moisture, %."""
    X = np.array(REGAIN[material])

    def model(a, Xm, C, K):
        return gab.moisture(a, {"Xm": Xm, "C": C, "K": K})

    fit, _ = curve_fit(model, ACTIVITIES, X, p0=(5.0, 10.0, 0.8), bounds=([0.1, 0.1, 0.1], [50, 500, 1.1]))
    np.testing.assert_allclose(fit, (Xm, C, K), rtol=2e-3)
    assert 100 * np.mean(np.abs(model(ACTIVITIES, *fit) / X - 1)) == pytest.approx(E, abs=0.06)


@pytest.mark.parametrize("K", [1.05, 1.14])
def test_gab_with_its_pole_below_one(K: float) -> None:
    """Published K of 1.05 to 1.14 put the pole at 0.95 and 0.88: never cross it, never come back negative."""
    p = {"Xm": 0.03, "C": 3.0, "K": K}
    gab.check(p)
    top = gab.limit(p)
    assert 0 < 1 / K - top < 2e-9
    assert gab.moisture(top, p) > 1e6
    X = np.geomspace(1e-6, 1e4, 60)
    a = gab.activity(X, p)
    assert np.all(np.diff(a) > 0)
    assert a[-1] < 1 / K
    np.testing.assert_allclose(gab.moisture(a[:40], p), X[:40], rtol=1e-9)


def test_gab_beyond_any_published_K_is_a_slip() -> None:
    with pytest.raises(HardtackError, match="swapped"):
        gab.check({"Xm": 0.04, "C": 0.9, "K": 10.0})


def test_gab_inverse_loses_no_digits() -> None:
    """Where the textbook root subtracts two like numbers: very dry, and very large C."""
    for C, a in ((2.0, 1e-9), (10.0, 1e-12), (1e6, 1e-9), (1e6, 0.5), (0.01, 1e-10)):
        p = {"Xm": 0.04, "C": C, "K": 0.9}
        assert gab.activity(gab.moisture(a, p), p) == pytest.approx(a, rel=1e-12 if a < 0.1 else 1e-9)


def test_bet_line() -> None:
    """a/((1-a) X) = s a + i gives Xm = 1/(s+i), C = 1 + s/i (Brunauer, Emmett and Teller 1938)."""
    a = np.array([0.1, 0.2, 0.3, 0.4])
    s, i = np.polyfit(a, a / ((1 - a) * bet.moisture(a, {"Xm": 0.05, "C": 12.0})), 1)
    assert 1 / (s + i) == pytest.approx(0.05, rel=1e-10)
    assert 1 + s / i == pytest.approx(12.0, rel=1e-9)


# Oswin, Smith, table ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("T", "X"), [(298.15, 0.461), (333.15, 0.379), (373.15, 0.303)])
def test_oswin_bread_of_lind_and_rask(T: float, X: float) -> None:
    """Lind and Rask (1991), bread: X = exp(5.5 - 0.0056 T) % (a/(1-a))^0.38, as remembered; computed by hand
    at a = 0.5 to 0.1 %. For the oven only."""
    p = {"A": math.exp(5.5 - 0.0056 * T) / 100, "B": 0.38}
    assert oswin.moisture(0.5, p) == pytest.approx(X, abs=5.1e-4)


def test_smith_takes_the_natural_logarithm() -> None:
    """A paper in log10 must have its B divided by ln 10: at a = 0.9 log10(1 - a) is exactly -1."""
    A, B10 = 0.02, 0.10
    printed = A + B10
    assert smith.moisture(0.9, {"A": A, "B": B10 / math.log(10)}) == pytest.approx(printed, rel=1e-12)
    assert smith.moisture(0.9, {"A": A, "B": B10}) == pytest.approx(A + 2.302585 * B10, rel=1e-6)


@pytest.mark.parametrize("p", [{"A": 0.05, "B": 0.06}, {"A": -0.02, "B": 0.06}])
def test_smith_keeps_the_authors_curve_above_its_join(p: dict[str, float]) -> None:
    a = np.linspace(0.33, 0.95, 40)
    np.testing.assert_allclose(smith.moisture(a, p), p["A"] - p["B"] * np.log(1 - a), rtol=1e-13)


def test_chung_pfost_keeps_the_authors_curve_above_its_join() -> None:
    a, A, B = np.linspace(0.1, 0.95, 40), 5.0, 20.0
    X = FORMS["chung_pfost"].moisture(a, {"A": A, "B": B})
    np.testing.assert_allclose(np.exp(-A * np.exp(-B * X)), a, rtol=1e-13)


@pytest.mark.parametrize("name", REGAIN)
def test_table_is_the_monotone_cubic(name: str) -> None:
    """scipy's PchipInterpolator (Fritsch and Butland 1984) through the same points and the origin."""
    points = REGAIN_POINTS[name]
    reference = PchipInterpolator(*np.array([(0.0, 0.0), *points]).T)
    a = np.linspace(0, 0.9, 1001)
    np.testing.assert_allclose(table.moisture(a, points), reference(a), rtol=0, atol=1e-15)
    np.testing.assert_allclose(table.slope(a, points), reference(a, 1), rtol=1e-9, atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(_floats(0.01, 0.2), min_size=4, max_size=10),
    st.lists(_floats(1e-4, 0.2), min_size=10, max_size=10),
)
def test_table_of_any_rising_points_rises_and_inverts(steps: list[float], rises: list[float]) -> None:
    a = np.cumsum(steps) / (sum(steps) + 0.05)
    X = np.cumsum(rises[: len(a)])
    points = tuple(zip(a.tolist(), X.tolist(), strict=True))
    fine = np.linspace(0, 1, 301)
    moisture = table.moisture(fine, points)
    assert np.all(np.diff(moisture) > 0)
    np.testing.assert_allclose(table.moisture(a, points), X, rtol=1e-12)
    # Where the curve is nearly flat its inverse is only as sharp as the rounding of X.
    sharp = np.maximum(1e-10, 1e-15 * moisture[-1] / np.maximum(table.slope(fine, points), 1e-300))
    assert np.all(np.abs(table.activity(moisture, points) - fine) <= sharp + 1e-7 * (sharp > 1e-9))


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (((0.1, 0.02), (0.5, 0.05), (0.9, 0.2)), "at least 4"),
        (((0.0, 0.01), (0.1, 0.02), (0.3, 0.03), (0.5, 0.05), (0.9, 0.2)), "dry mass"),
        (((0.1, 0.02), (0.3, 0.05), (0.5, 0.05), (0.9, 0.2)), "does not rise"),
        (((0.1, 0.02), (0.3, 0.05), (0.2, 0.06), (0.9, 0.2)), "sort"),
        (((10.0, 0.02), (30.0, 0.05), (50.0, 0.06), (90.0, 0.2)), "fractions"),
        (((0.1, float("nan")), (0.3, 0.05), (0.5, 0.06), (0.9, 0.2)), "numbers"),
    ],
)
def test_a_faulty_table_is_refused(points: table.Points, message: str) -> None:
    with pytest.raises(HardtackError, match=message):
        table.check(points)
