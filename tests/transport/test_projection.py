"""Steps that span many pieces of air against steps that resolve every one."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.states import Floats, IsostericHeat, Piece
from hardtack.transport.chain import chain
from hardtack.transport.march import march
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme
from hardtack.transport.surroundings import Stretch, surroundings
from hardtack.water.air import GAS_CONSTANT, saturation_pressure
from hardtack.water.isotherm import activity
from tests.transport.chains import DAY, T25, sandwich

HOURS = np.arange(0, 365 * 24 + 1) * 3600.0
DAYS = np.arange(0, 366) * DAY


def layer_activity(piece: Piece, means: Floats, T: float) -> Floats:
    """Layer means shown as activity."""
    return np.stack(
        [np.asarray(activity(layer.isotherm, means[:, k], T)) for k, layer in enumerate(piece.layers)], axis=1
    )


def weather(rng: np.random.Generator) -> Floats:
    """Invented hourly humidity: season, day, noise, and a few long wet spells that begin and end at once."""
    season = 0.08 * np.sin(2 * np.pi * HOURS / (365 * DAY))
    daily = 0.12 * np.sin(2 * np.pi * HOURS / DAY)
    wet = np.where((HOURS // (20 * DAY)) % 4 == 1, 0.1, 0.0)
    return np.clip(0.55 + season + daily + wet + 0.04 * rng.standard_normal(HOURS.size), 0.05, 0.98)


@pytest.mark.parametrize("g", [4e-10, 3e-9], ids=["year pack", "two-month pack"])
def test_hourly_humidity_in_long_steps(g: float) -> None:
    """Against every hour resolved: steps of a day to 1e-4, of six hours to 1e-5 once the layers have met."""
    piece, humidity = sandwich(), weather(np.random.default_rng(7))
    cut = chain([piece], 1e-4, (T25, T25))

    def go(limit: float, tolerance: float = 1e-4, scheme: Scheme = RODAS3) -> tuple[Floats, int]:
        film = np.full(HOURS.size, g)
        air = surroundings([Stretch(HOURS, film, humidity, np.full(HOURS.size, T25), limit)])
        run = march(cut, air, DAYS, tolerance=tolerance, scheme=scheme)
        return layer_activity(piece, run.layer_moisture(cut), T25), run.steps

    exact, resolved = go(0.0, 1e-6, RODAS4)
    assert np.ptp(exact, axis=0).min() > 0.02
    by_day, few = go(DAY)
    by_quarter, more = go(DAY / 4)
    assert few < 500 < more < 1600 < 8000 < resolved
    assert np.abs(by_day - exact).max() <= 1e-4
    assert np.abs(by_quarter - exact)[30:].max() <= 1e-5
    assert np.abs(by_quarter - exact).max() <= 2e-5


def test_projection_keeps_mean_and_first_moment() -> None:
    """Into a room so large that its activity stands still comes the integral of g (a_out - a), whatever the step."""
    humidity = weather(np.random.default_rng(1))
    g = 1e-9 * (1 + 0.5 * np.sin(2 * np.pi * HOURS / DAY + 1.0))
    cut = chain([sandwich()], 1e3, (T25, T25))
    air = surroundings([Stretch(HOURS, g, humidity, np.full(HOURS.size, T25), np.inf)])
    run = march(cut, air, np.array([0.0, 2.3, 30.0, 30.5, 300.0]) * DAY)
    assert np.ptp(run.activity[:, -1]) < 6e-4
    for t0, t1, came in zip(run.times[:-1], run.times[1:], np.diff(run.inflow), strict=True):
        t = np.r_[t0, HOURS[(t0 < HOURS) & (t1 > HOURS)], t1]
        b, film = np.interp(t, HOURS, g * humidity), np.interp(t, HOURS, g)
        whole = np.trapezoid(b, t) - run.activity[0, -1] * np.trapezoid(film, t)
        assert came == pytest.approx(whole, abs=6e-4 * np.trapezoid(film, t))


def test_container_swinging_by_the_day() -> None:
    """15 to 45 degC every day at one vapour pressure, a pack of two months, three months on the way.

    Resolved, the layers are right to 2.5e-5 at the default tolerance. Steps over spells of like temperature do here without
    one attempt in four; where their local error would ask for less than an hour, hours are resolved.
    """
    hours = HOURS[: 90 * 24 + 1]
    T = 303.15 + 15.0 * np.sin(2 * np.pi * hours / DAY)
    p = saturation_pressure(T)
    humidity = 0.9 * float(p.min()) / p
    g = 1.2e-12 * p * np.exp(-30e3 / GAS_CONSTANT * (1 / T - 1 / T25))
    piece = sandwich(heat=IsostericHeat(6000.0, 0.1))
    cut = chain([piece], 1e-4, (float(T.min()), float(T.max())))

    def go(limit: float, tolerance: float, scheme: Scheme = RODAS3) -> tuple[Floats, int]:
        run = march(
            cut,
            surroundings([Stretch(hours, g, humidity, T, limit)]),
            DAYS[:91],
            tolerance=tolerance,
            scheme=scheme,
        )
        return layer_activity(piece, run.layer_moisture(cut), 303.15), run.attempts

    exact, _ = go(0.0, 1e-7, RODAS4)
    resolved, attempts = go(0.0, 1e-4)
    assert np.abs(resolved - exact).max() < 4e-5
    for limit in (DAY, DAY / 3):
        spanning, fewer = go(limit, 1e-4)
        assert fewer < attempts
        assert np.abs(spanning - exact).max() < 4e-4
