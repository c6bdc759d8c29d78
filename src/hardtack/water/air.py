"""Humid air: saturation lines, dew point, humidity ratio, latent heat.

T is in kelvin, pressures in pascal, humidities are fractions. Scalars or arrays in, the same out.
"""

from __future__ import annotations

from typing import TypeVar, cast

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats

Real = TypeVar("Real", float, Floats)

GAS_CONSTANT = 8.31446261815324
"""R [J/(mol K)], exact in the SI of 2019."""
MOLAR_MASS_WATER = 0.018015268
"""Molar mass of water [kg/mol], IAPWS R6-95."""
MOLAR_MASS_RATIO = 0.621945
"""Water over dry air, ASHRAE Handbook - Fundamentals (2017), ch. 1."""
STANDARD_PRESSURE = 101325.0
"""Standard atmosphere at sea level [Pa]."""
TRIPLE_POINT = 273.16
"""Triple point of water [K]."""

# Hyland and Wexler (1983) in the ASHRAE numbering: C1..C7 over ice, C8..C13 over liquid water.
C1 = -5.6745359e3
C2 = 6.3925247
C3 = -9.677843e-3
C4 = 6.2215701e-7
C5 = 2.0747825e-9
C6 = -9.484024e-13
C7 = 4.1635019
C8 = -5.8002206e3
C9 = 1.3914993
C10 = -4.8640239e-2
C11 = 4.1764768e-5
C12 = -1.4452093e-8
C13 = 6.5459673

# Latent heat: L0 (1 - Tr)^(L1 + L2 Tr + L3 Tr^2), fitted here to IAPWS R6-95 saturation enthalpies.
CRITICAL_TEMPERATURE = 647.096
L0 = 3.39416875e6
L1 = 0.948037338
L2 = -1.21686069
L3 = 0.687615122

_COLDEST_DEW = 213.15
_HOTTEST_DEW = 473.15


def saturation_pressure(T: Real) -> Real:
    """Saturation pressure over liquid water [Pa] at T [K].

    ln p = C8/T + C9 + C10 T + C11 T^2 + C12 T^3 + C13 ln T, valid 0..200 degC. Below 0 degC the same
    equation gives the supercooled-water line: water activity refers to liquid water, frozen or not, so
    that line is the one to use for food. It lies within 0.03 % of IAPWS R7-97
    over 0..200 degC.

    No branches and no checks: the expression compiles as it stands. Source: Hyland and Wexler (1983),
    as printed in ASHRAE Handbook - Fundamentals (2013), ch. 1, eq. 6.
    """
    p: Real = np.exp(C8 / T + C9 + T * (C10 + T * (C11 + T * C12)) + C13 * np.log(T))
    return p


def saturation_pressure_ice(T: Real) -> Real:
    """Saturation pressure over ice [Pa] at T [K], valid -100..0 degC.

    ln p = C1/T + C2 + C3 T + C4 T^2 + C5 T^3 + C6 T^4 + C7 ln T. Source: Hyland and Wexler (1983), as
    printed in ASHRAE Handbook - Fundamentals (2013), ch. 1, eq. 5.
    """
    p: Real = np.exp(C1 / T + C2 + T * (C3 + T * (C4 + T * (C5 + T * C6))) + C7 * np.log(T))
    return p


def ice_activity(T: Real) -> Real:
    """Water activity at which ice stands in balance at T [K]: p_ice / p_liquid, 1 at and above 273.16 K.

    No food that holds ice can have another activity. Both lines as in the functions above.
    """
    ratio = saturation_pressure_ice(T) / saturation_pressure(T)
    return cast(Real, np.where(np.less(T, TRIPLE_POINT), ratio, 1.0)[()])


