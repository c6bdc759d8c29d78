"""Times in a logger's record: ISO 8601, or day, month and year parted by points or strokes where the whole column
leaves no doubt which comes first."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import datetime

_THREE = re.compile(
    r"(?P<first>\d{1,2})(?P<mark>[./])(?P<second>\d{1,2})(?P=mark)(?P<year>\d{4}|\d{2})[ T,]+"
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<s>\d{2}))?(?: ?(?P<half>[AaPp])[Mm])?"
)


def reader_of_times(cells: Iterable[str]) -> Callable[[str], datetime | None]:
    """How the times of one column are read: gives the moment, or None where none can be read.

    Points put the day first; with strokes a number above twelve says which is the month, and without one nothing is read.
    """
    found = [match for cell in cells if (match := _THREE.fullmatch(cell))]
    first = max((int(match["first"]) for match in found), default=0)
    second = max((int(match["second"]) for match in found), default=0)
    if all(match["mark"] == "." for match in found) or first > 12 >= second:
        places: tuple[str, str] | None = ("second", "first")
    else:
        places = ("first", "second") if second > 12 >= first else None

    def read(cell: str) -> datetime | None:
        try:
            return datetime.fromisoformat(cell)
        except ValueError:
            match = _THREE.fullmatch(cell)
        if match is None or places is None:
            return None
        month, day = (int(match[place]) for place in places)
        hour = int(match["hour"])
        if match["half"]:
            hour = hour % 12 + (12 if match["half"].lower() == "p" else 0)
        year = int(match["year"]) + (2000 if len(match["year"]) == 2 else 0)
        try:
            return datetime(year, month, day, hour, int(match["minute"]), int(match["s"] or 0))
        except ValueError:
            return None

    return read
