"""Whatever stands in a file: a table whose rows and cells all add up, or an error in words; never a traceback.

HARDTACK_FILES sets how many tables are tried (5,000 in the full run, 500 in the ordinary one).
"""

from __future__ import annotations

import csv
import io
import os
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.measurements.answers import CHOICES, Answers
from hardtack.measurements.reading import read_table
from hardtack.measurements.sheet import BLANKS
from hardtack.measurements.table import Table
from hardtack.measurements.words import MEANINGS

FILES = int(os.environ.get("HARDTACK_FILES", "500"))
BATCH = 25
"""Tables made for one draw: hypothesis is slower at drawing than the reader at reading."""
ordinary = settings(
    max_examples=FILES, deadline=None, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip

HEADERS = (
    "aw", "Water activity", "RH %", "RH", "Moisture", "Moisture (% wb)", "moisture g/g db", "Temp", "Temp C", "T (°F)", "T [K]",
    "Date", "Time", "Date Time", "Days", "time (h)", "Day 0", "Day 7", "mass", "mass mg", "Pan (g)", "Wet + pan (g)",
    "Dry + pan (g)", "wet", "dry", "Force (N)", "Force rep 1", "Force rep 2", "Peak", "salt", "Sample", "Remark", "accepted",
    "rejected", "person", "L*", "a*", "WVTR", "WVTR g/m2/day", "peroxide value", "", "Kolumne 7", "%", "=1+1", "[", "aw (", "x\ty",
)  # fmt: skip
CELLS = (
    "0.33", "0,33", "33", "1.003", "8.1", "8,1", "1.234", "1,234.5", "1.234,5", "1 234", "12.345.678", "-4", "−4", "–3", "<0.2",
    ">60", "n.d.", "OK", "broken", "", " ", "\u00a0", "=1+1", "@x", "+5", "1e5", "1e999", "-1e400", "nan", "inf", "0", "100", "25 °C", "38 C", "90 %",
    "4.2 g/m2/day", "5 apples", "03/04/25", "13/04/2025", "2026-05-04", "2026-05-04T10:00", "2026-05-04 10:00:00+02:00", "31.04.2026",
    "99/99/99", "10:30", "25:99", "2:30 PM", "4 May 2026", "NaCl", "LiCl", "mould", "not stable", "mean", "SD", "yes", "no", "accepted",
    "rejected", '"', '"x', "a;b", "1-2", "31-33", "%", "٣", "²", "½", "１２", "0x10", "1_000", "\x1b", "😀", "NULL", "#DIV/0!",
    "0001-01-01", "9999-12-31 23:59:59-23:59", "1" * 400,
)  # fmt: skip


def made_table(pick: random.Random) -> bytes:
    """A table that looks like a laboratory's, gone wrong in any way."""
    separator = pick.choice(",;\t")
    width = pick.randint(1, 6)
    header = [pick.choice(HEADERS) for _ in range(width)]
    rows = [[_cell(pick) for _ in range(pick.randint(0, width + 1))] for _ in range(pick.randint(0, 8))]
    before = [[pick.choice(CELLS) for _ in range(pick.randint(0, 3))] for _ in range(pick.randint(0, 3))]
    made = io.StringIO()
    if pick.random() < 0.5:
        writer = csv.writer(made, delimiter=separator, lineterminator=pick.choice(("\n", "\r\n")))
        writer.writerows([*before, header, *rows])
    else:
        made.write("\n".join(separator.join(row) for row in [*before, header, *rows]))
    coding = pick.choice(("utf-8", "utf-8-sig", "cp1252", "utf-16"))
    return made.getvalue().encode(coding, errors="replace")


def _cell(pick: random.Random) -> str:
    kind = pick.random()
    if kind < 0.6:
        return pick.choice(CELLS)
    if kind < 0.8:
        return f"{pick.uniform(-1e3, 1e3):.3g}"
    return "".join(
        chr(pick.choice((pick.randint(1, 126), pick.randint(160, 0x2FFF)))) for _ in range(pick.randint(0, 6))
    )


@st.composite
def said(draw: st.DrawFn) -> Answers:
    """Answers, most of them off the point."""
    keys = draw(st.lists(st.sampled_from(sorted(CHOICES)), unique=True, max_size=len(CHOICES)))
    picked = {
        key: draw(st.sampled_from(CHOICES[key]))
        for key in keys
        if key not in ("sheet", "header row", "temperature")
    }
    columns = draw(
        st.dictionaries(
            st.sampled_from(HEADERS),
            st.sampled_from([*MEANINGS, "moisture %wb", "not used", "x"]),
            max_size=2,
        )
    )
    if draw(st.booleans()):
        picked["temperature"] = "25 degC"
    return Answers(picked, columns)


def adds_up(table: Table) -> None:
    """Rows in = rows used + rows set aside; every cell of a known column is a value or set aside with a reason."""
    used, aside = [row.number for row in table.rows], [item.row for item in table.rows_aside]
    assert table.rows_in == len(used) + len(aside)
    assert len({*used, *aside}) == table.rows_in
    assert all(item.reason for item in (*table.rows_aside, *table.values_aside))
    left_out = {(item.row, item.column) for item in table.values_aside}
    for row in table.rows:
        for column in table.understood:
            if column.meaning and MEANINGS[column.meaning].kind != "text":
                assert (
                    column.key in row.values
                    or (row.number, column.column) in left_out
                    or column.column.startswith(("from the", "for all rows"))
                )
    assert all(isinstance(line, str) and line for line in table.told)


def _try(path: Path, data: bytes, answers: Answers) -> bool:
    path.write_bytes(data)
    problem = None
    try:
        table = read_table(path, answers)
    except HardtackError as error:
        problem = error
    if problem is not None:
        assert problem.problems
        assert all(one.what for one in problem.problems)
        return False
    adds_up(table)
    return True


@settings(ordinary, max_examples=max(FILES // BATCH, 1))
@given(pick=st.randoms(use_true_random=False), answers=said())
def test_any_table(tmp_path: Path, pick: random.Random, answers: Answers) -> None:
    for _ in range(BATCH):
        data = made_table(pick)
        note(repr(data))
        _try(tmp_path / "any.csv", data, answers if pick.random() < 0.5 else Answers())


@settings(ordinary, max_examples=max(FILES // 5, 40))
@given(data=st.binary(max_size=400))
def test_any_bytes(tmp_path: Path, data: bytes) -> None:
    _try(tmp_path / "any.csv", data, Answers())


@settings(ordinary, max_examples=max(FILES // 5, 40))
@given(
    place=st.lists(st.tuples(st.integers(0, 6000), st.integers(0, 255)), max_size=12),
    cut=st.integers(0, 6000),
)
def test_any_broken_workbook(tmp_path: Path, whole: bytes, place: list[tuple[int, int]], cut: int) -> None:
    data = bytearray(whole[: max(len(whole) - cut, 4)] if cut % 3 == 0 else whole)
    for at, value in place:
        if at < len(data):
            data[at] = value
    _try(tmp_path / "any.xlsx", bytes(data), Answers())


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    import xlsxwriter

    path = tmp_path_factory.mktemp("book") / "a.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["sample", "aw", "moisture % wb"])
        for i in range(1, 12):
            sheet.write_row(i, 0, [f"S{i}", 0.05 * i, 1.1 * i])
    return path.read_bytes()


def test_rows_counted_by_hand(tmp_path: Path) -> None:
    """The count of rows against one made here, line by line, over 300 shuffled plain tables."""
    random.seed(7)
    taken = 0
    for _ in range(300):
        width = random.randint(1, 4)
        header = ["aw", "temp C", "force (N)", "sample"][:width]
        body = [[random.choice(CELLS[:22]) for _ in range(width)] for _ in range(random.randint(1, 9))]
        body = [[cell.replace(";", "").replace('"', "") for cell in row] for row in body]
        text = "\n".join(";".join(row) for row in [header, *body])
        filled = sum(any(cell.strip(BLANKS) for cell in row) for row in body)
        path = tmp_path / "plain.csv"
        path.write_text(text, "utf-8")
        try:
            table = read_table(
                path, Answers({"decimal": "comma", "activity unit": "percent", "separator": "semicolon"})
            )
        except HardtackError:
            continue
        taken += 1
        assert table.rows_in == filled
        adds_up(table)
    assert taken > 200
