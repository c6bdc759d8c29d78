"""An isotherm tabulated for the transport solver: activity against a stretched moisture.

The solver carries moisture and asks for activity and its derivative millions of times, so it gets nodes for
cubic Hermite interpolation. The coordinate s = X / (X + X_half) maps 0..infinity to 0..1, spends half of the
nodes below X_half, and turns the pole of a wet end into a gentle slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats, Isotherm
from hardtack.water.isotherm import activity_and_slope, activity_limit, moisture

WETTEST = 0.999
"""Activity at which a table ends, or this share of the pole when that lies lower."""


@dataclass(frozen=True, slots=True)
class ActivityTable:
    """Activity at uniform nodes of s = X/(X + X_half), 0..s_max, one row per temperature [K].

    `a` and `dads` are [temperatures, nodes]: activity and da/ds at constant temperature. Rows rise with s,
    and the cubic Hermite curve through each row rises too.
    """

    X_half: float
    s_max: float
    temperatures: Floats
    a: Floats
    dads: Floats


def activity_table(iso: Isotherm, temperatures: Sequence[float] | Floats, nodes: int) -> ActivityTable:
    """Tabulate `iso` at the given temperatures [K] on `nodes` nodes.

    X_half is the moisture at a = 0.5 and the reference temperature; s_max belongs to a = 0.999 (or just below
    the pole) there, with enthalpies at whichever temperature holds most water. da/ds is exact, except where
    a curve is so steep or bent at a node that the cubic would overshoot: there it is cut to three times the
    smaller neighbour secant, which keeps the cubic rising (de Boor and Swartz 1977, J. Approx. Theory
    21:411). Raises `HardtackError` on fewer than two nodes or no temperature.
    """
    T = np.asarray(temperatures, dtype=float)
    if nodes < 2 or T.ndim != 1 or len(T) == 0:
        raise HardtackError("an activity table needs at least two nodes and one temperature")
    X_half = moisture(iso, 0.5, iso.reference_temperature)
    # With an isosteric heat water is free at one moisture at every temperature; with enthalpies it is not.
    ends = T if iso.enthalpies else [iso.reference_temperature]
    wettest = max(moisture(iso, WETTEST * activity_limit(iso, t), t) for t in ends)
    s_max = wettest / (wettest + X_half)
    s = np.linspace(0.0, s_max, nodes)
    X = X_half * s / (1.0 - s)
    rows = [activity_and_slope(iso, X, t) for t in T]
    a = np.stack([row[0] for row in rows])
    dads = np.stack([row[1] for row in rows]) * X_half / (1.0 - s) ** 2
    secant = np.diff(a, axis=1) / (s[1] - s[0])
    left = np.concatenate([secant[:, :1], secant], axis=1)
    right = np.concatenate([secant, secant[:, -1:]], axis=1)
    return ActivityTable(X_half, float(s_max), T, a, np.minimum(dads, 3.0 * np.minimum(left, right)))
