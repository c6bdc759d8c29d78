"""Workbooks: cells as they show, formulas by their stored result, and no harm from hostile files."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from hardtack.errors import HardtackError
from hardtack.measurements.answers import answers
from hardtack.measurements.reading import read_table
from hardtack.measurements.workbook import LARGEST_UNPACKED


def workbook(path: Path, sheets: dict[str, list[list[Any]]]) -> Path:
    with xlsxwriter.Workbook(str(path)) as book:
        percent = book.add_format({"num_format": "0.0%"})
        date = book.add_format({"num_format": "yyyy-mm-dd"})
        for title, rows in sheets.items():
            sheet = book.add_worksheet(title)
            for i, row in enumerate(rows):
                for j, value in enumerate(row):
                    if isinstance(value, tuple):
                        sheet.write_formula(i, j, value[0], None, value[1])
                    elif isinstance(value, datetime):
                        sheet.write_datetime(i, j, value, date)
                    elif isinstance(value, float) and j == 2:
                        sheet.write_number(i, j, value, percent)
                    elif value is not None:
                        sheet.write(i, j, value)
    return path


ROWS: list[list[Any]] = [
    ["Invented laboratory"],
    [],
    ["Date", "Water activity", "Moisture, wet basis", "Force (N)"],
    [datetime(2026, 5, 4), 0.318, 0.081, 21.5],
    [datetime(2026, 5, 5), ("=B4+0.01", 0.328), 0.083, "broken"],
    [datetime(2026, 5, 6), 0.338, 0.084, ("=AVERAGE(D4:D5)", "")],
]


def test_cells_come_as_they_show(tmp_path: Path) -> None:
    table = read_table(workbook(tmp_path / "a.xlsx", {"Sheet1": ROWS}))
    assert table.rows_in == len(table.rows) == 3
    assert [row.values["activity"] for row in table.rows] == [0.318, 0.328, 0.338]
    # shown as 8.1 %: 0.081 / 0.919 on dry basis
    assert table.rows[0].values["moisture"] == pytest.approx(0.081 / 0.919)
    assert table.rows[0].values["clock"] == datetime(2026, 5, 4)
    assert table.rows[0].number == 4
    assert {(item.row, item.column) for item in table.values_aside} == {(5, "Force (N)"), (6, "Force (N)")}


def test_a_formula_without_a_stored_result_is_shown(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", {"S": [["sample", "aw"], ["A", 0.3], ["B", ("=B2*2", "0.6")]]})
    stripped = tmp_path / "b.xlsx"
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(stripped, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            new.writestr(part, data.replace(b"<v>0.6</v>", b""))
    table = read_table(stripped)
    assert [(item.row, item.written, item.reason) for item in table.values_aside] == [
        (3, "=B2*2", "begins with =: a formula, taken as text")
    ]


def test_which_sheet_is_asked(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", {"May": ROWS, "June": ROWS, "Empty": []})
    with pytest.raises(HardtackError, match="which of the sheets: May, June"):
        read_table(path)
    assert read_table(path, answers(["sheet: June"])).file.endswith("(June)")
    with pytest.raises(HardtackError, match="no sheet 'July'"):
        read_table(path, answers(["sheet: July"]))


def test_a_far_corner_cell_is_no_trap(tmp_path: Path) -> None:
    path = tmp_path / "far.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["sample", "aw"])
        sheet.write_row(1, 0, ["A", 0.3])
        sheet.write(5000, 16000, "far")
    table = read_table(path)
    assert table.rows_in == 2
    assert len(table.rows) == 1


def _zip(parts: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return made.getvalue()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (_zip({"xl/worksheets/sheet1.xml": b" " * 30_000_000}), "unpacks beyond all measure"),
        (_zip({f"xl/{n}.xml": b"" for n in range(2100)}), "too large unpacked"),
        (_zip({"xl/workbook.xml": b'<!DOCTYPE x [<!ENTITY a "b">]><x/>'}), "defines its own entities"),
        (_zip({"readme.txt": b"no workbook"}), "cannot be read"),
        (b"PK\x03\x04 and then nothing", "is broken"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 old", "of the old kind"),
        (b"\x00\x01\x02", "no text file"),
        (b"", "is empty"),
    ],
)
def test_hostile_and_broken_files(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(data)
    with pytest.raises(HardtackError, match=says):
        read_table(path)


def test_the_limit_on_all_parts_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = workbook(tmp_path / "a.xlsx", {"S": ROWS})
    assert path.stat().st_size < LARGEST_UNPACKED
    monkeypatch.setattr("hardtack.measurements.workbook.LARGEST_UNPACKED", 1000)
    with pytest.raises(HardtackError, match="too large unpacked"):
        read_table(path)
