"""Choosing measurements by what they tell of one wanted number: linear, Gaussian, greedy with exchange.

The unknowns have a covariance before anything is measured; a measurement sees a combination h of them with a
standard deviation s. Measured, the information h h'/s^2 is added, and the wanted number, whose slope on the
unknowns is g, is known to sqrt(g' P g). Of all candidates the one that brings this down most is taken, again and
again; then every choice is tried against every candidate once more (c-optimal design with a prior: Chaloner and
Verdinelli 1995, Statistical Science 10:273; exchange: Fedorov 1972, Theory of Optimal Experiments).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats

_ROUNDS = 4
_GAIN = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """What is known of the unknowns: their information (inverse covariance), and the wanted number's slope."""

    information: Floats
    slope: Floats

    def sd(self) -> float:
        """Standard deviation of the wanted number."""
        return float(np.sqrt(max(float(self.slope @ np.linalg.solve(self.information, self.slope)), 0.0)))

    def with_seen(self, h: Floats, s: float, times: float = 1.0) -> Knowledge:
        """The knowledge after a measurement of combination `h` with standard deviation `s`."""
        return Knowledge(self.information + times * np.outer(h, h) / s**2, self.slope)


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A measurement that could be made: what it sees of the unknowns, with which standard deviation."""

    h: Floats
    s: float


def choose(
    known: Knowledge,
    candidates: Sequence[Candidate],
    count: int,
    progress: Callable[[float], None] = lambda _: None,
    *,
    once: bool = False,
) -> list[int]:
    """Places of the `count` candidates to measure, in the order of choice; one may come several times unless
    `once`. Fewer where no candidate tells anything more."""
    H = np.array([candidate.h / candidate.s for candidate in candidates])
    taken: list[int] = []
    information = known.information
    for n in range(count):
        gain = _gains(information, known.slope, H)
        if once:
            gain[taken] = 0.0
        best = int(np.argmax(gain))
        if gain[best] <= _GAIN * Knowledge(information, known.slope).sd() ** 2:
            break
        taken.append(best)
        information = information + np.outer(H[best], H[best])
        progress((n + 1) / count)
    return _exchanged(known, H, taken, once=once)


def _gains(information: Floats, slope: Floats, H: Floats) -> Floats:
    """By how much each candidate lowers the variance of the wanted number (Sherman-Morrison)."""
    P = np.linalg.inv(information)
    across = H @ P
    return np.asarray((across @ slope) ** 2 / (1.0 + np.einsum("ij,ij->i", across, H)))


def _exchanged(known: Knowledge, H: Floats, taken: list[int], *, once: bool) -> list[int]:
    for _ in range(_ROUNDS):
        changed = False
        for k, old in enumerate(taken):
            others = [place for n, place in enumerate(taken) if n != k]
            information = known.information + H[others].T @ H[others]
            gain = _gains(information, known.slope, H)
            if once:
                gain[others] = 0.0
            best = int(np.argmax(gain))
            if gain[best] > gain[old] * (1 + 1e-6):
                taken[k], changed = best, True
        if not changed:
            break
    return taken
