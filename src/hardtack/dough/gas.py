"""Gas in dough: volumes under vapour pressure, what water dissolves, the air mixed in, the share of steam.

T is in kelvin, pressures in pascal, amounts of gas in mol, volumes in m3. Moles are of the dry gases (carbon
dioxide, ammonia, air): water vapour comes on top through its own pressure, p_w = a_w p_sat(T).
"""

from __future__ import annotations

from functools import cache

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import rows
from hardtack.states import Floats
from hardtack.units import celsius
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, STANDARD_PRESSURE, saturation_pressure

REFERENCE_PRESSURE = 100e3
"""Partial pressure of carbon dioxide to which the solubility table refers [Pa]."""


def steam_share(a: float, T: float, p: float = STANDARD_PRESSURE) -> float:
    """Mole fraction of water vapour in the cells, y = a p_sat(T) / p.

    Raises `HardtackError` where the vapour pressure reaches the total pressure: the dough boils there, and
    its volume is set by how fast heat comes in, no longer by a balance of pressures.
    """
    if not 0.0 <= a <= 1.0:
        raise HardtackError(f"a water activity of {a:g} cannot be", "give a value from 0 to 1, such as 0.97")
    y = a * float(saturation_pressure(T)) / _above_zero(p, "a total pressure", "101325 Pa")
    if y >= 1.0:
        raise HardtackError(
            f"at {celsius(T):.1f} degC and activity {a:g} it boils: no dry gas stands beside its steam",
            "stay below the temperature at which a_w p_sat reaches the pressure, or lower the activity",
        )
    return y


def steam_ratio(a: float, T: float, p: float = STANDARD_PRESSURE) -> float:
    """Volume of the cells over the volume of their dry gas at the same total pressure, 1 / (1 - y)."""
    return 1.0 / (1.0 - steam_share(a, T, p))


def gas_volume(moles: float, T: float, a: float, p: float = STANDARD_PRESSURE) -> float:
    """Volume of the cells [m3] that `moles` of dry gas fill together with their steam: n R T / (p - p_w).

    Ideal gas. Raises `HardtackError` for a negative amount and where the dough boils.
    """
    if not moles >= 0:
        raise HardtackError("an amount of gas cannot be negative", "give moles of gas, zero or more")
    return moles * GAS_CONSTANT * T * steam_ratio(a, T, p) / p


def gas_moles(volume: float, T: float, a: float, p: float = STANDARD_PRESSURE) -> float:
    """Moles of dry gas in cells of `volume` [m3]: the inverse of `gas_volume`."""
    if not volume >= 0:
        raise HardtackError("a volume cannot be negative", "give m3, zero or more")
    return volume * p * (1.0 - steam_share(a, T, p)) / (GAS_CONSTANT * T)


def air_moles(void: float, density: float, T: float, a: float = 0.0, p: float = STANDARD_PRESSURE) -> float:
    """Air mixed in [mol per kg of dough]: `void` is the share of the dough's volume that is air.

    `density` [kg/m3] is of the dough without gas: volume of air per kg = void / ((1 - void) density). It is
    the air that makes the cells: leavening only fills them (common practice, no source).
    """
    if not 0.0 <= void < 1.0:
        raise HardtackError(f"a void share of {void:g} cannot be", "give the share of air, from 0 to below 1")
    volume = void / ((1.0 - void) * _above_zero(density, "a density", "1250 kg/m3"))
    return gas_moles(volume, T, a, p)


def carbon_dioxide_solubility(T: float) -> float:
    """Mole fraction of carbon dioxide in water at 100 kPa of it, 0 to 100 degC.

    Straight between the points of the CRC table (5 K apart, stated accuracy about 2 %). Raises
    `HardtackError` outside the table.
    """
    temperatures, fractions = _solubility_table()
    if not temperatures[0] <= T <= temperatures[-1]:
        raise HardtackError(
            f"no solubility of carbon dioxide at {celsius(T):.0f} degC", "the table runs from 0 to 100 degC"
        )
    return float(np.interp(T, temperatures, fractions))


def dissolved_carbon_dioxide(water: float, T: float, p: float) -> float:
    """Carbon dioxide dissolved [mol] in `water` [kg] under a partial pressure p [Pa] of it.

    n = (water / M_w) x(T) p / 100 kPa: proportional to the pressure (Henry), in pure water. Sugar and salt
    lower it; fat and small bubbles let a dough hold more than its water would (0.81 against 0.32 mL per g,
    measured).
    """
    if not (water >= 0 and p >= 0):
        raise HardtackError("water and pressure cannot be negative", "give kg and Pa, zero or more")
    return water / MOLAR_MASS_WATER * carbon_dioxide_solubility(T) * p / REFERENCE_PRESSURE


def cells_and_water(
    moles: float, air: float, water: float, T: float, a: float, p: float = STANDARD_PRESSURE
) -> tuple[float, float]:
    """How `moles` of carbon dioxide part between cells and `water` [kg]: (in the cells, dissolved) [mol].

    `air` [mol] shares the cells. At balance the partial pressure of carbon dioxide over the water is
    (p - p_w) n / (n + air), and what is dissolved is proportional to it; the quadratic is solved exactly.
    """
    if not (moles >= 0 and air >= 0):
        raise HardtackError("an amount of gas cannot be negative", "give moles of gas, zero or more")
    full = dissolved_carbon_dioxide(water, T, p * (1.0 - steam_share(a, T, p)))
    # x (x + air) + full x = moles (x + air), the positive root written without cancellation
    b = air + full - moles
    root = (b * b + 4.0 * moles * air) ** 0.5
    in_cells = (root - b) / 2.0 if b <= 0 else 2.0 * moles * air / (b + root)
    return in_cells, moles - in_cells


@cache
def _solubility_table() -> tuple[Floats, Floats]:
    table = sorted((row["T"], row["x"]) for row in rows("carbon dioxide solubility"))
    return np.array([T for T, _ in table]), np.array([x for _, x in table])


def _above_zero(value: float, what: str, example: str) -> float:
    if not value > 0:
        raise HardtackError(f"{what} of {value:g} cannot be", f"give a value above zero, such as {example}")
    return value
