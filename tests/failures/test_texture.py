"""Crispness, drying out and the growth gate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hardtack import reference
from hardtack.failures import crispness, drying_out, growth_gate
from hardtack.failures.texture import Softening, TextureLimit, limit_moisture
from hardtack.states import Crossing, History
from hardtack.water.isotherm import activity, moisture

ISO = replace(reference.isotherm("rusk"), name="rusk")
T = 298.15


def history(activities: np.ndarray, crossings: tuple[Crossing, ...] = ()) -> History:  # type: ignore[type-arg]
    n = activities.size
    return History(
        layers=("rusk",),
        times=np.arange(n) * 86400.0,
        moisture=np.asarray(moisture(ISO, activities, T))[:, None],
        activity=activities[:, None],
        headspace=activities,
        temperature=np.full(n, T),
        humidity=np.full(n, 0.8),
        leg=np.zeros(n, dtype=np.int64),
        crossings=crossings,
        method="lumped",
        resistance_ratio=100.0,
        imbalance=0.0,
        water_gained=np.zeros(n),
        profile=np.zeros((n, 0)),
    )


def test_the_falling_sigmoid() -> None:
    """Y = 1/(1 + exp((a - 0.57)/0.050)) worked by hand; the constants are those of a toasted rusk roll
    (Primo-Martin et al. 2008: 10 % lost at 0.46, 50 % at 0.57)."""
    softening = Softening(0.57, 0.050, 0.5)
    left = crispness.crispness_left(softening, np.array([0.30, 0.40, 0.46, 0.50, 0.57, 0.60, 0.65, 0.70]))
    assert left == pytest.approx([0.996, 0.968, 0.900, 0.802, 0.500, 0.354, 0.168, 0.069], abs=6e-4)


def test_the_activity_at_a_loss_is_not_the_midpoint() -> None:
    """a_f = midpoint + b ln(f/(1-f)): with f = 10 % it is 0.46, the published onset (Primo-Martin et al.
    2008)."""
    assert Softening(0.57, 0.050, 0.10).activity_at_failure == pytest.approx(0.46, abs=1e-3)
    assert Softening(0.57, 0.050, 0.50).activity_at_failure == 0.57


def test_a_limit_of_activity_is_a_limit_of_moisture_at_its_own_temperature() -> None:
    cold = limit_moisture(TextureLimit("rusk", 278.15, activity=0.46), ISO)
    warm = limit_moisture(TextureLimit("rusk", 308.15, activity=0.46), ISO)
    assert cold > warm  # at one activity a colder product holds more water
    assert float(activity(ISO, cold, 278.15)) == pytest.approx(0.46, abs=1e-9)


def test_share_of_life_runs_from_nought_to_one_in_moisture() -> None:
    X_limit = limit_moisture(TextureLimit("rusk", T, activity=0.46), ISO)
    limit = TextureLimit("rusk", T, activity=0.46)
    course = crispness.course(
        history(np.array([0.2, 0.3, 0.46]), (Crossing("rusk", X_limit, True, 2 * 86400.0),)), limit, ISO
    )
    assert course.share[0] == 0.0
    assert course.share[-1] == pytest.approx(1.0, abs=1e-9)
    assert 0 < course.share[1] < 1
    assert course.time == 2 * 86400.0


def test_share_of_life_by_the_sigmoid_is_the_allowed_loss() -> None:
    limit = TextureLimit("rusk", T, softening=Softening(0.57, 0.05, 0.5))
    X_limit = limit_moisture(limit, ISO)
    course = crispness.course(
        history(np.array([0.2, 0.46, 0.57]), (Crossing("rusk", X_limit, True, None),)), limit, ISO
    )
    assert course.share == pytest.approx([0.0, 0.2, 1.0], abs=5e-3)


def test_drying_out_counts_downwards() -> None:
    limit = TextureLimit("rusk", T, moisture=0.05)
    start = float(moisture(ISO, 0.7, T))
    course = drying_out.course(
        history(np.array([0.7, 0.5, 0.4]), (Crossing("rusk", 0.05, False, None),)), limit, ISO
    )
    expected = (start - float(moisture(ISO, 0.5, T))) / (start - 0.05)
    assert course.share[1] == pytest.approx(expected)


def test_the_gate_says_where_nothing_grows_and_who_confirms() -> None:
    """Nothing on record grows below about 0.60 (xerophilic moulds, Banwart 1989, Beuchat 1981)."""
    dry = growth_gate.gate(history(np.array([0.2, 0.45])))
    assert "0.60" in dry.finding
    assert "does not kill" in dry.finding
    assert "local code" in dry.confirm
    damp = growth_gate.gate(history(np.array([0.2, 0.90])))
    assert "high enough for growth" in damp.finding
    assert "safe" not in dry.finding + damp.finding
