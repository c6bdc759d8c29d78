"""Weather files in EPW format: dry-bulb temperature and relative humidity of a year, hour by hour.

The format is the open one of the EnergyPlus documentation, "EPW data dictionary": eight header records
(LOCATION first, DATA PERIODS last), then one record an hour with year, month, day, hour (1 to 24, the hour that
ends then), minute, uncertainty flags, dry bulb [degC] (missing 99.9), dew point [degC] (missing 99.9), relative
humidity [%] (missing 999) and fields that are not read here. Only hourly files of whole years are taken.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS

HEADERS = (
    "LOCATION",
    "DESIGN CONDITIONS",
    "TYPICAL/EXTREME PERIODS",
    "GROUND TEMPERATURES",
    "HOLIDAYS/DAYLIGHT SAVINGS",
    "COMMENTS 1",
    "COMMENTS 2",
    "DATA PERIODS",
)
MONTH, DAY_OF_MONTH, HOUR_OF_DAY, DRY_BULB, HUMIDITY = 1, 2, 3, 6, 8
"""Columns of a data record, from 0."""
MISSING_TEMPERATURE, MISSING_HUMIDITY = 99.9, 999.0
LONGEST_GAP = 6
"""Hours of missing values that are bridged by a straight line; a longer hole is an error (common practice, no source)."""
_LARGEST = 20_000_000
_SHOWN = 20


@dataclass(frozen=True, slots=True, eq=False)
class WeatherRecord:
    """A year of weather: `temperature` [K] and `humidity` (fraction) at the end of each hour of 365 days.

    `bridged` counts the hours whose value was missing and laid straight between its neighbours.
    """

    file: str
    place: str
    temperature: Floats
    humidity: Floats
    bridged: int


def read_weather(path: Path, name: str = "") -> WeatherRecord:
    """Read an EPW file; `name` is what messages call it. A 29 February is left out.

    Raises `HardtackError` with file and line of everything that cannot be used.
    """
    name = name or str(path)
    rows = list(csv.reader(_text(path, name).splitlines()))
    _check_headers(rows, name)
    problems: list[Problem] = []
    hours: list[tuple[int, float, float]] = []
    expected = _calendar()
    body = [(line, row) for line, row in enumerate(rows[len(HEADERS) :], len(HEADERS) + 1) if any(row)]
    leap = any(row[MONTH : DAY_OF_MONTH + 1] in (["2", "29"], ["02", "29"]) for _, row in body)
    if len(body) != (366 if leap else 365) * 24:
        what = f"{len(body)} hours of data, not the 8760 of a year by the hour"
        raise HardtackError(Problem(what, "take an hourly file of a whole year", name))
    for line, row in body:
        found = _hour(row, name, line, problems)
        if found is None:
            continue
        when, T, RH = found
        if when[:2] == (2, 29):
            continue
        if len(hours) < len(expected) and when != expected[len(hours)] and not problems:
            want = "month {}, day {}, hour {}".format(*expected[len(hours)])
            said = "month {}, day {}, hour {}".format(*when)
            problems.append(
                Problem(f"{said} stands where {want} belongs", "put the hours in order", name, line)
            )
        hours.append((line, T, RH))
    lines = np.array([line for line, _, _ in hours])
    columns = []
    bridged = np.zeros(len(hours), dtype=bool)
    for k, what in ((1, "dry bulb temperature"), (2, "relative humidity")):
        values = np.array([hour[k] for hour in hours])
        bridged |= np.isnan(values)
        columns.append(_bridge(values, lines, what, name, problems))
    if problems:
        more = len(problems) - _SHOWN
        tail = [Problem(f"and {more} more like these", "mend the first ones, then look again", name)]
        raise HardtackError([*problems[:_SHOWN], *(tail if more > 0 else [])])
    place = ", ".join(part.strip() for part in rows[0][1:4] if part.strip() not in ("", "-"))
    return WeatherRecord(name, place, columns[0], columns[1], int(bridged.sum()))


def _calendar() -> list[tuple[int, int, int]]:
    lengths = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    return [(m, d, h) for m, n in enumerate(lengths, 1) for d in range(1, n + 1) for h in range(1, 25)]


def _text(path: Path, name: str) -> str:
    try:
        if path.stat().st_size > _LARGEST:
            raise HardtackError(
                Problem("the file is longer than 20 MB", "give a weather file of one year", name)
            )
        return path.read_bytes().decode("utf-8-sig", errors="replace")
    except (OSError, ValueError):
        raise HardtackError(
            Problem("there is no such weather file", "put it beside the product file", name)
        ) from None


def _check_headers(rows: list[list[str]], name: str) -> None:
    for number, wanted in enumerate(HEADERS, 1):
        found = rows[number - 1][0].strip().upper() if len(rows) >= number and rows[number - 1] else ""
        if found != wanted:
            what = f"line {number} of a weather file begins with {wanted}, this one with {found[:30]!r}"
            raise HardtackError(Problem(what, "give a file in EPW format, unchanged", name, number))
    period = rows[len(HEADERS) - 1]
    if len(period) > 2 and (period[1].strip(), period[2].strip()) != ("1", "1"):
        what = f"{period[1].strip()} data periods with {period[2].strip()} records an hour"
        mend = "give a file of one period with one record an hour"
        raise HardtackError(Problem(what, mend, name, len(HEADERS)))


def _hour(
    row: list[str], name: str, line: int, problems: list[Problem]
) -> tuple[tuple[int, int, int], float, float] | None:
    """One record: month, day and hour, then T [K] and RH; nan where the file says missing."""
    try:
        when = (int(row[MONTH]), int(row[DAY_OF_MONTH]), int(row[HOUR_OF_DAY]))
        T, RH = float(row[DRY_BULB]), float(row[HUMIDITY])
    except (ValueError, IndexError):
        problems.append(Problem("this hour cannot be read", "give the file as it was published", name, line))
        return None
    if T >= MISSING_TEMPERATURE:
        T = float("nan")
    elif not -70.0 < T < 70.0:
        problems.append(Problem(f"a dry bulb of {T:g} °C cannot be", "look at the file's origin", name, line))
        return None
    if RH >= MISSING_HUMIDITY:
        RH = float("nan")
    elif not 0.0 <= RH <= 110.0:
        problems.append(Problem(f"a humidity of {RH:g} % cannot be", "look at the file's origin", name, line))
        return None
    return when, T + ZERO_CELSIUS, min(RH, 100.0) / 100


def _bridge(values: Floats, lines: Floats, what: str, name: str, problems: list[Problem]) -> Floats:
    """The values with short holes laid straight; the year is a ring, so December leads to January."""
    missing = np.isnan(values)
    if not missing.any():
        return values
    if missing.all():
        problems.append(Problem(f"the {what} is missing all year", "take another file", name))
        return values
    n = values.size
    known = np.flatnonzero(~missing)
    gaps = np.diff(np.append(known, known[0] + n)) - 1
    for start in known[gaps > LONGEST_GAP]:
        at = int((start + 1) % n)
        hole = int(gaps[np.searchsorted(known, start)])
        problems.append(
            Problem(f"the {what} is missing for {hole} hours", "take another file", name, int(lines[at]))
        )
    return np.interp(np.arange(n), known, values[known], period=n)
