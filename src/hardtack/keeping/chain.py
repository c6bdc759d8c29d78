"""The causal chain in one sentence of trade words: who feeds whom, through what, and what comes of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hardtack.failures.names import (
    ACCEPTANCE,
    CHECKING,
    COLOUR,
    CRISPNESS,
    CRUST,
    DRYING_OUT,
    FERMENTATION,
    FIRMING,
    MARKER,
    MOULD,
    RANCIDITY,
    SOGGINESS,
    SUGAR,
)
from hardtack.keeping.history import water_moved
from hardtack.keeping.sentences import moment
from hardtack.states import Barrier, FailureCourse, Floats, History, Journey, Layer, Pack, Piece
from hardtack.units import celsius

OUTSIDE = "outside air"
WATER = (CRISPNESS, CRUST, SOGGINESS, DRYING_OUT, SUGAR)
"""Failures by water that runs in or out of their layer."""


def chain(
    course: FailureCourse,
    pieces: Sequence[Piece],
    pack: Pack | None,
    history: History,
    journey: Journey,
    end: int,
) -> str:
    """Why this failure comes, or how far it gets by row `end` of the history."""
    head = _cause(course, pieces, pack, history, end)
    return f"{head}; {_outcome(course, history, journey, end)}."


def _cause(
    course: FailureCourse, pieces: Sequence[Piece], pack: Pack | None, history: History, end: int
) -> str:
    k = history.layers.index(course.layer)
    if course.name in WATER:
        return _water(course, pieces, pack, history, end)
    a, T = float(history.activity[end, k]), _mean(history.temperature, history, end)
    at = f"{celsius(T):.0f} °C on average"
    if course.name == FIRMING:
        return f"The starch of the {course.layer} sets again at {at}, whether or not water leaves it"
    if course.name == MOULD:
        wet = float(max(history.activity[: end + 1, k].max(), history.headspace[: end + 1].max()))
        return f"Mould grows on the moistest place, the {course.layer} with its surface, at activity up to {min(1.0, wet):.2f} and {at}"
    if course.name == FERMENTATION:
        return f"Yeast that bears sugar grows in the {course.layer} at activity {a:.2f} and {at}"
    if course.name == RANCIDITY:
        return f"The fat of the {course.layer} takes up the oxygen of the pack at activity {a:.2f} and {at}"
    start = float(history.activity[0, k])
    return f"The {course.layer} goes from activity {start:.2f} to {a:.2f} at {at}"


def other_side(
    course: FailureCourse, pieces: Sequence[Piece], history: History, end: int
) -> tuple[str, bool]:
    """The layer, or `OUTSIDE`, that gave the failing layer most of its water, or took it; and whether it took it."""
    k = history.layers.index(course.layer)
    gained = water_moved(pieces, history)[end]
    falls = course.name == DRYING_OUT or (course.name == SUGAR and bool(gained[k] < 0.0))
    sign = -1.0 if falls else 1.0
    others = {name: -sign * float(gained[j]) for j, name in enumerate(history.layers) if j != k}
    others[OUTSIDE] = sign * float(history.water_gained[end])
    other = max(others, key=lambda name: others[name])
    return (other if others[other] > 0.0 else OUTSIDE), falls


def not_by_the_pack(course: FailureCourse, pieces: Sequence[Piece], history: History, end: int) -> str:
    """Says, where it is so, that the pace of the first failure is not set by what lies around the pieces."""
    if course.name not in WATER:
        return f" The first failure, {course.name}, runs at the activity and temperature of the {course.layer}, whichever side limits the water."
    other, falls = other_side(course, pieces, history, end)
    if other == OUTSIDE:
        return ""
    feeds = (
        f"the {course.layer} gives it to the {other}" if falls else f"the {other} feeds the {course.layer}"
    )
    return f" The water of the first failure moves inside all the same: {feeds}, at the pace of what lies between them."


def _water(
    course: FailureCourse, pieces: Sequence[Piece], pack: Pack | None, history: History, end: int
) -> str:
    """Where the water came from, or where it went: the place that gave or took most of it."""
    other, falls = other_side(course, pieces, history, end)
    here = float(history.activity[0, history.layers.index(course.layer)])
    if other == OUTSIDE:
        there = _mean(history.humidity, history, end)
    else:
        there = float(history.activity[0, history.layers.index(other)])
    through = _through(course.layer, other, pieces, pack)
    if not falls:
        return f"The {other} at {there:.2f} feeds the {course.layer} at {here:.2f} {through}"
    return f"The {course.layer} at {here:.2f} gives its water to the {other} at {there:.2f} {through}"


def _through(layer: str, other: str, pieces: Sequence[Piece], pack: Pack | None) -> str:
    """What lies between two places."""
    if other == OUTSIDE:
        lying = [_part(part) for part in _to_the_air(layer, pieces)]
        lying += [f"the pack of {pack.film.name}"] if pack is not None else []
        return f"through {' and '.join(lying)}" if lying else "with no pack about it"
    for piece in pieces:
        names = [part.name for part in piece.parts]
        if layer in names and other in names:
            first, last = sorted((names.index(layer), names.index(other)))
            between = piece.parts[first + 1 : last]
            return (
                f"through {' and '.join(_part(part) for part in between)}"
                if between
                else "with nothing between them"
            )
    return "through the air of the pack" if pack is not None else "through the air about them"


def _to_the_air(layer: str, pieces: Sequence[Piece]) -> list[Layer | Barrier]:
    """What lies between a layer and the open end of its piece that is nearer."""
    piece = next(piece for piece in pieces if layer in [part.name for part in piece.layers])
    at = [part.name for part in piece.parts].index(layer)
    ways = [list(piece.parts[:at])] if piece.open_ends[0] else []
    ways += [list(piece.parts[at + 1 :])] if piece.open_ends[1] else []
    return min(ways, key=len, default=[])


def _part(part: Layer | Barrier) -> str:
    return f"{1e3 * part.thickness:.2g} mm of {part.name}" if part.thickness > 0 else f"the {part.name}"


def _outcome(course: FailureCourse, history: History, journey: Journey, end: int) -> str:
    what = _DEEDS.get(course.name, f"the {course.layer} passes its limit")
    if course.time is None:
        used = float(course.share[end])
        return f"by the end of what was followed that uses {used:.0%} of the life"
    time = course.time
    leg = next((leg.name for leg in journey.legs if time <= leg.end), journey.legs[-1].name)
    return f"{what.format(layer=course.layer)} {moment(course.time, journey.packed_on)}, on the leg “{leg}”"


_DEEDS = {
    FIRMING: "the {layer} is stale by firming",
    MOULD: "mould is seen",
    FERMENTATION: "fermentation is noticed",
    RANCIDITY: "it tastes rancid",
    CHECKING: "the {layer} is likely to check",
    COLOUR: "its colour is off",
    MARKER: "its marker of rancidity passes the limit",
    ACCEPTANCE: "its panel no longer accepts it",
}


def _mean(values: Floats, history: History, end: int) -> float:
    """Mean over time up to row `end`, of what holds over the interval before each row."""
    if end == 0:
        return float(values[0])
    dt = np.diff(history.times[: end + 1])
    return float(values[1 : end + 1] @ dt / dt.sum())
