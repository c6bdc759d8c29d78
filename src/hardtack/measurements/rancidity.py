"""Oxidation in accelerated storage: one fit over all temperatures, and the life it gives at the store's.

The indicator (peroxide value, hexanal) rises as y = y0 + k t or as y = y0 exp(k t), whichever AICc prefers;
k follows Arrhenius. Fitting all temperatures in one step keeps the error of every reading (one-step method:
Haralampu, Saguy and Karel 1985, J. Food Process. Preserv. 9:129).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE, Constants, Estimate, Fit, Sought, least_squares
from hardtack.measurements.table import SetAside, Table
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import DAY, celsius
from hardtack.water.air import GAS_CONSTANT

Order = Literal["straight", "exponential"]
_Function = Callable[[Constants], float]
INDICATORS = ("peroxide value", "hexanal")
_NEAR = 5.0
"""A melting or glass transition this close to the span of temperatures [K] is pointed out; assumed."""


@dataclass(frozen=True, slots=True)
class Transition:
    """A change of state on the way: what melts or softens, and at which temperature [K]."""

    what: str
    temperature: float


@dataclass(frozen=True, slots=True, eq=False)
class RancidityResult:
    """The fit (`start`, `rate` [1/day of the indicator] at `temperature` [K], `energy` [J/mol]) and its order."""

    fit: Fit
    order: Order
    temperature: float
    range: tuple[float, float]
    longest: float
    transitions: tuple[Transition, ...]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"

    def rate_at(self, T: float) -> Estimate:
        """Rate at T [K] in the indicator's unit a day (a share a day when exponential), with 90 % interval."""
        return self._by_log(f"rate at {celsius(T):.0f} °C", "1/day", lambda p: _rate(p, T, self.temperature))

    def life(self, limit: float, T: float) -> Estimate:
        """Days until the indicator reaches `limit` at T [K], with its 90 % interval.

        Raises `HardtackError` when the product starts beyond the limit.
        """
        start = self.fit["start"].value
        if not limit > start:
            raise HardtackError(
                f"the indicator starts at {start:.3g}, the limit is {limit:g}", "give a limit above"
            )

        def days(p: Constants) -> float:
            way = limit - p["start"] if self.order == "straight" else np.log(limit / p["start"])
            return float(way) / _rate(p, T, self.temperature)

        return self._by_log(f"days to {limit:g} at {celsius(T):.0f} °C", "days", days)

    def cautions(self, T: float) -> tuple[str, ...]:
        """What to hold against a forecast at T [K]: extrapolation, transitions on the way."""
        low, high = min(T, self.range[0]), max(T, self.range[1])
        said = []
        if not self.range[0] <= T <= self.range[1]:
            said.append(
                f"{celsius(T):.0f} °C lies outside the test ({celsius(self.range[0]):.0f} to "
                f"{celsius(self.range[1]):.0f} °C): the life there is extrapolated."
            )
        said += [
            f"{t.what} at {celsius(t.temperature):.0f} °C lies between test and store or close by: one energy does "
            "not hold across it. Test on the store's side."
            for t in self.transitions
            if low - _NEAR <= t.temperature <= high + _NEAR
        ]
        return tuple(said)

    def _by_log(self, name: str, unit: str, function: _Function) -> Estimate:
        """The value with an interval on its logarithm, as rates and lives are above zero."""
        from scipy.special import stdtrit

        log, sd = self.fit.spread(lambda p: float(np.log(function(p))))
        width = float(stdtrit(self.fit.dof, 0.5 + CONFIDENCE / 2)) * sd
        value = float(np.exp(log))
        return Estimate(
            name, value, value * sd, float(np.exp(log - width)), float(np.exp(log + width)), unit, ""
        )


def rancidity_from(
    table: Table, transitions: Sequence[Transition] = ()
) -> tuple[RancidityResult, tuple[SetAside, ...]]:
    """The fit from a table of time, temperature and peroxide value or hexanal; and what was left out."""
    there = [name for name in INDICATORS if table.keys(name)]
    if len(there) != 1:
        raise HardtackError(
            f"{table.file}: a column of peroxide value or hexanal is needed, one of them",
            "name it, such as --answer 'column Oxidation: peroxide value'; the other: not used",
        )
    taken = table.take("time", there[0], "temperature", replicated=there[0])
    t, y, T = taken.columns
    return fit_rancidity(t, y, T, transitions=transitions, rows=taken.rows), taken.aside


