"""Dates and times as they are typed. Whether day or month comes first is decided on the whole column, or asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from hardtack.errors import Problem
from hardtack.measurements.answers import Answers, question
from hardtack.measurements.sheet import Cell

ORDERS = {"day first": (2, 1, 0), "month first": (2, 0, 1), "year first": (0, 1, 2)}
"""Where year, month and day stand among the three numbers."""
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_THREE = re.compile(r"([0-9]{1,4})([./-])([0-9]{1,2})\2([0-9]{1,4})(?![0-9])[,T ]*")
_ISO = re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}")
_WORDED = re.compile(r"([0-9]{1,2})[ .-]*([A-Za-z]{3,9})\.?[ .,-]*([0-9]{4}|[0-9]{2})(?![0-9])[, ]*")
_CLOCK = re.compile(
    r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:[.,]([0-9]{1,6}))?)?\s*([AaPp][Mm])?\s*(Z|[-+][0-9]{2}:?[0-9]{2})?"
)


def looks_dated(cell: Cell) -> bool:
    """Whether a cell begins like a date or a time of day."""
    if isinstance(cell, datetime):
        return True
    return isinstance(cell, str) and bool(_THREE.match(cell) or _WORDED.match(cell) or _CLOCK.fullmatch(cell))


def date_order(
    cells: Sequence[tuple[int, Cell]], said: Answers, file: str, column: str
) -> tuple[str, str] | Problem:
    """The order of day, month and year in a column and why, or the question. `cells` are (row, cell)."""
    fits = dict.fromkeys(ORDERS, True)
    seen: tuple[int, str] | None = None
    dotted = True
    for row, cell in cells:
        found = _THREE.match(cell) if isinstance(cell, str) else None
        if found is None or _ISO.match(found[0]):
            continue
        if not any(_made(found, order) for order in ORDERS):
            continue  # no date in any order: the reading itself will say so
        seen = seen or (row, found[0].strip())
        dotted = dotted and found[2] == "."
        for order in ORDERS:
            fits[order] = fits[order] and _made(found, order) is not None
    if seen is None:
        return "year first", "no date leaves a doubt"
    if said.get("dates"):
        return said.get("dates"), "as answered"
    left = [order for order, fit in fits.items() if fit]
    if len(left) == 1:
        return left[0], "the only order that fits every date of the column"
    if dotted and "day first" in left:
        return "day first", "dates parted by points"
    row, text = seen
    if not left:
        return question(f"{text!r} and the dates after it follow no one order", "dates", file, row, column)
    return question(f"{text!r}: which of day, month and year comes first?", "dates", file, row, column)


def _made(found: re.Match[str], order: str) -> date | None:
    parts = (found[1], found[3], found[4])
    year, month, day = (parts[place] for place in ORDERS[order])
    if len(year) not in (2, 4) or len(month) > 2 or len(day) > 2:
        return None
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None


def moment(cell: Cell, order: str) -> datetime | time | str:
    """The date with its time, or the time of day alone, or in words why there is none.

    A time zone is dropped only where it is UTC or an offset that could be applied: times come out in UTC then.
    """
    if isinstance(cell, datetime):
        return cell
    if not isinstance(cell, str):
        return "a number, not a date"
    if not cell:
        return "blank"
    day: date | None = None
    rest = cell
    if found := _THREE.match(cell):
        day = _made(found, "year first" if _ISO.match(found[0]) else order)
        rest = cell[found.end() :]
    elif found := _WORDED.match(cell):
        day = _worded(found)
        rest = cell[found.end() :]
    if (day is None and rest != cell) or (day is None and not _CLOCK.fullmatch(cell)):
        return "no date or time can be read in it"
    if not rest:
        return datetime.combine(day, time()) if day else "no date or time can be read in it"
    clock = _CLOCK.fullmatch(rest)
    at = _time(clock) if clock else None
    if clock is None or at is None:
        return "no time of day can be read in it"
    if day is None:
        return at
    return _utc(datetime.combine(day, at), clock[6])


def _worded(found: re.Match[str]) -> date | None:
    name = found[2][:3].lower()
    if name not in _MONTHS:
        return None
    year = int(found[3]) + (2000 if len(found[3]) == 2 else 0)
    try:
        return date(year, _MONTHS.index(name) + 1, int(found[1]))
    except ValueError:
        return None


def _time(found: re.Match[str]) -> time | None:
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    half = (found[5] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    micro = int((found[4] or "0").ljust(6, "0"))
    try:
        return time(hour, minute, second, micro)
    except ValueError:
        return None


def _utc(at: datetime, zone: str | None) -> datetime | str:
    if not zone or zone == "Z":
        return at
    digits = zone[1:].replace(":", "")
    shift = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    try:
        return at - shift if zone[0] == "+" else at + shift
    except OverflowError:
        return "no time of day can be read in it"
