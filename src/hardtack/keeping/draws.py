"""Quasi-random draws of what a product file states with a spread."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hardtack.sourced import Sourced
from hardtack.states import Floats
from hardtack.units import KINDS

EDGE = 1e-12
"""A draw keeps so far from the ends of its distribution, where a normal one would be infinite."""


def quantiles(inputs: int, samples: int, seed: int) -> Floats:
    """Where each sample lies in each input's distribution [samples, inputs], between 0 and 1.

    Scrambled Sobol points (Owen, from memory; `scipy.stats.qmc`): the first `samples` of the least power of two that
    holds them, so that a longer draw of the same power begins with a shorter one. The same for the same `seed`.
    """
    if inputs == 0:
        return np.zeros((samples, 0))
    from scipy.stats import qmc

    power = max(samples - 1, 0).bit_length()
    points: Floats = qmc.Sobol(inputs, scramble=True, rng=seed).random_base2(power)[:samples]
    return np.clip(points, EDGE, 1 - EDGE)


def spreads(amount: Sourced) -> bool:
    """Whether the amount is stated with a spread."""
    return bool(amount.sd) or amount.low is not None


def drawn(amount: Sourced, kind: str, quantile: float) -> Sourced:
    """The amount at a quantile of its spread, then without one; as it stands when it has none.

    A standard deviation is that of a normal distribution, cut off where its kind of quantity ends (no share above 1,
    no mass below 0); a range is even between its ends.
    """
    value = amount.value
    if amount.sd:
        from scipy.special import ndtr, ndtri

        low, high = (ndtr((end - value) / amount.sd) for end in (KINDS[kind].low, KINDS[kind].high))
        value += amount.sd * float(ndtri(low + quantile * (high - low)))
    elif amount.low is not None and amount.high is not None:
        value = amount.low + quantile * (amount.high - amount.low)
    else:
        return amount
    return replace(amount, value=value, sd=None, low=None, high=None)
