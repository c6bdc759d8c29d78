"""Mould-free days: the published lines come back, packs still free of mould count, nothing is said outside."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.mould import CAUTION, fit_mould, mould_from
from hardtack.reference import rows as shelf_rows
from tests.measurements.files import lines, read

DAY = 86400.0


def test_the_published_line_comes_back() -> None:
    # log10 days = 7.91 - 0.081 ERH at 21 degC, cakes (Cauvain and Seiler; on the shelf)
    row = next(row for row in shelf_rows("mould-free lines") if row.name == "21 degC")
    a = np.repeat([0.75, 0.78, 0.81, 0.84, 0.87, 0.90], 3)
    jitter = np.tile([-0.05, 0.0, 0.05], 6)
    d = 10 ** (row["intercept"] - row["slope"] * 100 * a + jitter)
    found = fit_mould(a, np.full(a.size, 294.15), d * DAY, np.zeros(a.size, dtype=bool))
    by_name = {estimate.name: estimate for estimate in found.estimates}
    assert by_name["per_humidity"].value == pytest.approx(row["slope"], rel=1e-6)
    # 27 days at 80 % ERH, 10.6 at 85, 4.2 at 90: worked out from the line by another hand
    assert [found.days(x, 294.15).value for x in (0.80, 0.85, 0.90)] == pytest.approx(
        [27, 10.6, 4.2], rel=0.02
    )
    assert CAUTION in found.told


def test_without_censoring_it_is_plain_regression() -> None:
    rng = np.random.default_rng(3)
    a = np.linspace(0.75, 0.90, 14)
    y = 7.91 - 8.1 * a + 0.08 * rng.normal(size=14)
    found = fit_mould(a, np.full(14, 294.15), 10**y * DAY, np.zeros(14, dtype=bool))
    slope = np.polyfit(100 * a, y, 1)[0]
    by_name = {estimate.name: estimate for estimate in found.estimates}
    assert -by_name["per_humidity"].value == pytest.approx(slope, rel=1e-5)
    residual = y - np.polyval(np.polyfit(a, y, 1), a)
    assert by_name["scatter"].value == pytest.approx(
        np.sqrt(np.mean(residual**2)), rel=1e-4
    )  # maximum likelihood: /n


def test_packs_still_free_of_mould_are_not_thrown_away() -> None:
    rng = np.random.default_rng(5)
    a = np.repeat([0.76, 0.80, 0.84, 0.88], 25)
    d = 10 ** (7.91 - 8.1 * a + 0.10 * rng.normal(size=100))
    free = d > 30
    seen = np.minimum(d, 30)
    kept = fit_mould(a, np.full(100, 294.15), seen * DAY, free)
    dropped = fit_mould(a[~free], np.full(int((~free).sum()), 294.15), seen[~free] * DAY, free[~free])
    truth = 10 ** (7.91 - 8.1 * 0.80)
    assert abs(np.log(kept.days(0.80, 294.15).value / truth)) < 0.06
    assert kept.days(0.80, 294.15).value > dropped.days(0.80, 294.15).value * 1.02


def test_two_temperatures_from_a_file(tmp_path: Path) -> None:
    rows = ["aw,Temp (C),Days to mould"]
    for T in (21, 27):
        for a in (0.76, 0.80, 0.84, 0.88):
            for jitter in (-0.04, 0.04):
                d = 10 ** (7.91 - 8.1 * a - 0.03 * (T - 21) + jitter)
                rows.append(f"{a},{T}," + (">60" if d > 60 else f"{d:.1f}"))
    rows += ["0.88,27,<1", "0.80,,20"]
    found, aside = mould_from(read(tmp_path, lines(*rows)))
    assert [item.row for item in aside] == [18, 19]
    by_name = {estimate.name: estimate for estimate in found.estimates}
    assert by_name["per_kelvin"].value == pytest.approx(0.03, rel=0.1)
    with pytest.raises(HardtackError, match="outside the test"):
        found.days(0.95, 294.15)
    with pytest.raises(HardtackError, match="outside the test"):
        found.days(0.80, 278.15)


def test_too_little_mould() -> None:
    a = np.array([0.76, 0.80, 0.84, 0.88, 0.88])
    with pytest.raises(HardtackError, match="2 packs moulded"):
        fit_mould(a, np.full(5, 294.15), np.full(5, 30 * DAY), np.array([True, True, True, False, False]))
    with pytest.raises(HardtackError, match="one activity"):
        fit_mould(np.full(6, 0.8), np.full(6, 294.15), np.linspace(10, 20, 6) * DAY, np.zeros(6, dtype=bool))
