"""Samples of two kinds kept apart: not knowing outside, the spread from pack to pack within; and their quantiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.doubt import Doubt
from hardtack.states import Floats

STATES, FEW_STATES = 32, 16
"""States of not knowing of one scramble; the few where each sample takes passes."""
FEWEST_PACKS = 8


def packs_for(share: float) -> int:
    """Packs in each state: a power of two with one and a half of them beyond the share, 16 for 90 %."""
    return max(FEWEST_PACKS, 1 << math.ceil(math.log2(1.5 / (1.0 - share)) - 1e-9))


@dataclass(frozen=True, slots=True)
class Nest:
    """Moments of first failure [scrambles, states, packs, s]: inf for none within the journey, NaN for a lost sample."""

    times: Floats

    def on_day(self, share: float, confidence: float) -> float:
        """The moment [s] at which, with this confidence, at least this share of packs is still good; inf for never."""
        return quantile(self.by_state(share).ravel(), 1.0 - confidence)

    def by_state(self, share: float) -> Floats:
        """Of every state of not knowing [scrambles, states], the moment to which this share of its packs keeps."""
        flat = self.times.reshape(-1, self.times.shape[-1])
        found = np.array([quantile(packs, 1.0 - share) for packs in flat])
        return found.reshape(self.times.shape[:-1])

    def error(self, share: float, confidence: float) -> float:
        """Standard error of `on_day` [s], from the scrambles; inf where one of them has no such day, NaN for one scramble."""
        days = np.array([quantile(states, 1.0 - confidence) for states in self.by_state(share)])
        if days.size < 2:
            return math.nan
        if not np.all(np.isfinite(days)):
            return 0.0 if np.all(np.isinf(days)) else math.inf
        return float(days.std(ddof=1) / math.sqrt(days.size))

    def good(self, at: Floats) -> Floats:
        """Share of packs still good at `at` [s], of every state of not knowing [states, times]."""
        flat = self.times.reshape(-1, self.times.shape[-1])
        held = ~np.isnan(flat)
        alive = (flat[:, :, None] > at) & held[:, :, None]
        found: Floats = alive.sum(axis=1) / np.maximum(held.sum(axis=1), 1)[:, None]
        return found[held.any(axis=1)]


def quantile(values: Floats, p: float) -> float:
    """The p-quantile of samples that may be inf, straight between them (Hazen's places); NaN samples do not count.

    Between a finite and an infinite sample it is the nearer one: a moment beyond the journey is not known to be
    any nearer than its end.
    """
    held = np.sort(values[~np.isnan(values)])
    if held.size == 0:
        return math.nan
    place = min(max(p * held.size - 0.5, 0.0), held.size - 1.0)
    k = int(place)
    w = place - k
    if w == 0.0 or k + 1 == held.size:
        return float(held[k])
    low, high = float(held[k]), float(held[k + 1])
    if math.isinf(high):
        return low if w < 0.5 else high
    return low + w * (high - low)


def normals(doubt: Doubt, seed: int, scramble: int, outer: int, inner: int) -> Floats:
    """Standard normals [outer * inner, numbers] of one scramble: what is not known is the same for every pack of a state.

    Scrambled Sobol' points; each state's packs are `inner` points that follow one another, a net by themselves. Two
    numbers tied together are both not known or both spread by pack: the first one says which.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    packs = by_pack(doubt)
    z = np.zeros((outer * inner, len(doubt.listed)))
    for k, (places, count) in enumerate(
        (([p for p in range(len(doubt.listed)) if p not in packs], outer), (packs, outer * inner))
    ):
        if not places:
            continue
        rng = np.random.default_rng([seed, scramble, k])
        points = ndtri(np.clip(qmc.Sobol(len(places), rng=rng).random(count), 1e-9, 1.0 - 1e-9))
        z[:, places] = np.repeat(points, inner, axis=0) if k == 0 else points
    return z


def by_pack(doubt: Doubt) -> list[int]:
    """Places of the numbers that differ from pack to pack or lot to lot."""
    lead = {place: ties.places[0] for ties in doubt.ties for place in ties.places}
    return [k for k in range(len(doubt.listed)) if doubt.listed[lead.get(k, k)].spread != "not known"]


def shaped(times: Sequence[Floats], outer: int, inner: int) -> Nest:
    """The nest of several scrambles' moments."""
    return Nest(np.stack([np.reshape(one, (outer, inner)) for one in times]))
