"""Isotherms as records: temperature, ranges, reconciling with a measured pair, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.states import IsostericHeat, Isotherm
from hardtack.water.isotherm import (
    activity,
    activity_and_slope,
    activity_limit,
    in_range,
    isosteric_heat,
    moisture,
    reconcile,
    slope,
    validate,
)
from hardtack.water.temperature import shift

R = 8.314462618
T25 = 298.15
CRACKER = Isotherm("cracker (invented)", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9})
WARM = Isotherm(
    "cracker (invented)", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, heat=IsostericHeat(20e3, 0.07)
)
SWEET = Isotherm(
    "sweet biscuit (invented)", "gab", {"Xm": 0.03, "C": 3.0, "K": 1.1}, heat=IsostericHeat(8e3, 0.1)
)
POINTS = tuple(zip((0.11, 0.23, 0.43, 0.58, 0.75, 0.84), (0.021, 0.03, 0.045, 0.06, 0.09, 0.13), strict=True))
TABLE = Isotherm("table (invented)", "table", points=POINTS, heat=IsostericHeat(12e3, 0.06))
EVERY_FORM = (
    CRACKER,
    WARM,
    SWEET,
    TABLE,
    Isotherm("", "bet", {"Xm": 0.04, "C": 10.0}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "oswin", {"A": 0.08, "B": 0.4}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "halsey", {"A": 0.01, "B": 1.6}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "henderson", {"A": 30.0, "B": 1.6}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "chung_pfost", {"A": 5.0, "B": 20.0}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "smith", {"A": 0.03, "B": 0.06}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "peleg", {"C1": 0.08, "C2": 0.6, "C3": 0.2, "C4": 6.0}, heat=IsostericHeat(10e3, 0.1)),
    Isotherm("", "lewicki", {"F": 0.07, "G": 0.4, "H": 0.8}, heat=IsostericHeat(10e3, 0.1), scale=1.3),
    Isotherm(
        "", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, enthalpies={"Xm": 3e3, "C": 8e3, "K": -1e3}, scale=0.8
    ),
)
BY_FORM = [pytest.param(iso, id=f"{iso.form}-{number}") for number, iso in enumerate(EVERY_FORM)]


@pytest.mark.parametrize(("q", "expected"), [(5e3, 0.342), (10e3, 0.390), (15e3, 0.444)])
def test_clausius_clapeyron(q: float, expected: float) -> None:
    """ln(a2/a1) = (q/R)(1/T1 - 1/T2): activity 0.300 at 20 degC, at 40 degC by hand to three digits."""
    iso = Isotherm(
        "", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, reference_temperature=293.15, heat=IsostericHeat(q)
    )
    X = moisture(iso, 0.300, 293.15)
    assert activity(iso, X, 313.15) == pytest.approx(expected, abs=5.1e-4)


def test_heat_decays_with_moisture() -> None:
    """Tsami's law q = q0 exp(-X/X0), evaluated by hand at X = 0.05."""
    q = 20e3 * np.exp(-0.05 / 0.07)
    ratio = activity(WARM, 0.05, 308.15) / activity(CRACKER, 0.05, T25)
    assert ratio == pytest.approx(np.exp(q / R * (1 / T25 - 1 / 308.15)), rel=1e-9)
    assert isosteric_heat(WARM, 0.05, 290.0) == pytest.approx(q, rel=1e-8)


def test_isosteric_heat_of_moving_constants() -> None:
    """Oswin with A falling by dH: a/(1-a) = (X/A)^(1/B), so q = -R d ln a/d(1/T) = (1 - a) dH/B."""
    dH, B = 4e3, 0.4
    iso = Isotherm("", "oswin", {"A": 0.08, "B": B}, enthalpies={"A": dH})
    a = activity(iso, 0.06, T25)
    assert isosteric_heat(iso, 0.06, T25) == pytest.approx((1 - a) * dH / B, rel=1e-5)


