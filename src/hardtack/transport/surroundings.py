"""Outside air as the solver needs it: projected on each step from prefix sums, whatever the step.

Within one step the film's conductance g(t) [kg/s per unit activity], the inflow it would give from the
outside air b(t) = g(t) a_out(t) [kg/s], and the temperature T(t) [K] are replaced by linear functions.
For g and b they are the L2 projections (mean and first moment exact), so the outside activity enters
weighted by flux. Where the temperature swings within a step, the march sorts the step's pieces by temperature
instead, and projects every flux (`kernel._gather`).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Pieces between `edges` [s, n+1], linear within, free to jump at an edge; and prefix sums over them.

    `left` and `right` [3, n] are the values at either end of each piece of g, b and T. `sums` [6, n+1] holds at
    every edge the integrals from the start of g, t g, b, t b, T and t T. A step that begins in a piece is at most
    `step_limit` [n, s] long and does not run past `ends` [n, s]: the piece's own end where pieces are resolved, else
    the stretch's. `swings` says whether a step may meet more than one temperature that lasts;
    `coldest` and `hottest` are the extremes of T [K].
    """

    edges: Floats
    left: Floats
    right: Floats
    sums: Floats
    step_limit: Floats
    ends: Floats
    swings: bool
    coldest: float
    hottest: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """One leg's air: at `times` [s] the conductance g [kg/s], outside activity and temperature [K].

    `step_limit` [s] bounds the steps in it: inf where nothing varies, 0 to resolve every piece. A step that spans
    several pieces sees their means. Where only humidity varies, hour by hour, layer means stay within 1e-4 in
    activity with steps of a day (1e-5 in a pack that takes a year to even out) and within 1e-5 with steps of six
    hours: measured on invented weather. Where temperature swings by the day, too, they stay within 2e-4 over 10 K and
    4e-4 over 30 K with steps of eight hours, and the march resolves pieces by itself where that would not hold.
    """

    times: Floats
    g: Floats
    a_out: Floats
    T: Floats
    step_limit: float = float("inf")


def surroundings(stretches: Sequence[Stretch]) -> Surroundings:
    """Join stretches that follow one another.

    No step runs across the end of a stretch. Raises `HardtackError` when times do not rise, a stretch does not
    begin where the one before ended, or a value is no conductance, humidity or temperature.
    """
    _check(stretches)
    low = np.concatenate([_values(stretch)[:, :-1] for stretch in stretches], axis=1)
    high = np.concatenate([_values(stretch)[:, 1:] for stretch in stretches], axis=1)
    edges = np.concatenate([stretches[0].times[:1], *(stretch.times[1:] for stretch in stretches)])
    limits, ends = [], []
    for stretch in stretches:
        resolved = stretch.step_limit == 0.0
        limits.append(np.full(stretch.times.size - 1, np.inf if resolved else stretch.step_limit))
        ends.append(stretch.times[1:] if resolved else np.full(stretch.times.size - 1, stretch.times[-1]))
    dt = np.diff(edges)
    sums = np.zeros((6, edges.size))
    for row in range(3):
        whole = (low[row] + high[row]) / 2 * dt
        # first moment of a linear piece about its own start, carried to the common clock
        own = low[row] * dt**2 / 2 + (high[row] - low[row]) * dt**2 / 3
        sums[2 * row, 1:] = np.cumsum(whole)
        sums[2 * row + 1, 1:] = np.cumsum(edges[:-1] * whole + own)
    swings = any(stretch.step_limit > 0 and bool(np.any(stretch.T[0] != stretch.T)) for stretch in stretches)
    T = np.concatenate([stretch.T for stretch in stretches])
    return Surroundings(
        edges,
        low,
        high,
        sums,
        np.concatenate(limits),
        np.concatenate(ends),
        swings,
        float(T.min()),
        float(T.max()),
    )


def _values(stretch: Stretch) -> Floats:
    return np.array([stretch.g, stretch.g * stretch.a_out, stretch.T])


def _check(stretches: Sequence[Stretch]) -> None:
    for before, after in itertools.pairwise(stretches):
        if before.times[-1] != after.times[0]:
            raise HardtackError(
                f"one leg ends at {before.times[-1]:g} s, the next begins at {after.times[0]:g} s",
                "let every leg begin where the one before ended",
            )
    for stretch in stretches:
        if stretch.times.size < 2 or not np.all(np.diff(stretch.times) > 0):
            raise HardtackError("the times of the surroundings must rise", "sort them and drop repeated ones")
        if not (np.all(stretch.g >= 0) and np.all(np.isfinite(stretch.g))):
            raise HardtackError("a conductance below zero or not a number", "give each time a conductance")
        if not np.all((stretch.a_out >= 0) & (stretch.a_out <= 1)):
            raise HardtackError("a humidity outside 0 to 1", "give humidity as a fraction of saturation")
        if not np.all((stretch.T > 150) & (stretch.T < 500)):
            raise HardtackError("a temperature out of reach", "give temperatures in kelvin")
        if not stretch.step_limit >= 0:
            raise HardtackError("a step limit below zero", "0 resolves every piece, infinity sets no limit")
