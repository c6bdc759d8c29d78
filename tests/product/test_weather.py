"""Weather files in EPW format.

The lines are built here from the format's published field order (EPW data dictionary of the EnergyPlus documentation):
year, month, day, hour, minute, flags, dry bulb, dew point, relative humidity, pressure and 25 more. The reader of the
general weather library pvlib is held beside ours.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.product import load, read_weather
from hardtack.product.weather import DRY_BULB, HUMIDITY

HEAD = """LOCATION,Invented Harbour,-,XXX,invented,000000,52.30,4.77,1.0,-2.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,invented for a test
COMMENTS 2,
DATA PERIODS,1,1,Data,Sunday,1/1,12/31
"""
LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
REST = ",101325" + ",9999" * 6 + ",999900" * 3 + ",9999,180,3.0,5,5,20,77777,9,999999999,150,0.1,0,88,0.2,0,0"


def hour_line(month: int, day: int, hour: int, T: float, RH: float) -> str:
    return f"1999,{month},{day},{hour},60,?9?9?9E0?9?9?9?9,{T:.1f},{T - 5:.1f},{RH:.0f}{REST}"


def lines(leap: bool = False) -> list[str]:
    made = []
    for month, length in enumerate(LENGTHS, 1):
        for day in range(1, length + 1 + (leap and month == 2)):
            for hour in range(1, 25):
                T = 10 + 8 * math.sin(month / 2) + 4 * math.cos((hour - 14) / 24 * 2 * math.pi)
                made.append(hour_line(month, day, hour, T, 60 + hour))
    return made


def write(folder: Path, body: list[str], head: str = HEAD) -> Path:
    path = folder / "harbour.epw"
    path.write_text(head + "\n".join(body) + "\n")
    return path


def problems(folder: Path, body: list[str], head: str = HEAD) -> tuple[Problem, ...]:
    with pytest.raises(HardtackError) as caught:
        read_weather(write(folder, body, head), "harbour.epw")
    assert all(problem.file == "harbour.epw" and problem.mend for problem in caught.value.problems)
    return caught.value.problems


def test_a_year_arrives_in_si(tmp_path: Path) -> None:
    record = read_weather(write(tmp_path, lines()), "harbour.epw")
    assert record.place == "Invented Harbour, XXX"
    assert record.temperature.shape == record.humidity.shape == (8760,)
    row = lines()[4000].split(",")
    assert len(row) == 35
    assert record.temperature[4000] == pytest.approx(float(row[DRY_BULB]) + 273.15)
    assert record.humidity[4000] == pytest.approx(float(row[HUMIDITY]) / 100)
    assert record.bridged == 0


def test_a_general_library_reads_the_same_year(tmp_path: Path) -> None:
    """pvlib's reader of EPW files, which shares nothing with ours, on the same file."""
    from pvlib.iotools import read_epw

    path = write(tmp_path, lines())
    record, (theirs, _) = read_weather(path), read_epw(path)
    assert record.temperature == pytest.approx(theirs["temp_air"].to_numpy() + 273.15, abs=1e-9)
    assert record.humidity == pytest.approx(theirs["relative_humidity"].to_numpy() / 100, abs=1e-12)


def test_29_february_is_left_out(tmp_path: Path) -> None:
    assert read_weather(write(tmp_path, lines(leap=True))).temperature.shape == (8760,)


def test_short_holes_are_bridged_and_counted(tmp_path: Path) -> None:
    body = lines()
    body[100] = hour_line(1, 5, 5, 99.9, 50)  # 99.9 and 999 are the format's codes for missing
    body[101] = hour_line(1, 5, 6, 99.9, 999)
    body[0] = hour_line(1, 1, 1, 99.9, 50)
    record = read_weather(write(tmp_path, body))
    whole = read_weather(write(tmp_path, lines()))
    assert record.bridged == 3
    assert np.all(np.isfinite(record.temperature))
    want = whole.temperature[99] + (whole.temperature[102] - whole.temperature[99]) / 3
    assert record.temperature[100] == pytest.approx(want)
    assert record.temperature[0] == pytest.approx((whole.temperature[-1] + whole.temperature[1]) / 2)


def test_a_long_hole_is_refused_with_its_line(tmp_path: Path) -> None:
    body = lines()
    for k in range(200, 207):
        cells = body[k].split(",")
        cells[HUMIDITY] = "999"
        body[k] = ",".join(cells)
    (problem,) = problems(tmp_path, body)
    assert problem.what == "the relative humidity is missing for 7 hours"
    assert problem.line == 209


def test_slips_name_their_line(tmp_path: Path) -> None:
    body = lines()
    body[10] = body[10].replace("1999,1,1,11", "1999,1,1,12")
    assert "hour 12 stands where month 1, day 1, hour 11 belongs" in problems(tmp_path, body)[0].what
    body = lines()
    body[10] = hour_line(1, 1, 11, -80, 50)
    body[20] = hour_line(1, 1, 21, 10, 150)
    body[30] = "rubbish"
    found = problems(tmp_path, body)
    assert [problem.line for problem in found[:3]] == [19, 29, 39]
    assert "-80 °C cannot be" in found[0].what
    assert "150 % cannot be" in found[1].what
    assert "cannot be read" in found[2].what


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("LOCATION", "PLACE", "line 1 of a weather file begins with LOCATION"),
        ("COMMENTS 2,\n", "", "line 7 of a weather file begins with COMMENTS 2"),
        ("DATA PERIODS,1,1", "DATA PERIODS,1,4", "1 data periods with 4 records an hour"),
    ],
)
def test_the_head(tmp_path: Path, old: str, new: str, what: str) -> None:
    (problem,) = problems(tmp_path, lines(), HEAD.replace(old, new))
    assert what in problem.what


def test_half_a_year_is_no_year(tmp_path: Path) -> None:
    assert "4380 hours of data" in problems(tmp_path, lines()[:4380])[0].what
    with pytest.raises(HardtackError, match="no such weather file"):
        read_weather(tmp_path / "none.epw")


PRODUCT = """
hardtack: 1
name: test
kind: soda cracker
packed on: 2026-11-20
piece: {shape: slab, thickness: 4 mm, length: 5 cm, width: 5 cm, mass: 6 g, count: 10, layers: [{name: cracker, moisture: 3 %wb}]}
pack: {film: OPP 30 um, area: 0.05 m2, headspace: 100 mL}
journey:
  - {leg: store, lasts: 60 days, weather: harbour.epw}
"""


def test_a_leg_takes_the_weather_of_its_days(tmp_path: Path) -> None:
    from hardtack.pack import journey_of

    write(tmp_path, lines())
    (tmp_path / "x.yaml").write_text(PRODUCT)
    journey, used = journey_of(load(tmp_path / "x.yaml"))
    record = read_weather(tmp_path / "harbour.epw")
    start = (304 + 19) * 24  # 20 November, midnight: the hour that ends then is the last of the 19th
    assert journey.legs[0].climate.temperature[0] == pytest.approx(record.temperature[start - 1])
    assert "Invented Harbour" in used[0].amount.source


def test_a_season_needs_its_day(tmp_path: Path) -> None:
    write(tmp_path, lines())
    (tmp_path / "x.yaml").write_text(PRODUCT.replace("packed on: 2026-11-20\n", ""))
    with pytest.raises(HardtackError, match="'weather' needs the day of packing"):
        load(tmp_path / "x.yaml")
