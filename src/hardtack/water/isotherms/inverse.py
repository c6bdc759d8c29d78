"""The inverse of a rising function, for whole arrays at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hardtack.states import Floats
from hardtack.water.isotherms.constants import Numbers

_ROUNDS = 200
_STEP = 2e-15
"""Relative step at which a point is settled and stays: below it round-off in `value` makes the steps wander."""


def invert(
    value: Callable[[Floats], Numbers],
    slope: Callable[[Floats], Numbers],
    target: Numbers,
    low: Numbers,
    high: Numbers,
) -> Numbers:
    """x in [low, high] at which the rising function `value` reaches `target`, to a few ulp of x.

    Newton steps with `slope`, replaced by bisection where they leave the bracket or shrink too slowly
    (Press et al., Numerical Recipes, sect. 9.4, here vectorised). The caller guarantees the bracket.
    """
    target, lo, hi = (array.copy() for array in np.broadcast_arrays(*map(_floats, (target, low, high))))
    # A root at an end, as at zero moisture or at saturation, is exact: Newton would crawl to it by bisection.
    hi = np.where(value(lo) >= target, lo, hi)
    lo = np.where(value(hi) <= target, hi, lo)
    x = 0.5 * (lo + hi)
    last = hi - lo
    for _ in range(_ROUNDS):
        miss = value(x) - target
        lo = np.where(miss <= 0, x, lo)
        hi = np.where(miss >= 0, x, hi)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            newton = x - miss / slope(x)
        good = (newton >= lo) & (newton <= hi) & (np.abs(newton - x) <= 0.5 * last)
        settled = (np.abs(newton - x) <= _STEP * np.abs(x)) | (hi - lo <= 4e-16 * np.abs(hi))
        new = np.where(settled, x, np.where(good, newton, 0.5 * (lo + hi)))
        last = np.abs(new - x)
        done = np.all(settled)
        x = new
        if done:
            break
    root: Numbers = x[()]
    return root


def _floats(numbers: Numbers) -> Floats:
    return np.asarray(numbers, dtype=float)
