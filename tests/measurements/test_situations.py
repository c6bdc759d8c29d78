"""The twelve ways in which laboratory files come, each written as a sheet and as a text file and taken by the command as
a technologist types it. All files, names and numbers are invented."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from hardtack.keeping import keep
from hardtack.product import load
from hardtack.water.air import saturation_pressure
from tests.cli.running import run

ROOT = Path(__file__).parents[2]
CRACKER = ROOT / "examples" / "lean-cracker-humid-coast.yaml"
BISCUIT = ROOT / "examples" / "bake-hard-biscuit.yaml"
Cells = Sequence[Sequence[Any]]


@pytest.fixture(params=["xlsx", "csv"])
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def written(folder: Path, name: str, rows: Cells, kind: str) -> Path:
    """The rows as a workbook, or as a spreadsheet's text: semicolons, decimal commas, Windows-1252, CRLF."""
    path = folder / f"{name}.{kind}"
    if kind == "xlsx":
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(list(row))
        book.save(path)
        return path
    text = "\r\n".join(";".join(_as_text(cell) for cell in row) for row in rows)
    path.write_bytes(text.encode("cp1252"))
    return path


def _as_text(cell: Any) -> str:
    return "" if cell is None else str(cell).replace(".", ",") if isinstance(cell, float) else str(cell)


def fit(capsys: pytest.CaptureFixture[str], verb: str, file: Path, *rest: str) -> dict[str, Any]:
    code, out, err = run(capsys, "fit", verb, str(file), *rest, "--json")
    assert code == 0, err
    answer: dict[str, Any] = json.loads(out)
    for each in answer["files"]:
        assert each["rows_in"] == each["rows_used"] + len(each["rows_set_aside"])
    return answer


def asked(capsys: pytest.CaptureFixture[str], verb: str, file: Path, *rest: str) -> str:
    code, _, err = run(capsys, "fit", verb, str(file), *rest)
    assert code == 2
    assert "mend" in err
    return err


def aside(answer: dict[str, Any]) -> set[tuple[int, str, str]]:
    """Row, column and the beginning of the reason of everything left out of the first file."""
    found = answer["files"][0]
    items = (*found["rows_set_aside"], *found["values_set_aside"], *answer["not_in_the_fit"])
    return {(item["row"], item["column"], item["reason"].partition(" (--answer")[0]) for item in items}


def value(answer: dict[str, Any], name: str) -> float:
    return float(next(each["value"] for each in answer["estimates"] if each["name"] == name))


JARS = (("LiCl", 0.029), ("MgCl2", 0.052), ("K2CO3", 0.064), ("NaBr", 0.085), ("NaCl", 0.130), ("KCl", 0.175))


