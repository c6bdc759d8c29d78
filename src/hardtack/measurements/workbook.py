"""One sheet of an .xlsx workbook, opened with care: sizes are looked at before anything is unpacked."""

from __future__ import annotations

import io
import warnings
import zipfile
import zlib
from datetime import date, datetime, time, timedelta
from typing import Any

from hardtack.errors import HardtackError, Problem
from hardtack.measurements.answers import Answers, question
from hardtack.measurements.sheet import BLANKS, MOST_CELLS, Cell, Rows, Sheet

LARGEST_UNPACKED = 200_000_000
"""Bytes of all parts together."""
HIGHEST_RATIO = 200
"""Unpacked over packed size; sheets of measurements reach about 20."""
_SMALL = 1_000_000
_MOST_PARTS = 2000


def read_workbook(data: bytes, name: str, said: Answers) -> Sheet:
    """The cells of the only sheet that holds something, or of the sheet named in the answers.

    A formula counts by its stored result; without one it stays text. A number shown as percent comes out with
    its sign. Raises `HardtackError` on broken, locked or oversized workbooks, and asks which sheet is meant.
    """
    _check_parts(data, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # remarks on styles and extensions, which are not read anyway
            sheets = _sheets(data, name)
    except HardtackError:
        raise
    except Exception as error:  # the reader raises nearly anything on a broken workbook
        raise HardtackError(
            Problem(f"the workbook cannot be read ({type(error).__name__})", "save it again, or as CSV", name)
        ) from None
    filled = {title: rows for title, rows in sheets.items() if rows}
    wanted = said.get("sheet")
    if wanted and wanted not in filled:
        listed = ", ".join(filled) or "none"
        raise HardtackError(Problem(f"no sheet {wanted!r} holds anything", f"sheets are: {listed}", name))
    if not filled:
        raise HardtackError(Problem("the workbook is empty", "export it again", name))
    if not wanted and len(filled) > 1:
        raise HardtackError(question(f"which of the sheets: {', '.join(filled)}?", "sheet", name))
    title = wanted or next(iter(filled))
    return Sheet(f"{name} ({title})", filled[title], "", (f"sheet {title!r} of a workbook",))


def _check_parts(data: bytes, name: str) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > _MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
                raise HardtackError(
                    Problem("the workbook is too large unpacked", "save only the sheet", name)
                )
            for part in parts:
                if part.flag_bits & 1:
                    raise HardtackError(Problem("the workbook is locked", "save it without password", name))
                if part.file_size > _SMALL and part.file_size > HIGHEST_RATIO * max(part.compress_size, 1):
                    raise HardtackError(
                        Problem("a part of the workbook unpacks beyond all measure", "save it as CSV", name)
                    )
            for part in parts:
                if part.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in archive.open(part).read(
                    4096
                ):
                    raise HardtackError(
                        Problem("the workbook defines its own entities", "save it again, or as CSV", name)
                    )
    except (zipfile.BadZipFile, zlib.error, OSError, ValueError, EOFError, RuntimeError):
        raise HardtackError(Problem("the workbook is broken", "save it again, or as CSV", name)) from None


def _sheets(data: bytes, name: str) -> dict[str, Rows]:
    import openpyxl

    stored = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    written = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False)
    return {
        sheet.title: _rows(sheet, written[sheet.title], name)
        for sheet in stored.worksheets
        if sheet.sheet_state == "visible"
    }


def _rows(stored: Any, written: Any, name: str) -> Rows:
    stored.reset_dimensions()
    written.reset_dimensions()
    rows: list[tuple[int, tuple[Cell, ...]]] = []
    count = 0
    for number, (results, formulas) in enumerate(
        zip(stored.iter_rows(), written.iter_rows(), strict=True), 1
    ):
        cells = tuple(_cell(a, b) for a, b in zip(results, formulas, strict=True))
        count += len(cells)
        if count > MOST_CELLS:
            raise HardtackError(Problem("a sheet holds more than 3 million cells", "cut it in parts", name))
        if any(cell != "" for cell in cells):
            rows.append((number, cells))
    return tuple(rows)


def _cell(result: Any, formula: Any) -> Cell:
    value = result.value
    if value is None:
        value = formula.value  # a formula without a stored result stays text
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if "%" in str(getattr(result, "number_format", "") or ""):
            return f"{value * 100:.12g}%"
        return float(value)
    if isinstance(value, datetime):
        return value
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)
    if isinstance(value, time):
        return value.strftime("%H:%M:%S")
    if isinstance(value, timedelta):
        hours, rest = divmod(round(value.total_seconds()), 3600)
        return f"{hours:02d}:{rest // 60:02d}:{rest % 60:02d}"
    return str(value).strip(BLANKS)
