"""Where the table begins and what its columns say of themselves: late headers, units beside or below names."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime
from fnmatch import fnmatchcase
from functools import lru_cache
from itertools import pairwise

from hardtack.errors import HardtackError, Problem
from hardtack.measurements.answers import Answers, column_question, question
from hardtack.measurements.dates import date_order, looks_dated, moment
from hardtack.measurements.sheet import Cell, Rows, Sheet
from hardtack.measurements.table import FORMULA, FORMULA_WORD
from hardtack.measurements.words import MEANINGS, MEASURED_KINDS, meaning_of, unit_of
from hardtack.units import convert

DEEPEST_HEADER = 120
"""Rows of preamble that are looked through for the column names."""
FEWEST_JARS = 3
"""Columns named by salts from which a sheet is one of jars; a single one may be a salt's own content."""
FEWEST_DATES = 2
"""Columns named by dates from which a sheet is one of days."""
NOT_USED = "not used"
_BRACKET = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*(?P<rest>[^\[(]*)$")
_REPLICATE = re.compile(
    r"^(?P<name>.*?)[\s_]*(?:[#(]|(?:rep|replicate)\.?)?[\s_]*(?P<number>[0-9]{1,2})\)?$", re.IGNORECASE
)
_AT = re.compile(r"^(?:(?P<unit>day|d|week|wk|month|h|hour)s?[\s_]*(?P<n>[0-9]+)|(?P<n2>[0-9]+)[\s_]*(?P<unit2>day|d|week|wk|month|h|hour)s?)$", re.IGNORECASE)  # fmt: skip
_DURATION = re.compile(
    r"\b(days?|hours?|minutes?|weeks?|tage?|stunden|jours?|heures?|días?|horas?)\b", re.IGNORECASE
)
_BARE = re.compile(r"[0-9]{1,3}(\.0)?")
_DIGIT = re.compile(r"[-+<>≤≥−]?\s*[0-9.,]*[0-9]")


@dataclass(frozen=True, slots=True)
class Header:
    """One column as its name speaks: `meaning` is "" where the name says nothing; `unit` is as `unit_of` has it.

    `stem` is the name without its number, `replicate` that number; `at` [s] the time a column stands for.
    """

    index: int
    text: str
    meaning: str
    unit: str
    stem: str
    replicate: int
    at: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Layout:
    """The table within the sheet: its header, the rows before it, the row of units, and the data rows."""

    headers: tuple[Header, ...]
    line: int
    preamble: Rows
    units_line: int | None
    data: Rows


def numeric(cell: Cell) -> bool:
    """Whether a cell begins like a number (and not like a date)."""
    return isinstance(cell, float) or (
        isinstance(cell, str) and bool(_DIGIT.match(cell)) and not looks_dated(cell)
    )


def find_table(sheet: Sheet, said: Answers) -> Layout:
    """Find the header row, the row of units and the data. Raises `HardtackError` when no row names columns."""
    place = _header_row(sheet, said)
    line, cells = sheet.rows[place]
    width = max(len(row) for _, row in sheet.rows[place:])
    names = [_as_name(cell) for cell in cells]
    names += [""] * (width - len(names))
    problems: list[Problem] = []
    headers = [_header(i, name, said, sheet.file, line, problems) for i, name in enumerate(names)]
    if problems:
        raise HardtackError(problems)
    headers = _dates_as_columns(_jars_as_columns(headers), said, sheet.file, line)
    headers = _numbers_as_columns(headers, said, sheet.file, line)
    data = sheet.rows[place + 1 :]
    units_line = None
    if data and _is_units_row(data[0][1], headers):
        units_line, units = data[0]
        data = data[1:]
        headers = [_with_unit(header, units) for header in headers]
    if not data:
        raise HardtackError(
            Problem("there are no rows below the names of the columns", "add them", sheet.file, line)
        )
    return Layout(tuple(headers), line, sheet.rows[:place], units_line, data)


@lru_cache(maxsize=1024)
def salt_in(name: str) -> str:
    """The saturated salt that a column is named by, or an empty text."""
    from hardtack.water.salts import is_salt

    return next((stem.strip() for stem, _ in _splits(name) if is_salt(stem.strip())), "")


def _jars_as_columns(headers: list[Header]) -> list[Header]:
    """A sheet with a column for every jar: the salts as names, the moistures over them below."""
    if {"salt", "activity", "moisture"} & {header.meaning for header in headers}:
        return headers
    named = {header.index: salt_in(header.text) for header in headers if not header.meaning}
    jars = {index: name for index, name in named.items() if name}
    if len(jars) < FEWEST_JARS:
        return headers
    made = []
    for header in headers:
        salt = jars.get(header.index)
        if salt is None:
            made.append(header)
            continue
        rest = header.text.replace(salt, "", 1).strip(" ,;()[]")
        unit = (unit_of("moisture", rest) or "") if rest else ""
        why = f"a salt as its name: moisture over {salt}"
        made.append(replace(header, meaning="moisture", unit=unit, stem="moisture", why=why))
    return made


def _dates_as_columns(headers: list[Header], said: Answers, file: str, line: int) -> list[Header]:
    """A sheet with a column for every date: times counted from the first. Raises `HardtackError` with the question
    which of day and month comes first."""
    dated = [h for h in headers if h.at is None and looks_dated(h.text) and not h.why.startswith(NOT_USED)]
    if len(dated) < FEWEST_DATES:
        return headers
    order = date_order([(line, header.text) for header in dated], said, file, "names of the columns")
    if isinstance(order, Problem):
        raise HardtackError(order)
    moments = {header.index: moment(header.text, order[0]) for header in dated}
    days = {index: at for index, at in moments.items() if isinstance(at, datetime)}
    first = min(days.values(), default=datetime.min)
    why = f"a date as its name; {order[0]}: {order[1]}; counted from {first:%Y-%m-%d}"
    return [
        replace(header, at=(days[header.index] - first).total_seconds(), why=f"{header.why}; {why}" if header.meaning else why)
        if header.index in days
        else header
        for header in headers
    ]  # fmt: skip


def _numbers_as_columns(headers: list[Header], said: Answers, file: str, line: int) -> list[Header]:
    """A sheet with a column for every day, named by bare numbers that rise. Raises `HardtackError` with the question
    what they count."""
    bare = _bare_numbers([header.text for header in headers])
    if bare is None or any(headers[index].meaning or headers[index].why == "as answered" for index in bare):
        return headers
    unit = unit_of("duration", said.get("time unit")) if said.get("time unit") else None
    if unit is None:
        names = [headers[index].text for index in bare]
        what = f"columns are named {names[0]}, {names[1]}, … {names[-1]}: do the numbers count days, hours?"
        asked = question(what, "time unit", file, line)
        raise HardtackError(replace(asked, mend=asked.mend.replace("'time unit: s'", "'time unit: day'")))
    why = f"a number as its name, in units of {unit}, as answered"
    return [
        replace(header, at=convert(bare[header.index], unit, "s"), why=why)
        if header.index in bare
        else header
        for header in headers
    ]


def _bare_numbers(cells: list[str]) -> dict[int, float] | None:
    """Three rising numbers or more as names, beside one name at least that is none; by their place."""
    found = {place: float(cell) for place, cell in enumerate(cells) if _BARE.fullmatch(cell)}
    values = list(found.values())
    rising = all(a < b for a, b in pairwise(values))
    named = any(cell and place not in found for place, cell in enumerate(cells))
    return found if len(values) >= FEWEST_JARS and rising and named else None


def _header_row(sheet: Sheet, said: Answers) -> int:
    wanted = said.get("header row")
    if wanted:
        for place, (line, _) in enumerate(sheet.rows):
            if str(line) == wanted:
                return place
        raise HardtackError(question(f"row {wanted} is blank or not there", "header row", sheet.file))
    best, best_score = -1, (0, 0)
    days = -1
    for place, (line, cells) in enumerate(sheet.rows[:DEEPEST_HEADER]):
        filled = [(i, cell) for i, cell in enumerate(cells) if cell != ""]
        named = [
            (i, cell)
            for i, cell in filled
            if isinstance(cell, str) and (_AT.match(cell) or not numeric(cell))
        ]
        if 2 * len(named) <= len(filled):
            if (
                days < 0
                and named
                and _meaning(str(named[0][1]))
                and _bare_numbers([_as_name(c) for c in cells])
            ):
                days = place  # unless another row names more: one column for every day
            continue  # more numbers than names: a row of data
        known = sum(
            bool(header.meaning or header.at is not None)
            for header in (_header(i, cell, said, sheet.file, line, []) for i, cell in named)
        )
        dates = sum(looks_dated(cell) for _, cell in named)
        known += dates if dates >= FEWEST_DATES and known else 0
        if not known:
            continue
        below = [
            sum(numeric(cell) or looks_dated(cell) for cell in row)
            for _, row in sheet.rows[place + 1 : place + 3]
        ]
        score = (known, max(below, default=0))
        if score > best_score:
            best, best_score = place, score
    if best < 0:
        best = days
    if best < 0:
        raise _nameless(sheet)
    return best


def _nameless(sheet: Sheet) -> HardtackError:
    """What to say of a sheet in which no row names columns."""
    line, cells = _widest(sheet)
    shown = next((str(cell) for cell in cells if cell != ""), "")[:40]
    words = [cell for _, row in sheet.rows[:DEEPEST_HEADER] for cell in row if isinstance(cell, str)]
    mend = (
        "known names are such as: water activity, moisture (% wb), temperature (degC), time (h), mass (g); or say what one of "
        f"your columns is: --answer 'column {shown}: moisture %wb'"
    )
    if any(FORMULA_WORD.fullmatch(word) for word in words):
        mend = FORMULA
    return HardtackError(Problem("no row with known column names was found", mend, sheet.file, line))


def _widest(sheet: Sheet) -> tuple[int, tuple[Cell, ...]]:
    """The first of the rows with the most cells: more likely the names than a line above them."""
    return max(sheet.rows[:DEEPEST_HEADER], key=lambda row: sum(cell != "" for cell in row[1]))


def _as_name(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


def _header(index: int, text: str, said: Answers, file: str, line: int, problems: list[Problem]) -> Header:
    name = " ".join(text.split())
    told = next((value for key, value in said.columns.items() if name and fnmatchcase(name, key)), None)
    at = _at(name)
    if told is not None:
        return _told(index, name, told, at, file, line, problems)
    if at is not None:
        return Header(index, name, "", "", "", 0, at, "a time as its name")
    clock = _BRACKET.match(name)
    if clock and clock["name"].strip() in ("t", "T") and (unit := unit_of("duration", clock["unit"])):
        return Header(index, name, "time", unit, "t", 0, None, "by its name and unit")  # else a temperature
    for stem, unit_text in _splits(name):
        found = _meaning(stem)
        if found is None:
            continue
        meaning, stem, replicate = found
        unit = unit_of(MEANINGS[meaning].kind, unit_text) if unit_text else ""
        if unit is None and MEANINGS[meaning].kind == "text" and _explains(name, unit_text):
            unit = ""
        if unit is None:
            continue
        if not unit and meaning == "activity" and re.search(r"erh|humidity", stem.lower()):
            why = "named as a humidity"
        else:
            why = "by its name"
        if not unit and MEANINGS[meaning].kind == "duration" and (word := _DURATION.search(stem)):
            unit = unit_of("duration", word[0].lower()) or ""
        return Header(index, name, meaning, unit, stem, replicate, None, why)
    return Header(index, name, "", "", name, 0, None, "the name is not known")


def _explains(name: str, bracket: str) -> bool:
    """Whether words in brackets behind a name only explain it, as in 'Jar (salt)': they are no unit of anything."""
    found = _BRACKET.match(name)
    return (
        found is not None
        and found["unit"] == bracket
        and not any(unit_of(kind, bracket) for kind in MEASURED_KINDS if kind not in ("number", "verdict"))
    )


def _told(
    index: int, name: str, told: str, at: float | None, file: str, line: int, problems: list[Problem]
) -> Header:
    if told == NOT_USED:
        return Header(index, name, "", "", name, 0, None, "not used, as answered")
    words = told.split()
    for end in range(len(words), 0, -1):
        meaning = " ".join(words[:end])
        if meaning in MEANINGS:
            unit_text = " ".join(words[end:])
            kind = MEANINGS[meaning].kind
            own = (found for _, text_of in _splits(name) if text_of and (found := unit_of(kind, text_of)))
            unit = unit_of(kind, unit_text) if unit_text else next(own, "")
            if unit is not None:
                return Header(index, name, meaning, unit, meaning, 0, at, "as answered")
            break
    what = f"'{told}' is no meaning of a column, or its unit is not known"
    problem = column_question(what, name, "moisture %wb", file, line)
    problems.append(replace(problem, mend=f"{problem.mend}; meanings are: {', '.join(MEANINGS)}; {NOT_USED}"))
    return Header(index, name, "", "", name, 0, at, "")


def _splits(name: str) -> list[tuple[str, str]]:
    """Name and unit, in every way the text can be parted."""
    parts = [(name, "")]
    if found := _BRACKET.match(name):
        outside = f"{found['name']} {found['rest']}".strip()
        parts.append((outside, found["unit"]))
        parts.append((found["name"], f"{found['unit']} {found['rest']}".strip()))
        # "Moisture % (wet basis)": the unit is half outside
        for stem, unit in _splits_plain(outside):
            parts.append((stem, f"{unit} {found['unit']}"))
    parts += _splits_plain(name)
    return parts


def _splits_plain(name: str) -> list[tuple[str, str]]:
    parts = []
    for found in re.finditer(r"[\s_,/;:]+|(?<=\w)(?=%)|(?<=%)(?=\w)", name):
        left, right = name[: found.start()], name[found.end() :]
        parts.append((left, right))
        if left.strip() in ("%", "°C", "°F"):  # "% moisture"
            parts.append((right, left))
    return parts


def _meaning(stem: str) -> tuple[str, str, int] | None:
    meaning = meaning_of(stem)
    if meaning:
        return meaning, stem, 0
    found = _REPLICATE.match(stem)
    if found and (meaning := meaning_of(found["name"])):
        return meaning, found["name"], int(found["number"])
    return None


def _at(name: str) -> float | None:
    found = _AT.match(name)
    if not found:
        return None
    unit = unit_of("duration", found["unit"] or found["unit2"])
    return convert(float(found["n"] or found["n2"]), unit or "day", "s")


def _is_units_row(cells: tuple[Cell, ...], headers: list[Header]) -> bool:
    filled = [(header, cell) for header, cell in zip(headers, cells, strict=False) if cell != ""]
    if any(numeric(cell) or looks_dated(cell) for _, cell in filled):
        return False
    hits = [_unit_below(header, str(cell)) for header, cell in filled if header.meaning]
    return any(hits) and sum(map(bool, hits)) * 2 > len(hits)


def _unit_below(header: Header, text: str) -> str | None:
    kind = MEANINGS[header.meaning].kind
    return None if kind == "number" else unit_of(kind, text.strip("[]() "))


def _with_unit(header: Header, cells: tuple[Cell, ...]) -> Header:
    cell = cells[header.index] if header.index < len(cells) else ""
    if not header.meaning or header.unit or not isinstance(cell, str) or not cell:
        return header
    unit = _unit_below(header, cell)
    return replace(header, unit=unit, why=f"{header.why}; unit in the row below") if unit else header
