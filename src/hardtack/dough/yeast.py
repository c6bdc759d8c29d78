"""Yeast: equivalence of its forms, its gas against temperature, salt and sugar, over a schedule.

The rates are from memory and for a lean dough: overwrite them with the bakery's own gas measurement. What is
made is not what lifts: at the end of proof about a third of it is in the cells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

from hardtack.errors import HardtackError
from hardtack.reference import lookup, rows
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE

MOLAR_MASS_GLUCOSE = 0.180156
"""[kg/mol], standard atomic weights. C6H12O6 -> 2 C2H5OH + 2 CO2."""
MOLAR_MASS_ETHANOL = 0.0460684
"""[kg/mol], standard atomic weights."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A stretch of fermentation or proof: `duration` [s] at dough temperature `T` [K]."""

    duration: float
    T: float


@dataclass(frozen=True, slots=True)
class YeastGas:
    """What yeast makes over a schedule, per kg of flour: `made` [mol] at the end of each stage, the fate of
    the last at the end of proof, and by stoichiometry `glucose` used and `ethanol` made [kg].

    `enough_sugar` is None when the fermentable sugar was not given.
    """

    made: tuple[float, ...]
    in_cells: float
    dissolved: float
    lost: float
    glucose: float
    ethanol: float
    enough_sugar: bool | None


def forms() -> tuple[str, ...]:
    """The forms of yeast on the shelf."""
    return tuple(row.name for row in rows("yeast") if "equivalent" in row.values)


def fresh_equivalent(form: str, mass: float) -> float:
    """Fresh yeast [any unit] of the same activity as `mass` of another form."""
    return _amount(mass) / lookup("yeast", form)["equivalent"]


def same_activity(form: str, mass: float, other: str) -> float:
    """Mass of the `other` form with the activity of `mass` of `form`."""
    return fresh_equivalent(form, mass) * lookup("yeast", other)["equivalent"]


def temperature_factor(T: float) -> float:
    """Rate of gas at dough temperature T [K] over the rate at 30 degC.

    Q10^((T - 30 degC) / 10 K) up to the best temperature, then straight down to nothing. The law is for 20 to
    55 degC; below 20 degC real yeast slows more than it says. Raises `HardtackError` below 0 degC.
    """
    row = lookup("yeast", "gas rate")
    if not ZERO_CELSIUS <= T:
        raise HardtackError("the yeast law does not cover frozen dough", "give a temperature from 0 degC up")
    if row["T_stop"] <= T:
        return 0.0
    rising = float(row["Q10"] ** ((min(T, row["T_best"]) - row["T_reference"]) / 10.0))
    return rising * min(1.0, (row["T_stop"] - T) / (row["T_stop"] - row["T_best"]))


def salt_factor(salt: float) -> float:
    """Rate of gas with `salt` [share of flour] over the rate with 2 %: exp(-slope (salt - 2 %))."""
    row = lookup("yeast", "salt")
    return exp(-row["slope"] * (_share("salt", salt) - row["reference"]))


def sugar_factor(sugar: float) -> float:
    """Rate of gas with `sugar` [share of flour] over the rate with up to 5 %, ordinary yeast.

    1 up to 5 % (a little sugar helps; not counted), then exp(-slope (sugar - 5 %)).
    """
    row = lookup("yeast", "sugar")
    return exp(-row["slope"] * max(0.0, _share("sugar", sugar) - row["reference"]))


def gas_rate(fresh: float, T: float, salt: float, sugar: float) -> float:
    """Carbon dioxide made [mol/s per kg of flour] by `fresh` yeast [kg per kg of flour] at T [K].

    `salt` and `sugar` are shares of the flour. Raises `HardtackError` for values that cannot be.
    """
    row = lookup("yeast", "gas rate")
    volume = row["rate"] * _amount(fresh) * temperature_factor(T) * salt_factor(salt) * sugar_factor(sugar)
    return volume * STANDARD_PRESSURE / (GAS_CONSTANT * row["T_reference"])


def gas_over(
    schedule: Sequence[Stage],
    fresh: float,
    salt: float,
    sugar: float,
    fermentable: float | None = None,
) -> YeastGas:
    """Gas over a schedule of stages, per kg of flour; the rate is held through each stage.

    `fermentable` [kg per kg of flour] is all sugar the yeast can reach (added, of the flour, from its
    starch). When given, gas stops where it is used up. Growth of the yeast, its tiring and the maltose lag
    are not counted.
    """
    if not schedule:
        raise HardtackError(
            "the schedule has no stage", "give at least one, with a duration and a temperature"
        )
    most = float("inf")
    if fermentable is not None:
        most = 2.0 * _share("fermentable sugar", fermentable) / MOLAR_MASS_GLUCOSE
    made, total, wanted = [], 0.0, 0.0
    for stage in schedule:
        if not stage.duration >= 0:
            raise HardtackError("a stage cannot last less than nothing", "give seconds, zero or more")
        wanted += gas_rate(fresh, stage.T, salt, sugar) * stage.duration
        total = min(wanted, most)
        made.append(total)
    cells, dissolved, lost = (lookup("yeast", fate)["share"] for fate in ("in cells", "dissolved", "lost"))
    return YeastGas(
        made=tuple(made),
        in_cells=cells * total,
        dissolved=dissolved * total,
        lost=lost * total,
        glucose=total / 2.0 * MOLAR_MASS_GLUCOSE,
        ethanol=total * MOLAR_MASS_ETHANOL,
        enough_sugar=None if fermentable is None else wanted <= most,
    )


def _amount(mass: float) -> float:
    if not 0 <= mass < float("inf"):
        raise HardtackError(f"an amount of yeast of {mass:g} cannot be", "give zero or more")
    return mass


def _share(name: str, share: float) -> float:
    if not 0 <= share < 2:
        raise HardtackError(
            f"{name} of {share:g} on flour cannot be", "give a share of the flour, such as 0.02"
        )
    return share