@pytest.mark.parametrize("iso", BY_FORM)
@settings(max_examples=15, deadline=None)
@given(T=st.floats(255.0, 325.0))
def test_moisture_and_activity_are_inverse_at_any_temperature(iso: Isotherm, T: float) -> None:
    a = np.linspace(0.0, 0.995, 120) * activity_limit(iso, T)
    X = moisture(iso, a, T)
    assert X[0] == 0.0
    assert np.all(np.diff(X) > 0)
    np.testing.assert_allclose(activity(iso, X, T), a, rtol=0, atol=1e-10)
    np.testing.assert_allclose(moisture(iso, activity(iso, X, T), T), X, rtol=1e-10, atol=1e-14)


@pytest.mark.parametrize("iso", BY_FORM)
@pytest.mark.parametrize("T", [268.15, 298.15, 313.15])
def test_slope_is_the_derivative_at_constant_temperature(iso: Isotherm, T: float) -> None:
    a = np.linspace(0.07, 0.84, 56) * activity_limit(iso, T)
    h = 1e-6
    difference = (moisture(iso, a + h, T) - moisture(iso, a - h, T)) / (2 * h)
    np.testing.assert_allclose(slope(iso, a, T), difference, rtol=3e-6)
    shown, rate = activity_and_slope(iso, moisture(iso, a, T), T)
    np.testing.assert_allclose(shown, a, atol=1e-10)
    np.testing.assert_allclose(rate * difference, 1.0, rtol=3e-6)


@settings(max_examples=60, deadline=None)
@given(
    X=st.floats(0.002, 0.25),
    T=st.floats(263.15, 318.15),
    rise=st.floats(1.0, 10.0),
    q0=st.floats(1e3, 25e3),
    X0=st.floats(0.06, 1.0),
)
def test_activity_rises_with_temperature_at_constant_moisture(
    X: float, T: float, rise: float, q0: float, X0: float
) -> None:
    iso = Isotherm("", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, heat=IsostericHeat(q0, X0))
    cool, warm = activity(iso, X, T), activity(iso, X, T + rise)
    assert cool <= warm <= 1.0
    if warm < 0.899:  # nearer to free water the law is no longer literal
        assert cool < warm


@pytest.mark.parametrize("T", [258.15, 318.15])
def test_free_water_is_free_at_every_temperature(T: float) -> None:
    """A constant heat taken literally gives a = 1.26 warm and 0.57 cold at the wet end; here activity rises
    all the way to 1, and where the warmer activity is below 0.9 nothing is changed."""
    iso = Isotherm("", "oswin", {"A": 0.08, "B": 0.4}, heat=IsostericHeat(9e3))
    X = np.geomspace(0.002, 3.0, 400)
    cool, now = activity(iso, X, T25), activity(iso, X, T)
    assert np.all(np.diff(now) > 0)
    assert np.all(now < 1)
    untouched = np.maximum(cool, now) < 0.899
    assert untouched.sum() > 100
    literal = cool * np.exp(9e3 * shift(iso, T))
    np.testing.assert_allclose(now[untouched], literal[untouched], rtol=1e-12)
    assert activity(iso, 1e9, T) == pytest.approx(1.0, abs=1e-8)
    for a in np.linspace(0.1, 0.8, 15):
        assert activity(iso, moisture(iso, a, T), T) == pytest.approx(a, abs=1e-12)


@pytest.mark.parametrize("T", [263.15, 283.15, 318.15])
def test_the_wet_end_joins_without_a_corner(T: float) -> None:
    a = np.linspace(0.85, 0.95, 2001)
    bend = np.diff(np.log(slope(WARM, a, T)))
    assert np.abs(bend).max() < 3e-3  # a corner would show as a jump


@pytest.mark.parametrize("T", [253.15, 323.15])
def test_a_heat_within_the_published_range_is_never_refused(T: float) -> None:
    """Seen maxima: 15 kJ/mol (semolina), 22 (biscuit), 30 (a starch)."""
    for iso in EVERY_FORM:
        for heat in (IsostericHeat(30e3, 0.05), IsostericHeat(22e3, 0.1), IsostericHeat(15e3, 0.2)):
            if not iso.enthalpies:
                assert 0 < activity(replace(iso, heat=heat), 0.05, T) < 1


