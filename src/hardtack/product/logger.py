"""A climate logger's CSV file: time, temperature and humidity, checked row by row.

The header names the three columns with their units: ``time``, ``temperature_degC`` (or ``temperature_degF``)
and ``humidity_%``. Comma, semicolon or tab part the columns; with the last two a decimal comma is read too.
Times are ISO 8601, all with a time zone or all without. Gaps over six hours and times that do not move
forward are errors: an answer must not rest on a guess of what happened meanwhile.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.states import Floats
from hardtack.units import KINDS, ZERO_CELSIUS

LONGEST_GAP = 6 * 3600.0
"""Seconds; common practice, no source: a night without readings is a hole, an hour is not."""
_LARGEST = 50_000_000
_SHOWN = 20
_HEADERS = {
    "time": re.compile(r"(date )?time( iso( 8601)?)?"),
    "temperature": re.compile(r"temp(?:erature)? (?:deg|°)? ?([cf])"),
    "humidity": re.compile(r"(?:relative )?(?:humidity|rh)(?: rh)? %(?: ?rh)?"),
}


@dataclass(frozen=True, slots=True, eq=False)
class LoggerRecord:
    """A logger's readings: `start`, then `seconds` from it, `temperature` [K] and `humidity` (fraction)."""

    file: str
    start: datetime
    seconds: Floats
    temperature: Floats
    humidity: Floats

    @property
    def duration(self) -> float:
        """Seconds from the first to the last reading."""
        return float(self.seconds[-1])


def read_logger(path: Path, name: str = "") -> LoggerRecord:
    """Read a logger's CSV file; `name` is what messages call it.

    Raises `HardtackError` with file and row of every reading that cannot be used.
    """
    name = name or str(path)
    rows, separator = _rows(_text(path, name), name)
    columns, fahrenheit = _columns(rows[0][1], name)
    problems: list[Problem] = []
    readings: list[tuple[datetime, float, float]] = []
    for line, cells in rows[1:]:
        reading = _reading(cells, columns, separator != ",", fahrenheit, name, line, problems)
        if reading is None:
            continue
        if readings:
            _follows(readings[-1][0], reading[0], name, line, problems)
        readings.append(reading)
    if not problems and len(readings) < 2:
        problems.append(Problem("fewer than two readings", "give a file with readings", name, rows[0][0]))
    if problems:
        more = len(problems) - _SHOWN
        tail = [Problem(f"and {more} more rows like these", "mend the first ones, then look again", name)]
        raise HardtackError([*problems[:_SHOWN], *(tail if more > 0 else [])])
    start = readings[0][0]
    seconds = np.array([(time - start).total_seconds() for time, _, _ in readings])
    return LoggerRecord(
        name, start, seconds, np.array([r[1] for r in readings]), np.array([r[2] for r in readings])
    )


def _text(path: Path, name: str) -> str:
    try:
        if path.stat().st_size > _LARGEST:
            raise HardtackError(Problem("the file is longer than 50 MB", "cut it to the leg", name))
        data = path.read_bytes()
    except (OSError, ValueError):
        raise HardtackError(
            Problem("there is no such logger file", "put it beside the product file", name)
        ) from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            raise HardtackError(Problem("the file is UTF-16", "save it as CSV in UTF-8", name)) from None
        return data.decode("cp1252", errors="replace")


def _rows(text: str, name: str) -> tuple[list[tuple[int, list[str]]], str]:
    """The rows that hold something, each with its line, and the column separator of the header."""
    first = next((row for row in text.splitlines() if row.strip()), "")
    separator = max(";\t,", key=first.count)
    reader = csv.reader(text.splitlines(), delimiter=separator)
    try:
        rows = [
            (reader.line_num, [cell.strip() for cell in row]) for row in reader if any(map(str.strip, row))
        ]
    except csv.Error as error:
        raise HardtackError(
            Problem(f"this row is no CSV ({error})", "save the file again as CSV", name, reader.line_num)
        ) from None
    if not rows:
        raise HardtackError(Problem("the logger file is empty", _HEADER_MEND, name, 1))
    return rows, separator


_HEADER_MEND = "begin with a header such as: time,temperature_degC,humidity_%"


