"""How much leavening for a wanted lift."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.dough.gas import cells_and_water, dissolved_carbon_dioxide, gas_moles, steam_share
from hardtack.dough.leavening import acid_to_neutralise, soda_for_gas
from hardtack.errors import HardtackError
from hardtack.water.air import STANDARD_PRESSURE


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a dough should hold when it sets: `volume` of cells [m3], at temperature `T` [K] and activity `a`.

    `air` [mol] is already in it, `water` [kg] dissolves its share, `kept` is the share of the gas given that
    is not lost before setting (1 says none is), `pressure` [Pa] is of the oven.
    """

    volume: float
    T: float
    a: float
    air: float
    water: float
    kept: float
    pressure: float = STANDARD_PRESSURE


@dataclass(frozen=True, slots=True)
class Leavened:
    """A dose: `soda` and `acid` [kg], and the carbon dioxide they give: `in_cells`, `dissolved`, `lost`
    [mol].
    """

    soda: float
    acid: float
    in_cells: float
    dissolved: float
    lost: float


def soda_for_lift(wanted: Wanted) -> float:
    """Soda [kg] that, fully neutralised, gives the wanted lift. Raises as `leavening_for_lift`."""
    return soda_for_gas(sum(_moles(wanted)))


def leavening_for_lift(acid: str, wanted: Wanted) -> Leavened:
    """Soda and the named acid [kg] for the wanted lift, in balance.

    The cells hold n = V (p - p_w) / R T of dry gas, air included; the dough's water dissolves its share at
    the partial pressure that results, and the loss is added. Raises `HardtackError` where the dough boils,
    where nothing is kept, or for an acid unknown. Nothing is needed where air and steam alone fill the cells.
    """
    in_cells, dissolved, lost = _moles(wanted)
    soda = soda_for_gas(in_cells + dissolved + lost)
    return Leavened(soda, acid_to_neutralise(acid, soda), in_cells, dissolved, lost)


def cells_from_gas(moles: float, wanted: Wanted) -> float:
    """Volume of the cells [m3] that `moles` of carbon dioxide give under the same conditions: the check."""
    in_cells, _ = cells_and_water(
        moles * wanted.kept, wanted.air, wanted.water, wanted.T, wanted.a, wanted.pressure
    )
    return (in_cells + wanted.air) / gas_moles(1.0, wanted.T, wanted.a, wanted.pressure)


def _moles(wanted: Wanted) -> tuple[float, float, float]:
    if not 0 < wanted.kept <= 1:
        raise HardtackError(
            f"a kept share of {wanted.kept:g} cannot be", "give the share of gas kept, above 0 and up to 1"
        )
    dry = gas_moles(wanted.volume, wanted.T, wanted.a, wanted.pressure)
    in_cells = max(0.0, dry - wanted.air)
    if in_cells == 0.0:
        return 0.0, 0.0, 0.0
    partial = wanted.pressure * (1.0 - steam_share(wanted.a, wanted.T, wanted.pressure)) * in_cells / dry
    dissolved = dissolved_carbon_dioxide(wanted.water, wanted.T, partial)
    return in_cells, dissolved, (in_cells + dissolved) * (1.0 / wanted.kept - 1.0)
