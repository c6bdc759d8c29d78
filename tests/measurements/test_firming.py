"""Firming fits: Avrami courses by closed form, several temperatures at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.firming import firming_from, fit_firming
from tests.measurements.files import lines, read

DAY = 86400.0
# Avrami extents, worked out by another hand than this code: (n, k per day, days, extent, half-time), k t^n = (k^(1/n) t)^n
COURSES = [
    (1.0, 0.25, [1, 2, 3, 5, 7, 10], [0.221, 0.393, 0.528, 0.713, 0.826, 0.918], 2.77),
    (0.8, 0.25, [1, 2, 3, 5, 7, 10], [0.221, 0.353, 0.452, 0.596, 0.694, 0.793], 3.58),
    (1.5, 0.10, [1, 2, 3, 5, 7, 10], [0.095, 0.246, 0.405, 0.673, 0.843, 0.958], 3.64),
]


@pytest.mark.parametrize(("n", "k", "days", "extent", "half"), COURSES)
def test_avrami_courses(n: float, k: float, days: list[float], extent: list[float], half: float) -> None:
    t = np.array([0.0, *days])
    E = 5 + 20 * np.array([0.0, *extent])
    found = fit_firming(t * DAY, E, np.full(t.size, 294.15))
    # extents are printed to three places, so the constants come back to about one part in fifty
    assert found.n == pytest.approx(n, rel=0.02)
    assert found.fit["rate"].value == pytest.approx(k ** (1 / n), rel=0.03)
    assert np.log(2) ** (1 / found.n) / found.fit["rate"].value == pytest.approx(half, rel=0.03)
    assert found.fit["final"].value == pytest.approx(25, rel=0.03)


def several(energy: float, noise: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    t = np.tile([0.0, 1, 2, 3, 5, 7, 10], 3)
    T = np.repeat([277.15, 294.15, 303.15], 7)
    k = 0.25 * np.exp(-energy / 8.314462618 * (1 / T - 1 / 294.15))
    E = 5 + 20 * -np.expm1(-k * t) + noise * np.random.default_rng(8).normal(size=21)
    return t * DAY, E, T


def test_colder_is_faster() -> None:
    found = fit_firming(*several(-2.5e4, 0.2))
    assert found.energy is not None
    assert abs(found.energy + 2.5e4) < 3 * (found.fit["energy"].sd or 0)
    crumb = found.firming("crumb", 15.0)
    assert crumb.rate == pytest.approx(found.fit["rate"].value / DAY)
    assert (crumb.temperature, crumb.limit) == (294.15, 15.0)


def test_warmer_and_faster_is_no_firming() -> None:
    found = fit_firming(*several(+2.5e4, 0.2))
    assert any("which bread crumb does not do" in line for line in found.told)
    with pytest.raises(HardtackError, match="no firming"):
        found.firming("crumb", 15.0)


# Time constants of bread crumb's firming, 1/k in days with n = 1, and how loosely they are known: 3.7 at 21 °C, about 1.4
# near 0 to 4 °C, 5 to 8 at 32 to 43 °C. From memory, of the years of Axford and Colwell (1969); no table was seen.
REMEMBERED = {277.15 - 2: (1.4, 1.2, 1.6), 294.15: (3.7, 3.3, 4.1), 310.65: (6.5, 5.0, 8.0)}


@pytest.mark.parametrize("seed", range(5))
def test_remembered_constants_of_bread_lie_on_one_energy(seed: int) -> None:
    # each temperature's readings are made with its own constant, not with an energy; that final firmness is the same at
    # all temperatures and that k falls from -1 to 32 °C is seen: Cornford, Axford and Elton 1964, Cereal Chem. 41:216
    days = np.array([0.0, 1, 2, 3, 4, 6, 8, 12])
    rng = np.random.default_rng(seed)
    t = np.tile(days, 3)
    T = np.repeat(list(REMEMBERED), days.size)
    tau = np.repeat([value for value, _, _ in REMEMBERED.values()], days.size)
    E = 6 + 24 * -np.expm1(-t / tau) + 0.5 * rng.normal(size=t.size)
    found = fit_firming(t * DAY, E, T)
    assert found.n == 1.0  # readings that are n = 1 ask for no other exponent
    assert found.energy is not None
    assert found.energy < 0
    crumb = found.firming("crumb", 20.0)
    for kelvin, (_, low, high) in REMEMBERED.items():
        k = crumb.rate * DAY * np.exp(-found.energy / 8.314462618 * (1 / kelvin - 1 / crumb.temperature))
        assert low <= 1 / k <= high


def test_fresh_and_one_later_day_are_no_course() -> None:
    # seen: Food Sci. Nutr. 2016, 4:636, Table 3 (PMC4930506), control bread: 6.9 N fresh, 33.4 N after 4 days
    with pytest.raises(HardtackError, match="too few days"):
        fit_firming(np.array([0.0, 4.0]) * DAY, np.array([6.9, 33.4]), np.full(2, 298.15))


def test_from_a_file_and_a_short_test(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Days,Firmness (N),Temp (C)",
            "0,5,21",
            "0.2,6.02,21",
            "0.5,7.3,21",
            "1,9.5,21",
            "1.5,11.3,21",
            "2,,21",
        ),
    )
    found, aside = firming_from(table)
    assert [item.row for item in aside] == [7]
    assert found.energy is None
    if np.log(2) / found.fit["rate"].value > 1.5:
        assert any("ended before half" in line for line in found.told)
    with pytest.raises(HardtackError, match="too few days"):
        fit_firming(np.zeros(3), np.ones(3), np.full(3, 294.15))
    with pytest.raises(HardtackError, match="does not rise"):
        fit_firming(np.arange(6) * DAY, 20 - np.arange(6.0), np.full(6, 294.15))