def fit_rancidity(
    times: Floats,
    indicator: Floats,
    temperature: Floats,
    *,
    transitions: Sequence[Transition] = (),
    rows: tuple[int, ...] = (),
    profiles: bool = True,
) -> RancidityResult:
    """Fit times [s], the indicator and temperature [K], at two temperatures or more;
    `profiles` as in `least_squares`.

    Raises `HardtackError` with one temperature only, or when the indicator does not rise.
    """
    t, y, T = (np.asarray(values, dtype=float) for values in (times, indicator, temperature))
    days = t / DAY
    if np.unique(np.round(T)).size < 2:
        raise HardtackError(
            "one temperature tells nothing of another", "store at two temperatures, better three"
        )
    T_ref = float(1 / np.mean(1 / T))
    orders: tuple[Order, ...] = ("straight", "exponential") if np.all(y > 0) else ("straight",)
    fits = [(_fit(order, days, y, T, T_ref), order) for order in orders]
    rough, order = min(fits, key=lambda found: found[0].aicc)
    fit = _fit(order, days, y, T, T_ref, rough.values, profiles=profiles)
    span = (float(T.min()), float(T.max()))
    told = _told(fit, order, T_ref, days, span, rows)
    held = tuple(transitions)
    made = RancidityResult(fit, order, T_ref, span, float(days.max()), held, told)
    return RancidityResult(fit, order, T_ref, span, made.longest, held, (*told, *made.cautions(span[0])))


def _fit(
    order: Order,
    days: Floats,
    y: Floats,
    T: Floats,
    T_ref: float,
    known: Constants | None = None,
    *,
    profiles: bool = False,
) -> Fit:
    """Fit one order, from `known` constants on where there are some."""
    first = float(np.median(y[days <= days.min() + 1e-9]))
    rise = float(y.max()) - first if order == "straight" else float(np.log(y.max() / max(first, 1e-9)))
    names = (
        Sought(
            "start",
            0.0 if order == "straight" else 1e-12,
            float("inf"),
            "as in the file",
            "indicator when fresh",
        ),
        Sought(
            "rate",
            0.0,
            float("inf"),
            "1/day" if order == "exponential" else "as in the file/day",
            f"rate at {celsius(T_ref):.0f} °C",
        ),
        Sought("energy", -5e4, 3e5, "J/mol", "activation energy"),
    )
    starts = [
        {"start": max(first, 1e-9), "rate": max(rise, 1e-9) / float(days.max()) * f, "energy": E}
        for E in (4e4, 9e4)
        for f in (0.3, 1.0)
    ]

    def predict(p: Constants) -> Floats:
        return indicator_after(order, p, days, T, T_ref)

    fit = least_squares(predict, y, names, [known] if known else starts, profiles=profiles)
    if float(np.ptp(fit.predicted)) < 1e-3 * fit.sigma:
        raise HardtackError(
            "the indicator does not rise", "store longer or warmer; look at the order of the readings"
        )
    return fit


def indicator_after(order: Order, p: Constants, days: Floats, T: Floats | float, T_ref: float) -> Floats:
    """The indicator after `days` at T [K] by the constants of a fit whose rate holds at T_ref [K]."""
    grown = p["rate"] * np.exp(-p["energy"] / GAS_CONSTANT * (1 / T - 1 / T_ref)) * days
    return np.asarray(p["start"] + grown if order == "straight" else p["start"] * np.exp(grown))


def _rate(p: Constants, T: float, T_ref: float) -> float:
    return float(p["rate"] * np.exp(-p["energy"] / GAS_CONSTANT * (1 / T - 1 / T_ref)))


def _told(
    fit: Fit, order: Order, T_ref: float, days: Floats, span: tuple[float, float], rows: tuple[int, ...]
) -> tuple[str, ...]:
    said = [
        f"The indicator rises {'straight' if order == 'straight' else 'exponentially'} with time; "
        f"activation energy {fit['energy'].value / 1e3:.0f} kJ/mol.",
        *(str(estimate) for estimate in fit.estimates),
        f"Measured to day {days.max():.3g}, {celsius(span[0]):.0f} to {celsius(span[1]):.0f} °C. A lag before the rise "
        "is not part of this form: see whether the first readings lie below the curve.",
    ]
    if span[1] > 273.15 + 45:
        said.append("Above about 45 °C other reactions may lead: common practice, no source.")
    said += [f"{doubt}." for doubt in fit.weak]
    said += [
        f"{f'row {rows[i]}' if rows else f'point {i + 1}'} stands apart from the curve; it is still in the fit."
        for i in fit.outliers
    ]
    return tuple(said)
