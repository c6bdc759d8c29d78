"""Points that stand apart from a fitted curve: pointed out, never deleted."""

from __future__ import annotations

import numpy as np

from hardtack.states import Floats

CHANCE = 0.05
"""Chance that a set without outliers has any point called one (Bonferroni)."""


def outliers(J: Floats, miss: Floats, dof: int) -> tuple[int, ...]:
    """Places of points whose deleted studentised residual is beyond chance (Cook and Weisberg 1982, sect. 2.2)."""
    from scipy.special import stdtrit

    n = miss.size
    size = np.linalg.norm(J, axis=0)
    if dof < 2 or not np.all(size > 0):
        return ()
    Q = np.linalg.svd(J / size, full_matrices=False)[0]
    left = 1.0 - np.sum(Q**2, axis=1)
    s2 = float(miss @ miss) / dof
    if s2 <= 0:
        return ()
    ok = left > 1e-9
    r2 = np.where(ok, miss**2 / (s2 * np.where(ok, left, 1.0)), 0.0)
    t = np.sqrt(r2 * (dof - 1) / np.maximum(dof - r2, 1e-12))
    limit = float(stdtrit(dof - 1, 1 - CHANCE / (2 * n)))
    return tuple(int(i) for i in np.flatnonzero(t > limit))
