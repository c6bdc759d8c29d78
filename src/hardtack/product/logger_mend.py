"""Holes and jumps of the clock in a logger's record: laid straight or put right as the leg says, and told every time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from hardtack.errors import Problem
from hardtack.states import Floats

LONGEST_GAP = 6 * 3600.0
"""Seconds; common practice, no source: a night without readings is a hole, an hour is not."""
TOLD_FROM = 3.0
"""A step this many times the usual one is told as a hole."""
_SHOWN = 20


@dataclass(frozen=True, slots=True)
class Reading:
    """One row: its line in the file, the clock, temperature [K] and humidity (fraction), nan where nothing stands."""

    line: int
    time: datetime
    temperature: float
    humidity: float


@dataclass(frozen=True, slots=True)
class Mend:
    """What the leg says of its logger's holes and clock: `gaps` [s] up to which a hole is laid straight, and whether what
    follows a jump back of the clock is moved on (`shift`) instead of refused."""

    gaps: float = LONGEST_GAP
    shift: bool = False


@dataclass(slots=True)
class Found:
    """What was met in one file: what it cannot be used for, and what was done to it, row by row."""

    name: str
    problems: list[Problem] = field(default_factory=list)
    told: list[str] = field(default_factory=list)

    def refuse(self, what: str, mend: str, line: int) -> None:
        """Note a row that cannot be used."""
        self.problems.append(Problem(what, mend, self.name, line))

    def said(self) -> tuple[str, ...]:
        """What was done, the first ones in full."""
        more = len(self.told) - _SHOWN
        tail = (f"{self.name}: and {more} more like these.",) if more > 0 else ()
        return (*(f"{self.name}, {line}." for line in self.told[:_SHOWN]), *tail)


def span(seconds: float) -> str:
    """A stretch of time as people say it."""
    if seconds >= 2 * 86400.0:
        return f"{seconds / 86400:.3g} days"
    return f"{seconds / 3600:.3g} h" if seconds >= 3600.0 else f"{seconds / 60:.3g} min"


def clocked(readings: list[Reading], mend: Mend, found: Found) -> list[Reading]:
    """The readings with times that move forward, or with a problem for each time that does not, and each long hole."""
    kept: list[Reading] = []
    later = timedelta(0)
    usual = _usual(readings)
    for now in readings:
        if not kept:
            kept.append(now)
            continue
        before = kept[-1]
        if (before.time.tzinfo is None) != (now.time.tzinfo is None):
            found.refuse(
                "a time with and a time without a time zone",
                "write all times with a time zone, or none",
                now.line,
            )
            continue
        moved = Reading(now.line, now.time + later, now.temperature, now.humidity)
        step = (moved.time - before.time).total_seconds()
        if step <= 0.0:
            if step == 0.0 and _same(before, moved):
                found.told.append(f"row {now.line}: the same reading a second time, taken once")
                continue
            if not mend.shift:
                said = "stands still" if step == 0 else f"jumps back by {-step / 3600:.3g} h"
                found.refuse(
                    f"the clock {said}",
                    "a change from summer time, or readings twice: put the times right, or say 'clock jumps: shift' in the leg",
                    now.line,
                )
                kept.append(moved)
                continue
            later += timedelta(seconds=usual - step)
            found.told.append(
                f"row {now.line}: the clock jumps back by {span(-step)}; this reading and those after it were moved on by "
                f"{span(usual - step)}, to the usual spacing of {span(usual)}"
            )
            moved = Reading(now.line, now.time + later, now.temperature, now.humidity)
            step = usual
        elif step > mend.gaps:
            found.refuse(
                f"{step / 3600:.3g} h without a reading",
                f"give that stretch as a leg of its own, or say 'gaps: {_enough(step)}' in the leg: it is then laid straight",
                now.line,
            )
        elif step > TOLD_FROM * usual:
            found.told.append(
                f"rows {before.line} to {now.line}: {span(step)} without a reading, laid straight"
            )
        kept.append(moved)
    return kept


def filled(readings: list[Reading], seconds: Floats, mend: Mend, found: Found) -> tuple[Floats, Floats]:
    """Temperature [K] and humidity of every reading, holes laid straight between their neighbours.

    Notes a hole that is too long, or lies at an end, where nothing says what comes beyond.
    """
    lines = [reading.line for reading in readings]
    columns = []
    for what in ("temperature", "humidity"):
        values = np.array([getattr(reading, what) for reading in readings])
        known = np.flatnonzero(~np.isnan(values))
        if known.size == 0:
            found.refuse(f"the {what} is missing throughout", "take another file", lines[0])
            columns.append(values)
            continue
        for first, last in _holes(values):
            _tell(what, first, last, lines, seconds, mend, found)
        columns.append(np.interp(seconds, seconds[known], values[known]))
    return columns[0], columns[1]


def _tell(
    what: str, first: int, last: int, lines: list[int], seconds: Floats, mend: Mend, found: Found
) -> None:
    """Note one hole in a column, from reading `first` to `last`."""
    where = f"row {lines[first]}" if first == last else f"rows {lines[first]} to {lines[last]}"
    if first == 0 or last == seconds.size - 1:
        end = "begins" if first == 0 else "ends"
        found.refuse(
            f"the {what} is missing where the record {end}",
            "cut the file there; nothing lies beyond to lay it straight to",
            lines[first],
        )
        return
    width = float(seconds[last + 1] - seconds[first - 1])
    if width > mend.gaps:
        found.refuse(
            f"the {what} is missing for {span(width)}",
            f"cut the file before the hole, or say 'gaps: {_enough(width)}' in the leg: it is then laid straight",
            lines[first],
        )
    else:
        found.told.append(f"{where}: the {what} is missing for {span(width)}, laid straight")


def _holes(values: Floats) -> list[tuple[int, int]]:
    """First and last index of every run of missing values."""
    missing = np.concatenate([[False], np.isnan(values), [False]]).astype(int)
    turns = np.diff(missing)
    return list(zip(np.flatnonzero(turns > 0), np.flatnonzero(turns < 0) - 1, strict=True))


def _usual(readings: list[Reading]) -> float:
    """The median of the steps that go forward [s]."""
    zones = [reading.time.tzinfo is None for reading in readings]
    if len(set(zones)) != 1 or len(readings) < 2:
        return 3600.0
    first = readings[0].time
    steps = np.diff([(reading.time - first).total_seconds() for reading in readings])
    forward = steps[steps > 0]
    return float(np.median(forward)) if forward.size else 3600.0


def _same(one: Reading, other: Reading) -> bool:
    return np.array_equal(
        (one.temperature, one.humidity), (other.temperature, other.humidity), equal_nan=True
    )


def _enough(seconds: float) -> str:
    """A round duration that covers a hole, as the product file writes it."""
    hours = int(np.ceil(seconds / 3600.0 - 1e-9))
    return f"{hours} h" if hours <= 48 else f"{int(np.ceil(hours / 24))} days"
