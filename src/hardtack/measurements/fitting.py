"""Least squares with honest errors: the one path that every curve fit of this room takes.

Under it lies lmfit (its Levenberg-Marquardt within bounds). The covariance is that of the linear approximation at the
optimum, s^2 (J'J)^-1 with central differences; the intervals are profiles of the sum of squares, so a constant that the
data do not hold shows as an open interval instead of a small number.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.outliers import outliers
from hardtack.sourced import Provenance
from hardtack.states import Floats

CONFIDENCE = 0.90
"""Of every interval given here."""
CORRELATED = 0.95
_SINGULAR = 1e-10
_POLISH_ROUNDS = 6
_FAR_STEPS = 12
_SECANTS, _LEVEL = 30, 1e-5
_ROUGH, _FINE, _PROFILED = 1e-6, 1e-14, 1e-9
Constants = dict[str, float]
Named = tuple[tuple[str, ...], Floats]
"""A covariance, and what its rows stand for."""
Predict = Callable[[Constants], Floats]


@dataclass(frozen=True, slots=True)
class Sought:
    """A constant to be found: where the search may go, its unit and what it means."""

    name: str
    low: float = float("-inf")
    high: float = float("inf")
    unit: str = ""
    meaning: str = ""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted constant: value, one standard deviation, and the ends of its 90 % interval.

    `sd` is None where the data do not fix it; `low` or `high` is None where they set no bound on that side.
    """

    name: str
    value: float
    sd: float | None
    low: float | None
    high: float | None
    unit: str
    meaning: str
    provenance: Provenance = "measured here"

    def __str__(self) -> str:
        spread = f" ± {self.sd:.2g}" if self.sd is not None else ""
        ends = tuple("open" if end is None else f"{end:.4g}" for end in (self.low, self.high))
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.name} = {self.value:.4g}{spread}{unit} (90 %: {ends[0]} to {ends[1]})"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fit: its constants with their covariance, the residuals point by point, and what is weak about it.

    `rss` is the residual sum of squares, `dof` the degrees of freedom, `aicc` Akaike's criterion for few
    points (Hurvich and Tsai 1989, Biometrika 76:297). `outliers` are places of points that stand too far from
    the curve to be chance; they are shown, and still in the fit.
    """

    estimates: tuple[Estimate, ...]
    covariance: Floats
    predicted: Floats
    residuals: Floats
    rss: float
    dof: int
    aicc: float
    outliers: tuple[int, ...]
    weak: tuple[str, ...]

    @property
    def named_covariance(self) -> Named:
        """The constants' names and their covariance, nan for one that the points do not fix."""
        return tuple(self.values), self.covariance

    def __getitem__(self, name: str) -> Estimate:
        """The estimate of that name."""
        return {estimate.name: estimate for estimate in self.estimates}[name]

    @property
    def values(self) -> Constants:
        """The constants by name."""
        return {estimate.name: estimate.value for estimate in self.estimates}

    @property
    def sigma(self) -> float:
        """Residual standard deviation, in the unit of the observed."""
        return math.sqrt(self.rss / self.dof) if self.dof > 0 else float("nan")

    def spread(self, function: Callable[[Constants], float]) -> tuple[float, float]:
        """The value of a function of the constants, and its standard deviation by the linear approximation.

        The standard deviation is infinite where the function leans on a constant that the points do not fix.
        """
        values = self.values
        slopes = np.zeros(len(values))
        for k, (name, value) in enumerate(values.items()):
            h = 1e-5 * (abs(value) or 1.0)
            slopes[k] = (function({**values, name: value + h}) - function({**values, name: value - h})) / (
                2 * h
            )
        known = np.isfinite(np.diag(self.covariance))
        if np.any(slopes[~known] != 0):
            return function(values), float("inf")
        variance = float(slopes[known] @ self.covariance[np.ix_(known, known)] @ slopes[known])
        return function(values), math.sqrt(max(variance, 0.0))


