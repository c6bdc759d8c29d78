"""Maximum likelihood for readings known only within bounds: the optimum, its covariance, profile intervals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE
from hardtack.states import Floats

Deviance = Callable[[Floats], float]
"""Minus log likelihood of the constants."""
_STEP = 1e-4
_FAR = 12.0
_ROUNDS, _HALVINGS = 20, 12


@dataclass(frozen=True, slots=True, eq=False)
class Peak:
    """The constants of greatest likelihood, their covariance (inverse of the observed information), minus log L."""

    values: Floats
    covariance: Floats
    nll: float

    @property
    def sds(self) -> Floats:
        """Standard deviations."""
        return np.sqrt(np.diag(self.covariance))


def peak(nll: Deviance, start: Floats, what: str) -> Peak:
    """Find the greatest likelihood from `start`. Raises `HardtackError` when the data fix no optimum."""
    from scipy.optimize import minimize

    with np.errstate(all="ignore"):
        x, there = _newton(nll, np.asarray(start, dtype=float))
        if not there:
            for _ in range(2):  # a restart frees a simplex that stalled; Newton then finds the last digits
                x = minimize(
                    nll, x, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-7, "maxiter": 20000}
                ).x
            x, _ = _newton(nll, x)
        information = hessian(nll, x)
        value = float(nll(x))
    eigen = np.linalg.eigvalsh(information) if np.all(np.isfinite(information)) else np.array([-1.0])
    if not np.isfinite(value) or eigen.min() <= 1e-12 * max(eigen.max(), 1e-300):
        raise HardtackError(
            f"{what}: the readings fix no optimum", "more readings, spread over more times, are needed"
        )
    return Peak(x, np.asarray(np.linalg.inv(information), dtype=np.float64), value)


def _newton(nll: Deviance, x: Floats) -> tuple[Floats, bool]:
    """Newton steps, halved until they lead down, and whether they ended on a peak that no step betters."""
    height = nll(x)
    for _ in range(_ROUNDS):
        H, g = hessian(nll, x), _gradient(nll, x)
        if not (np.all(np.isfinite(H)) and np.all(np.isfinite(g))) or np.linalg.eigvalsh(H).min() <= 0:
            return x, False
        step = np.linalg.solve(H, g)
        # half of g'H^-1 g is what the step would still gain
        there = bool(g @ step < 1e-10)
        for _ in range(_HALVINGS):
            lower = nll(x - step)
            if lower <= height + 1e-12:
                break
            step = step / 2
        else:
            return x, there
        x, height = x - step, lower
        if there:
            return x, True
    return x, False


def _gradient(nll: Deviance, x: Floats) -> Floats:
    h = _STEP * np.maximum(np.abs(x), 0.1)
    g = np.zeros(x.size)
    for i in range(x.size):
        e = np.eye(x.size)[i] * h
        # fourth order, so that its own error stays below that of the optimum
        g[i] = (8 * (nll(x + e) - nll(x - e)) - (nll(x + 2 * e) - nll(x - 2 * e))) / (12 * h[i])
    return g


def hessian(f: Deviance, x: Floats) -> Floats:
    """Second derivatives by central differences."""
    n = x.size
    h = 1e-3 * np.maximum(np.abs(x), 0.1)
    H = np.zeros((n, n))
    unit = np.eye(n)
    for i in range(n):
        for j in range(i + 1):
            a, b = unit[i] * h, unit[j] * h
            H[i, j] = H[j, i] = (f(x + a + b) - f(x + a - b) - f(x - a + b) + f(x - a - b)) / (
                4 * h[i] * h[j]
            )
    return H


def interval(nll: Deviance, found: Peak, k: int) -> tuple[float | None, float | None]:
    """Ends of the 90 % profile interval of constant `k`; None on a side where the likelihood sets none."""
    from scipy.special import chdtri

    limit = found.nll + float(chdtri(1, 1 - CONFIDENCE)) / 2
    sd = float(found.sds[k])
    return _end(nll, found, k, limit, -sd), _end(nll, found, k, limit, sd)


def _end(nll: Deviance, found: Peak, k: int, limit: float, step: float) -> float | None:
    from scipy.optimize import brentq, minimize, minimize_scalar

    others = [i for i in range(found.values.size) if i != k]
    warm = found.values[others].copy()
    near = 0.1 * float(found.sds[others[0]]) if others else 0.0

    def above(value: float) -> float:
        nonlocal warm

        def rest(free: Floats) -> float:
            x = np.empty(found.values.size)
            x[k], x[others] = value, free
            return float(nll(x))

        if not others:
            return rest(warm) - limit
        if len(others) == 1:
            one = minimize_scalar(lambda v: rest(np.array([v])), bracket=(warm[0], warm[0] + near), tol=1e-6)
            warm = np.array([float(one.x)])
            return float(one.fun) - limit
        run = minimize(
            rest, warm, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000}
        )
        warm = run.x
        return float(run.fun) - limit

    with np.errstate(all="ignore"):
        inner = float(found.values[k])
        for n in range(1, int(_FAR) + 1):
            outer = float(found.values[k]) + n * step
            height = above(outer)
            if not np.isfinite(height):
                return None
            if height > 0:
                return float(brentq(above, inner, outer, xtol=1e-6 * abs(step)))
            inner = outer
    return None
