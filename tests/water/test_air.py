"""Humid air against IAPWS, ASHRAE, steam tables and an independent property library."""

from __future__ import annotations

import math

import numba
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.water import air


@pytest.fixture(scope="module")
def library():
    """An independent property library (IAPWS R6-95, real humid air)."""
    from CoolProp import CoolProp

    return CoolProp


# IAPWS R7-97, table 34: the saturation-pressure equation of region 4.
_N = (
    1167.0521452767,
    -724213.16703206,
    -17.073846940092,
    12020.824702470,
    -3232555.0322333,
    14.915108613530,
    -4823.2657361591,
    405113.40542057,
    -0.23855557567849,
    650.17534844798,
)


def iapws_region_4(T: float) -> float:
    theta = T + _N[8] / (T - _N[9])
    A = theta**2 + _N[0] * theta + _N[1]
    B = _N[2] * theta**2 + _N[3] * theta + _N[4]
    C = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return 1e6 * (2 * C / (-B + math.sqrt(B * B - 4 * A * C))) ** 4


@pytest.mark.parametrize(("T", "p"), [(300.0, 3536.58941), (500.0, 2.63889776e6), (600.0, 12.3443146e6)])
def test_the_independent_equation_reproduces_its_own_verification_values(T: float, p: float) -> None:
    """IAPWS R7-97, table 35 (nine digits printed)."""
    assert iapws_region_4(T) == pytest.approx(p, rel=2e-9)


@pytest.mark.parametrize("t", range(0, 201, 5))
def test_saturation_pressure_against_iapws(t: int) -> None:
    """IAPWS R7-97 region 4. The two equations are different fits; the largest difference is 2.3e-4."""
    assert air.saturation_pressure(t + 273.15) == pytest.approx(iapws_region_4(t + 273.15), rel=3e-4)


@pytest.mark.parametrize(
    ("t", "p"), [(5, 872.6), (25, 3169.7), (50, 12351.3), (100, 101418.0), (-5, 401.74), (-20, 103.24)]
)
def test_saturation_pressure_against_the_ashrae_table(t: float, p: float) -> None:
    """ASHRAE Handbook - Fundamentals 2017, ch. 1, table 3 (ice below 0 degC); tolerance as its citation."""
    line = air.saturation_pressure if t > 0 else air.saturation_pressure_ice
    assert line(t + 273.15) == pytest.approx(p, rel=3e-4)


@pytest.mark.parametrize(
    ("t", "kPa"), [(10, 1.2276), (20, 2.339), (30, 4.246), (35, 5.628), (40, 7.384), (45, 9.593)]
)
def test_saturation_pressure_against_a_steam_table(t: float, kPa: float) -> None:
    """Saturated water table, kPa printed to four digits: half a digit plus the 2.3e-4 of the equation."""
    assert air.saturation_pressure(t + 273.15) == pytest.approx(1000 * kPa, rel=5e-4)


def test_saturation_pressure_compiles_as_it_stands() -> None:
    compiled = numba.njit(air.saturation_pressure)
    for T in (253.15, 298.15, 373.15, 470.0):
        assert compiled(T) == pytest.approx(air.saturation_pressure(T), rel=1e-13)


def test_scalars_give_scalars_and_arrays_give_arrays() -> None:
    T = np.array([280.0, 300.0])
    for function in (
        air.saturation_pressure,
        air.saturation_pressure_ice,
        air.ice_activity,
        air.latent_heat,
    ):
        assert isinstance(function(280.0), float)
        np.testing.assert_allclose(function(T), [function(280.0), function(300.0)], rtol=1e-14)
    p = np.array([1000.0, 2000.0])
    assert isinstance(air.dew_point(1000.0), float)
    np.testing.assert_allclose(air.dew_point(p), [air.dew_point(1000.0), air.dew_point(2000.0)], rtol=1e-14)


@pytest.mark.parametrize("t", [-40.0, -20.0, -10.0, -5.0, -1.0])
def test_ice_activity_against_the_heat_of_melting(t: float) -> None:
    """Independent route: ln a = -(dH/R)(1/T - 1/T0) + (dCp/R)(T0/T - 1 - ln(T0/T)), melting heat 6009.5 J/mol
    and heat-capacity step 38.1 J/(mol K) of water at 273.15 K (constants from memory, so 1 % only)."""
    T, T0 = t + 273.15, 273.15
    expected = -6009.5 / 8.314463 * (1 / T - 1 / T0) + 38.1 / 8.314463 * (T0 / T - 1 - math.log(T0 / T))
    assert air.ice_activity(T) == pytest.approx(math.exp(expected), rel=0.01)


