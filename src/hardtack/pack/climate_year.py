"""A year's climate, month by month or hour by hour, laid along a leg that begins on some day of the year."""

from __future__ import annotations

import math

import numpy as np

from hardtack.pack.climate import HOUR, YEAR
from hardtack.product.weather import WeatherRecord
from hardtack.states import Climate, Floats
from hardtack.units import DAY

LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
YEAR_OF_HOURS = 8760 * HOUR
"""A weather file's year: 365 days; a leg longer than that goes round it again."""


def year_by_months(
    start: float,
    duration: float,
    clock_at_zero: float,
    temperature: Floats,
    humidity: Floats,
    swing: float,
    humidity_swing: float,
    peak: float,
) -> Climate:
    """The climate of a leg from twelve monthly means of T [K] and RH.

    Between the middles of the months the means run straight (so a month's own mean is kept within a little), and the
    day swings about them by a cosine with its highest at `peak` [s after midnight]. Sampled every hour when there is a
    daily swing, else every day. `clock_at_zero` [s since 1 January] is the moment of packing.
    """
    step = HOUR if swing or humidity_swing else DAY
    n = max(1, math.ceil(duration / step - 1e-9))
    times = start + np.linspace(0.0, duration, n + 1)
    clock = times + clock_at_zero
    day = np.cos(2 * np.pi * (clock - peak) / DAY)
    return Climate(
        times,
        _monthly(clock, temperature) + swing * day,
        np.clip(_monthly(clock, humidity) + humidity_swing * day, 0.0, 1.0),
    )


def _monthly(clock: Floats, means: Floats) -> Floats:
    ends = np.cumsum(LENGTHS)
    middles = (ends - np.array(LENGTHS) / 2) * DAY * (YEAR / (365 * DAY))
    return np.interp(clock, middles, means, period=YEAR)


def year_by_hours(start: float, duration: float, clock_at_zero: float, record: WeatherRecord) -> Climate:
    """The climate of a leg from a weather file; an hour's value holds at its end, straight between."""
    n = max(1, math.ceil(duration / HOUR - 1e-9))
    times = start + np.linspace(0.0, duration, n + 1)
    at = (np.arange(record.temperature.size) + 1.0) * HOUR
    clock = times + clock_at_zero
    return Climate(
        times,
        np.interp(clock, at, record.temperature, period=YEAR_OF_HOURS),
        np.interp(clock, at, record.humidity, period=YEAR_OF_HOURS),
    )