def least_squares(
    predict: Predict,
    observed: Floats,
    sought: Sequence[Sought],
    starts: Sequence[Mapping[str, float]],
    *,
    weights: Floats | None = None,
    profiles: bool = True,
) -> Fit:
    """Fit `predict` to `observed` from each of `starts`; the best of them counts.

    `weights` multiply the residuals. `profiles` asks for profile intervals; without them the ends come from
    the covariance. Raises `HardtackError` with fewer points than constants, or when no start leads anywhere.
    """
    n, k = observed.size, len(sought)
    if n <= k:
        raise HardtackError(
            f"{n} points for {k} constants ({', '.join(s.name for s in sought)})",
            f"measure at least {k + 1} points; {2 * k} or more to judge the fit",
        )
    weight = np.ones(n) if weights is None else weights
    scale = float(np.sqrt(np.mean((weight * observed) ** 2))) or 1.0

    def residual(constants: Constants) -> Floats:
        miss = weight * (predict(constants) - observed)
        return np.where(np.isfinite(miss), miss, 1e3 * scale)

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        search = _Search(residual, tuple(sought))
        found = [search.run(start) for start in starts]
        best = min(found, key=lambda run: run[1])
        if not np.isfinite(best[1]):
            raise HardtackError("no fit was found", "look at the points: units, basis, order")
        values = search.polished(search.refined(best))
        return _result(search, values, predict, observed, weight, profiles)


class _Search:
    """The residual with its constants, as lmfit takes them."""

    def __init__(self, residual: Callable[[Constants], Floats], sought: tuple[Sought, ...]) -> None:
        import lmfit

        self.residual = residual
        self.sought = sought
        self._lmfit = lmfit

    def _parameters(self, start: Mapping[str, float]) -> Any:
        made = self._lmfit.Parameters()
        for s in self.sought:
            # a start on a bound has no slope in lmfit's bounded variable
            # (no further inside than the start's own size: bounds may be wider than it by many powers of ten)
            span = s.high - s.low
            inset = 1e-6 * min(span, max(abs(start[s.name]), 1.0)) if math.isfinite(span) else 1e-12
            value = min(max(start[s.name], s.low + inset), s.high - inset)
            made.add(s.name, value=value, min=s.low, max=s.high)
        return made

    def run(self, start: Mapping[str, float]) -> tuple[Constants, float]:
        """A first, rough search from one start: the constants it came to, and their sum of squares."""
        return self._step(start, _ROUGH, 100)

    def refined(self, found: tuple[Constants, float]) -> Constants:
        """The best of the rough searches, searched on until it stands still."""
        values, rss = found
        for _ in range(4):  # a restart frees a search that stalled in its own scaling
            new, now = self._step(values, _FINE, 4000)
            if not now < rss:
                break
            still = now > rss * (1 - 1e-9)
            values, rss = new, now
            if still:
                break
        return values

    def _step(self, start: Mapping[str, float], tolerance: float, calls: int) -> tuple[Constants, float]:
        most = calls * (len(self.sought) + 1)
        minimizer = self._lmfit.Minimizer(
            lambda p: self.residual(p.valuesdict()),
            self._parameters(start),
            nan_policy="raise",
            calc_covar=False,
        )
        run = minimizer.leastsq(ftol=tolerance, xtol=tolerance, gtol=0.0, max_nfev=most)
        values = dict(run.params.valuesdict())
        return values, float(np.sum(self.residual(values) ** 2))

    def jacobian(self, values: Constants) -> Floats:
        """d residual / d constant, central differences."""
        columns = []
        for s in self.sought:
            x = values[s.name]
            h = 6e-6 * (abs(x) or 1.0)
            up, down = min(x + h, s.high), max(x - h, s.low)
            columns.append(
                (self.residual({**values, s.name: up}) - self.residual({**values, s.name: down}))
                / (up - down)
            )
        return np.stack(columns, axis=1)

    def polished(self, values: Constants) -> Constants:
        """Gauss-Newton steps with central differences: the last digits that one-sided ones leave."""
        rss = float(np.sum(self.residual(values) ** 2))
        for _ in range(_POLISH_ROUNDS):
            J = self.jacobian(values)
            size = np.linalg.norm(J, axis=0)
            if not np.all(size > 0):
                break
            step = -np.linalg.lstsq(J / size, self.residual(values), rcond=None)[0] / size
            new = {s.name: values[s.name] + float(d) for s, d in zip(self.sought, step, strict=True)}
            inside = all(s.low < new[s.name] < s.high for s in self.sought)
            now = float(np.sum(self.residual(new) ** 2)) if inside else float("inf")
            if not now <= rss * (1 + 1e-12):  # round-off in the sum is no worsening
                break
            values, rss = new, now
        return values

    def profile(self, values: Constants, sd: float, t: float, name: str) -> tuple[float | None, float | None]:
        """The ends of one constant's profile interval; None where the search finds no end.

        The profile is tau = sqrt((S - S_best) / s^2), S with all other constants fitted anew: nearly a straight line,
        which ends where it reaches Student's `t` (Bates and Watts 1988, Nonlinear Regression Analysis, ch. 6).
        """
        own = next(s for s in self.sought if s.name == name)
        others = tuple(s for s in self.sought if s.name != name)
        best = self.residual(values)
        least = float(best @ best)
        variance = least / (best.size - len(self.sought))
        if t * sd <= 1e-12 * abs(values[name]) or not variance > 0:
            return values[name] - t * sd, values[name] + t * sd

        def end(step: float) -> float | None:
            warm = {s.name: values[s.name] for s in others}

            def above(value: float) -> float:
                nonlocal warm
                held = _Search(lambda p: self.residual({**p, name: value}), others)
                if others:
                    warm, rss = held._step(warm, _PROFILED, 200)
                else:
                    rss = float(np.sum(self.residual({name: value}) ** 2))
                return math.sqrt(max(rss - least, 0.0) / variance) - t

            inner, below = values[name], -t
            for _ in range(_FAR_STEPS):
                outer = min(max(values[name] + step, own.low), own.high)
                height = above(outer)
                if height > 0:
                    return _crossing(above, inner, below, outer, height)
                if outer in (own.low, own.high):
                    return None
                inner, below, step = outer, height, 2 * step
            return None

        return end(-t * sd), end(t * sd)