def test_ice_activity_is_one_where_ice_melts() -> None:
    assert air.ice_activity(273.16 - 1e-9) == pytest.approx(1.0, abs=1e-7)
    assert air.ice_activity(298.15) == 1.0


@pytest.mark.parametrize(("t", "W"), [(5, 0.005425), (25, 0.020173), (50, 0.086863)])
def test_humidity_ratio_at_saturation(t: float, W: float) -> None:
    """ASHRAE 2017, ch. 1, table 2. Real saturated air holds a little more than the ideal gas: the enhancement
    factor of Buck (1981), J. Appl. Meteorol. 20:1527 (as remembered), 1.0041 to 1.0057 here, makes it up."""
    factor = 1 + 1e-4 * (2.2 + 1013.25 * (0.0383 + 6.4e-6 * t**2))
    pws = air.saturation_pressure(t + 273.15)
    assert air.humidity_ratio(factor * pws) == pytest.approx(W, rel=5e-4)
    assert 0.993 < air.humidity_ratio(pws) / W < 0.997


def test_humidity_ratio_at_altitude() -> None:
    """Psychrometric test value: pw 3169.7 Pa at 95461 Pa (500 m) is 0.0213604."""
    assert air.humidity_ratio(3169.7, 95461.0) == pytest.approx(0.0213604, rel=2e-5)


@pytest.mark.parametrize(("T", "humidity"), [(293.15, 0.5), (303.15, 0.6), (278.15, 0.8)])
def test_dew_point_against_a_property_library(library, T: float, humidity: float) -> None:
    """CoolProp humid air (real gas): the difference is the enhancement factor and stays below 0.02 K."""
    expected = library.HAPropsSI("D", "T", T, "P", 101325, "R", humidity)
    assert air.dew_point(humidity * air.saturation_pressure(T)) == pytest.approx(expected, abs=0.02)


@given(st.floats(213.2, 473.1))
def test_dew_point_undoes_saturation_pressure(T: float) -> None:
    assert air.dew_point(air.saturation_pressure(T)) == pytest.approx(T, abs=1e-9)


@given(st.floats(0.0, 0.5))
def test_vapour_pressure_undoes_humidity_ratio(W: float) -> None:
    assert air.humidity_ratio(air.vapour_pressure(W)) == pytest.approx(W, rel=1e-12)


def test_relative_humidity_from_dew_point() -> None:
    """Steam table: 1.2276 kPa at 10 degC over 2.339 kPa at 20 degC (four digits)."""
    assert air.relative_humidity_from_dew_point(283.15, 293.15) == pytest.approx(1.2276 / 2.339, rel=5e-4)


@pytest.mark.parametrize("t", [10.0, 25.0, 40.0])
def test_vapour_density_against_a_property_library(library, t: float) -> None:
    """CoolProp (IAPWS R6-95) saturated vapour; vapour is 0.1 to 0.3 % from an ideal gas here."""
    expected = library.PropsSI("D", "T", t + 273.15, "Q", 1, "Water")
    density = air.vapour_density(air.saturation_pressure(t + 273.15), t + 273.15)
    assert density == pytest.approx(expected, rel=0.004)


@pytest.mark.parametrize(
    ("t", "kJ"), [(10, 2477.2), (20, 2453.5), (25, 2441.7), (30, 2429.8), (40, 2406.0), (50, 2382.0)]
)
def test_latent_heat_against_a_steam_table(t: float, kJ: float) -> None:
    """Steam table of Ohio University, kJ/kg printed to 0.1."""
    assert air.latent_heat(t + 273.15) == pytest.approx(1000 * kJ, abs=0.11e3)


@pytest.mark.parametrize("t", [0.01, 75.0, 100.0, 150.0, 200.0])
def test_latent_heat_against_a_property_library(library, t: float) -> None:
    """CoolProp (IAPWS R6-95); the stated error of the fit is 3e-5."""
    vapour, liquid = (library.PropsSI("H", "T", t + 273.15, "Q", q, "Water") for q in (1, 0))
    assert air.latent_heat(t + 273.15) == pytest.approx(vapour - liquid, rel=3.1e-5)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: air.humidity_ratio(2e5),
        lambda: air.humidity_ratio(-1.0),
        lambda: air.vapour_pressure(-0.01),
        lambda: air.dew_point(0.0),
        lambda: air.dew_point(float("nan")),
        lambda: air.relative_humidity_from_dew_point(300.0, 290.0),
    ],
)
def test_impossible_air_is_said_with_a_mend(wrong) -> None:
    with pytest.raises(HardtackError, match="mend"):
        wrong()
