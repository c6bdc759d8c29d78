"""The instant answer when the inside does not limit: one activity for the whole piece, by quadrature.

With nothing but a film between a piece of one activity and air of constant state,

    t = (m / g) * integral of X'(a) da / (a_out - a)

for dry mass m [kg] and conductance g [kg/s per unit activity]. Substituting a = a_out - (a_out - a_0) e^-u
makes the integrand X'(a(u)), smooth up to equilibrium, so Gauss-Legendre panels give it to round-off.
The linear-isotherm case is the packaging equation of Labuza and co-workers, ln((Xe - X0)/(Xe - X)) = t/tau.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats

PANELS = 96
DEEPEST = 36.0  # e^-36 of the way left: equilibrium to round-off
# fine at first: a steep dry start, or one near the pole of a wet end, needs it; later the exponential smooths all
_EDGES = DEEPEST * np.linspace(0.0, 1.0, PANELS + 1) ** 2
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)


@dataclass(frozen=True, slots=True)
class Approach:
    """The course from `a_start` towards `a_out` in air of constant state; `scale` = m / g [s]."""

    a_start: float
    a_out: float
    scale: float
    slope: Callable[[Floats], Floats]
    clock: Floats
    """Time [s] at the panel edges."""

    def activity(self, time: Floats) -> Floats:
        """Activity after `time` [s], by safeguarded Newton within the panel."""
        time = np.atleast_1d(np.asarray(time, dtype=float))
        gap = self.a_out - self.a_start
        if gap == 0.0:
            return np.full_like(time, self.a_start)
        panel = np.clip(np.searchsorted(self.clock, time, side="right") - 1, 0, PANELS - 1)
        low, high = _EDGES[panel], _EDGES[panel + 1]
        span = self.clock[panel + 1] - self.clock[panel]
        u = low + (high - low) * np.clip((time - self.clock[panel]) / span, 0.0, 1.0)
        for _ in range(20):
            miss = self.clock[panel] + _panel_time(self, low, u) - time
            step = miss / (self.scale * self.slope(self.a_out - gap * np.exp(-u)))
            u = np.clip(u - step, low, high)
            if np.all(np.abs(step) < 1e-14 * DEEPEST):
                break
        return np.where(time >= self.clock[-1], self.a_out, self.a_out - gap * np.exp(-u))

    def time_to(self, a: float) -> float | None:
        """Time [s] until activity `a` is reached; None when it lies beyond the equilibrium or behind."""
        gap = self.a_out - self.a_start
        if gap == 0.0 or not 0.0 < (self.a_out - a) / gap <= 1.0:
            return None
        u = -float(np.log((self.a_out - a) / gap))
        if u >= DEEPEST:
            return None
        panel = int(np.searchsorted(_EDGES, u, side="right")) - 1
        return float(self.clock[panel] + _panel_time(self, _EDGES[panel : panel + 1], np.array([u]))[0])


def approach(a_start: float, a_out: float, scale: float, slope: Callable[[Floats], Floats]) -> Approach:
    """Prepare the approach: `slope(a)` is dX/da [kg/kg] at the leg's temperature; `scale` = m/g [s]."""
    course = Approach(a_start, a_out, scale, slope, np.zeros(PANELS + 1))
    course.clock[1:] = np.cumsum(_panel_time(course, _EDGES[:-1], _EDGES[1:]))
    return course


def _panel_time(course: Approach, low: Floats, high: Floats) -> Floats:
    half = (high - low) / 2
    u = low[:, None] + half[:, None] * (1.0 + _NODES)
    a = course.a_out - (course.a_out - course.a_start) * np.exp(-u)
    return course.scale * half * np.asarray(course.slope(a) @ _WEIGHTS)
