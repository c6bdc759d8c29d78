"""From a laboratory's file to a `Table`: what was understood is shown, what is left out is listed, what stays
open is asked. Nothing is dropped silently: rows in = rows used + rows set aside."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.clock import clock_notes, elapsed, join_clock
from hardtack.measurements.columns import EACH_CELL, Column, understand
from hardtack.measurements.dates import moment
from hardtack.measurements.derive import (
    activity_from_salt,
    moisture_from_pans,
    temperature_as_answered,
    time_from_belt,
)
from hardtack.measurements.headers import Layout, find_table
from hardtack.measurements.numerals import numeral
from hardtack.measurements.remarks import spoils, spoilt_cells
from hardtack.measurements.scales import NotMoisture, scale
from hardtack.measurements.sheet import Cell, read_sheet
from hardtack.measurements.table import Bound, Row, SetAside, Table, Understood, Value
from hardtack.measurements.verdicts import verdict
from hardtack.measurements.words import MEANINGS, MEASURED_KINDS, unit_of

_SUMMARY = re.compile(
    r"(mean|average|avg|sd|s\.d\.|std|st\.? ?dev\.?|standard deviation|rsd|cv|min|max|minimum|maximum|total|sum|"
    r"median|count)( ?[:=].*)?",
    re.IGNORECASE,
)
_KEEP = "(--answer 'remarks: keep' keeps such rows)"


def read_table(path: str | Path, said: Answers = NONE) -> Table:
    """Read a measurement file: CSV, TSV, semicolons or .xlsx, in any of the ways laboratories write them.

    `said` answers what the file leaves open. Raises `HardtackError` when the file is no table, and for every
    question that it leaves open (basis of a moisture, unit, order of a date), each with the words that answer.
    """
    sheet = read_sheet(Path(path), said)
    table = find_table(sheet, said)
    columns, decimal, why = understand(sheet, table, said)
    reader = _Reader(sheet.file, columns, decimal)
    for number, cells in table.data:
        reader.read(number, cells, table, keep_remarks=said.get("remarks") == "keep")
    notes = [*sheet.notes, f"decimal {'comma' if decimal == ',' else 'point'}: {why}"]
    if table.units_line is not None:
        notes.append(f"units in row {table.units_line}")
    rows, more = join_clock(reader.rows)
    notes += more
    understood = [_shown(column) for column in columns]
    understood += elapsed(rows, columns)
    rows, pans = moisture_from_pans(rows, understood, said, sheet.file, reader.values_aside)
    rows, warmth = temperature_as_answered(rows, understood, said)
    rows, baked = time_from_belt(rows, understood, said, sheet.file)
    understood += pans + warmth + baked
    rows, salts = activity_from_salt(rows, understood, sheet.file, reader.values_aside)
    understood += salts
    measured = {c.key for c in columns if c.meaning and MEANINGS[c.meaning].kind in MEASURED_KINDS}
    rows = _with_readings(rows, measured, reader)
    rows = _without_repeats(rows, reader)
    notes += clock_notes(rows)
    preamble = tuple(
        " | ".join(_written(cell) for cell in cells if cell != "") for _, cells in table.preamble
    )
    return Table(
        sheet.file, tuple(understood), tuple(rows), tuple(reader.rows_aside), tuple(reader.values_aside),
        len(table.data), preamble, tuple(notes),
    )  # fmt: skip


def _shown(column: Column) -> Understood:
    unit = column.unit if column.unit != EACH_CELL else "unit in each cell"
    return Understood(column.header, column.meaning, unit, column.basis, column.why, column.key, column.at)


def _written(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


@dataclass
class _Reader:
    """Rows as they are read, and what is set aside on the way."""

    file: str
    columns: tuple[Column, ...]
    decimal: str
    rows: list[Row] = field(default_factory=list)
    rows_aside: list[SetAside] = field(default_factory=list)
    values_aside: list[SetAside] = field(default_factory=list)
    seen: dict[tuple[Cell, ...], int] = field(default_factory=dict)

    def read(self, number: int, cells: tuple[Cell, ...], table: Layout, *, keep_remarks: bool) -> None:
        """Take one row, or set it aside."""
        if reason := self._unfit(number, cells, table, keep_remarks):
            shown = " | ".join(_written(cell) for cell in cells if cell != "")
            self.rows_aside.append(SetAside(self.file, number, "", shown[:200], reason))
            return
        spoilt: Mapping[int, str] = {} if keep_remarks else self._spoilt(cells) or {}
        values: dict[str, Value] = {}
        for column in self.columns:
            cell = cells[column.index] if column.index < len(cells) else ""
            if not column.meaning:
                continue
            column = self._by_unit(column, cell)
            remark = spoilt.get(column.index)
            found = self._value(column, cell) if remark is None else _Out(f"remark: {remark[:60]} {_KEEP}")
            if isinstance(found, _Out):
                if found.reason != "blank" or MEANINGS[column.meaning].kind != "text":
                    self.values_aside.append(
                        SetAside(self.file, number, column.header, _written(cell), found.reason)
                    )
            else:
                values[column.key] = found
        self.rows.append(Row(number, values))

    def _unfit(self, number: int, cells: tuple[Cell, ...], table: Layout, keep_remarks: bool) -> str:
        names = [header.text for header in table.headers if header.text]
        if [" ".join(cell.split()) for cell in cells if isinstance(cell, str) and cell] == names:
            return "the names of the columns again"
        words = [cell for cell in cells if isinstance(cell, str) and cell]
        if words and _SUMMARY.fullmatch(words[0]):
            return f"a summary ({words[0].lower()}), not a measurement"
        if not keep_remarks and self._spoilt(cells) is None:
            remark = next(cell for cell in self._remarks(cells) if spoils(cell))
            return f"remark: {str(remark)[:60]} {_KEEP}"
        timed = any(column.meaning in ("clock", "replicate", "person") for column in self.columns)
        if timed and cells in self.seen:
            return f"the same row as row {self.seen[cells]}"
        self.seen[cells] = number
        return ""

    def _by_unit(self, column: Column, cell: Cell) -> Column:
        """A permeance among transmission rates: sheets put perms and g/m2/day into one column."""
        found = numeral(cell, self.decimal) if column.meaning == "transmission rate" else ""
        if isinstance(found, str) or not found.unit or unit_of("transmission rate", found.unit):
            return column
        own = unit_of("permeance", found.unit)
        return column if own is None else replace(column, meaning="permeance", key="permeance", unit=own)

    def _remarks(self, cells: tuple[Cell, ...]) -> list[Cell]:
        return [cells[c.index] for c in self.columns if c.meaning == "remark" and c.index < len(cells)]

    def _spoilt(self, cells: tuple[Cell, ...]) -> Mapping[int, str] | None:
        """What the row's remarks take out, cell by cell; None where it is the whole row."""
        found: dict[int, str] = {}
        for remark in self._remarks(cells):
            if isinstance(remark, str) and spoils(remark):
                single = spoilt_cells(remark, self.columns, cells, self.decimal)
                if single is None:
                    return None
                found |= single
        return found

    def _value(self, column: Column, cell: Cell) -> Value | _Out:
        meaning = MEANINGS[column.meaning]
        if meaning.kind == "text":
            return _written(cell) if cell != "" else _Out("blank")
        if meaning.kind == "clock":
            when = moment(cell, column.order)
            if isinstance(when, str):
                return _Out(when)
            return when if isinstance(when, datetime) else when.isoformat()
        if meaning.kind == "verdict":
            if cell == "":
                return _Out("blank")
            given = verdict(cell, rejects=column.meaning == "rejected")
            return _Out("neither accepted nor rejected") if given is None else given
        found = numeral(cell, self.decimal)
        if isinstance(found, str):
            return _Out(found)
        return self._number(column, found.value, found.limit, found.unit)

    def _number(self, column: Column, value: float, limit: str, written_unit: str) -> Value | _Out:
        meaning = MEANINGS[column.meaning]
        unit = column.unit
        if written_unit and meaning.kind != "number":
            own = unit_of(meaning.kind, written_unit)
            if own is None:
                lacks = ", which is per pressure, such as per atm" if meaning.kind == "gas permeance" else ""
                return _Out(f"{written_unit[:20]!r} is no unit of {column.meaning}{lacks}")
            if meaning.kind not in ("fraction", "moisture") or unit == EACH_CELL:
                unit = own
        try:
            result = self._scale(meaning.kind, unit, column.basis)(value)
        except NotMoisture as error:
            return _Out(str(error))
        except HardtackError:
            return _Out(f"{written_unit[:20] or 'no unit'} is no unit of {column.meaning}")
        if limit:
            return Bound(limit, result)
        if not meaning.possible(result):
            article = "an" if column.meaning[0] in "aeiou" else "a"
            return _Out(f"{article} {column.meaning} of {value:g} {_sign(unit)} cannot be".replace("  ", " "))
        return result

    def _scale(self, kind: str, unit: str, basis: str) -> Callable[[float], float]:
        if kind == "moisture" and unit != EACH_CELL and basis in ("wet", "dry"):
            unit = f"{unit.split()[0] if unit else ''} {basis}".strip()
        return scale(kind, unit)


def _sign(unit: str) -> str:
    return {"percent": "%", "fraction": ""}.get(unit.split(" ")[0], unit)


@dataclass(frozen=True, slots=True)
class _Out:
    reason: str


def _with_readings(rows: list[Row], measured: set[str], reader: _Reader) -> list[Row]:
    kept = []
    for row in rows:
        if any(key in measured and not isinstance(value, str) for key, value in row.values.items()):
            kept.append(row)
        else:
            reader.rows_aside.append(SetAside(reader.file, row.number, "", "", "no reading in this row"))
    return kept


def _without_repeats(rows: list[Row], reader: _Reader) -> list[Row]:
    """Overlapping downloads: readings of one moment and the same values, though typed differently."""
    first: dict[tuple[tuple[str, Value], ...], int] = {}
    kept = []
    for row in rows:
        mark = tuple(sorted(row.values.items(), key=lambda item: item[0]))
        if isinstance(row.values.get("clock"), datetime) and mark in first:
            why = f"the same readings as row {first[mark]}"
            reader.rows_aside.append(SetAside(reader.file, row.number, "", "", why))
            continue
        first.setdefault(mark, row.number)
        kept.append(row)
    return kept
