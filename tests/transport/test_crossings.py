"""When a layer's mean meets a limit: against a very fine run, in a chain whose inside limits."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.states import Floats
from hardtack.transport.chain import chain
from hardtack.transport.march import Watch, march
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from tests.transport.chains import DAY, T25, sandwich

CUT = chain([sandwich()], 1e-4, (T25, T25))
# crumb dries into shell and cream; then the damp leg wets all
WATCHES = [
    Watch("shell", 0.045, True),
    Watch("crumb", 0.1, False),
    Watch("cream", 0.045, False),
    Watch("shell", 0.09, True),
    Watch("crumb", 0.2, False),
    Watch("shell", 0.9, True),
]


def air(limit: float = np.inf) -> Surroundings:
    legs = [(0.0, 40.0, 0.55), (40.0, 400.0, 0.80)]
    return surroundings(
        [
            Stretch(np.array([t0, t1]) * DAY, np.full(2, 3e-9), np.full(2, a), np.full(2, T25), limit)
            for t0, t1, a in legs
        ]
    )


def fine() -> Floats:
    """Crossings by straight lines through a run of small steps: by the minute at first, then by the hour."""
    times = np.unique(np.r_[np.arange(0, 4 * DAY, 60.0), np.arange(0, 400 * DAY + 1, 3600.0)])
    means = march(CUT, air(), times, tolerance=1e-7).layer_moisture(CUT)
    found = []
    for watch in WATCHES:
        y = (means[:, CUT.names.index(watch.layer)] - watch.moisture) * (1 if watch.rising else -1)
        k = int(np.argmax(y >= 0)) if np.any(y >= 0) else -1
        found.append(
            np.nan if k < 0 else 0.0 if k == 0 else np.interp(0.0, y[k - 1 : k + 1], times[k - 1 : k + 1])
        )
    return np.array(found)


def test_against_a_very_fine_run() -> None:
    exact = fine()
    assert np.all(np.isfinite(exact[:4]))
    assert np.all(exact[:4] > 0)
    for tolerance, rel in ((1e-4, 3e-3), (1e-7, 2e-5)):
        got = march(CUT, air(), np.array([0.0, 400.0]) * DAY, watches=WATCHES, tolerance=tolerance)
        assert got.crossings[:4] == pytest.approx(exact[:4], rel=rel, abs=1.0)
        assert got.crossings[4] == 0.0
        assert np.isnan(got.crossings[5])


def test_watching_changes_nothing() -> None:
    times = np.linspace(0, 400, 21) * DAY
    plain, watched = march(CUT, air(), times), march(CUT, air(), times, watches=WATCHES)
    assert np.array_equal(plain.water, watched.water)
    assert np.array_equal(plain.temperature, watched.temperature)


def test_stops_once_all_have_crossed() -> None:
    times = np.linspace(0, 400, 401) * DAY
    whole = march(CUT, air(), times, watches=WATCHES[:4])
    short = march(CUT, air(), times, watches=WATCHES[:4], stop_when_all_crossed=True)
    last = int(np.searchsorted(times, np.max(whole.crossings)))
    assert short.times[-1] == times[last]
    assert np.array_equal(short.crossings, whole.crossings)
    assert np.array_equal(short.water, whole.water[: last + 1])
    none = march(CUT, air(), times[:3], stop_when_all_crossed=True)
    assert none.times.size == 3


def test_a_moisture_met_at_the_start_counts_from_the_start() -> None:
    exactly = Watch("crumb", float(sandwich().layers[0].moisture), False)
    got = march(CUT, air(), np.array([3.0, 10.0]) * DAY, watches=[exactly])
    assert got.crossings[0] == pytest.approx(3 * DAY, abs=1.0)
