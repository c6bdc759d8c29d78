"""Between the branches."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.water.isotherm import activity, moisture, slope
from hardtack.water.scanning import scanning_isotherm

T = 298.15
WET, DRY = reference.isotherm("rice starch"), reference.isotherm("rice starch, desorption")
"""Published GAB constants of both branches of one starch, from the shelf."""


@pytest.mark.parametrize("a", [0.2, 0.4, 0.6])
@pytest.mark.parametrize("place", [0.05, 0.5, 1.0])
def test_the_path_passes_the_point_rises_and_stays_between_the_branches(a: float, place: float) -> None:
    low, high = float(moisture(WET, a, T)), float(moisture(DRY, a, T))
    X = low + place * (high - low)
    path = scanning_isotherm(WET, DRY, a, X, T)
    assert float(activity(path, X, T)) == pytest.approx(a, abs=1e-6)
    grid = np.linspace(0.05, 0.9, 60)
    between = np.asarray(moisture(path, grid, T))
    assert np.all(np.diff(between) > 0)
    slack = 2e-3 * high
    assert np.all(between >= np.asarray(moisture(WET, grid, T)) - slack)
    assert np.all(between <= np.asarray(moisture(DRY, grid, T)) + slack)


def test_a_piece_on_the_drying_branch_takes_up_little_at_first() -> None:
    """Just after the turn the slope is gamma times the drying branch's: less water for the same step of activity
    than on either branch, which is what a scanning loop is."""
    X = float(moisture(DRY, 0.3, T))
    path = scanning_isotherm(WET, DRY, 0.3, X, T)
    first = (float(moisture(path, 0.32, T)) - X) / 0.02
    assert first < 0.35 * float(slope(WET, 0.31, T))


def test_wetting_far_ends_on_the_wetting_branch() -> None:
    path = scanning_isotherm(WET, DRY, 0.15, float(moisture(DRY, 0.15, T)), T)
    gap = float(moisture(DRY, 0.85, T)) - float(moisture(WET, 0.85, T))
    assert float(moisture(path, 0.85, T)) - float(moisture(WET, 0.85, T)) < 0.25 * gap


def test_a_point_outside_the_loop_is_refused() -> None:
    with pytest.raises(HardtackError, match="between the branches"):
        scanning_isotherm(WET, DRY, 0.4, 3 * float(moisture(DRY, 0.4, T)), T)
