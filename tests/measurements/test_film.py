"""Cups and pouches: the standard's worked example, the dossier's arithmetic, and weighings that are not steady."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.film import TestClimate, film_permeance, weighings
from hardtack.measurements.steady import steady_part
from hardtack.pack.film import permeance_from_rate
from tests.measurements.files import lines, read

HOUR = 3600.0
# ASTM E96, worked example of the desiccant method (as remembered): 100 in2 (0.0645 m2), 89.0 degF (31.7 degC), 49 % RH, 0 % inside;
# steady after 48 h, then 12 g in 240 h: 0.775 g/h/m2, and 9.42e-8 g/Pa/s/m2 with its rounded 35 mm Hg (4.66 kPa)
E96 = TestClimate(31.7 + 273.15, 0.49, 0.0)


def cup(noise: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    hours = np.array([0, 8, 16, 24, 36, 48, 72, 96, 120, 144, 192, 240, 288.0])
    gain = np.where(hours <= 48, 0.05 * hours * (0.3 + 0.7 * hours / 48), 0.05 * hours)
    gain = gain + noise * np.random.default_rng(5).normal(size=hours.size)
    return hours * HOUR, 0.2 + gain * 1e-3


def test_the_standards_worked_example() -> None:
    result = film_permeance({"cup": cup()}, 0.0645, E96)
    steady = result.series["cup"]
    assert steady.first >= 5  # 48 h and later
    assert result.rate * 1e3 * HOUR == pytest.approx(0.775, abs=5e-4)
    # The standard rounds the saturation pressure to 35 mm Hg: 4.666 kPa. With that pressure its own figure comes out.
    printed = result.rate * 1e3 / (35 * 133.322 * 0.49)
    assert printed == pytest.approx(9.42e-8, rel=2e-3)
    assert result.permeance * 1e3 == pytest.approx(9.42e-8, rel=0.01)
    assert "of 13 weighings lie outside it" in result.told[0]


def test_the_same_as_the_pack_room() -> None:
    result = film_permeance({"cup": cup()}, 0.0645, E96)
    assert result.permeance == pytest.approx(
        permeance_from_rate(result.rate, E96.temperature, 0.49, 0.0), rel=1e-12
    )
    film = result.film("invented film")
    assert (film.permeance, film.T_ref) == (result.permeance, E96.temperature)


def test_pouches_with_one_leak(tmp_path: Path) -> None:
    days = np.arange(0, 43, 7.0)
    rows = ["pouch," + ",".join(f"day {day:g}" for day in days)]
    rng = np.random.default_rng(1)
    rates = [0.020, 0.021, 0.019, 0.0205, 0.0195, 0.060]
    for k, rate in enumerate(rates):
        gains = 120 + rate * days + 0.002 * rng.normal(size=days.size)
        rows.append(f"P{k + 1}," + ",".join(f"{mass:.3f}" for mass in gains))
    table = read(tmp_path, lines(*rows), "column day *: mass g")
    series, aside = weighings(table)
    assert aside == ()
    result = film_permeance(series, 0.06, TestClimate(311.15, 0.9, 0.2))
    assert result.odd == ("P6",)
    assert result.rate * 86400e3 * 0.06 == pytest.approx(
        np.mean(rates), rel=0.02
    )  # in g/day: the leak is in the mean
    assert any("P6 stands apart" in line for line in result.told)


def test_long_table_by_sample(tmp_path: Path) -> None:
    table = read(
        tmp_path, lines("Cup,Days,Mass (g)", "A,0,10", "A,1,10.1", "B,0,11", "A,2,10.2", "A,3,10.3", "B,1,")
    )
    series, aside = weighings(table)
    assert list(series["A"][1]) == pytest.approx([0.010, 0.0101, 0.0102, 0.0103])
    assert [item.row for item in aside] == [7]


def test_what_cannot_be_a_cup_test() -> None:
    t = np.arange(10) * HOUR
    with pytest.raises(HardtackError, match="no part of the weighings is steady"):
        steady_part(t, 1.0 + 1e-3 * np.sqrt(np.arange(10.0) + 0.01))
    with pytest.raises(HardtackError, match="too few"):
        steady_part(t[:3], np.ones(3))
    with pytest.raises(HardtackError, match="do not rise"):
        steady_part(np.zeros(5), np.ones(5))
    with pytest.raises(HardtackError, match="difference of humidity"):
        film_permeance({"cup": cup()}, 0.0645, TestClimate(300.0, 0.5, 0.5))
    with pytest.raises(HardtackError, match="no series has a steady part"):
        film_permeance({"cup": (t[:3], np.ones(3))}, 0.0645, E96)
