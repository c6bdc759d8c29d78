"""What each column means, in which unit and on which basis, decided on the whole column; what stays open is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from hardtack.errors import HardtackError, Problem
from hardtack.measurements.answers import CHOICES, Answers, column_question, question
from hardtack.measurements.dates import date_order, looks_dated
from hardtack.measurements.headers import Header, Layout
from hardtack.measurements.numerals import Numeral, decimal_mark, numeral
from hardtack.measurements.sheet import Cell, Sheet
from hardtack.measurements.verdicts import verdict
from hardtack.measurements.words import MEANINGS, unit_of

PERCENT_FROM = 1.5
"""A column of fractions may hold readings a little above one; from here on it is percent. Assumed."""
_MOISTURE_PERCENT_FROM = 2.0
"""Moisture above 2 kg/kg is no baked product, so the column is percent (the isotherms' own limit)."""
EACH_CELL = "in each cell"
UNSAID = "named by a time only"
Cells = list[tuple[int, Cell]]


@dataclass(frozen=True, slots=True)
class Column:
    """A column as understood. `key` is its meaning, numbered where several columns hold replicates of it.

    `unit` is the file's unit, `basis` that of a moisture; `why` says how both were found. `order` is the
    order of day, month and year. `at` [s] is the time the whole column stands for, `replicate` the number in its
    name.
    """

    index: int
    header: str
    key: str
    meaning: str
    unit: str
    basis: str
    why: str
    order: str = ""
    at: float | None = None
    replicate: int = 0


def understand(sheet: Sheet, table: Layout, said: Answers) -> tuple[tuple[Column, ...], str, str]:
    """The columns, the decimal mark, and why that mark.

    Raises `HardtackError` with every question that the file leaves open, each with the words that answer it.
    """
    problems: list[Problem] = []
    mark = decimal_mark(
        ((row, cell) for row, cells in table.data for cell in cells if isinstance(cell, str)),
        sheet.separator, said, sheet.file,
    )  # fmt: skip
    if isinstance(mark, Problem):
        raise HardtackError(mark)
    decimal, why = mark
    headers = [_by_content(header, _cells(table, header.index)) for header in table.headers]
    headers = _people(headers)
    _ask_unsaid(headers, sheet.file, table.line, problems)
    headers = _apart(headers, sheet.file, table.line, problems)
    columns = []
    counts: dict[str, int] = {}
    for header in headers:
        cells = _cells(table, header.index)
        column = _column(header, cells, decimal, said, sheet.file, table.line, problems)
        if column.meaning:
            counts[column.meaning] = counts.get(column.meaning, 0) + 1
            n = counts[column.meaning]
            column = replace(column, key=column.meaning if n == 1 else f"{column.meaning} #{n}")
        columns.append(column)
    if problems:
        raise HardtackError(problems)
    return tuple(columns), decimal, why


def _cells(table: Layout, index: int) -> Cells:
    return [(row, cells[index]) for row, cells in table.data if index < len(cells) and cells[index] != ""]


def _by_content(header: Header, cells: Cells) -> Header:
    """Settle by the cells what a name leaves open: clock or elapsed time; verdicts under 'day 7'."""
    dated = sum(looks_dated(cell) for _, cell in cells)
    if header.meaning in ("time", "clock", "time of day") and cells and dated * 2 > len(cells):
        bare = all(isinstance(cell, str) and ":" in cell[:3] for _, cell in cells if looks_dated(cell))
        return replace(header, meaning="time of day" if bare else "clock", unit="")
    if header.meaning == "clock" and header.text.lower() == "day" and cells:
        return replace(header, meaning="time", unit="day")
    if header.at is not None and not header.meaning and cells:
        given = [verdict(cell, rejects=False) is not None for _, cell in cells]
        if all(g or isinstance(cell, str) for g, (_, cell) in zip(given, cells, strict=True)) and 2 * sum(
            given
        ) > len(given):
            named = f" ({header.why})" if looks_dated(header.text) or "as answered" in header.why else ""
            return replace(header, meaning="accepted", why=f"verdicts under a time{named}")
        return replace(header, why=UNSAID)
    return header


def _people(headers: list[Header]) -> list[Header]:
    """Names beside verdicts are those of people, where no other column is."""
    meanings = [header.meaning for header in headers]
    if not {"accepted", "rejected"} & set(meanings) or "person" in meanings or meanings.count("sample") != 1:
        return headers
    return [
        replace(header, meaning="person", why="names beside verdicts")
        if header.meaning == "sample"
        else header
        for header in headers
    ]


def _ask_unsaid(headers: Sequence[Header], file: str, line: int, problems: list[Problem]) -> None:
    """One question for all columns that are named by a time only."""
    names = [header.text for header in headers if header.why == UNSAID]
    if names:
        start = names[0][
            : next((k for k, signs in enumerate(zip(*names, strict=False)) if len(set(signs)) > 1), 0)
        ]
        pattern = f"{start}*" if len(names) > 1 and start.strip() else names[0]
        listed = ", ".join(repr(name) for name in names[:4]) + (", …" if len(names) > 4 else "")
        problems.append(column_question(f"what is written under {listed}?", pattern, "mass g", file, line))


def _apart(headers: list[Header], file: str, line: int, problems: list[Problem]) -> list[Header]:
    """Columns of one meaning are replicates when they share their name; else it is asked which one counts."""
    by_meaning: dict[str, list[Header]] = {}
    for header in headers:
        if header.meaning and MEANINGS[header.meaning].kind != "text":
            by_meaning.setdefault(header.meaning, []).append(header)
    for meaning, group in by_meaning.items():
        stems = {header.stem.lower() for header in group if header.at is None}
        if len(group) > 1 and len(stems) > 1:
            listed = " and ".join(repr(header.text) for header in group)
            what = f"columns {listed} may each be the {meaning}: which one counts?"
            problems.append(column_question(what, group[-1].text, "not used", file, line))
    return headers


def _column(
    header: Header, cells: Cells, decimal: str, said: Answers, file: str, line: int, problems: list[Problem]
) -> Column:
    column = Column(
        header.index, header.text, "", header.meaning, header.unit, "", header.why, at=header.at,
        replicate=header.replicate,
    )  # fmt: skip
    if not header.meaning:
        return column
    kind = MEANINGS[header.meaning].kind
    if kind == "clock":
        order = date_order(cells, said, file, header.text)
        if isinstance(order, Problem):
            problems.append(order)
            return column
        return replace(column, order=order[0], why=f"{header.why}; {order[0]}: {order[1]}")
    if kind in ("text", "verdict", "number"):
        return column
    numbers = [(row, found) for row, cell in cells if isinstance(found := numeral(cell, decimal), Numeral)]
    column = _unit_in_cells(column, kind, numbers, file, problems)
    ask = _Ask(file, line, header.text, problems)
    if kind == "fraction":
        return _fraction(column, [n.value for _, n in numbers], said, ask)
    if kind == "moisture":
        return _moisture(column, [n.value for _, n in numbers], said, ask)
    return _plain_unit(column, kind, bool(numbers), said, ask)


@dataclass(frozen=True, slots=True)
class _Ask:
    file: str
    line: int
    column: str
    problems: list[Problem]

    def __call__(self, what: str, key: str) -> None:
        self.problems.append(question(what, key, self.file, self.line, self.column))


def _unit_in_cells(
    column: Column, kind: str, numbers: Sequence[tuple[int, Numeral]], file: str, problems: list[Problem]
) -> Column:
    """The unit written behind every number, when the header gives none."""
    written = {found.unit for _, found in numbers if unit_of(kind, found.unit)} if not column.unit else set()
    if not written:
        return column
    bare = [row for row, found in numbers if not found.unit]
    if bare:
        what = f"some cells carry a unit, row {bare[0]} does not"
        mend = f"write the unit behind each number, or take it from all and say --answer 'column {column.header}: {column.meaning} {next(iter(written))}'"
        problems.append(Problem(what, mend, file, bare[0], column.header))
    units = {unit_of(kind, unit) for unit in written}
    unit = units.pop() if len(units) == 1 else EACH_CELL
    return replace(column, unit=unit or "", why=f"{column.why}; unit written in the cells")


def _fraction(column: Column, values: list[float], said: Answers, ask: _Ask) -> Column:
    meaning = column.meaning
    key = "activity unit" if "activity" in meaning else "humidity unit"
    above = sum(value > PERCENT_FROM for value in values)
    low = sum(0 < value <= 1 for value in values)
    if said.get(key):
        return replace(column, unit=said.get(key), why=f"{column.why}; {said.get(key)}, as answered")
    if column.unit == EACH_CELL:
        ask(f"{meaning}: percent and fraction in one column", key)
        return column
    if column.unit == "percent" and len(values) >= 3 and above == 0 and max(values) <= 1:
        ask(f"{meaning}: percent by its name, but no value is above 1", key)
        return column
    if column.unit:
        if column.unit == "fraction" and above * 2 > len(values):
            ask(f"{meaning}: a fraction by its name, but most values are above 1", key)
        return column
    if above and low * 2 > len(values):
        ask(f"{meaning}: {low} values look like fractions, {above} like percent", key)
        return column
    unit = "percent" if above > low else "fraction"
    if above and above <= low:
        ask(f"{meaning}: {low} values look like fractions, {above} like percent", key)
    why = f"{above} of {len(values)} values above {PERCENT_FROM:g}" if above else "no value above 1.5"
    return replace(column, unit=unit, why=f"{column.why}; {unit}: {why}")


def _moisture(column: Column, values: list[float], said: Answers, ask: _Ask) -> Column:
    stated = set(column.unit.split())
    unit = next((word for word in ("percent", "fraction") if word in stated), "")
    basis = next((word for word in ("wet", "dry") if word in stated), "")
    whys = [column.why]
    if column.unit == EACH_CELL:
        return replace(column, basis=EACH_CELL)
    if not unit and said.get("moisture unit"):
        unit = said.get("moisture unit")
        whys.append(f"{unit}, as answered")
    if not basis and said.get("moisture basis"):
        basis = said.get("moisture basis")
        whys.append(f"{basis} basis, as answered")
    if not unit and values and max(values) > _MOISTURE_PERCENT_FROM:
        unit = "percent"
        whys.append(f"percent: the largest value is {max(values):g}")
    shown = f"{values[0]:g}" if values else "the moisture"
    if not unit and values:
        ask(f"{shown}: percent or fraction?", "moisture unit")
    if not basis and values:
        ask(f"{shown}: per hundred of the product as it is (wet) or of dry solid (dry)?", "moisture basis")
    return replace(column, unit=unit, basis=basis, why="; ".join(whys))


def _plain_unit(column: Column, kind: str, any_numbers: bool, said: Answers, ask: _Ask) -> Column:
    if column.unit:
        return column
    if column.meaning in ("pan", "pan and wet", "pan and dry", "wet", "dry") and not said.get("mass unit"):
        return replace(column, unit="g", why=f"{column.why}; unit not stated and of no account in a ratio")
    word = {"temperature": "temperature", "mass": "mass", "duration": "time", "force": "force", "length": "thickness",
            "gas permeance": "oxygen permeance"}.get(kind, kind)  # fmt: skip
    key = f"{word} unit"
    answered = said.get(key)
    if answered:
        unit = unit_of(kind, answered)
        if unit:
            return replace(column, unit=unit, why=f"{column.why}; {unit}, as answered")
        ask(f"{answered!r} is no unit of {column.meaning}", key)
    elif any_numbers and key in CHOICES:
        ask(f"{column.meaning}: in which unit?", key)
    return column