def test_1_moisture_by_oven_with_a_lost_lid(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows: list[list[Any]] = [
        ["Invented: oven moisture 105 °C, 16 h"], [],
        ["Jar", "Sample", "Rep", "Pan no.", "Pan", "Wet+pan", "Dry+pan", "Remarks"],
        ["", "", "", "", "g", "g", "g", ""],
    ]  # fmt: skip
    for place, (salt, X) in enumerate(JARS):
        for rep in (1, 2, 3):
            pan, dry = 20.0 + rep / 10, 4.8 + place / 50
            wet = round(pan + dry * (1 + X * (1 + (rep - 2) / 100)), 4)
            rows.append([salt, "crispbread", rep, 7 * rep, pan, wet, round(pan + dry, 4), ""])
    rows[9][4], rows[9][7] = None, "lid lost"
    rows[13][5] = None
    rows.append(["", "mean", "", "", "", "", "", ""])
    answer = fit(capsys, "isotherm", written(tmp_path, "pans", rows, kind), "--temperature", "25 degC")
    assert {
        (10, "", "remark: lid lost"),
        (14, "Wet+pan", "blank"),
        (14, "moisture", "no moisture: pan and wet is missing"),
    } <= aside(answer)
    assert any(row == 23 and reason.startswith("a summary") for row, _, reason in aside(answer))
    assert len(answer["points"][0]["y"]) == 16
    assert answer["points"][0]["y"][0] == pytest.approx(100 * 0.029 * 0.99, abs=0.01)


def test_2_jars_by_salt_with_mould_on_one_piece(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows: list[list[Any]] = [
        ["Invented: rye crispbread in jars, 25 °C"], [],
        ["Jar (salt)", "Days to equilibrium", "EMC rep 1 (% db)", "EMC rep 2 (% db)", "EMC rep 3 (% db)", "Observations"],
        *([salt, 21, round(99 * X, 2), round(100 * X, 2), round(101 * X, 2), ""] for salt, X in JARS),
        ["KNO3", 35, 26.1, 29.4, 25.8, "mould on rep 2"],
        ["K2SO4", 35, 33.1, 34.0, 35.8, "mouldy, discard"],
    ]  # fmt: skip
    answer = fit(capsys, "isotherm", written(tmp_path, "jars", rows, kind), "--temperature", "25 degC")
    assert (10, "EMC rep 2 (% db)", "remark: mould on rep 2") in aside(answer)
    assert (11, "", "remark: mouldy, discard") in aside(answer)
    assert len(answer["points"][0]["y"]) == 20
    assert 29.4 not in answer["points"][0]["y"]
    kept = fit(
        capsys, "isotherm", tmp_path / f"jars.{kind}", "--temperature", "25 degC", "--answer", "remarks: keep"
    )
    assert len(kept["points"][0]["y"]) == 24


def test_3_activity_export_with_an_impossible_reading_and_a_meter_off(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    truth = (0.113, 0.331, 0.436, 0.579, 0.755, 0.844)
    rows = [
        ["Invented export"],
        ["Sample", "aw", "Temp. (°C)", "Time", "Moisture [% wb]"],
        *([name, a + 0.005, 25.0, f"04.05.2026 09:{k}2", wb] for k, (name, a, wb) in enumerate(
            zip("AABBCC", truth, (2.71, 4.90, 6.02, 7.85, 11.48, 14.90), strict=True))),
        ["Water", 1.003, 25.0, "04.05.2026 11:00", None],
    ]  # fmt: skip
    log = [
        ["Invented"],
        ["Standard", "Reading", "Temp. (°C)"],
        ["MgCl2", 0.333, 25.0],
        ["NaBr", 0.581, 25.0],
        ["NaCl", 0.758, 25.0],
    ]
    meter = written(tmp_path, "standards", log, kind)
    answer = fit(capsys, "isotherm", written(tmp_path, "meter", rows, kind), "--meter", str(meter))
    assert (9, "aw", "an activity of 1.003 cannot be") in aside(answer)
    # the salts' own activities at 25 °C (Greenspan 1977): 0.328, 0.576, 0.753: the meter reads 0.005 too high
    assert answer["points"][0]["x"] == pytest.approx(list(truth), abs=0.002)


def test_4_moisture_without_a_basis_is_asked(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    moistures = (3.1, 5.2, 6.4, 8.1, 11.5, 15.2)
    rows = [["Invented"], ["Sample", "aw", "Moisture"], *([n, a, m] for n, a, m in zip(
        "ABCDEF", (0.21, 0.33, 0.43, 0.58, 0.75, 0.84), moistures, strict=True))]  # fmt: skip
    file = written(tmp_path, "basis", rows, kind)
    at = ("--temperature", "25 degC")
    assert "'moisture basis: wet'" in asked(capsys, "isotherm", file, *at)
    wet = fit(capsys, "isotherm", file, *at, "--answer", "moisture basis: wet")
    dry = fit(capsys, "isotherm", file, *at, "--answer", "moisture basis: dry")
    assert wet["points"][0]["y"] == pytest.approx([100 * m / (100 - m) for m in moistures])
    assert dry["points"][0]["y"] == pytest.approx(list(moistures))


def test_5_a_suppliers_sheet_in_three_kinds_of_units(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows = [
        ["Invented films"],
        ["Film", "Gauge", "WVTR", "Conditions", "OTR"],
        ["A", "20 µm", "0.35 g/100in²/day", "100 °F, 90 % RH", "1500 cm³/m²/day/atm (23 °C, 0 % RH)"],
        ["B", "30 µm", "4.2 g/m²/24 h", "38 °C / 90 %", "30 cc/m²/day"],
        ["C", "90 µm", "0.5 perms", "23 °C", ""],
        ["D", "20 µm", "3 g/m²/day", "", ""],
    ]
    file = written(tmp_path, "films", rows, kind)
    said = ("--answer", "decimal: point") if kind == "csv" else ()
    answer = fit(capsys, "film", file, *said)
    films = {film["name"]: film["permeance_g_per_m2_day_kPa"] for film in answer["result"]["films"]}
    # 100 in2 = 0.064516 m2; 1 perm = 57.2135 ng/(Pa s m2) (ASTM E96); saturation pressure from the library's own law
    assert films["A"] == pytest.approx(0.35 / 0.064516 / (0.9 * saturation_pressure(310.928) / 1e3), rel=1e-4)
    assert films["B"] == pytest.approx(4.2 / (0.9 * saturation_pressure(311.15) / 1e3), rel=1e-4)
    assert films["C"] == pytest.approx(0.5 * 57.2135e-12 * 86400e6, rel=1e-4)
    assert (6, "", "a rate says nothing without temperature and humidities of its test") in aside(answer)
    assert any(row == 4 and column == "OTR" and "per atm" in why for row, column, why in aside(answer))
    product = tmp_path / "cracker.yaml"
    product.write_bytes(CRACKER.read_bytes())
    assert "--film: A, B, C" in asked(capsys, "film", file, *said, "--into", str(product))
    moved = fit(capsys, "film", file, *said, "--film", "B", "--into", str(product))["written"]
    assert f"4.2 g/m2/day [seen, films.{kind}]" in product.read_text("utf-8")
    assert moved["days_after"] < moved["days_before"] - 20


def test_6_oven_log_with_the_probe_knocked_out(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows: list[list[Any]] = [
        ["Invented oven log, belt 8.5 m/min"],
        ["t (s)", "Core (°C)", "Zone 1 (°F)", "Zone 2 (°F)"],
    ]
    for t in range(0, 300, 2):
        core = 180.0 + t % 7 if 120 <= t < 160 else 100 - 75 * 10 ** (-t / 180)
        rows.append([t, round(core, 1), 430 + t % 3, 480 + t % 5])
    file = written(tmp_path, "oven", rows, kind)
    answer = fit(capsys, "bake", file)
    out = [item for item in answer["not_in_the_fit"] if item["reason"].startswith("the probe was out")]
    assert [item["row"] for item in out] == list(range(63, 83))
    assert value(answer, "f") == pytest.approx(3.0, abs=0.01)
    # by hand: 3 min x log10(75 / 5)
    assert answer["result"]["minutes_to_degC"]["95"]["value"] == pytest.approx(3 * math.log10(15), abs=0.01)
    assert any(line.startswith("Zone 2 (°F): 250 °C") for line in answer["told"])  # (482 - 32) / 1.8
    product = tmp_path / "biscuit.yaml"
    product.write_bytes(BISCUIT.read_bytes())
    fit(capsys, "bake", file, "--into", str(product))
    oven = load(product).oven
    assert oven is not None
    assert oven.measured is not None
    assert len(oven.measured.core) == 12
    assert "has no oven" in asked(capsys, "bake", file, "--into", str(CRACKER))


def test_6_belt_speed_instead_of_time(capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str) -> None:
    rows = [["Invented"], ["Belt speed (m/min)", "Dough weight (g)", "Baked weight (g)"]]
    rows += [[42 / t, 11.4, round(11.4 * (1 - 0.03 * (t - 1.2)), 3)] for t in (4, 5, 6, 7)]  # type: ignore[list-item]
    file = written(tmp_path, "belt", rows, kind)
    assert "'oven length: 42 m'" in asked(capsys, "bake", file)
    answer = fit(capsys, "bake", file, "--answer", "oven length: 42 m")
    assert value(answer, "rate") == pytest.approx(0.03, rel=1e-3)
    assert value(answer, "lag") == pytest.approx(1.2, rel=1e-2)
    feet = fit(capsys, "bake", file, "--answer", "oven length: 137.795 ft")
    assert value(feet, "rate") == pytest.approx(0.03, rel=1e-3)
    assert "no length of an oven" in asked(capsys, "bake", file, "--answer", "oven length: long")


def test_7_logger_with_summer_time_gaps_and_an_hour_on_the_dock(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    rows = ["Invented logger;;", "Date/Time;Temp (°C);RH (%)"]
    t = datetime(2026, 10, 20)
    while t < datetime(2026, 11, 10):
        shown = t if t < datetime(2026, 10, 25, 3) else t - timedelta(hours=1)
        dock = datetime(2026, 10, 28, 9) <= t < datetime(2026, 10, 28, 10)
        humidity = "" if datetime(2026, 10, 30) <= t < datetime(2026, 11, 6) else "55,0"
        if not datetime(2026, 10, 22, 5) < t < datetime(2026, 10, 22, 18):
            rows.append(f"{shown:%d.%m.%Y %H:%M};{'3,0' if dock else '18,0'};{humidity}")
        t += timedelta(minutes=30)
    (tmp_path / "logger.csv").write_bytes("\r\n".join(rows).encode("cp1252"))
    # no verb fits a climate: the answer says where it belongs
    err = asked(
        capsys, "trial", tmp_path / "logger.csv", "--product", str(ROOT / "examples/hard-biscuit-plain.yaml")
    )
    assert "name it in a leg of the journey, logger: FILE" in err
    text = CRACKER.read_text("utf-8")
    head, tail = text[: text.index("journey:")], text[text.index("limits:") :]
    leg = "journey:\n  - {leg: store, lasts: 15 days, logger: logger.csv, gaps: 8 days, clock jumps: shift}\n"
    shop = "  - {leg: shop, lasts: until it fails, temperature: 25 degC, humidity: 70 %}\n\n"
    (tmp_path / "cracker.yaml").write_text(head + leg + shop + tail, "utf-8")
    said = " ".join(keep(load(tmp_path / "cracker.yaml")).cautions)
    for told in (
        "13 h without a reading",
        "the clock jumps back by 30 min",
        "the humidity is missing for 7.02 days",
    ):
        assert told in said


def test_7_a_balances_own_log(capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str) -> None:
    start = datetime(2026, 5, 4)
    rows: list[list[Any]] = [["Invented balance log"], ["Date/Time", "Mass (g)", "RH (%)"]]
    for h in range(0, 96, 2):
        if not 30 < h < 44:
            rows.append(
                [
                    f"{start + timedelta(hours=h):%d.%m.%Y %H:%M}",
                    round(85 + 0.0007 * h, 4),
                    "" if 50 < h < 60 else 90,
                ]
            )
    answer = fit(capsys, "film", written(tmp_path, "log", rows, kind), "--area", "50 cm2", "--temperature", "38 degC",
                 "--outside", "90 %", "--inside", "0 %")  # fmt: skip
    assert any("14 h without a reading" in note for note in answer["files"][0]["notes"])
    assert value(answer, "transmission") == pytest.approx(0.0007 * 24 / 50e-4, rel=1e-3)


def test_8_ten_pieces_of_which_some_were_broken(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows: list[list[Any]] = [
        ["Invented", "three-point bend"],
        ["aw", "T (°C)", *(f"Peak {n} (N)" for n in range(1, 11)), "Comment"],
    ]
    for a in (0.11, 0.22, 0.33, 0.38, 0.43, 0.48, 0.53, 0.58, 0.65):
        force = 4 + 20 / (1 + math.exp((a - 0.45) / 0.04))
        rows.append([a, 22, *(round(force * (1 + (n - 5.5) / 100), 2) for n in range(1, 11)), ""])
    rows[3][5], rows[3][10], rows[3][12] = "broken", "", "pieces 4 and 9 broken before test"
    rows[5][12] = "piece 7 cracked before test"
    rows[7][3], rows[7][12] = "", "one piece broken"
    rows[8][12] = "two pieces broken"
    answer = fit(capsys, "crispness", written(tmp_path, "texture", rows, kind))
    out = aside(answer)
    assert {
        (4, "Peak 4 (N)", "remark: pieces 4 and 9 broken before test"), (4, "Peak 9 (N)", "remark: pieces 4 and 9 broken before test"),
        (6, "Peak 7 (N)", "remark: piece 7 cracked before test"), (8, "Peak 2 (N)", "blank"),
        (9, "", "remark: two pieces broken"),  # which two is not said
    } <= out  # fmt: skip
    assert len(answer["points"][0]["y"]) == 90 - 2 - 1 - 1 - 10
    assert answer["result"]["activity"] == pytest.approx(0.45, abs=0.01)
    assert [each["unit"] for each in answer["estimates"] if each["name"] == "Y_dry"] == ["N"]


def test_9_colour_of_both_sides_is_told_where_it_belongs(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows = [
        ["Invented"],
        ["Bake time (min)", "Side", "L*", "a*", "b*"],
        [4, "top", 74.2, 2.1, 25.0],
        [4, "bottom", 70.1, 4.0, 28.0],
    ]
    err = asked(capsys, "bake", written(tmp_path, "colour", rows, kind))
    assert "there are: time, sample, lightness, redness, yellowness" in err
    assert "oven / measured / lightness" in err


VERDICTS = (
    ("A. Invented", "acc", "acc", "acc", "rej", "rej", "rej"), ("B", "acc", "", "acc", "acc", "rej", "rej"),
    ("C", "acc", "acc", "acc", "acc", "acc", "acc"), ("D", "acc", "acc", "abs", "rej", "rej", ""),
    ("E", "rej", "acc", "acc", "acc", "rej", "rej"), ("F", "acc", "acc", "rej", "rej", "rej", "rej"),
    ("G", "acc", "acc", "acc", "acc", "acc", "rej"), ("H", "acc", "acc", "acc", "acc", "rej", "rej"),
)  # fmt: skip


def test_10_panel_with_people_who_missed_days(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    days = (0, 14, 28, 42, 56, 70)
    wide = written(tmp_path, "wide", [["Invented panel"], ["Name", *days], *VERDICTS], kind)
    assert "do the numbers count days" in asked(capsys, "panel", wide)
    answer = fit(capsys, "panel", wide, "--answer", "time unit: day", "--share", "50 %", "--share", "10 %")
    long = [["Invented panel"], ["Panellist", "Day", "Verdict"]]
    long += [[name, day, said] for name, *given in VERDICTS for day, said in zip(days, given, strict=True)]
    same = fit(capsys, "panel", written(tmp_path, "long", long, kind), "--share", "50 %", "--share", "10 %")
    assert answer["result"]["intervals_days"] == same["result"]["intervals_days"]
    # by hand: B was seen accepting on day 42 and rejecting on day 56; D between 14 and 42, as day 28 was missed
    assert [answer["result"]["intervals_days"][k] for k in (1, 3)] == [[42.0, 56.0], [14.0, 42.0]]
    assert (6, "28", "neither accepted nor rejected") in aside(answer)
    assert (0, "E", "rejected the fresh product") in aside(answer)
    assert [each["share"] for each in answer["result"]["days_to_share_rejecting"]] == [0.5, 0.1]


def test_11_a_formula_typed_from_a_screenshot_is_no_measurement(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    rows = [
        ["Invented formula"],
        ["Ingredient", "%", "Notes"],
        ["flour", 100, ""],
        ["water", "31-33", ""],
        ["fat", 12, ""],
        ["Total", 148, ""],
        ["dusting flour", "", "not weighed"],
    ]
    for given in (rows, [row[:2] for row in rows]):
        err = asked(capsys, "isotherm", written(tmp_path, "formula", given, kind), "--temperature", "25 degC")
        assert "under formulas: of the product file, a range as 31..33 %" in err


def test_12_two_files_of_one_product_with_dates_that_may_be_either(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    first = [["Invented"], ["Product", "Date", "aw", "Moisture (% wb)"]]
    first += [["Sea cracker", d, a, m] for d, a, m in (("03/04/25", 0.21, 2.9), ("10/04/25", 0.33, 4.1), ("01/05/25", 0.43, 5.3),
                                                       ("08/05/25", 0.55, 6.9), ("12/05/25", 0.65, 8.8))]  # type: ignore[list-item] # fmt: skip
    second = [["Invented"], ["Cracker sea 2025"], ["Datum", "aw", "Wasser (% Frischmasse)"]]
    second += [[d, a, m] for d, a, m in (("03.04.2025", 0.22, 2.95), ("24.04.2025", 0.34, 4.2), ("02.05.2025", 0.44, 5.4),
                                         ("09.05.2025", 0.56, 7.0), ("13.05.2025", 0.66, 8.9))]  # type: ignore[list-item] # fmt: skip
    one, other = written(tmp_path, "one", first, kind), written(tmp_path, "other", second, kind)
    at = ("--temperature", "25 degC")
    assert "'dates: day first'" in asked(capsys, "isotherm", one, *at)
    mapping = tmp_path / "answers.yaml"
    mapping.write_text('"o*":\n  dates: day first\n', "utf-8")
    for file, wet in ((one, (2.9, 4.1, 5.3, 6.9, 8.8)), (other, (2.95, 4.2, 5.4, 7.0, 8.9))):
        answer = fit(capsys, "isotherm", file, *at, "--answers", str(mapping))
        assert answer["points"][0]["y"] == pytest.approx([100 * m / (100 - m) for m in wet])
