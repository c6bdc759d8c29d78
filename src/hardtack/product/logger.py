"""A climate logger's CSV file: time, temperature and humidity, checked row by row.

The header names the three columns with their units: ``time``, ``temperature_degC`` (or ``temperature_degF``)
and ``humidity_%``; lines above it are passed over. Comma, semicolon or tab part the columns; with the last two a decimal
comma is read too. Times are ISO 8601, all with a time zone or all without, or dates whose order the column settles. Holes up to six hours are laid straight, longer ones as
far as the leg's `gaps` says, and times that do not move forward are refused unless its `clock jumps` says what to do:
an answer must not rest on a guess nobody sees. What was done to a record is told with it, row by row.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.product.logger_dates import reader_of_times
from hardtack.product.logger_mend import Found, Mend, Reading, clocked, filled
from hardtack.states import Floats
from hardtack.units import KINDS, ZERO_CELSIUS

FULL = 1.05
"""Humidity up to which a reading beyond saturation counts as 1: sensors read so in fog (common practice, no source)."""
_LARGEST = 50_000_000
_SHOWN = 20
_PREAMBLE = 40
"""Lines of a logger's own words that may stand above the table."""
_HEADERS = {
    "time": re.compile(r"(date )?time( iso( 8601)?)?"),
    "temperature": re.compile(r"temp(?:erature)? (?:deg|°)? ?([cf])"),
    "humidity": re.compile(r"(?:relative )?(?:humidity|rh)(?: rh)? %(?: ?rh)?"),
}


@dataclass(frozen=True, slots=True, eq=False)
class LoggerRecord:
    """A logger's readings: `start`, then `seconds` from it, `temperature` [K] and `humidity` (fraction).

    `told` says what was laid straight, moved or left out.
    """

    file: str
    start: datetime
    seconds: Floats
    temperature: Floats
    humidity: Floats
    told: tuple[str, ...] = ()

    @property
    def duration(self) -> float:
        """Seconds from the first to the last reading."""
        return float(self.seconds[-1])


def read_logger(path: Path, name: str = "", mend: Mend | None = None) -> LoggerRecord:
    """Read a logger's CSV file; `name` is what messages call it, `mend` what its leg says of holes and clock.

    Raises `HardtackError` with file and row of every reading that cannot be used.
    """
    name, mend = name or str(path), mend or Mend()
    rows, separator = _rows(_text(path, name), name)
    rows = _from_header(rows)
    columns, fahrenheit = _columns(rows[0][1], name)
    clock = reader_of_times(cells[columns["time"]] for _, cells in rows[1:] if len(cells) > columns["time"])
    found = Found(name)
    readings: list[Reading] = []
    for line, cells in rows[1:]:
        reading = _reading(cells, columns, separator != ",", fahrenheit, line, found, clock)
        if reading is not None:
            readings.append(reading)
    readings = clocked(readings, mend, found)
    if not found.problems and len(readings) < 2:
        found.refuse("fewer than two readings", "give a file with readings", rows[0][0])
    _refuse(found)
    start = readings[0].time
    seconds = np.array([(reading.time - start).total_seconds() for reading in readings])
    temperature, humidity = filled(readings, seconds, mend, found)
    beyond = int(np.sum(humidity > 1.0))
    if beyond:
        they = (
            "1 reading of the humidity beyond 100 % counts"
            if beyond == 1
            else f"{beyond} readings of the humidity beyond 100 % count"
        )
        found.told.append(f"{they} as 100 %")
    _refuse(found)
    return LoggerRecord(name, start, seconds, temperature, np.minimum(humidity, 1.0), found.said())


def _refuse(found: Found) -> None:
    """Raise with the problems, the first ones in full and in order of their rows."""
    if not found.problems:
        return
    problems = sorted(found.problems, key=lambda problem: problem.line or 0)
    more = len(problems) - _SHOWN
    tail = [Problem(f"and {more} more rows like these", "mend the first ones, then look again", found.name)]
    raise HardtackError([*problems[:_SHOWN], *(tail if more > 0 else [])])


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
    first = next(
        (row for row in text.splitlines()[:_PREAMBLE] if _names(re.split("[;\t,]", row)) == len(_HEADERS)), ""
    )
    first = first or next((row for row in text.splitlines() if row.strip()), "")
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


def _plain(cell: str) -> str:
    return " ".join(re.sub(r"[_()\[\]/,;\"]", " ", cell).lower().split())


def _names(cells: list[str]) -> int:
    """How many of the three columns a row names."""
    return sum(any(pattern.fullmatch(_plain(cell)) for cell in cells) for pattern in _HEADERS.values())


def _from_header(rows: list[tuple[int, list[str]]]) -> list[tuple[int, list[str]]]:
    """The rows from the one that names all columns; all of them where none does, to say what is wrong with the first."""
    for place, (_, cells) in enumerate(rows[:_PREAMBLE]):
        if _names(cells) == len(_HEADERS):
            return rows[place:]
    return rows


_HEADER_MEND = "begin with a header such as: time,temperature_degC,humidity_%"


def _columns(header: list[str], name: str) -> tuple[dict[str, int], bool]:
    """Where time, temperature and humidity stand, and whether the temperature is in Fahrenheit."""
    plain = [_plain(cell) for cell in header]
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
    line: int,
    found: Found,
    clock: Callable[[str], datetime | None],
) -> Reading | None:
    """One row in SI, nan where nothing stands; None, with its problem noted, when it cannot be used."""
    if len(cells) <= max(columns.values()):
        found.refuse("the row has too few columns", "complete the row, or take it out", line)
        return None
    time = clock(cells[columns["time"]])
    if time is None:
        what = f"cannot read the time {cells[columns['time']][:30]!r}"
        found.refuse(what, "write it as 2026-06-01T14:30", line)
        return None
    temperature = _number(cells[columns["temperature"]], decimal_comma)
    humidity = _number(cells[columns["humidity"]], decimal_comma)
    for value, what in ((temperature, "temperature"), (humidity, "humidity")):
        if value is None:
            said = f"{what} {cells[columns[what]][:20]!r} is no number"
            found.refuse(said, "put the value right, or leave the cell empty: it is then a hole", line)
    if temperature is None or humidity is None:
        return None
    kelvin = (temperature + 459.67) * 5 / 9 if fahrenheit else temperature + ZERO_CELSIUS
    limits = KINDS["temperature"]
    if kelvin < limits.low or kelvin > limits.high:
        found.refuse(f"a temperature of {temperature:g} cannot be", "look at the unit", line)
        return None
    if humidity < 0 or humidity > 100 * FULL:
        mend = "humidity is in percent, 0 to 100; where the logger failed, leave the cell empty: it is then a hole"
        found.refuse(f"a relative humidity of {humidity:g} % cannot be", mend, line)
        return None
    return Reading(line, time, kelvin, humidity / 100)


def _number(cell: str, decimal_comma: bool) -> float | None:
    """The number in a cell, nan where nothing stands in it, None where something else does."""
    if decimal_comma:
        cell = cell.replace(",", ".")
    cell = cell.replace("−", "-")
    if cell in ("", "-", "--"):
        return math.nan
    return float(cell) if re.fullmatch(r"[-+]?\d{1,6}(\.\d{0,12})?", cell) else None
