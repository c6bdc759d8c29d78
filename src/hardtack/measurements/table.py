"""A measurement file as read: rows in SI, what each column was understood to be, and everything set aside."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.words import MEANINGS
from hardtack.states import Floats

FORMULA_WORD = re.compile(r"ingredients?|zutat(en)?|ingrédients?|ingredientes?", re.IGNORECASE)
FORMULA = (
    "this is a formula, no measurement: type it under formulas: of the product file, a range as 31..33 %; totals and names "
    "are checked there (hardtack validate)"
)


@dataclass(frozen=True, slots=True)
class Bound:
    """A value known only as a limit: `side` "<" means at most `value`, ">" at least."""

    side: str
    value: float


Value = float | str | bool | datetime | Bound


@dataclass(frozen=True, slots=True)
class Understood:
    """One column as understood: its name in the file, meaning, unit, basis, and why."""

    column: str
    meaning: str
    unit: str
    basis: str
    why: str
    key: str = ""
    at: float | None = None

    def __str__(self) -> str:
        if not self.meaning:
            return f"{self.column or 'a column without a name'}: not used ({self.why})"
        unit = {"percent": "%", "fraction": "as a fraction"}.get(self.unit, self.unit)
        basis = f", {self.basis} basis" if self.basis else ""
        return f"{self.column}: {self.meaning}{', ' if unit else ''}{unit}{basis} ({self.why})"


@dataclass(frozen=True, slots=True)
class SetAside:
    """Something left out, and why: a cell, or a whole row where `column` is empty."""

    file: str
    row: int
    column: str
    written: str
    reason: str

    def __str__(self) -> str:
        place = ", ".join(part for part in (f"row {self.row}" if self.row else "", self.column) if part)
        return f"{self.file}, {place}: {self.reason}" + (f" ({self.written!r})" if self.written else "")


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is used: its `number` in the file and its values in SI by the columns' keys."""

    number: int
    values: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Table:
    """What a file says. `rows_in` = rows used + rows set aside, always.

    `preamble` are the lines before the table, as they stand; `notes` say how the file was read and what was
    seen in it (gaps of the clock, repeated readings).
    """

    file: str
    understood: tuple[Understood, ...]
    rows: tuple[Row, ...]
    rows_aside: tuple[SetAside, ...]
    values_aside: tuple[SetAside, ...]
    rows_in: int
    preamble: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def told(self) -> tuple[str, ...]:
        """What was understood and what was left out, in sentences; equal reasons in one line."""
        aside = len(self.rows_aside)
        lines = [
            f"{self.file}: {_count(self.rows_in, 'row')} in, {len(self.rows)} used, {aside} set aside.",
            *(str(column) for column in self.understood),
            *self.notes,
        ]
        return (*lines, *told_aside((*self.rows_aside, *self.values_aside), "Set aside"))

    def keys(self, meaning: str) -> tuple[str, ...]:
        """The keys of all columns of one meaning."""
        return tuple(column.key for column in self.understood if column.meaning == meaning)

    def numbers(self, meaning: str) -> Floats:
        """Every number of one meaning, in SI, row by row; empty without such a column."""
        keys = self.keys(meaning)
        return np.array(
            [v for row in self.rows for key in keys if isinstance(v := row.values.get(key), float)]
        )

    def need(self, *meanings: str) -> None:
        """Raise `HardtackError` when the table lacks one of the meanings."""
        lacking = [meaning for meaning in meanings if not self.keys(meaning)]
        if lacking:
            there = ", ".join(dict.fromkeys(c.meaning for c in self.understood if c.meaning)) or "none known"
            unknown = [c.column for c in self.understood if not c.meaning and c.column]
            kind = MEANINGS[lacking[0]].kind
            like = [c.column for c in self.understood if c.meaning and MEANINGS[c.meaning].kind == kind]
            header = next(iter((*unknown, *like)), "")
            how = (
                f"if a column does, say --answer 'column {header}: {lacking[0]}'"
                if header
                else f"add a column '{lacking[0]}'"
            )
            if lacking == ["activity"]:
                how += "; names of salts count too, in a column 'salt'"
            raise HardtackError(
                f"{self.file}: no column holds {' or '.join(lacking)} (there are: {there})",
                next((hint for hint in (self._meant_for(),) if hint), how),
            )

    def _meant_for(self) -> str:
        """Where a file belongs that holds another kind of reading than was asked for; "" where that is not clear."""
        there = {column.meaning for column in self.understood if column.meaning}
        if there & {"transmission rate", "permeance", "oxygen permeance"}:
            return "this is a supplier's sheet of films: hardtack fit film takes it"
        if "core temperature" in there:
            return "this is an oven log: hardtack fit bake takes it"
        if {"lightness", "redness", "yellowness"} & there:
            return (
                "this is colour: L* of the upper surface belongs under oven / measured / lightness of the product file, the "
                "change of colour in the store under failures / colour (docs/product-file.md)"
            )
        if {"clock", "temperature", "humidity"} <= there and not there & {
            "activity",
            "moisture",
            "mass",
            "force",
        }:
            return "this is a logger's file: name it in a leg of the journey, logger: FILE (docs/product-file.md)"
        if any(FORMULA_WORD.fullmatch(column.column) for column in self.understood):
            return FORMULA
        return ""

    def take(self, *meanings: str, replicated: str = "") -> Taken:
        """Numbers of several meanings, row by row; `replicated` names the one whose replicate columns count
        each for itself. What is missing or only a limit is listed. Raises `HardtackError` without the columns."""
        self.need(*meanings)
        spread = self.keys(replicated) if replicated else ("",)
        rows: list[int] = []
        points: list[list[float]] = []
        aside: list[SetAside] = []
        for row in self.rows:
            for key in spread:
                found = [row.values.get(key if meaning == replicated else meaning) for meaning in meanings]
                if all(isinstance(value, float) for value in found):
                    rows.append(row.number)
                    points.append([value for value in found if isinstance(value, float)])
                    continue
                for meaning, value in zip(meanings, found, strict=True):
                    if not isinstance(value, float):
                        reason = "only a limit" if isinstance(value, Bound) else f"no {meaning} in this row"
                        written = f"{value.side} {value.value:g}" if isinstance(value, Bound) else ""
                        aside.append(SetAside(self.file, row.number, key or meaning, written, reason))
        if not points:
            raise HardtackError(
                f"{self.file}: no row holds {' and '.join(meanings)}",
                f"{len(self.rows_aside)} rows and {len(self.values_aside)} values were set aside: look at their form and unit",
            )
        columns = np.array(points, dtype=float).reshape(-1, len(meanings)).T
        return Taken(tuple(columns), tuple(rows), tuple(aside))


