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
from numpy.polynomial.legendre import legint, legval, legvander

from hardtack.states import Floats
from hardtack.water.isotherms.inverse import invert

PANELS = 96
DEEPEST = 36.0  # e^-36 of the way left: equilibrium to round-off
# fine at first: a steep dry start, or one near the pole of a wet end, needs it; later the exponential smooths all
_EDGES = DEEPEST * np.linspace(0.0, 1.0, PANELS + 1) ** 2
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(12)
# from values at the nodes to the coefficients of the polynomial through them, which the quadrature gives exactly
_TO_LEGENDRE = (np.arange(12) + 0.5)[:, None] * (legvander(_NODES, 11) * _WEIGHTS[:, None]).T


@dataclass(frozen=True, slots=True)
class Approach:
    """The course from `a_start` towards `a_out` in air of constant state; at rest where they are one."""

    a_start: float
    a_out: float
    clock: Floats
    """Time [s] at the panel edges."""
    pace: Floats
    """Legendre coefficients [node, panel] of dt/dv, v from -1 to 1 across a panel: the curve through its nodes."""
    elapsed: Floats
    """Legendre coefficients [node + 1, panel] of the time since the panel's start [s]."""

    def activity(self, time: Floats) -> Floats:
        """Activity after `time` [s], by safeguarded Newton within the panel."""
        time = np.atleast_1d(np.asarray(time, dtype=float))
        gap = self.a_out - self.a_start
        if gap == 0.0:
            return np.full_like(time, self.a_start)
        panel = np.clip(np.searchsorted(self.clock, time, side="right") - 1, 0, PANELS - 1)
        pace, elapsed = self.pace[:, panel], self.elapsed[:, panel]
        v = invert(lambda v: (_sum(v, elapsed), _sum(v, pace)), time - self.clock[panel], -1.0, 1.0)
        u = _EDGES[panel] + (_EDGES[panel + 1] - _EDGES[panel]) * (1.0 + v) / 2
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
        v = 2 * (u - _EDGES[panel]) / (_EDGES[panel + 1] - _EDGES[panel]) - 1.0
        return float(self.clock[panel] + _sum(np.array(v), self.elapsed[:, panel]))


def approach(a_start: float, a_out: float, scale: float, slope: Callable[[Floats], Floats]) -> Approach:
    """Prepare the approach: `slope(a)` is dX/da [kg/kg] at the leg's temperature; `scale` = m/g [s]."""
    half = np.diff(_EDGES)[:, None] / 2
    u = _EDGES[:-1, None] + half * (1.0 + _NODES)
    per_v = scale * half * np.asarray(slope(a_out - (a_out - a_start) * np.exp(-u)))
    pace = _TO_LEGENDRE @ per_v.T
    elapsed: Floats = np.asarray(legint(pace, lbnd=-1), dtype=np.float64)
    clock = np.concatenate([[0.0], np.cumsum(per_v @ _WEIGHTS)])
    return Approach(a_start, a_out, clock, pace, elapsed)


def _sum(v: Floats, coefficients: Floats) -> Floats:
    """The Legendre series with `coefficients` [degree, ...] at v [...]."""
    return np.asarray(legval(v, coefficients, tensor=False), dtype=np.float64)