def test_arrays_of_temperature_broadcast() -> None:
    T = np.array([280.0, 298.15, 310.0])
    for iso in (WARM, EVERY_FORM[-1]):
        each = [activity(iso, 0.05, t) for t in T]
        np.testing.assert_allclose(activity(iso, 0.05, T), each, rtol=1e-13)
        np.testing.assert_allclose(activity(iso, np.full(3, 0.05), T), each, rtol=1e-13)
        np.testing.assert_allclose(moisture(iso, np.array(each), T), 0.05, rtol=1e-12)
        assert moisture(iso, 0.3, T).shape == (3,)
    assert isinstance(moisture(WARM, 0.3, 310.0), float)
    assert isinstance(activity(WARM, 0.03, 310.0), float)


def test_a_heat_that_decays_too_steeply_is_explained() -> None:
    steep = Isotherm(
        "steep (invented)", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, heat=IsostericHeat(150e3, 0.003)
    )
    with pytest.raises(HardtackError, match=r"decays too steeply.*\n.*mend: lower q0"):
        activity(steep, 0.01, 318.15)
    assert 0 < activity(steep, 0.01, 288.15) < activity(steep, 0.01, T25)  # cooling keeps the order


@settings(max_examples=60, deadline=None)
@given(q0=st.floats(-150e3, 250e3), X0=st.floats(0.002, 0.3), T=st.floats(260.0, 340.0))
def test_two_moistures_never_share_an_activity(q0: float, X0: float, T: float) -> None:
    iso = Isotherm("", "gab", CRACKER.parameters, heat=IsostericHeat(q0, X0))
    X = np.linspace(0.0, 0.38, 4001)
    theta_q = q0 / R * (1 / T25 - 1 / T)
    try:
        a = activity(iso, X, T)
    except HardtackError:
        assert theta_q > 1  # a heat that moves activity by less than e is never refused
    else:
        told_apart = a[:-1] < 1 - 1e-12  # nearer to 1 than that, rounding makes neighbours equal
        assert np.all(np.diff(a)[told_apart] > 0)
        assert np.all(np.diff(a) >= 0)


@pytest.mark.parametrize(("q0", "X0"), [(-150e3, 0.003), (-120e3, 0.01)])
def test_a_heat_whose_join_falls_between_the_probes_is_refused(q0: float, X0: float) -> None:
    """By Clausius and Clapeyron a(X) = a_ref exp(theta q0 exp(-X/X0)) falls wherever theta q0 X/X0 exp(-X/X0) > 1."""
    steep = Isotherm("", "gab", CRACKER.parameters, heat=IsostericHeat(q0, X0))
    with pytest.raises(HardtackError, match="decays too steeply"):
        activity(steep, np.linspace(0.0, 0.38, 4001), 265.0)


def test_a_pole_below_one_is_reported_and_not_crossed() -> None:
    top = activity_limit(SWEET, T25)
    assert top == pytest.approx(1 / 1.1, abs=1e-8)
    assert activity(SWEET, 50.0, T25) <= top
    with pytest.raises(HardtackError, match=r"0\.95.*\n.*runs from 0 to 0\.909091"):
        moisture(SWEET, np.array([0.5, 0.95]), T25)


def test_water_beyond_the_end_of_the_curve_is_free() -> None:
    assert activity(CRACKER, 3.0, T25) == 1.0
    assert activity(WARM, 3.0, 283.15) == 1.0
    assert activity_limit(CRACKER, T25) == 1.0


def test_in_range() -> None:
    assert in_range(CRACKER, 0.5) is True
    assert in_range(CRACKER, 0.95) is False
    np.testing.assert_array_equal(in_range(TABLE, np.array([0.08, 0.2, 0.86])), [False, True, False])