@dataclass(frozen=True, slots=True)
class Taken:
    """Columns of numbers in SI, the rows they stand in, and what could not be taken."""

    columns: tuple[Floats, ...]
    rows: tuple[int, ...]
    aside: tuple[SetAside, ...]


def told_aside(items: Iterable[SetAside], head: str) -> tuple[str, ...]:
    """What was left out in sentences that begin with `head`; equal reasons in one line."""
    ordered = sorted(items, key=lambda item: (item.column, item.reason, item.row))
    by_reason = groupby(ordered, key=lambda item: (item.column, item.reason))
    return tuple(f"{head}: {_grouped(column, reason, list(group))}" for (column, reason), group in by_reason)


def _grouped(column: str, reason: str, items: list[SetAside]) -> str:
    where = f"{column}: " if column else ""
    rows = _ranges(item.row for item in items)
    written = dict.fromkeys(item.written for item in items if item.written)
    shown = ", ".join(repr(text) for text in list(written)[:3]) + (", …" if len(written) > 3 else "")
    what = "value" if column else "row"
    place = f", row {rows}" if any(item.row for item in items) else ""
    return f"{where}{_count(len(items), what)} ({reason}){place}" + (f": {shown}" if shown else "")


def _ranges(rows: Iterable[int]) -> str:
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return ", ".join(f"{a}" if a == b else f"{a}-{b}" for a, b in runs)


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
