"""A measured table: the monotone cubic through its points.

The points are (activity, moisture [kg/kg dry]) and stand where the other forms have constants. The origin is
added as a point. Slopes at the points by Fritsch and Butland (1984), SIAM J. Sci. Stat. Comput. 5:300, ends
by the three-point rule, so the curve rises wherever the points do. Beyond the last point it runs on straight;
that is outside the measured range and `isotherm.in_range` says so.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.isotherms.inverse import invert

PARAMETERS: tuple[str, ...] = ()

Points = tuple[tuple[float, float], ...]

_FEWEST = 4


def moisture(a: Numbers, points: Points) -> Numbers:
    """X [kg/kg dry] at water activity a, 0..1."""
    knots, values, slopes = _curve(points)
    i, t, h = _place(a, knots)
    secant = values[i + 1] - values[i]
    left, right = h * slopes[i], h * slopes[i + 1]
    inside = values[i] + t * (left + t * ((3 * secant - 2 * left - right) + t * (left + right - 2 * secant)))
    beyond = values[-1] + slopes[-1] * (a - knots[-1])
    return _plain(np.where(t > 1, beyond, inside))


def slope(a: Numbers, points: Points) -> Numbers:
    """dX/da [kg/kg dry]."""
    knots, values, slopes = _curve(points)
    i, t, h = _place(a, knots)
    secant = values[i + 1] - values[i]
    left, right = h * slopes[i], h * slopes[i + 1]
    inside = (left + t * (2 * (3 * secant - 2 * left - right) + t * 3 * (left + right - 2 * secant))) / h
    return _plain(np.where(t > 1, slopes[-1], inside))


def activity(X: Numbers, points: Points) -> Numbers:
    """Water activity at X [kg/kg dry], by bracketed Newton steps within the interval that holds X."""
    knots, values, slopes = _curve(points)
    i = np.clip(np.searchsorted(values, X, side="right") - 1, 0, len(knots) - 2)
    inside = invert(
        lambda a: (moisture(a, points), slope(a, points)),
        np.minimum(X, values[-1]),
        knots[i],
        knots[i + 1],
    )
    beyond = knots[-1] + (X - values[-1]) / slopes[-1]
    return _plain(np.where(np.greater(X, values[-1]), beyond, inside))


@lru_cache(maxsize=64)
def check(points: Points) -> None:
    """Raise `HardtackError` unless there are at least four points, each wetter than the one before."""
    if len(points) < _FEWEST:
        raise HardtackError(
            f"a table of {len(points)} points says too little about an isotherm",
            f"give at least {_FEWEST} pairs of activity and moisture, or choose a form with constants",
        )
    a = np.array([0.0, *(point[0] for point in points if point[0] != 0.0)])
    X = np.array([0.0, *(point[1] for point in points if point[0] != 0.0)])
    if any(point[0] == 0.0 and point[1] != 0.0 for point in points):
        raise HardtackError(
            "the table holds water at activity 0",
            "on dry basis moisture is zero at activity zero: drop that row or correct the dry mass",
        )
    if not (np.all(np.isfinite(a)) and np.all(np.isfinite(X))):
        raise HardtackError("a point of the table is not finite", "give both numbers of every row as numbers")
    if a.min() < 0 or a.max() >= 1:
        raise HardtackError(
            "an activity in the table is not between 0 and 1",
            "write activities as fractions below 1, such as 0.33",
        )
    for j in range(1, len(a)):
        if a[j] <= a[j - 1] or X[j] <= X[j - 1]:
            raise HardtackError(
                f"the table does not rise at activity {a[j]:g}, moisture {X[j]:g}",
                "sort the rows by activity and average repeats; moisture must rise with activity",
            )


def limit(points: Points) -> Numbers:
    """Largest activity it can be evaluated at: 1."""
    return 1.0


def _plain(numbers: Floats) -> Numbers:
    scalar_or_array: Numbers = numbers[()]
    return scalar_or_array


def _place(a: Numbers, knots: Floats) -> tuple[np.ndarray, Floats, Floats]:
    """Interval, place within it (0..1) and width of the interval."""
    i = np.clip(np.searchsorted(knots, a, side="right") - 1, 0, len(knots) - 2)
    h = knots[i + 1] - knots[i]
    return i, np.asarray((a - knots[i]) / h), h


@lru_cache(maxsize=64)
def _curve(points: Points) -> tuple[Floats, Floats, Floats]:
    """Knots, values and slopes of the monotone cubic."""
    check(points)
    wet = [point for point in points if point[0] != 0.0]
    a, X = np.array([(0.0, 0.0), *wet]).T
    h = np.diff(a)
    secant = np.diff(X) / h
    slopes = np.empty(len(a))
    w1, w2 = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    slopes[1:-1] = (w1 + w2) / (w1 / secant[:-1] + w2 / secant[1:])
    slopes[0] = _end_slope(h[0], h[1], secant[0], secant[1])
    slopes[-1] = _end_slope(h[-1], h[-2], secant[-1], secant[-2])
    return a, X, slopes


def _end_slope(h0: float, h1: float, s0: float, s1: float) -> float:
    """Three-point slope at an end; the secant where that would not rise, lest the end lose its inverse."""
    three_point = ((2 * h0 + h1) * s0 - h0 * s1) / (h0 + h1)
    return three_point if three_point > 0 else s0
