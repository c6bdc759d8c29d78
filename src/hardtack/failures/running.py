"""What the cumulative failures share: a rate added up over a history, and the moment a share reaches one.

The temperature of a history's row is the mean over the interval that closes at that row; its activities are
those at the row's own time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats, History
from hardtack.water.air import GAS_CONSTANT

Rate = Callable[[Floats, Floats], Floats]
"""A rate [1/s] from activity and temperature [K], element by element and never below zero."""


def running_integral(history: History, a: Floats, rate: Rate) -> Floats:
    """The integral of `rate` from packing to each time of the history [n].

    Simpson over each interval: temperature is the interval's mean, the activity `a` [n] runs straight.
    """
    T = history.temperature[1:]
    before, after = a[:-1], a[1:]
    mean = (rate(before, T) + 4.0 * rate((before + after) / 2.0, T) + rate(after, T)) / 6.0
    return np.concatenate(([0.0], np.cumsum(mean * np.diff(history.times))))


@dataclass(frozen=True, slots=True)
class Warmth:
    """How a rate known at `T` [K] goes with temperature: by a factor `Q10` per 10 K, or by an activation `energy`
    [J/mol] (Arrhenius)."""

    T: float
    Q10: float = 1.0
    energy: float | None = None

    def __call__(self, T: Floats | float) -> Floats:
        """The factor at T [K] on the rate."""
        T = np.asarray(T, dtype=np.float64)
        if self.energy is None:
            return np.asarray(self.Q10 ** ((T - self.T) / 10.0))
        return np.asarray(np.exp(-self.energy / GAS_CONSTANT * (1.0 / T - 1.0 / self.T)))


def first_time(times: Floats, share: Floats) -> float | None:
    """The first moment [s] at which a share of life, straight between rows, reaches 1; None when never."""
    failed = np.flatnonzero(share >= 1.0)
    if failed.size == 0:
        return None
    k = int(failed[0])
    if k == 0:
        return float(times[0])
    before, after = float(share[k - 1]), float(share[k])
    return float(times[k - 1] + (1.0 - before) / (after - before) * (times[k] - times[k - 1]))


def wettest(history: History, layers: tuple[str, ...] = ()) -> tuple[Floats, str]:
    """Activity [n] of the wettest place at each time, and the layer that was wettest of all.

    Places are the means of `layers` (all when none are named), every cell of the piece when all count, and
    the surface, which takes the humidity of the air on it. Never a mean over layers: growth starts where it
    is wettest.
    """
    watched = [history.layers.index(name) for name in layers or history.layers]
    own = history.activity[:, watched]
    worst = own.max(axis=1)
    if not layers and history.profile.shape[1]:
        worst = np.maximum(worst, history.profile.max(axis=1))
    worst = np.minimum(1.0, np.maximum(worst, history.headspace))
    return worst, history.layers[watched[int(own.max(axis=0).argmax())]]
