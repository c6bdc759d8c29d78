"""When the gas comes: on the bench or in the oven, and how far it has come over a course of temperature.

A dry acid gives the share of its gas on the bench that its dough rate of reaction says; only an acid already
dissolved (buttermilk, vinegar, citric acid in water) gives all of it at once. The rest comes with the heat.
So a powder lifts mostly in the oven, soda with a dissolved acid at once (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.dough.leavening import AMMONIUM, Dose, SourIngredient, balance
from hardtack.dough.soda import IN_CELL, Decomposed, decomposition
from hardtack.reference import Row, lookup
from hardtack.states import Floats


@dataclass(frozen=True, slots=True)
class BenchAction:
    """Carbon dioxide [mol] that leavening acids give on the bench and in the oven.

    For an acid without a known dough rate the bench lies between nothing and all of its gas: `bench_low` and
    `bench_high` differ then, and `unknown` names it. Gas by heat alone and of ammonium bicarbonate is all
    oven.
    """

    bench_low: float
    bench_high: float
    oven_low: float
    oven_high: float
    unknown: tuple[str, ...]
    finding: str


@dataclass(frozen=True, slots=True)
class Release:
    """Carbon dioxide given so far [mol] at each of `times` [s], by its way; `ammonia` [mol] beside it.

    `soda` tells how far the left soda is split, by which law and whether inside its range.
    """

    times: Floats
    by_acid: Floats
    by_heat: Floats
    by_ammonium: Floats
    ammonia: Floats
    soda: Decomposed

    @property
    def carbon_dioxide(self) -> Floats:
        """All carbon dioxide given so far [mol]."""
        return self.by_acid + self.by_heat + self.by_ammonium


def bench_action(
    dough: float,
    base_doses: Sequence[Dose],
    acid_doses: Sequence[Dose] = (),
    sour: Sequence[SourIngredient] = (),
) -> BenchAction:
    """Split the gas of `dough` [kg] into bench and oven.

    On the bench the faster acids take the soda first: bench = min(soda, sum of rate times capacity).
    Arguments and errors as in `hardtack.dough.leavening.balance`.
    """
    sums = balance(dough, base_doses, acid_doses, sour)
    able = _capacities(dough, acid_doses, sour)
    unknown = tuple(
        row.name for row, moles in able if row is not None and "bench" not in row.values and moles > 0
    )
    low = min(sums.by_acid, sum(moles * _bench(row, 0.0) for row, moles in able))
    high = min(sums.by_acid, sum(moles * _bench(row, 1.0) for row, moles in able))
    whole = sums.by_acid + sums.by_heat + sums.by_ammonium
    return BenchAction(low, high, whole - high, whole - low, unknown, _finding(low, high, whole, unknown))


def release(
    dough: float,
    base_doses: Sequence[Dose],
    times: Floats,
    temperatures: Floats,
    acid_doses: Sequence[Dose] = (),
    sour: Sequence[SourIngredient] = (),
    law: str = IN_CELL,
) -> Release:
    """Gas given over a course of dough temperature [K] at rising `times` [s].

    Each acid gives its bench share at once and the rest in proportion as the temperature passes through its
    trigger range; ammonium bicarbonate likewise through its own; both only ever go forward. An acid without a
    known dough rate is taken as late. Soda without acid splits by the named law, by default the one for
    closed cells. Trigger ranges are mostly assumed: a guide to order, not to minutes. Errors as in `balance`
    and `hardtack.dough.soda.decomposition`.
    """
    sums = balance(dough, base_doses, acid_doses, sour)
    split = decomposition(law, times, temperatures)
    hottest = np.maximum.accumulate(np.asarray(temperatures, dtype=float))
    given = np.zeros_like(hottest)
    for row, moles in _capacities(dough, acid_doses, sour):
        bench = _bench(row, 0.0)
        late = 0.0 if row is None or bench == 1.0 else _ramp(row, hottest)
        given = given + moles * (bench + (1.0 - bench) * late)
    ramp = _ramp(lookup("leavening bases", AMMONIUM), hottest)
    return Release(
        times=split.times,
        by_acid=np.minimum(sums.by_acid, given),
        by_heat=sums.by_heat * split.extent,
        by_ammonium=sums.by_ammonium * ramp,
        ammonia=sums.ammonia * ramp,
        soda=split,
    )


def _capacities(
    dough: float, acid_doses: Sequence[Dose], sour: Sequence[SourIngredient]
) -> list[tuple[Row | None, float]]:
    """Each acid's row (None for sour ingredients, whose acid is dissolved) and the moles of soda it
    neutralises.
    """
    soda = lookup("leavening bases", "sodium bicarbonate")["M"]
    able: list[tuple[Row | None, float]] = [(None, balance(dough, (), (), sour).acid / soda)]
    for dose in acid_doses:
        row = lookup("leavening acids", dose.name)
        able.append((row, balance(dough, (), (dose,)).acid / soda))
    return able


def _bench(row: Row | None, unknown: float) -> float:
    """Share given on the bench; `unknown` where no dough rate is known, all for what is dissolved."""
    if row is None:
        return 1.0
    return row["bench"] if "bench" in row.values else unknown


def _ramp(row: Row, T: Floats) -> Floats:
    span = row.values["trigger"]
    low, high = float(span.low or span.value), float(span.high or span.value)
    return np.clip((T - low) / (high - low), 0.0, 1.0)


def _finding(low: float, high: float, whole: float, unknown: tuple[str, ...]) -> str:
    if whole == 0:
        return "There is nothing to give gas."
    if unknown:
        return (
            f"Between {low / whole:.0%} and {high / whole:.0%} of the gas comes on the bench: no dough rate "
            f"is known for {', '.join(unknown)}. Measure it in your own dough."
        )
    if low / whole < 0.5:
        return f"{low / whole:.0%} of the gas comes on the bench, the rest in the oven: the dough can wait."
    return f"{low / whole:.0%} of the gas comes on the bench: bake at once, or take a slower acid."