@settings(max_examples=40, deadline=None)
@given(a=st.floats(0.1, 0.85), share=st.floats(0.3, 3.5), T=st.floats(275.0, 315.0))
def test_reconcile_moves_the_isotherm_through_the_pair(a: float, share: float, T: float) -> None:
    X = share * moisture(WARM, a, T)
    moved, factor = reconcile(WARM, X, a, T)
    assert factor == pytest.approx(share, rel=1e-12)
    assert moisture(moved, a, T) == pytest.approx(X, rel=1e-10)
    assert activity(moved, X, T) == pytest.approx(a, abs=1e-10)
    again, unity = reconcile(moved, X, a, T)
    assert unity == pytest.approx(1.0, rel=1e-10)
    assert again.parameters is WARM.parameters


@pytest.mark.parametrize(
    ("X", "a", "message"),
    [
        (3.0, 0.3, "percent slip"),
        (0.0004, 0.3, "percent slip"),
        (0.25, 0.3, "wet against dry basis"),
        (0.0, 0.3, "above zero"),
        (0.03, 0.0, "above zero"),
    ],
)
def test_an_absurd_pair_is_refused(X: float, a: float, message: str) -> None:
    with pytest.raises(HardtackError, match=message):
        reconcile(CRACKER, X, a, T25)


@pytest.mark.parametrize(
    ("iso", "message"),
    [
        (Isotherm("i", "gab", {"Xm": 4.0, "C": 10.0, "K": 0.9}), "by 100"),
        (Isotherm("i", "gabb", {}), "no isotherm form"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0}), "missing: K"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, scale=0.0), "scale"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, activity_range=(0.9, 0.1)), "range"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, reference_temperature=25.0), "kelvin"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, points=POINTS), "points"),
        (Isotherm("i", "table", {"Xm": 0.04}, points=POINTS), "no constants"),
        (
            Isotherm(
                "i",
                "gab",
                {"Xm": 0.04, "C": 10.0, "K": 0.9},
                heat=IsostericHeat(1e4),
                enthalpies={"C": 1e3},
            ),
            "both",
        ),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, enthalpies={"B": 1e3}), "enthalpy"),
        (Isotherm("i", "gab", {"Xm": 0.04, "C": 10.0, "K": 0.9}, heat=IsostericHeat(1e4, -0.1)), "X0"),
    ],
)
def test_a_record_that_is_no_isotherm_is_refused(iso: Isotherm, message: str) -> None:
    with pytest.raises(HardtackError, match=message):
        validate(iso)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: activity(CRACKER, -0.01, T25),
        lambda: activity(CRACKER, float("nan"), T25),
        lambda: moisture(CRACKER, -0.1, T25),
        lambda: moisture(CRACKER, float("nan"), T25),
        lambda: moisture(CRACKER, 0.3, 25.0),
        lambda: isosteric_heat(CRACKER, 0.0, T25),
        lambda: moisture(Isotherm("", "gab", CRACKER.parameters, enthalpies={"K": -9e4}), 0.3, 330.0),
    ],
)
def test_impossible_questions_are_refused(wrong) -> None:
    with pytest.raises(HardtackError, match="mend"):
        wrong()


@pytest.mark.parametrize("row", reference.rows("isotherms"), ids=lambda row: row.name)
def test_every_isotherm_of_the_shelf_can_be_used(row: reference.Row) -> None:
    """From the freezer to a hot container: rising, invertible, and damper when warm at constant moisture."""
    iso = reference.isotherm(row.name)
    validate(iso)
    a = np.linspace(*iso.activity_range, 30)
    X = moisture(iso, a, iso.reference_temperature)
    assert np.all(np.diff(X) > 0)
    for T in (253.15, 278.15, 318.15):
        np.testing.assert_allclose(moisture(iso, activity(iso, X, T), T), X, rtol=1e-10)
    assert np.all(activity(iso, X, 318.15) > a)
    assert np.all(activity(iso, X, 278.15) < a)
