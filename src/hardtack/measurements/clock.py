"""Dates and times of rows: joined from two columns, counted from the first, and looked over for gaps and jumps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import pairwise
from statistics import median
from types import MappingProxyType

from hardtack.measurements.columns import Column
from hardtack.measurements.table import Row, Understood

GAP = 5.0
"""A step this many times the usual one is a gap; common practice, no source."""
_SHOWN = 8


def join_clock(rows: list[Row]) -> tuple[list[Row], list[str]]:
    """Join date and time of day, and add `time` [s] from the first clock reading where no elapsed time is given.

    A time of day alone is carried over midnight when it falls by more than twelve hours.
    """
    joined: list[Row] = []
    notes: list[str] = []
    before: datetime | None = None
    midnights = 0
    for row in rows:
        at = row.values.get("clock")
        of_day = row.values.get("time of day")
        if isinstance(of_day, str):
            clock = time.fromisoformat(of_day)
            if isinstance(at, datetime):
                at = datetime.combine(at.date(), clock)
            elif at is None and "clock" not in row.values:
                at = datetime.combine(datetime(1, 1, 2), clock) + timedelta(days=midnights)
                if before is not None and at < before - timedelta(hours=12):
                    midnights += 1
                    at += timedelta(days=1)
                    notes.append(f"row {row.number}: midnight passed, as the time of day falls")
        if isinstance(at, datetime):
            before = at
            joined.append(replace(row, values=MappingProxyType({**row.values, "clock": at})))
        else:
            joined.append(row)
    return _counted(joined), notes


def _counted(rows: list[Row]) -> list[Row]:
    moments = [at for row in rows if isinstance(at := row.values.get("clock"), datetime)]
    if not moments or any("time" in row.values for row in rows):
        return rows
    start = min(moments)
    return [
        replace(row, values=MappingProxyType({**row.values, "time": (at - start).total_seconds()}))
        if isinstance(at := row.values.get("clock"), datetime)
        else row
        for row in rows
    ]


def elapsed(rows: list[Row], columns: Sequence[Column]) -> list[Understood]:
    """The column of elapsed time that `join_clock` has added, as it is understood; none where the file has its own."""
    moments = [at for row in rows if isinstance(at := row.values.get("clock"), datetime)]
    if not moments or any(column.meaning == "time" for column in columns):
        return []
    why = f"counted from the first, {min(moments):%Y-%m-%d %H:%M}"
    return [Understood("from the dates", "time", "s", "", why, "time")]


def clock_notes(rows: list[Row]) -> list[str]:
    """Sentences on gaps and on clocks that go back, sample by sample (or person) in the order of the rows; rows keep
    their readings."""
    series: dict[object, list[Row]] = {}
    for row in rows:
        series.setdefault((row.values.get("sample"), row.values.get("person")), []).append(row)
    notes = [note for one in series.values() for note in _of_one_clock(one)]
    more = len(notes) - _SHOWN
    return [*notes[:_SHOWN], *([f"and {more} more gaps or jumps of the clock"] if more > 0 else [])]


def _of_one_clock(rows: list[Row]) -> list[str]:
    stamped = [(row.number, at) for row in rows if isinstance(at := row.values.get("clock"), datetime)]
    steps = [(b[0], (b[1] - a[1]).total_seconds()) for a, b in pairwise(stamped)]
    forward = [step for _, step in steps if step > 0]
    if len(forward) < 3:
        return []
    usual = median(forward)
    notes = []
    for number, step in steps:
        if step < 0:
            summer = " (a change from summer time?)" if abs(step + 3600) <= usual + 60 else ""
            notes.append(f"row {number}: the clock goes back by {_span(-step)}{summer}")
        elif step > GAP * usual:
            notes.append(
                f"row {number}: {_span(step)} without a reading before it (usual step {_span(usual)})"
            )
    return notes


def _span(seconds: float) -> str:
    for length, word in ((86400.0, "days"), (3600.0, "h"), (60.0, "min")):
        if seconds >= 2 * length:
            return f"{seconds / length:.3g} {word}"
    return f"{seconds:.3g} s"
