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
    curve: Callable[[Floats], tuple[Numbers, Numbers]],
    target: Numbers,
    low: Numbers,
    high: Numbers,
) -> Numbers:
    """x in [low, high] at which a rising function reaches `target`, to a few ulp of x.

    `curve` gives the function's value and slope at x. Newton steps with the slope, replaced by bisection where they leave the bracket or shrink too slowly
    (Press et al., Numerical Recipes, sect. 9.4, here vectorised). The caller guarantees the bracket.
    """
    target, lo, hi = (array.copy() for array in np.broadcast_arrays(*map(_floats, (target, low, high))))
    # A root at an end, as at zero moisture or at saturation, is exact: Newton would crawl to it by bisection.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        first = np.asarray(curve(lo)[0])
        hi = np.where(first >= target, lo, hi)
        final = np.asarray(curve(hi)[0])
        lo = np.where(final <= target, hi, lo)
        x = lo + (hi - lo) * (target - first) / (
            final - first
        )  # the chord is near where the curve bends little
        x = np.where((x > lo) & (x < hi), x, 0.5 * (lo + hi))
        last = hi - lo
        for _ in range(_ROUNDS):
            value, slope = curve(x)
            miss = value - target
            lo = np.where(miss <= 0, x, lo)
            hi = np.where(miss >= 0, x, hi)
            newton = x - miss / slope
            step = np.abs(newton - x)
            good = (newton >= lo) & (newton <= hi) & (step <= 0.5 * last)
            settled = (step <= _STEP * np.abs(x)) | (hi - lo <= 4e-16 * np.abs(hi))
            new = np.where(settled, x, np.where(good, newton, 0.5 * (lo + hi)))
            last = np.abs(new - x)
            x = new
            if settled.all():
                break
    root: Numbers = x[()]
    return root


def _floats(numbers: Numbers) -> Floats:
    return np.asarray(numbers, dtype=float)
