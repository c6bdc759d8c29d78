"""Histories thinned for drawing: bins that keep the lowest, the mean and the highest of each series."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.statement import KeepingStatement
from hardtack.states import Floats
from hardtack.units import DAY

MOST_BINS = 500
HOUR = 3600.0
SWINGS_READABLE = 14 * DAY
"""Up to here daily swings are drawn as they are; beyond, a day is drawn as its mean and its extremes."""


@dataclass(frozen=True, slots=True)
class Course:
    """A series over bins: `times` [s] of the bins' middles, and lowest, mean and highest in each bin."""

    times: Floats
    low: Floats
    mean: Floats
    high: Floats


def drawn_end(statement: KeepingStatement) -> float:
    """Where the axis of days ends [s]: with the statement, or with the first day when that is later."""
    return max(statement.end, min(DAY, float(statement.history.times[-1])), HOUR)


def leg_spans(statement: KeepingStatement, end: float) -> list[tuple[float, float]]:
    """Start and end [s] of each leg that a picture drawn to `end` [s] reaches."""
    spans = [(leg.start, min(leg.end, end)) for leg in statement.journey.legs if leg.start < end]
    return [span for span in spans if span[1] > span[0]]


def leg_edges(start: float, end: float, span: float) -> Floats:
    """Bin edges of one leg of a journey drawn over `span` [s]: whole days once daily swings would smear."""
    width = span / MOST_BINS
    if span > SWINGS_READABLE:
        width = math.ceil(width / DAY) * DAY
    return np.linspace(start, end, max(1, math.ceil((end - start) / width - 1e-9)) + 1)


def binned(times: Floats, values: Floats, edges: Floats) -> Course:
    """A series, straight between its points, over the bins between `edges` (each above zero wide).

    The mean is the time average, whatever the spacing of the points; lowest and highest keep every point.
    """
    inside = times[(times > edges[0]) & (times < edges[-1])]
    t = np.unique(np.concatenate([edges, inside]))
    v = np.interp(t, times, values)
    at = np.searchsorted(t, edges)
    area = np.r_[0.0, np.cumsum(np.diff(t) * (v[1:] + v[:-1]) / 2)]
    last = v[at[1:]]
    return Course(
        times=(edges[1:] + edges[:-1]) / 2,
        low=np.minimum(np.minimum.reduceat(v, at[:-1])[: last.size], last),
        mean=np.diff(area[at]) / np.diff(edges),
        high=np.maximum(np.maximum.reduceat(v, at[:-1])[: last.size], last),
    )


def inside_course(statement: KeepingStatement, values: Floats) -> Course:
    """A series over the history's times as drawn: point by point, or in bins when the points are too many.

    The first and the last value are exact either way.
    """
    known = statement.history.times
    end = min(drawn_end(statement), float(known[-1]))
    times = np.unique(np.r_[0.0, known[(known > 0.0) & (known < end)], end])
    v = np.interp(times, known, values)
    if times.size <= MOST_BINS:
        return Course(times, v, v, v)
    course = binned(times, v, np.linspace(0.0, end, MOST_BINS + 1))
    return Course(
        np.r_[0.0, course.times, end],
        np.r_[v[0], course.low, v[-1]],
        np.r_[v[0], course.mean, v[-1]],
        np.r_[v[0], course.high, v[-1]],
    )


def climate_courses(statement: KeepingStatement) -> list[tuple[Course, Course]]:
    """Temperature [K] and humidity of the outside air, one pair a leg, drawn out to the leg's ends."""
    end = drawn_end(statement)
    pairs = []
    for leg, (start, stop) in zip(statement.journey.legs, leg_spans(statement, end), strict=False):
        edges = leg_edges(start, stop, end)
        climate = leg.climate
        pairs.append(
            (
                _to_the_ends(binned(climate.times, climate.temperature, edges), edges),
                _to_the_ends(binned(climate.times, climate.humidity, edges), edges),
            )
        )
    return pairs


def _to_the_ends(course: Course, edges: Floats) -> Course:
    times = np.r_[edges[0], course.times, edges[-1]]
    return Course(times, *(np.r_[v[0], v, v[-1]] for v in (course.low, course.mean, course.high)))
