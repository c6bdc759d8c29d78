"""The split of sodium bicarbonate by heat: published laws, each with its range.

The laws are of the dry solid. In a dough the cells hold carbon dioxide, so the law measured under high carbon
dioxide is the one to take for a crumb (`IN_CELL`); in flowing nitrogen the same solid splits sooner. They
agree with one another to a factor of about three where they overlap, no better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import Row, lookup, rows
from hardtack.states import Floats
from hardtack.units import celsius
from hardtack.water.air import GAS_CONSTANT

TOPIC = "soda decomposition"
IN_CELL = "Ball, high carbon dioxide"
"""The law for soda in the closed cells of a dough: decomposition held back by the carbon dioxide around it.
"""
OPEN_CRUMB = ("Wu and Shih", "Ball, nitrogen")
"""The laws for soda that dries in an open crumb, its carbon dioxide swept away: measured in flowing nitrogen."""
FORMS = ("first order", "contracting cube")


@dataclass(frozen=True, slots=True)
class Decomposed:
    """How far soda split by heat: `extent` 0..1 at each of `times` [s], by the named `law`.

    `outside` is the share of the reduced time gathered outside the temperatures of the measurements: above a
    tenth or so, the extent is a guess.
    """

    law: str
    times: Floats
    extent: Floats
    outside: float
    valid: str
    source: str


def laws() -> tuple[str, ...]:
    """The names of the laws that can be evaluated."""
    return tuple(row.name for row in rows(TOPIC) if row.form in FORMS and "A" in row.values)


def rate(law: str, T: float) -> float:
    """Rate constant k = A exp(-E / R T) [1/s] at T [K].

    Raises `NotOnShelf` for an unknown law and `HardtackError` for one that is only kept for comparison.
    """
    return float(_rates(_law(law), np.array([T]))[0])


def covers(law: str, T: float) -> bool:
    """Whether T [K] lies in the temperatures the law was measured at."""
    low, high = _range(lookup(TOPIC, law))
    return low <= T <= high


def extent(law: str, T: float, duration: float) -> float:
    """Share of dry soda split after `duration` [s] held at T [K], also where the law does not cover T.

    Raises as `rate` does.
    """
    if not duration >= 0:
        raise HardtackError("a time cannot be negative", "give seconds, zero or more")
    row = _law(law)
    return float(_extent_from(row.form, _rates(row, np.array([T])) * duration)[0])


def decomposition(law: str, times: Floats, temperatures: Floats) -> Decomposed:
    """Share of dry soda split over a course of temperature [K] given at rising `times` [s], straight between.

    The reduced time (integral of k dt) is taken by Simpson's rule on steps of at most a 1000th of the course
    and 1 K. Raises `HardtackError` when the course is not one, and as `rate` does.
    """
    row = _law(law)
    times, temperatures = np.asarray(times, dtype=float), np.asarray(temperatures, dtype=float)
    if times.ndim != 1 or times.size < 2 or times.shape != temperatures.shape or np.any(np.diff(times) <= 0):
        raise HardtackError(
            "the course of temperature needs two or more rising times, each with its temperature",
            "give times in seconds and temperatures in kelvin, equally many",
        )
    fine = _fine(times, temperatures)
    course = np.interp(fine, times, temperatures)
    middle = (course[1:] + course[:-1]) / 2.0
    k = _rates(row, course)
    steps = np.diff(fine) * (k[1:] + 4.0 * _rates(row, middle) + k[:-1]) / 6.0
    reduced = np.concatenate(([0.0], np.cumsum(steps)))
    low, high = _range(row)
    inside = float(np.sum(steps[(middle >= low) & (middle <= high)]))
    return Decomposed(
        row.name,
        times,
        _extent_from(row.form, np.interp(times, fine, reduced)),
        1.0 - inside / float(reduced[-1]) if reduced[-1] > 0 else 1.0,
        f"{celsius(low):.0f} to {celsius(high):.0f} degC; {row.conditions}",
        row.source.citation,
    )


def _fine(times: Floats, temperatures: Floats) -> Floats:
    """The times, a thousand even steps, and steps of at most 1 K."""
    climbed = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(temperatures)))))
    by_kelvin = np.interp(np.linspace(0.0, climbed[-1], int(climbed[-1]) + 2), climbed, times)
    fine: Floats = np.unique(np.concatenate((times, np.linspace(times[0], times[-1], 1001), by_kelvin)))
    return fine


def _law(name: str) -> Row:
    row = lookup(TOPIC, name)
    if row.name not in laws():
        raise HardtackError(
            f"the law of {row.name} cannot be evaluated: {row.note}", f"take one of: {'; '.join(laws())}"
        )
    return row


def _rates(row: Row, T: Floats) -> Floats:
    if not np.all(T > 0):
        raise HardtackError("a temperature in kelvin is above zero", "add 273.15 to degrees Celsius")
    k: Floats = row["A"] * np.exp(-row["E"] / (GAS_CONSTANT * T))
    return k


def _extent_from(form: str, reduced: Floats) -> Floats:
    if form == "first order":
        return -np.expm1(-reduced)
    left: Floats = np.maximum(0.0, 1.0 - reduced) ** 3
    return 1.0 - left


def _range(row: Row) -> tuple[float, float]:
    span = row.values["range"]
    return float(span.low or span.value), float(span.high or span.value)
