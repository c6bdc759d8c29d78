"""Crispness limit: the falling sigmoid, found again, with its error."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.crispness import crispness_from, crispness_limit
from tests.measurements.files import lines, read

# Toasted rusk roll: 10 % of the crispness lost at activity 0.46, 50 % at 0.57 (Primo-Martín et al. 2008, Food Res. Int.
# 41:480), so steepness (0.57 - 0.46) / ln 9 = 0.0501
RUSK = (0.57, 0.0501)
ACTIVITY = np.repeat([0.113, 0.225, 0.328, 0.432, 0.529, 0.576, 0.654, 0.753], 10)


def fermi(a: np.ndarray, top: float = 30.0, wet: float = 0.0) -> np.ndarray:
    return wet + (top - wet) / (1 + np.exp((a - RUSK[0]) / RUSK[1]))


def test_both_published_losses_of_the_rusk_come_back() -> None:
    for loss, a in ((0.1, 0.46), (0.5, 0.57)):
        found = crispness_limit(ACTIVITY, fermi(ACTIVITY), loss)
        assert found.activity == pytest.approx(a, abs=1e-3)
        assert found.softening.activity_at_failure == pytest.approx(found.activity)


def test_a_residue_is_found_when_there_is_one() -> None:
    noisy = fermi(ACTIVITY, wet=6.0) + 0.5 * np.random.default_rng(2).normal(size=80)
    found = crispness_limit(ACTIVITY, noisy, 0.3)
    wet = found.fit["Y_wet"]
    assert wet.low is not None
    assert wet.high is not None
    assert wet.low < 6.0 < wet.high
    assert abs(found.activity - (0.57 + 0.0501 * np.log(0.3 / 0.7))) < 3 * found.sd


def test_from_a_file_with_pieces_broken_before_the_test(tmp_path: Path) -> None:
    rows = ["aw,Force 1 (N),Force 2 (N)"]
    for k, a in enumerate([0.113, 0.225, 0.328, 0.432, 0.529, 0.576, 0.654, 0.753]):
        second = "broken" if k == 1 else f"{float(fermi(np.array(a))) * 0.97:.2f}"
        rows.append(f"{a},{float(fermi(np.array(a))) * 1.03:.2f},{second}")
    found, aside = crispness_from(read(tmp_path, lines(*rows)), 0.3)
    assert found.activity == pytest.approx(0.527, abs=0.01)
    assert len(aside) == 1
    text = "\n".join(found.told)
    assert "Measured from activity 0.11 to 0.75" in text


def test_limits_outside_the_measured_activities_are_told() -> None:
    a = np.repeat([0.45, 0.5, 0.55, 0.6, 0.65], 4)
    found = crispness_limit(a, fermi(a) + 0.1 * np.random.default_rng(0).normal(size=20), 0.05)
    assert any("an extrapolation" in line for line in found.told)
    assert any("dry plateau" in line for line in found.told)


def test_what_is_no_softening(tmp_path: Path) -> None:
    with pytest.raises(HardtackError, match="does not fall"):
        crispness_limit(ACTIVITY, 30 - fermi(ACTIVITY) + 1, 0.3)
    with pytest.raises(HardtackError, match=r"a failing loss of 1\.5"):
        crispness_limit(ACTIVITY, fermi(ACTIVITY), 1.5)
    with pytest.raises(HardtackError, match="found none"):
        crispness_from(read(tmp_path, lines("aw,moisture % wb", "0.3,4")), 0.3)
