"""Logger files: read whole, or refused with every row that cannot be used."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.keeping import keep
from hardtack.product import LoggerRecord, load, loads, read_logger
from hardtack.product.logger_mend import Mend
from hardtack.units import DAY

HERE = Path(__file__).parent
HEADER = "time,temperature_degC,humidity_%\n"
ROWS = "2026-06-01T08:00,25.0,60\n2026-06-01T09:00,26.5,58.5\n2026-06-01T12:00,30,50\n"


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "van.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def problems(folder: Path, text: str | bytes) -> tuple[Problem, ...]:
    with pytest.raises(HardtackError) as caught:
        read_logger(write(folder, text), "van.csv")
    assert all(problem.file == "van.csv" for problem in caught.value.problems)
    return caught.value.problems


def test_readings_arrive_in_si(tmp_path: Path) -> None:
    record = read_logger(write(tmp_path, HEADER + ROWS), "van.csv")
    assert record.start.isoformat() == "2026-06-01T08:00:00"
    np.testing.assert_allclose(record.seconds, [0, 3600, 4 * 3600])
    np.testing.assert_allclose(record.temperature, [298.15, 299.65, 303.15])
    np.testing.assert_allclose(record.humidity, [0.60, 0.585, 0.50])
    assert record.duration == 4 * 3600


@pytest.mark.parametrize(
    "text",
    [
        HEADER.replace(",", ";") + ROWS.replace(",", ";").replace(".", ","),
        HEADER.replace(",", "\t") + ROWS.replace(",", "\t"),
        "\ufeff" + HEADER + ROWS.replace("\n", "\r\n"),
        "Time,Temperature (°C),Humidity [%]\n\n" + ROWS,
        ("Time;Temperature °C;RH %\n" + ROWS.replace(",", ";")).encode("cp1252"),
        "note,humidity %,time,temperature degF\n"
        "in the hall,60,2026-06-01T08:00,77\n,58.5,2026-06-01 09:00,79.7\n,50,2026-06-01T12:00:00,86\n",
        "Invented logger;;\nSerial 7;;\n"
        + "Date/Time;Temp (°C);RH (%)\n"
        + ROWS.replace("2026-06-01T", "01.06.2026 ").replace(",", ";").replace("25.0", "25,0"),
        HEADER
        + ROWS.replace("08:00,", "08:00+02:00,")
        .replace("09:00,", "09:00+02:00,")
        .replace("12:00,", "11:00+01:00,"),
    ],
    ids=["semicolons", "tabs", "windows", "brackets", "cp1252", "degF", "a preamble", "zones"],
)
def test_the_same_readings_in_other_dress(tmp_path: Path, text: str | bytes) -> None:
    plain = read_logger(write(tmp_path, HEADER + ROWS))
    record = read_logger(write(tmp_path, text))
    np.testing.assert_allclose(record.seconds, plain.seconds)
    np.testing.assert_allclose(record.temperature, plain.temperature)
    np.testing.assert_allclose(record.humidity, plain.humidity)


def test_strokes_are_read_where_the_column_settles_their_order(tmp_path: Path) -> None:
    rows = "06/12/26 11:00 PM,25,60\n06/13/26 12:00 AM,26,58\n06/13/26 1:00,27,57\n"
    record = read_logger(write(tmp_path, HEADER + rows))
    assert record.start == datetime(2026, 6, 12, 23)
    np.testing.assert_allclose(record.seconds, [0, 3600, 7200])


SLIPS = [
    ("2026-06-01T12:00,30,50", "2026-06-01T16:00,30,50", 4, "7 h without a reading"),
    ("2026-06-01T12:00,30,50", "2026-06-01T08:00,30,50", 4, "the clock jumps back by 1 h"),
    ("2026-06-01T12:00,30,50", "2026-06-01T09:00,30,50", 4, "the clock stands still"),
    ("2026-06-01T12:00,30,50", "2026-06-01T12:00+02:00,30,50", 4, "without a time zone"),
    ("2026-06-01T12:00,30,50", "01/06/26 12:00,30,50", 4, "cannot read the time"),
    ("25.0,60", "25.0,", 2, "the humidity is missing where the record begins"),
    ("30,50", ",50", 4, "the temperature is missing where the record ends"),
    ("26.5,58.5", "nan,58.5", 3, "temperature 'nan' is no number"),
    ("26.5,58.5", "26.5,655.35", 3, "a relative humidity of 655.35 % cannot be"),
    ("26.5,58.5", "-273,58.5", 3, "a temperature of -273 cannot be"),
    ("26.5,58.5", "26.5", 3, "too few columns"),
]


@pytest.mark.parametrize(("old", "new", "row", "what"), SLIPS, ids=[slip[3] for slip in SLIPS])
def test_each_slip_names_its_row(tmp_path: Path, old: str, new: str, row: int, what: str) -> None:
    text = HEADER + ROWS
    assert old in text
    (problem,) = problems(tmp_path, text.replace(old, new))
    assert problem.line == row
    assert what in problem.what
    assert problem.mend


@pytest.mark.parametrize(
    ("header", "what"),
    [
        ("time,temperature,humidity_%", "column of temperature does not state its unit"),
        ("time,temperature_degC,humidity", "column of humidity does not state its unit"),
        ("when,temperature_degC,humidity_%", "no column of time"),
        ("time,temperature_degC,temperature_degF,humidity_%", "several columns of temperature"),
    ],
)
def test_the_header(tmp_path: Path, header: str, what: str) -> None:
    (problem,) = problems(tmp_path, f"{header}\n{ROWS}")
    assert problem.line == 1
    assert what in problem.what
    assert "time,temperature_degC,humidity_%" in problem.mend


def test_files_without_readings(tmp_path: Path) -> None:
    assert "empty" in problems(tmp_path, "\n\n")[0].what
    assert "fewer than two readings" in problems(tmp_path, HEADER)[0].what
    assert "UTF-16" in problems(tmp_path, (HEADER + ROWS).encode("utf-16"))[0].what
    with pytest.raises(HardtackError, match="no such logger file"):
        read_logger(tmp_path / "other.csv")


def test_many_bad_rows_are_counted_not_poured_out(tmp_path: Path) -> None:
    found = problems(tmp_path, HEADER + "yesterday,1,2\n" * 500)
    assert len(found) == 21
    assert found[-1].what == "and 480 more rows like these"


FIRST = datetime(2026, 10, 20)


def hourly(days: int) -> list[list[str]]:
    """A record by the hour whose temperature is its hour of the record, in hundredths above 10 degC."""
    return [
        [(FIRST + timedelta(hours=k)).isoformat(), f"{10 + k / 100:.2f}", f"{50 + k / 50:.2f}"]
        for k in range(24 * days + 1)
    ]


def record(folder: Path, rows: list[list[str]], mend: Mend | None = None) -> LoggerRecord:
    text = HEADER + "".join(",".join(row) + "\n" for row in rows)
    return read_logger(write(folder, text), "van.csv", mend)


def refused(folder: Path, rows: list[list[str]]) -> list[Problem]:
    with pytest.raises(HardtackError) as caught:
        record(folder, rows)
    return list(caught.value.problems)


def test_a_short_hole_is_laid_straight_and_told(tmp_path: Path) -> None:
    rows = hourly(3)
    for row in rows[30:34]:
        row[2] = ""
    del rows[50:54]
    found = record(tmp_path, rows)
    # the invented course is straight, so a straight line gives it back
    np.testing.assert_allclose(found.humidity, 0.50 + found.seconds / 3600 / 5000, atol=1e-12)
    assert found.told == (
        "van.csv, rows 51 to 52: 5 h without a reading, laid straight.",
        "van.csv, rows 32 to 35: the humidity is missing for 5 h, laid straight.",
    )


def test_a_week_without_humidity_is_refused_until_the_leg_says_otherwise(tmp_path: Path) -> None:
    rows = hourly(14)
    for row in rows[48 : 48 + 7 * 24]:
        row[2] = ""
    (problem,) = refused(tmp_path, rows)
    assert problem.line == 50
    assert problem.what == "the humidity is missing for 7.04 days"
    assert "'gaps: 8 days'" in problem.mend
    found = record(tmp_path, rows, Mend(gaps=8 * DAY))
    np.testing.assert_allclose(found.humidity, 0.50 + found.seconds / 3600 / 5000, atol=1e-12)
    assert found.told == ("van.csv, rows 50 to 217: the humidity is missing for 7.04 days, laid straight.",)


def test_a_day_without_rows_names_the_key(tmp_path: Path) -> None:
    rows = hourly(4)
    del rows[24:47]
    (problem,) = refused(tmp_path, rows)
    assert (problem.line, problem.what) == (26, "24 h without a reading")
    assert "'gaps: 24 h'" in problem.mend
    assert record(tmp_path, rows, Mend(gaps=DAY)).told == (
        "van.csv, rows 25 to 26: 24 h without a reading, laid straight.",
    )


def test_the_end_of_summer_time_moves_what_follows(tmp_path: Path) -> None:
    """The clock goes back an hour after row 37: an aware clock is the reference."""
    rows = hourly(3)
    for k, row in enumerate(rows):
        if k >= 36:
            row[0] = (FIRST + timedelta(hours=k - 1)).isoformat()
    (problem,) = refused(tmp_path, rows)
    assert (problem.line, problem.what) == (38, "the clock stands still")
    assert "'clock jumps: shift'" in problem.mend
    found = record(tmp_path, rows, Mend(shift=True))
    np.testing.assert_allclose(found.seconds, 3600.0 * np.arange(73))
    assert len(found.told) == 1
    assert "row 38" in found.told[0]
    assert "moved on by 1 h" in found.told[0]
    zoned = hourly(3)
    for k, row in enumerate(zoned):
        row[0] = rows[k][0] + ("+02:00" if k < 36 else "+01:00")
    np.testing.assert_allclose(record(tmp_path, zoned).seconds, found.seconds)


def test_a_reading_twice_is_taken_once_and_fog_counts_as_full(tmp_path: Path) -> None:
    rows = hourly(2)
    rows.insert(5, list(rows[4]))
    rows[9][2] = "102.5"
    found = record(tmp_path, rows)
    assert found.seconds.size == 49
    assert found.humidity[8] == 1.0
    assert found.told == (
        "van.csv, row 7: the same reading a second time, taken once.",
        "van.csv, 1 reading of the humidity beyond 100 % counts as 100 %.",
    )


def test_many_holes_are_told_in_part_and_counted(tmp_path: Path) -> None:
    rows = hourly(10)
    for row in rows[1:-1:4]:
        row[1] = "-"
    found = record(tmp_path, rows)
    assert len(found.told) == 21
    assert found.told[-1] == "van.csv: and 40 more like these."


def test_two_legs_of_one_file_say_the_same_of_it(tmp_path: Path) -> None:
    write(tmp_path, HEADER + ROWS)
    legs = "    logger: van.csv\n    gaps: 8 h\n  - leg: again\n    logger: van.csv\n"
    with pytest.raises(HardtackError, match="with different 'gaps'"):
        loads(cracker_with(legs), "x.yaml", tmp_path)
    with pytest.raises(HardtackError, match="'gaps' belongs to a logger"):
        loads(cracker_with("    climate: retail\n    lasts: 3 days\n    gaps: 8 h\n"), "x.yaml", tmp_path)


def test_what_was_laid_straight_stands_in_the_statement(tmp_path: Path) -> None:
    rows = hourly(14)
    for row in rows[48 : 48 + 7 * 24]:
        row[2] = ""
    write(tmp_path, HEADER + "".join(",".join(row) + "\n" for row in rows))
    legs = "    logger: van.csv\n    gaps: 8 days\n"
    statement = keep(loads(cracker_with(legs), "x.yaml", tmp_path))
    assert any("rows 50 to 217: the humidity is missing for 7.04 days" in line for line in statement.cautions)


def cracker_with(leg: str) -> str:
    return (
        (HERE / "cracker.yaml")
        .read_text("utf-8")
        .replace("    climate: zone IVb\n    lasts: until it fails\n", leg)
    )


def test_a_leg_by_logger(tmp_path: Path) -> None:
    write(tmp_path, HEADER + ROWS)
    path = tmp_path / "x.yaml"
    path.write_text(cracker_with("    logger: van.csv\n"), "utf-8")
    product = load(path)
    assert product.journey[2].lasts is None
    assert product.loggers["van.csv"].duration == 4 * 3600


@pytest.mark.parametrize(
    ("leg", "line", "what"),
    [
        ("    logger: vam.csv\n", None, "no such logger file"),
        ("    logger: ../van.csv\n", 37, "stands beside the product file"),
        ("    logger: van.csv\n    lasts: 5 h\n", 38, "longer than its logger's 0.1667 days"),
        ("    logger: van.csv\n    lasts: until it fails\n", 38, "cannot last 'until it fails'"),
        ("    logger: van.csv\n    climate: retail\n", 36, "'climate' and 'logger' at once"),
    ],
)
def test_slips_of_a_logger_leg(tmp_path: Path, leg: str, line: int | None, what: str) -> None:
    write(tmp_path, HEADER + ROWS)
    with pytest.raises(HardtackError) as caught:
        loads(cracker_with(leg), "x.yaml", tmp_path)
    problem = next(p for p in caught.value.problems if what in p.what)
    assert problem.line == line


def test_a_bad_logger_is_reported_with_the_other_problems(tmp_path: Path) -> None:
    write(tmp_path, HEADER + ROWS + "2026-06-03T12:00,30,50\n")
    text = cracker_with("    logger: van.csv\n").replace("mass: 7.6 g", "mass: 7.6")
    with pytest.raises(HardtackError) as caught:
        loads(text, "x.yaml", tmp_path)
    assert {(p.file, p.line) for p in caught.value.problems} == {("x.yaml", 11), ("van.csv", 5)}


def test_text_without_a_folder_cannot_name_a_logger() -> None:
    with pytest.raises(HardtackError, match="stands in no folder"):
        loads(cracker_with("    logger: van.csv\n"))
