"""The steady part of a weighing series: the longest run of weighings that a straight line describes.

A run is straight when a quadratic term is no more than chance, when neither end lies off the line through the
others, and when its residuals do not drift: their successive differences are as large as independent ones
would have them (Durbin and Watson 1950, Biometrika 37:409, with the exact mean and variance of the ratio and
a normal tail).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats

FEWEST = 5
BENT = 0.05
"""A run is bent when a quadratic term would come out by chance less often than this; drifting likewise."""
MOST = 400
_ROUND_OFF = 1e-11
"""Residuals below this share of the mass are round-off, not drift."""


@dataclass(frozen=True, slots=True, eq=False)
class Steady:
    """Weighings `first` to `last` are steady: rate [kg/s] with its standard deviation, mass at time zero [kg].

    `residuals` [kg] stand for all weighings, the left-out ones too; `dof` are those of the line.
    """

    first: int
    last: int
    rate: float
    rate_sd: float
    start: float
    residuals: Floats
    dof: int

    def told(self, times: Floats) -> str:
        """The run in words."""
        n = self.last - self.first + 1
        days = (float(times[self.first]) / 86400, float(times[self.last]) / 86400)
        left = times.size - n
        out = f"; {left} of {times.size} weighings lie outside it" if left else ", all weighings"
        return f"Steady from day {days[0]:.2f} to day {days[1]:.2f}: {n} weighings{out}."


def steady_part(times: Floats, masses: Floats) -> Steady:
    """The longest run of at least five weighings that neither bends nor drifts beyond chance.

    Times [s] rise, masses [kg]. Of runs equally long the straightest counts. Raises `HardtackError` when there
    is none.
    """
    t, m = np.asarray(times, dtype=float), np.asarray(masses, dtype=float)
    if t.size < FEWEST:
        raise HardtackError(f"{t.size} weighings are too few", f"weigh at least {FEWEST} times, better eight")
    if t.size > MOST:
        raise HardtackError(f"{t.size} weighings in one series", f"take every n-th, {MOST} at most")
    if not np.all(np.diff(t) > 0):
        raise HardtackError("the times of the weighings do not rise", "sort them; one row a weighing")
    for n in range(t.size, FEWEST - 1, -1):
        runs = [(first, first + n - 1) for first in range(t.size - n + 1)]
        straight = [(bend, run) for run in runs if (bend := _bend(t, m, *run)) is not None]
        if straight:
            return _line(t, m, *min(straight)[1])
    raise HardtackError(
        "no part of the weighings is steady",
        "weigh longer, with a finer balance; look for a leak or a desiccant that is used up",
    )


def _bend(t: Floats, m: Floats, first: int, last: int) -> float | None:
    """How sure a bend is, in units of its limit; None when the run is bent."""
    from scipy.special import stdtrit

    part = slice(first, last + 1)
    x = (t[part] - t[part].mean()) / np.ptp(t[part])
    design = np.stack([np.ones_like(x), x, x**2], axis=1)
    found, *_ = np.linalg.lstsq(design, m[part], rcond=None)
    miss = m[part] - design @ found
    dof = x.size - 3
    floor = (1e-12 * float(np.max(np.abs(m)))) ** 2
    variance = max(float(miss @ miss) / dof, floor)
    sd = float(np.sqrt(variance * np.linalg.inv(design.T @ design)[2, 2]))
    ratio = abs(float(found[2])) / sd / float(stdtrit(dof, 1 - BENT / 2))
    if ratio > 1 or _drifts(design[:, :2], m[part]) or _strays(x, m[part], 0) or _strays(x, m[part], -1):
        return None
    return ratio


def _strays(x: Floats, m: Floats, end: int) -> bool:
    """Whether a weighing at an end of the run lies off the line through all others, beyond chance."""
    from scipy.special import stdtrit

    others = np.arange(x.size) != (end % x.size)
    slope, start = np.polyfit(x[others], m[others], 1)
    miss = m[others] - start - slope * x[others]
    dof = x.size - 3
    floor = _ROUND_OFF * float(np.max(np.abs(m)))
    s = max(float(np.sqrt(miss @ miss / dof)), floor)
    away = x[end] - x[others].mean()
    spread = s * float(np.sqrt(1 + 1 / (x.size - 1) + away**2 / np.sum((x[others] - x[others].mean()) ** 2)))
    return abs(float(m[end] - start - slope * x[end])) > float(stdtrit(dof, 1 - BENT / 4)) * spread


def _drifts(design: Floats, m: Floats) -> bool:
    """Whether the residuals of the line follow one another more closely than independent ones do."""
    from scipy.special import ndtri

    n, k = design.shape
    away = np.eye(n) - design @ np.linalg.pinv(design)
    r = away @ m
    if float(np.max(np.abs(r))) <= _ROUND_OFF * float(np.max(np.abs(m))):
        return False
    step = np.diff(np.eye(n), axis=0)
    B = away @ step.T @ step @ away
    dof = n - k
    mean = float(np.trace(B)) / dof
    variance = 2 * (float(np.sum(B * B)) - mean * float(np.trace(B))) / (dof * (dof + 2))
    ratio = float(np.sum(np.diff(r) ** 2) / (r @ r))
    limit = mean + float(ndtri(BENT)) * float(np.sqrt(variance))
    return bool(ratio < limit)


def _line(t: Floats, m: Floats, first: int, last: int) -> Steady:
    part = slice(first, last + 1)
    x = t[part] - t[part].mean()
    rate = float(x @ m[part] / (x @ x))
    start = float(m[part].mean() - rate * t[part].mean())
    residuals = m - (start + rate * t)
    dof = x.size - 2
    sd = float(np.sqrt(residuals[part] @ residuals[part] / dof / (x @ x)))
    return Steady(first, last, rate, sd, start, residuals, dof)
