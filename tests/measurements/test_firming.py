"""Firming fits: Avrami courses by closed form, several temperatures at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from hardtack.errors import HardtackError
from hardtack.measurements.firming import FirmingResult, avrami, firming_from, fit_firming
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


# Hardness of loaf bread by days in the store, mean and standard deviation as printed: Huh and Shim 2019, Korean J. Food
# Preservation 26:17, table 4 (ekosfop.or.kr, download_excel, kjfp-26-1-17 T4); in kg, as table 5 of the same authors
# (kjfp-24-6-764) prints the first day's. The store's temperature was not seen: with one temperature it does not count.
LOAVES = {
    "control": ([5.54, 5.96, 8.10, 8.15, 8.84, 10.30], [0.81, 0.46, 0.68, 0.31, 0.72, 0.41]),
    "CE0": ([3.31, 4.56, 6.62, 7.05, 7.44, 7.68], [0.28, 0.30, 0.42, 0.59, 0.34, 0.78]),
    "CE25": ([3.58, 4.95, 6.70, 6.87, 7.52, 7.83], [0.49, 0.58, 0.48, 0.41, 0.57, 0.42]),
    "CE50": ([4.55, 5.56, 6.82, 7.88, 8.41, 11.12], [0.53, 0.82, 0.38, 0.69, 0.94, 0.59]),
    "CE75": ([6.09, 8.32, 8.54, 9.54, 12.20, 12.42], [0.45, 0.36, 0.36, 0.56, 0.47, 0.47]),
    "CE100": ([6.92, 9.10, 10.10, 11.80, 13.24, 15.13], [0.78, 0.57, 0.40, 0.68, 0.62, 0.97]),
}
STANDARD_GRAVITY = 9.80665


def published(loaf: str, tmp_path: Path) -> tuple[FirmingResult, np.ndarray, np.ndarray]:
    """The fit from a file as a texture analyser writes it, the readings and their standard deviations [N]."""
    mean, sd = LOAVES[loaf]
    rows = [f"{day},{kg}" for day, kg in enumerate(mean)]
    text = "\n".join(["Storage time (days),Hardness (kg)", *rows]) + "\n"
    found, aside = firming_from(read(tmp_path, text), 293.15)
    assert not aside
    return found, np.array(mean) * STANDARD_GRAVITY, np.array(sd) * STANDARD_GRAVITY


@pytest.mark.parametrize("loaf", LOAVES)
def test_published_loaves_firm_by_the_law_within_their_spread(loaf: str, tmp_path: Path) -> None:
    """Every one of 36 printed means lies within two of its printed standard deviations of the fitted course."""
    found, E, sd = published(loaf, tmp_path)
    course = avrami(found.fit.values, np.arange(6.0), 293.15, 293.15)
    assert np.all(np.abs(course - E) < 2 * sd)
    assert found.n == 1.0


@pytest.mark.parametrize("loaf", ["CE0", "CE25"])
def test_published_loaves_that_level_off_give_their_end(loaf: str, tmp_path: Path) -> None:
    """Beside scipy's own least squares on the same law."""
    found, E, _ = published(loaf, tmp_path)

    def law(t: np.ndarray, fresh: float, final: float, rate: float) -> np.ndarray:
        return fresh + (final - fresh) * -np.expm1(-rate * t)

    theirs, _ = curve_fit(law, np.arange(6.0), E, p0=(E[0], E[-1], 0.5))
    mine = [found.fit[name].value for name in ("fresh", "final", "rate")]
    assert mine == pytest.approx(theirs, rel=1e-4)
    assert not found.fit.weak


@pytest.mark.parametrize("loaf", ["control", "CE50", "CE75", "CE100"])
def test_published_loaves_still_rising_say_that_their_end_is_not_known(loaf: str, tmp_path: Path) -> None:
    found, _, _ = published(loaf, tmp_path)
    assert any("extrapolation" in line for line in found.told)
    assert any("final is known no better" in doubt for doubt in found.fit.weak)