def _crossing(f: Callable[[float], float], a: float, below: float, b: float, above: float) -> float:
    """Where f, nearly straight, crosses zero between a (below) and b (above): secants that keep the root between
    (the Illinois rule, Dowell and Jarratt 1971, BIT 11:168)."""
    side = 0
    for _ in range(_SECANTS):
        x = (a * above - b * below) / (above - below)
        height = f(x)
        if abs(height) < _LEVEL:
            return x
        if height > 0:
            b, above = x, height
            below = below / 2 if side == 1 else below
            side = 1
        else:
            a, below = x, height
            above = above / 2 if side == -1 else above
            side = -1
    return (a + b) / 2


def _result(
    search: _Search, values: Constants, predict: Predict, observed: Floats, weight: Floats, profiles: bool
) -> Fit:
    n, k = observed.size, len(search.sought)
    dof = n - k
    miss = search.residual(values)
    rss = float(miss @ miss)
    J = search.jacobian(values)
    covariance, weak = _covariance(J, rss / dof, search, values)
    sds = {
        s.name: float(np.sqrt(v)) if np.isfinite(v) else None
        for s, v in zip(search.sought, np.diag(covariance), strict=True)
    }
    intervals = _intervals(search, values, sds, dof, profiles)
    weak += _open_ends(search, intervals, values, sds)
    predicted = predict(values)
    return Fit(
        estimates=tuple(
            Estimate(s.name, values[s.name], sds[s.name], *intervals[s.name], s.unit, s.meaning)
            for s in search.sought
        ),
        covariance=covariance,
        predicted=predicted,
        residuals=observed - predicted,
        rss=rss,
        dof=dof,
        aicc=corrected_aic(n * math.log(max(rss, 1e-300) / n), k + 1, n),
        outliers=outliers(J, miss, dof),
        weak=tuple(dict.fromkeys(weak)),
    )