def _columns(header: list[str], name: str) -> tuple[dict[str, int], bool]:
    """Where time, temperature and humidity stand, and whether the temperature is in Fahrenheit."""
    plain = [" ".join(re.sub(r"[_()\[\]/,;]", " ", cell).lower().split()) for cell in header]
    found: dict[str, int] = {}
    problems = []
    fahrenheit = False
    for wanted, pattern in _HEADERS.items():
        hits = [(i, match) for i, cell in enumerate(plain) if (match := pattern.fullmatch(cell))]
        if len(hits) == 1:
            found[wanted] = hits[0][0]
            fahrenheit = fahrenheit or (wanted == "temperature" and hits[0][1][1] == "f")
            continue
        bare = any(cell.startswith(wanted[:4]) for cell in plain)
        if hits:
            what = f"several columns of {wanted}"
        elif bare and wanted != "time":
            what = f"the column of {wanted} does not state its unit as the format does"
        else:
            what = f"no column of {wanted}"
        problems.append(Problem(what, _HEADER_MEND, name, 1))
    if problems:
        raise HardtackError(problems)
    return found, fahrenheit


def _reading(
    cells: list[str],
    columns: dict[str, int],
    decimal_comma: bool,
    fahrenheit: bool,
    name: str,
    line: int,
    problems: list[Problem],
) -> tuple[datetime, float, float] | None:
    """One row in SI; None, with its problem noted, when it cannot be used."""
    if len(cells) <= max(columns.values()):
        problems.append(
            Problem("the row has too few columns", "complete the row, or take it out", name, line)
        )
        return None
    try:
        time = datetime.fromisoformat(cells[columns["time"]])
    except ValueError:
        what = f"cannot read the time {cells[columns['time']][:30]!r}"
        problems.append(Problem(what, "write it as 2026-06-01T14:30", name, line))
        return None
    temperature = _number(cells[columns["temperature"]], decimal_comma)
    humidity = _number(cells[columns["humidity"]], decimal_comma)
    for value, what in ((temperature, "temperature"), (humidity, "humidity")):
        if value is None:
            cell = cells[columns[what]]
            said = f"{what} {cell[:20]!r} is no number" if cell else f"the {what} is missing"
            mend = "cut the file before the hole, or give that stretch as a leg of its own"
            problems.append(Problem(said, mend, name, line))
    if temperature is None or humidity is None:
        return None
    kelvin = (temperature + 459.67) * 5 / 9 if fahrenheit else temperature + ZERO_CELSIUS
    limits = KINDS["temperature"]
    if not limits.low <= kelvin <= limits.high:
        problems.append(
            Problem(f"a temperature of {temperature:g} cannot be", "look at the unit", name, line)
        )
        return None
    if not 0 <= humidity <= 100:
        mend = "humidity is in percent, 0 to 100; the logger may have failed here"
        problems.append(Problem(f"a relative humidity of {humidity:g} % cannot be", mend, name, line))
        return None
    return time, kelvin, humidity / 100


def _number(cell: str, decimal_comma: bool) -> float | None:
    if decimal_comma:
        cell = cell.replace(",", ".")
    cell = cell.replace("−", "-")
    return float(cell) if re.fullmatch(r"[-+]?\d{1,6}(\.\d{0,12})?", cell) else None


def _follows(before: datetime, now: datetime, name: str, line: int, problems: list[Problem]) -> None:
    """Note a time that does not move forward, a gap, or a time zone that comes and goes."""
    if (before.tzinfo is None) != (now.tzinfo is None):
        mend = "write all times with a time zone, or none"
        problems.append(Problem("a time with and a time without a time zone", mend, name, line))
        return
    step = (now - before).total_seconds()
    if step <= 0:
        said = "stands still" if step == 0 else f"jumps back by {-step / 3600:.3g} h"
        mend = "a change from summer time, or readings twice: put the times right"
        problems.append(Problem(f"the clock {said}", mend, name, line))
    elif step > LONGEST_GAP:
        mend = "give the stretch without readings as a leg of its own"
        problems.append(Problem(f"{step / 3600:.3g} h without a reading", mend, name, line))
