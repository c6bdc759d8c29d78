"""A file's cells as they stand: text files with comma, semicolon or tab, and workbooks. No meaning yet."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from hardtack.errors import HardtackError, Problem
from hardtack.measurements.answers import Answers

Cell = str | float | datetime
Rows = tuple[tuple[int, tuple[Cell, ...]], ...]

LARGEST = 50_000_000
"""Bytes of a file."""
MOST_CELLS = 3_000_000
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
BLANKS = " \t\r\n\f\v\u00a0\u2007\u2009\u200b\u202f\ufeff"
"""What counts as an empty space about a cell, hidden kinds included."""
_STEADY = 0.5
"""Share of rows that must agree on the number of columns for a separator to be believed; assumed."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows that hold something, each with its row number in the file (from 1), and how they were read."""

    file: str
    rows: Rows
    separator: str
    notes: tuple[str, ...]


def read_sheet(path: Path, said: Answers) -> Sheet:
    """The cells of a text file or of one sheet of a workbook.

    Raises `HardtackError` when the file cannot be opened, is too large, no table, or needs an answer.
    """
    name = str(path)
    data = _bytes(path, name)
    if data[:4] == b"PK\x03\x04":
        from hardtack.measurements.workbook import read_workbook

        return read_workbook(data, name, said)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise HardtackError(Problem("this is a workbook of the old kind", "save it as .xlsx or as CSV", name))
    text, coding = _decoded(data, name)
    separator = SEPARATORS[said.get("separator")] if said.get("separator") else _separator(text)
    rows, notes = _split(text, separator, name)
    if not rows:
        raise HardtackError(Problem("the file is empty", "export it again", name))
    words = {",": "commas", ";": "semicolons", "\t": "tabs"}[separator]
    return Sheet(name, rows, separator, (f"text in {coding}, columns parted by {words}", *notes))


def _bytes(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise HardtackError(Problem("this is a folder", "name the file in it", name))
        if path.stat().st_size > LARGEST:
            raise HardtackError(Problem("the file is larger than 50 MB", "cut it in parts", name))
        data = path.read_bytes()
    except (OSError, ValueError):
        raise HardtackError(
            Problem("the file cannot be opened", "look at its name and folder", name)
        ) from None
    if not data.strip():
        raise HardtackError(Problem("the file is empty", "export it again", name))
    return data


def _decoded(data: bytes, name: str) -> tuple[str, str]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError:
            raise HardtackError(
                Problem("the file is broken UTF-16", "save it again as CSV in UTF-8", name)
            ) from None
    if b"\x00" in data:
        raise HardtackError(
            Problem("this is no text file: it holds zero bytes", "export the table as CSV or .xlsx", name)
        )
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252, as it is no UTF-8"


def _separator(text: str) -> str:
    """Semicolon or tab where the rows agree on it, else comma: decimal commas agree, too, so they come last."""
    for separator in (";", "\t"):
        counts = [line.count(separator) for line in text.splitlines() if line.strip(BLANKS)]
        some = [count for count in counts if count]
        if some and Counter(some).most_common(1)[0][1] >= max(1.0, _STEADY * len(counts)):
            return separator
    lines = [line for line in text.splitlines() if line.strip(BLANKS)]
    by_hits = {sep: sum(sep in line for line in lines) for sep in (",", ";", "\t")}
    return max(by_hits, key=lambda sep: by_hits[sep])


def _split(text: str, separator: str, name: str) -> tuple[Rows, tuple[str, ...]]:
    notes: tuple[str, ...] = ()
    try:
        rows = list(_parsed(text, separator, strict=True))
    except csv.Error:
        # A stray quotation mark would swallow the lines after it: take every line for itself.
        notes = ("quotation marks do not match: each line was taken for itself, marks and all",)
        rows = [
            (number, tuple(cell.strip(BLANKS) for cell in line.split(separator)))
            for number, line in enumerate(text.splitlines(), 1)
        ]
    if sum(len(cells) for _, cells in rows) > MOST_CELLS:
        raise HardtackError(Problem("the table holds more than 3 million cells", "cut it in parts", name))
    return tuple((number, cells) for number, cells in rows if any(cells)), notes


def _parsed(text: str, separator: str, *, strict: bool) -> list[tuple[int, tuple[str, ...]]]:
    csv.field_size_limit(1_000_000)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=strict)
    rows = []
    start = 1
    for cells in reader:
        rows.append((start, tuple(cell.strip(BLANKS) for cell in cells)))
        start = reader.line_num + 1
    return rows