def corrected_aic(deviance: float, k: int, n: int) -> float:
    """AICc = deviance + 2k + 2k(k+1)/(n-k-1), k constants counted with the variance; inf for too few points."""
    return deviance + 2 * k + 2 * k * (k + 1) / (n - k - 1) if n > k + 1 else float("inf")


def _covariance(J: Floats, variance: float, search: _Search, values: Constants) -> tuple[Floats, list[str]]:
    names = [s.name for s in search.sought]
    bounded = [
        any(
            math.isfinite(end) and abs(values[s.name] - end) <= 1e-5 * (abs(end) or 1.0)
            for end in (s.low, s.high)
        )
        for s in search.sought
    ]
    size = np.linalg.norm(J, axis=0)
    weak = [
        f"{name} ran into its bound ({values[name]:.4g}): these points do not fix it"
        for name, on in zip(names, bounded, strict=True)
        if on
    ]
    weak += [
        f"{name} has no effect on these points"
        for name, s, on in zip(names, size, bounded, strict=True)
        if s == 0 and not on
    ]
    free = np.array([s > 0 and not on for s, on in zip(size, bounded, strict=True)])
    covariance = np.full((len(names), len(names)), np.nan)
    if not free.any():
        return covariance, weak
    scaled = J[:, free] / size[free]
    _, s, Vt = np.linalg.svd(scaled, full_matrices=False)
    if s[-1] <= _SINGULAR * s[0]:
        held = [name for name, part in zip(np.array(names)[free], np.abs(Vt[-1]), strict=True) if part > 0.1]
        weak.append(f"only a combination of {' and '.join(held)} is fixed by these points")
        return covariance, weak
    inverse = (Vt.T / s**2) @ Vt / np.outer(size[free], size[free])
    covariance[np.ix_(free, free)] = variance * inverse
    return covariance, weak + pulling(covariance, names)


def pulling(covariance: Floats, names: Sequence[str]) -> list[str]:
    """Sentences on pairs of constants that the data fix only together."""
    said = []
    sd = np.sqrt(np.diag(covariance))
    for i in range(len(names)):
        for j in range(i):
            r = covariance[i, j] / (sd[i] * sd[j])
            if abs(r) > CORRELATED:
                said.append(
                    f"{names[j]} and {names[i]} pull on each other (correlation {r:.3f}): "
                    "use them together, not one of them with another product's other"
                )
    return said


def _intervals(
    search: _Search, values: Constants, sds: Mapping[str, float | None], dof: int, profiles: bool
) -> dict[str, tuple[float | None, float | None]]:
    from scipy.special import stdtrit

    t = float(stdtrit(dof, 0.5 + CONFIDENCE / 2))
    known = {name: sd for name, sd in sds.items() if sd is not None}
    by_profile = profiles and len(known) == len(sds) and all(sd > 0 for sd in known.values())
    intervals: dict[str, tuple[float | None, float | None]] = {}
    for s in search.sought:
        sd = sds[s.name]
        if sd is None:
            intervals[s.name] = (None, None)
        elif by_profile:
            intervals[s.name] = search.profile(values, sd, t, s.name)
        else:
            intervals[s.name] = (values[s.name] - t * sd, values[s.name] + t * sd)
    return intervals


def _open_ends(
    search: _Search,
    intervals: Mapping[str, tuple[float | None, float | None]],
    values: Constants,
    sds: Mapping[str, float | None],
) -> list[str]:
    said = []
    for s in search.sought:
        low, high = intervals[s.name]
        sd = sds[s.name]
        if sd is not None and (low is None or high is None):
            side = (
                "neither end"
                if low is None and high is None
                else "no lower end"
                if low is None
                else "no upper end"
            )
            said.append(f"{s.name}: the points set {side} of its 90 % interval")
        if sd is not None and s.low >= 0 and sd > abs(values[s.name]):
            said.append(f"{s.name} is known no better than its own size")
    return said