def humidity_ratio(vapour_pressure: Real, pressure: float = STANDARD_PRESSURE) -> Real:
    """Humidity ratio W [kg water/kg dry air] from vapour pressure and total pressure [Pa].

    W = 0.621945 pw / (p - pw), ideal gas: without the enhancement factor saturated air
    comes out 0.4 to 0.7 % too dry at 0..50 degC. Raises `HardtackError` when the vapour pressure is negative
    or not below the total pressure. Source: ASHRAE Handbook - Fundamentals (2017), ch. 1.
    """
    if not np.all((np.asarray(vapour_pressure) >= 0) & (np.asarray(vapour_pressure) < pressure)):
        raise HardtackError(
            f"a vapour pressure of {_worst(vapour_pressure):g} Pa cannot be in air of {pressure:g} Pa",
            "it lies from zero to below the total pressure; at the boiling point no air is left",
        )
    return MOLAR_MASS_RATIO * vapour_pressure / (pressure - vapour_pressure)


def vapour_pressure(humidity_ratio: Real, pressure: float = STANDARD_PRESSURE) -> Real:
    """Vapour pressure pw [Pa] from humidity ratio [kg/kg dry air]: the inverse of `humidity_ratio`."""
    if not np.all(np.asarray(humidity_ratio) >= 0):
        raise HardtackError(
            "a humidity ratio cannot be negative", "write kg water per kg dry air, such as 0.010"
        )
    return pressure * humidity_ratio / (MOLAR_MASS_RATIO + humidity_ratio)


def vapour_density(vapour_pressure: Real, T: Real) -> Real:
    """Water vapour in air [kg/m3] at vapour pressure [Pa] and T [K], ideal gas: pw M / (R T)."""
    return vapour_pressure * MOLAR_MASS_WATER / (GAS_CONSTANT * T)


def dew_point(vapour_pressure: Real) -> Real:
    """Temperature [K] at which `saturation_pressure` equals the vapour pressure [Pa].

    Over liquid water at every temperature (below 0 degC this is the dew point, not the frost point).
    Newton steps on ln p. Raises `HardtackError` outside -60..200 degC.
    """
    pw = np.asarray(vapour_pressure, dtype=float)
    low, high = saturation_pressure(_COLDEST_DEW), saturation_pressure(_HOTTEST_DEW)
    if not np.all((pw >= low) & (pw <= high)):
        raise HardtackError(
            f"no dew point between -60 and 200 degC for a vapour pressure of {_worst(vapour_pressure):g} Pa",
            f"give a vapour pressure from {low:.3g} to {high:.4g} Pa",
        )
    target = np.log(pw)
    # ln p is nearly straight in 1/T, so a straight line in 1/T through the ends starts Newton well.
    share = (target - np.log(low)) / (np.log(high) - np.log(low))
    T = 1.0 / (1.0 / _COLDEST_DEW + share * (1.0 / _HOTTEST_DEW - 1.0 / _COLDEST_DEW))
    for _ in range(8):
        miss = np.log(saturation_pressure(T)) - target
        T = T - miss / (-C8 / T**2 + C10 + T * (2 * C11 + T * 3 * C12) + C13 / T)
    dew: Real = T[()]
    return dew


def relative_humidity_from_dew_point(dew: Real, T: Real) -> Real:
    """Relative humidity (fraction) of air at T [K] with dew point `dew` [K], over liquid water.

    Raises `HardtackError` when the dew point is above the air temperature.
    """
    if not np.all(np.asarray(dew) <= np.asarray(T)):
        raise HardtackError(
            "the dew point is above the air temperature",
            "exchange the two if they were swapped; equal values mean saturated air",
        )
    return saturation_pressure(dew) / saturation_pressure(T)


def latent_heat(T: Real) -> Real:
    """Latent heat of evaporation of water [J/kg] at T [K], 0..200 degC.

    L = L0 (1 - Tr)^(L1 + L2 Tr + L3 Tr^2), Tr = T/647.096 K. Constants fitted here (least squares, 201
    points) to the saturation enthalpies of IAPWS R6-95; largest error 3e-5 of the value. Smooth below 0 degC
    (supercooled water), but not checked there.
    """
    Tr = T / CRITICAL_TEMPERATURE
    L: Real = L0 * (1.0 - Tr) ** (L1 + Tr * (L2 + Tr * L3))
    return L


def _worst(pressure: float | Floats) -> float:
    """The entry furthest from an ordinary pressure, for a message."""
    flat = np.atleast_1d(np.asarray(pressure, dtype=float))
    return float(flat[np.argmax(np.abs(flat - 2000.0))])
