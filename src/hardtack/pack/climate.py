"""Climates of a leg: constant, with a daily and a yearly swing, or as logged; always as points in time, straight between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.states import Climate, Floats
from hardtack.units import DAY

HOUR = 3600.0
YEAR = 365.25 * DAY


@dataclass(frozen=True, slots=True)
class Swing:
    """A cosine about the mean: `size` is half of highest minus lowest; highest at `peak` [s into period]."""

    size: float
    peak: float
    period: float


@dataclass(frozen=True, slots=True)
class Course:
    """A mean with its swings, on a clock whose zero is midnight (daily) and 1 January (yearly)."""

    mean: float
    swings: tuple[Swing, ...] = ()

    def at(self, clock: Floats) -> Floats:
        """Value at `clock` [s since midnight, 1 January]."""
        total = np.full_like(clock, self.mean)
        for swing in self.swings:
            total = total + swing.size * np.cos(2 * np.pi * (clock - swing.peak) / swing.period)
        return total


def climate_of_courses(
    start: float, duration: float, clock_at_zero: float, temperature: Course, humidity: Course
) -> Climate:
    """Sample the courses every hour; constant courses need only their two ends.

    `start`, `duration` [s] from packing; `clock_at_zero` [s since 1 January, midnight] when packed. Humidity
    is held between 0 and 1.
    """
    swings = temperature.swings or humidity.swings
    n = max(1, int(np.ceil(duration / HOUR - 1e-9))) if swings else 1
    times = start + np.linspace(0.0, duration, n + 1)
    clock = times + clock_at_zero
    return Climate(times, temperature.at(clock), np.clip(humidity.at(clock), 0.0, 1.0))
