"""Reading: the twelve ways in which laboratory data arrive. All files invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.answers import answers, answers_for
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Bound, Table
from hardtack.water.salts import salt_activity
from tests.measurements.files import lines, read


def numbers(table: Table, key: str) -> list[object]:
    return [row.values.get(key) for row in table.rows]


def reasons(table: Table) -> list[tuple[int, str, str]]:
    return [(item.row, item.column, item.reason) for item in (*table.rows_aside, *table.values_aside)]


def asked(error: pytest.ExceptionInfo[HardtackError]) -> set[str]:
    """The answers that the error spells out."""
    return {problem.mend.split("'")[1] for problem in error.value.problems}


# 1. Moisture by oven


def test_moisture_from_pan_weights_with_a_lost_lid(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Sample,Pan (g),Wet + pan (g),Dry + pan (g)",
            "A,20.112,25.310,25.164",
            "A,20.440,25.502,25.361",
            "A,,25.400,25.260",
        ),
    )
    # by hand: (25.310 - 25.164) / (25.164 - 20.112) = 0.146 / 5.052
    assert numbers(table, "moisture")[:2] == pytest.approx([0.146 / 5.052, 0.141 / 4.921])
    assert numbers(table, "moisture")[2] is None
    assert (4, "Pan (g)", "blank") in reasons(table)
    assert (4, "moisture", "no moisture: pan is missing") in reasons(table)
    assert "from (pan and wet - pan and dry)" in " ".join(table.told)


def test_whether_the_pan_is_included_is_asked(tmp_path: Path) -> None:
    text = lines("pan g,wet g,dry g", "20,25,24.8", "20,25.2,25.0")
    with pytest.raises(HardtackError) as error:
        read(tmp_path, text)
    assert asked(error) == {"pan weights: with the pan"}
    with_pan = read(tmp_path, text, "pan weights: with the pan")
    assert numbers(with_pan, "moisture")[0] == pytest.approx(0.2 / 4.8)
    without = read(tmp_path, text, "pan weights: without the pan")
    assert numbers(without, "moisture")[0] == pytest.approx(0.2 / 24.8)


def test_weights_that_rise_on_drying_give_no_moisture(tmp_path: Path) -> None:
    table = read(tmp_path, lines("wet (g),dry (g)", "5.00,4.85", "5.00,5.02"))
    assert numbers(table, "moisture") == [pytest.approx(0.15 / 4.85), None]
    assert any("do not fall" in reason for _, _, reason in reasons(table))


# 2. Isotherm from jars


JARS = lines(
    "Invented laboratory;;;",
    "Jars at 25 degC;;;",
    "",
    "Salt;Days;Moisture (% db);Remark",
    "LiCl;14;2,31;",
    "MgCl2 ;14;3,9;",
    "KNO3;21;18,2;mould on top",
    "Salt X;14;5,0;",
)


def test_jars_named_by_salts(tmp_path: Path) -> None:
    with pytest.raises(HardtackError) as error:
        read(tmp_path, JARS)
    assert asked(error) == {"temperature: 25 degC"}
    table = read(tmp_path, JARS, "temperature: 25 degC")
    expected = [salt_activity(salt, 298.15).value for salt in ("LiCl", "MgCl2")]
    assert numbers(table, "activity")[:2] == pytest.approx(expected)
    assert numbers(table, "moisture")[:2] == pytest.approx([0.0231, 0.039])
    assert [item.reason for item in table.rows_aside] == [
        "remark: mould on top (--answer 'remarks: keep' keeps such rows)"
    ]
    assert any(row == 8 and "Salt X" in reason for row, _, reason in reasons(table))
    kept = read(tmp_path, JARS, "temperature: 25 degC", "remarks: keep")
    assert len(kept.rows) == 4


# 3. Activity export


def test_activity_export_with_decimal_commas(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        "\ufeff"
        + lines(
            "Date;Sample ;aw;T (°C);Status",
            "04.05.2026;Cracker A  ;0,318;25,1;ok",
            "04.05.2026;Cracker A;0,322;25,0;ok",
            "04.05.2026;Water;1,003;25,0;ok",
            "04.05.2026;Cracker B;0,40;25,2;not stable",
        ),
    )
    assert numbers(table, "activity") == [0.318, 0.322, None]
    assert numbers(table, "temperature") == pytest.approx([298.25, 298.15, 298.15])
    assert numbers(table, "sample")[0] == "Cracker A"
    assert (4, "aw", "an activity of 1.003 cannot be") in reasons(table)
    assert any("not stable" in item.reason for item in table.rows_aside)
    assert "decimal comma: seen in '0,318', row 2" in table.notes


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        (("0.33", "0.75", "1.003"), [0.33, 0.75, None]),  # a fraction with one impossible reading
        (("33", "75", "97.5"), [0.33, 0.75, 0.975]),
        (("0.5", "33", "75"), [0.005, 0.33, 0.75]),  # half a percent, not one half: the column decides
    ],
)
def test_percent_or_fraction_is_decided_on_the_column(
    tmp_path: Path, values: tuple[str, ...], expected: list[float | None]
) -> None:
    table = read(tmp_path, lines("aw,temperature (degC)", *(f"{value},25" for value in values)))
    found = numbers(table, "activity")
    assert [None if v is None else pytest.approx(v) for v in expected] == found


def test_a_mixed_column_is_asked(tmp_path: Path) -> None:
    text = lines("aw", "0.33", "0.40", "75")
    with pytest.raises(HardtackError) as error:
        read(tmp_path, text)
    assert asked(error) == {"activity unit: percent"}


def test_percent_by_name_but_fractions_in_it_is_asked(tmp_path: Path) -> None:
    with pytest.raises(HardtackError) as error:
        read(tmp_path, lines("RH %,Temp C", "0.33,20", "0.55,20", "0.6,20"))
    assert asked(error) == {"humidity unit: percent"}


# 4. Moisture without basis


def test_basis_is_asked_and_both_questions_come_at_once(tmp_path: Path) -> None:
    with pytest.raises(HardtackError) as error:
        read(tmp_path, lines("Sample,Moisture", "A,0.081", "B,0.079"))
    assert asked(error) == {"moisture basis: wet", "moisture unit: percent"}
    wet = read(tmp_path, lines("Sample,Moisture", "A,8.1"), "moisture basis: wet")
    dry = read(tmp_path, lines("Sample,Moisture", "A,8.1"), "moisture basis: dry")
    assert numbers(wet, "moisture") == [pytest.approx(0.081 / 0.919)]
    assert numbers(dry, "moisture") == [pytest.approx(0.081)]


@pytest.mark.parametrize(
    ("header", "value", "X"),
    [
        ("Moisture (% wb)", "8.1", 0.081 / 0.919),
        ("Moisture content, % w.b.", "8.1", 0.081 / 0.919),
        ("moisture % (wet basis)", "8.1", 0.081 / 0.919),
        ("Water content [g/100 g solids]", "8.1", 0.081),
        ("EMC (g/g db)", "0.081", 0.081),
        ("moisture_%db", "8.1", 0.081),
        ("Moisture [% as is]", "8.1", 0.081 / 0.919),
    ],
)
def test_stated_bases(tmp_path: Path, header: str, value: str, X: float) -> None:
    table = read(tmp_path, f"Sample;{header}\nA;{value}\n", "decimal: point")
    assert numbers(table, "moisture") == [pytest.approx(X)]


def test_all_water_cannot_be_wet_basis(tmp_path: Path) -> None:
    table = read(tmp_path, lines("Sample,Moisture % wb", "A,8.1", "B,100", "C,0", "D,-2"))
    assert numbers(table, "moisture") == [pytest.approx(0.081 / 0.919)]
    assert {row for row, column, _ in reasons(table) if column} == {3, 4, 5}


# 5. Supplier sheets


def test_supplier_sheet_with_units_in_the_cells(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Film,WVTR,Temp,RH outside",
            "A,0.35 g/100in2/day,100 F,90 %",
            "B,4.2 g/m2/24 h,38 C,90 %",
            "C,< 0.5 g/m2/day,38 C,90 %",
            "D,5 apples,38 C,90 %",
        ),
    )
    rates = numbers(table, "transmission rate")
    # 100 in2 = 0.064516 m2 exactly
    assert rates[0] == pytest.approx(0.35e-3 / 0.064516 / 86400)
    assert rates[1] == pytest.approx(4.2e-3 / 86400)
    assert rates[2] == Bound("<", pytest.approx(0.5e-3 / 86400))  # type: ignore[arg-type]
    assert numbers(table, "temperature")[0] == pytest.approx((100 - 32) / 1.8 + 273.15)
    assert any(row == 5 and "apples" in reason for row, _, reason in reasons(table))


# 6. Oven log


def test_oven_log_in_fahrenheit_and_a_formula_as_text(tmp_path: Path) -> None:
    text = "time (s);Temp 1 °F;Temp 2 °F\n0;75;75\n2;=1+1;81\n4;82;−40\n".encode("cp1252", errors="ignore")
    text = text.replace(b";40\n", b";\x9640\n")  # a dash from a word processor
    table = read(tmp_path, text)
    assert numbers(table, "temperature") == [
        pytest.approx(297.0389, abs=1e-4),
        None,
        pytest.approx(300.9278, abs=1e-4),
    ]
    assert numbers(table, "temperature #2")[2] == pytest.approx(233.15)
    assert (3, "Temp 1 °F", "begins with =: a formula, taken as text") in reasons(table)
    assert "Windows-1252" in table.notes[0]


# 7. Loggers


LOG = lines(
    "Time;Temp F;RH %",
    "25/10/2026 01:00;68;55",
    "25/10/2026 02:00;68;55",
    "25/10/2026 03:00;69;655.35",
    "25/10/2026 02:00;−4;57",
    "25/10/2026 03:00;70;",
    "26/10/2026 04:00;70;57",
    "26/10/2026 04:00;70;57",
)


def test_logger_gaps_jumps_and_overlaps(tmp_path: Path) -> None:
    table = read(tmp_path, LOG)
    assert table.rows_in == 7
    assert [(item.row, item.reason) for item in table.rows_aside] == [(8, "the same row as row 7")]
    assert any(
        "row 5: the clock goes back by 60 min (a change from summer time?)" in note for note in table.notes
    )
    assert any("row 7: 25 h without a reading" in note for note in table.notes)
    assert numbers(table, "temperature")[3] == pytest.approx(253.15)
    assert {(4, "RH %", "a humidity of 655.35 % cannot be"), (6, "RH %", "blank")} <= set(reasons(table))


def test_time_of_day_over_midnight(tmp_path: Path) -> None:
    table = read(tmp_path, lines("time,mass (mg)", "23:58,12.1", "23:59,12.2", "00:00,12.3", "00:01,12.4"))
    assert numbers(table, "time") == [0.0, 60.0, 120.0, 180.0]


# 8. Texture


def test_replicates_in_columns_and_broken_pieces(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        "aw\tForce rep 1 (N)\tForce rep 2 (N)\n0.33\t22.1\tbroken\n0.43\t20.0\t21.5\nMean\t21\t21\n",
    )
    taken = table.take("activity", "force", replicated="force")
    assert [list(column) for column in taken.columns] == [[0.33, 0.43, 0.43], [22.1, 20.0, 21.5]]
    assert [(item.row, item.column) for item in taken.aside] == [(2, "force #2")]
    assert table.rows_aside[0].reason == "a summary (mean), not a measurement"
    assert (2, "Force rep 2 (N)", "text, not a number") in reasons(table)


def test_grams_of_force(tmp_path: Path) -> None:
    table = read(tmp_path, lines("aw,Peak force (kgf),sample", "0.33,2,A", "0.4,1.5,B"))
    assert numbers(table, "force") == pytest.approx([19.6133, 14.709975])  # 1 kgf = 9.80665 N by definition


def test_two_candidates_for_one_meaning_are_asked(tmp_path: Path) -> None:
    text = lines("Temp (C),Air temperature (C),aw", "20,21,0.3")
    with pytest.raises(HardtackError) as error:
        read(tmp_path, text)
    assert asked(error) == {"column Air temperature (C): not used"}
    assert numbers(read(tmp_path, text, "column Air temperature (C): not used"), "temperature") == [293.15]


# 9. Colour


def test_colour_of_both_sides(tmp_path: Path) -> None:
    table = read(tmp_path, lines("Side,L*,a*,b*", "top,61.2,7.5,30.1", "bottom,155,9.9,33"))
    assert table.rows[0].values == {"sample": "top", "lightness": 61.2, "redness": 7.5, "yellowness": 30.1}
    assert (3, "L*", "a lightness of 155 cannot be") in reasons(table)


# 10. Panel


def test_panel_sheet_with_a_column_for_every_day(tmp_path: Path) -> None:
    table = read(tmp_path, lines("Person,Day 0,Day 7,Day 14", "P1,yes,yes,no", "P2,yes,,no"))
    columns = [column for column in table.understood if column.meaning == "accepted"]
    assert [column.at for column in columns] == [0.0, 7 * 86400.0, 14 * 86400.0]
    assert [table.rows[0].values[column.key] for column in columns] == [True, True, False]
    assert (3, "Day 7", "blank") in reasons(table)


# 11. A typed formula is no measurement


def test_a_typed_formula_is_refused(tmp_path: Path) -> None:
    with pytest.raises(HardtackError, match="no row with known column names"):
        read(tmp_path, lines("Ingredient,%,kg", "flour,100,10", "water,31-33,3.2"))


def test_a_range_in_a_cell_is_no_number(tmp_path: Path) -> None:
    table = read(tmp_path, lines("sample,moisture % wb", "A,31-33", "B,32"))
    assert (2, "moisture % wb", "more than one number") in reasons(table)


# 12. Dates


def test_ambiguous_dates_are_asked(tmp_path: Path) -> None:
    text = lines("Date,aw", "03/04/25,0.31", "05/04/25,0.32")
    with pytest.raises(HardtackError) as error:
        read(tmp_path, text)
    assert asked(error) == {"dates: day first"}
    for answer, month, day in (("day first", 4, 3), ("month first", 3, 4)):
        table = read(tmp_path, text, f"dates: {answer}")
        clock = table.rows[0].values["clock"]
        assert (clock.month, clock.day, clock.year) == (month, day, 2025)  # type: ignore[union-attr]


def test_one_clear_date_settles_the_column(tmp_path: Path) -> None:
    table = read(tmp_path, lines("Date,aw", "03/04/2025,0.31", "25/04/2025,0.32"))
    assert table.rows[0].values["clock"].month == 4  # type: ignore[union-attr]
    assert "the only order that fits" in table.understood[0].why


# Across all


def test_thousands_and_the_question_which_mark_it_is(tmp_path: Path) -> None:
    sure = read(tmp_path, 'sample,force (N)\nA,"1,234.5"\nB,"2,000"\n')
    assert numbers(sure, "force") == [1234.5, 2000.0]
    spaced = read(tmp_path, "sample;force (N)\nA;1\u202f234,5\nB;2\u00a0000\n")
    assert numbers(spaced, "force") == [1234.5, 2000.0]
    with pytest.raises(HardtackError) as error:
        read(tmp_path, "sample;force (N)\nA;1,234\n")
    assert asked(error) == {"decimal: comma"}
    assert numbers(read(tmp_path, "sample;force (N)\nA;1,234\n", "decimal: comma"), "force") == [1.234]
    assert numbers(read(tmp_path, "sample;force (N)\nA;1,234\n", "decimal: point"), "force") == [1234.0]


def test_both_marks_in_one_file_are_asked(tmp_path: Path) -> None:
    with pytest.raises(HardtackError, match=r"decimal comma .* and decimal point"):
        read(tmp_path, "sample;force (N)\nA;1,25\nB;3.5\n")


def test_limits_of_detection_stay_limits(tmp_path: Path) -> None:
    table = read(tmp_path, lines("sample,peroxide value", "A,<0.2", "B,n.d.", "C,OK", "D,1.5", "E,> 20"))
    assert numbers(table, "peroxide value") == [Bound("<", 0.2), 1.5, Bound(">", 20.0)]
    assert [row for row, column, _ in reasons(table) if column] == [3, 4]
    taken = table.take("peroxide value")
    assert [item.reason for item in taken.aside] == ["only a limit", "only a limit"]


def test_late_header_units_row_and_repeated_names(tmp_path: Path) -> None:
    preamble = [f"Setting {n};invented" for n in range(58)]
    table = read(
        tmp_path,
        lines(
            *preamble,
            "Target RH;Actual RH;Mass",
            "[%];[%];[mg]",
            "0;0,4;12,113",
            "Target RH;Actual RH;Mass",
            "10;10,2;12,25",
        ),
    )
    assert numbers(table, "humidity") == pytest.approx([0.004, 0.102])
    assert numbers(table, "mass") == pytest.approx([12.113e-6, 12.25e-6])
    assert len(table.preamble) == 58
    assert table.rows_aside[0].reason == "the names of the columns again"
    assert "units in row 60" in table.notes


def test_a_stray_quotation_mark_swallows_nothing(tmp_path: Path) -> None:
    table = read(tmp_path, 'sample,aw\n"wafer 12",0.31\n"half open,0.32\nC,0.33\n')
    assert numbers(table, "activity") == [0.31, 0.32, 0.33]
    assert any("quotation marks do not match" in note for note in table.notes)


def test_a_mapping_file_answers_once(tmp_path: Path) -> None:
    mapping = tmp_path / "answers.yaml"
    mapping.write_text(
        '"jars-*.csv":\n  moisture basis: wet\n  columns:\n    "Water, oven": moisture %\n    "Room *": not used\n',
        "utf-8",
    )
    file = tmp_path / "jars-1.csv"
    file.write_text('sample,"Water, oven",Room T\nA,8.1,20\n', "utf-8")
    table = read_table(file, answers_for(file, mapping))
    assert numbers(table, "moisture") == [pytest.approx(0.081 / 0.919)]
    assert answers_for(tmp_path / "other.csv", mapping).said == {}


def test_faulty_answers_are_told_with_their_line(tmp_path: Path) -> None:
    mapping = tmp_path / "answers.yaml"
    mapping.write_text('"*.csv":\n  moisture basis: moist\n  moisture base: wet\n', "utf-8")
    with pytest.raises(HardtackError) as error:
        answers_for("a.csv", mapping)
    assert [problem.line for problem in error.value.problems] == [2, 3]
    assert "perhaps 'moisture basis'" in error.value.problems[1].mend
    with pytest.raises(HardtackError, match="answers no question"):
        answers(["colour: blue"])


def test_every_question_can_be_answered_as_printed(tmp_path: Path) -> None:
    text = lines("Date,Temp,Moisture,weight,aw", "03/04/25,20,0.08,5.1,0.3", "04/04/25,21,0.09,5.2,75")
    said: list[str] = []
    for _ in range(4):
        try:
            table = read(tmp_path, text, *said)
            break
        except HardtackError as error:
            said += [problem.mend.split("'")[1] for problem in error.problems]
    assert table.rows_in == len(table.rows) + len(table.rows_aside) == 2
    assert len(said) == 6


def test_a_missing_column_names_what_is_there(tmp_path: Path) -> None:
    table = read(tmp_path, lines("sample,aw,Oxidation", "A,0.3,1"))
    with pytest.raises(HardtackError, match="no column holds force") as error:
        table.need("force")
    assert "column Oxidation: force" in error.value.problems[0].mend


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_no_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(HardtackError):
        read_table(tmp_path / name)


def test_a_column_for_every_date_is_counted_from_the_first(tmp_path: Path) -> None:
    sheet = "Person,03/04/25,17/04/25,01/05/25,15/05/25\nAnna,yes,yes,yes,no\nBen,yes,,yes,yes\nNo One,no,no,no,no\n"
    file = tmp_path / "panel.csv"
    file.write_text(sheet, "utf-8")
    with pytest.raises(HardtackError, match="'03/04/25': which of day, month and year comes first"):
        read_table(file)
    table = read_table(file, answers(["dates: day first"]))
    days = [column.at / 86400.0 for column in table.understood if column.at is not None]
    assert days == [0.0, 14.0, 28.0, 42.0]
    assert len(table.rows) == 3
    assert any("counted from 2025-04-03" in line for line in table.told)


def test_dates_stand_for_elapsed_time(tmp_path: Path) -> None:
    """A trial kept by date alone: the days since the first reading, said in what was understood."""
    file = tmp_path / "trial.csv"
    file.write_text("Date,Moisture % wb\n2025-04-03,2.2\n2025-04-10,2.6\n2025-05-08 12:00,4.1\n", "utf-8")
    table = read_table(file)
    assert [row.values["time"] / 86400.0 for row in table.rows] == [0.0, 7.0, 35.5]  # type: ignore[operator]
    assert table.keys("time")
    assert any("counted from the first, 2025-04-03" in line for line in table.told)
