"""A storage trial against the whole model: which factors on permeance, isotherm or diffusivity make it meet?

Factors multiply what the product file gives: a `permeance` factor of 1.4 says that the pack lets through 1.4 times
as much as the file has it. The packs stood in the product's own journey, or in one constant climate or several;
several are fitted at once, and each alone beside it, so that accelerated storage can be held against real time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import Constants, Estimate, Fit, Sought, corrected_aic, least_squares
from hardtack.measurements.model import (
    FACTORS,
    Air,
    Model,
    first_failure,
    model_of,
    moisture_course,
    moved,
    pair_given,
    standing,
)
from hardtack.product import Product
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import DAY
from hardtack.water.isotherm import activity

Factor = Literal["permeance", "isotherm", "diffusivity"]
Measured = Literal["moisture", "activity"]
LARGEST = 20.0
_APART = 2.0
"""Standard deviations between two climates from which they are said to differ; common practice, no source."""
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Date:
    """Days to the first failure on the product's journey: with the file alone, and with the trial.

    `sd` holds the errors of the factors only. None where nothing fails within the journey.
    """

    before: float | None
    after: float | None
    sd: float | None


@dataclass(frozen=True, slots=True, eq=False)
class TrialResult:
    """The factors with their errors; what the file alone would have said, and what it says with them.

    `support` are sets of factors with their AICc, the best first, the empty set for the file as it is. `alone`
    are the factors from each climate by itself.
    """

    fit: Fit
    before: Floats
    after: Floats
    date: Date
    support: tuple[tuple[tuple[str, ...], float], ...]
    alone: Mapping[str, tuple[Estimate, ...]]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """A layer's mean moisture [kg/kg dry] or activity at times [s] from packing, each in one of `airs` by place.

    Without `airs` the packs went through the product's own journey.
    """

    times: Floats
    measured: Floats
    kind: Measured
    airs: tuple[Air, ...] = ()
    place: Floats | None = None

    def of(self, k: int) -> Readings:
        """The readings in one air."""
        assert self.place is not None  # asked for only where there are airs
        here = self.place == k
        return Readings(
            self.times[here], self.measured[here], self.kind, (self.airs[k],), np.zeros(int(here.sum()))
        )


def fit_storage_trial(
    product: Product,
    layer: str,
    readings: Readings,
    factors: Sequence[Factor] = (),
    progress: Progress = lambda _: None,
) -> TrialResult:
    """Fit factors to the readings; without `factors` the set that AICc prefers.

    `progress` is told the share of the work that is done. Raises `HardtackError` when the product has no pack,
    no such layer, or its journey is shorter than the trial.
    """
    model = model_of(product, layer)
    _check(model, readings)
    n = readings.measured.size
    before = predicted(model, readings, {})
    tried = [tuple(factors)] if factors else _sets(model, n)
    rss = float(np.sum((before - readings.measured) ** 2))
    support: list[tuple[tuple[str, ...], float]] = [((), corrected_aic(n * float(np.log(rss / n)), 1, n))]
    fits: dict[tuple[str, ...], Fit] = {}
    for k, names in enumerate(tried):
        fits[names] = _fit(model, readings, names, profiles=False)
        # a factor that ran into its bound, or is not fixed, is not supported
        if not any(
            "bound" in doubt or "no effect" in doubt or "combination" in doubt for doubt in fits[names].weak
        ):
            support.append((names, fits[names].aicc))
        progress(0.6 * (k + 1) / len(tried))
    support.sort(key=lambda pair: pair[1])
    names = tuple(factors) or next((names for names, _ in support if names), ("permeance",))
    fit = _fit(model, readings, names, profiles=True)
    progress(0.8)
    date = _date(model, fit)
    alone = _alone(model, readings, names)
    progress(1.0)
    told = _told(readings, fit, before, date, support, alone, names)
    return TrialResult(fit, before, fit.predicted, date, tuple(support), alone, told)


def _check(model: Model, readings: Readings) -> None:
    t = readings.times
    if t.size == 0 or not np.all(t >= 0):
        raise HardtackError("no readings at times from packing on", "the first day is day 0, packing")
    end = model.journey.legs[-1].end
    if not readings.airs and t.max() > end + 1:
        raise HardtackError(
            f"the trial ran {t.max() / DAY:.0f} days, the journey {end / DAY:.0f}",
            "say in which climate the packs stood (columns temperature and humidity, or --climate '30 degC, 75 %'), or "
            "let the product file's journey be the trial's, as long as the trial",
        )


def _sets(model: Model, n: int) -> list[tuple[str, ...]]:
    names = [name for name in FACTORS if name != "isotherm" or not pair_given(model)]
    return [pair for size in (1, 2) for pair in combinations(names, size) if n > size]


def predicted(model: Model, readings: Readings, factors: Mapping[str, float]) -> Floats:
    """What the model with these factors says of every reading."""
    changed = moved(model, factors)
    values = np.empty(readings.times.size)
    for k in range(max(len(readings.airs), 1)):
        here = np.ones(values.size, dtype=bool) if readings.place is None else readings.place == k
        if not here.any():
            continue
        t = readings.times[here]
        air = readings.airs[k] if readings.airs else None
        journey = None if air is None else standing(air, max(float(t.max()), DAY))
        X = moisture_course(changed, t, journey)
        if readings.kind == "activity":
            # read in the laboratory, at the temperature of the store unless told otherwise
            T = air.temperature if air is not None else float(model.journey.legs[0].climate.temperature[0])
            X = np.asarray(activity(changed.isotherm, X, T))
        values[here] = X
    return values


def _fit(model: Model, readings: Readings, names: Sequence[str], *, profiles: bool) -> Fit:
    sought = [Sought(name, 1 / LARGEST, LARGEST, "", FACTORS[name]) for name in names]
    starts: list[Constants] = [dict.fromkeys(names, value) for value in (1.0, 1.5)]

    def predict(p: Constants) -> Floats:
        try:
            return predicted(model, readings, p)
        except HardtackError:
            return np.full(readings.times.size, np.nan)  # factors that are no product: the search turns back

    return least_squares(predict, readings.measured, sought, starts, profiles=profiles)


def _date(model: Model, fit: Fit) -> Date:
    before, after = first_failure(model), first_failure(moved(model, fit.values))
    known = np.isfinite(np.diag(fit.covariance))
    if after is None or not known.all():
        return Date(before, after, None)
    slopes = []
    for estimate in fit.estimates:
        step = min(estimate.sd or 0.0, 0.2 * estimate.value) or 1e-3
        ends = [
            first_failure(moved(model, {**fit.values, estimate.name: estimate.value + sign * step}))
            for sign in (1, -1)
        ]
        if ends[0] is None or ends[1] is None:
            return Date(before, after, None)
        slopes.append((ends[0] - ends[1]) / (2 * step))
    slope = np.array(slopes)
    return Date(before, after, float(np.sqrt(max(float(slope @ fit.covariance @ slope), 0.0))))


def _alone(model: Model, readings: Readings, names: Sequence[str]) -> dict[str, tuple[Estimate, ...]]:
    if len(readings.airs) < 2:
        return {}
    found = {}
    for k, air in enumerate(readings.airs):
        own = readings.of(k)
        if own.measured.size > len(names):
            found[str(air)] = _fit(model, own, names, profiles=False).estimates
    return found


def days_text(days: float | None) -> str:
    """Days, or that nothing fails within the journey."""
    return "not within the journey" if days is None else f"on day {days:.0f}"


def _told(
    readings: Readings,
    fit: Fit,
    before: Floats,
    date: Date,
    support: list[tuple[tuple[str, ...], float]],
    alone: Mapping[str, tuple[Estimate, ...]],
    names: tuple[str, ...],
) -> tuple[str, ...]:
    rms = [float(np.sqrt(np.mean((values - readings.measured) ** 2))) for values in (before, fit.predicted)]
    unit = "kg/kg dry" if readings.kind == "moisture" else "of activity"
    last = readings.times.max() / DAY
    spread = f" ± {date.sd:.2g}" if date.sd is not None else ""
    said = [
        f"By the file alone the first failure comes {days_text(date.before)}, with the trial "
        f"{days_text(date.after)}{spread if date.after is not None else ''} (errors of the factors only).",
        f"The file alone misses the trial by {rms[0]:.2g} {unit}, with the factors by {rms[1]:.2g}.",
        *(f"{estimate.meaning}: {estimate}" for estimate in fit.estimates),
    ]
    if date.after is not None and date.after > last:
        said.append(
            f"The trial has run {last:.0f} days and the date lies {date.after - last:.0f} days further on: from here "
            "on the model carries it. Add the next readings and fit again."
        )
    said += _supported(support, names)
    said += _against(alone)
    said += [f"{doubt}." for doubt in fit.weak]
    said += [
        f"The reading of day {readings.times[i] / DAY:g} ({readings.measured[i]:.4g} {unit}) stands apart from the "
        "course; it is still in the fit."
        for i in fit.outliers
    ]
    return tuple(said)


def _supported(support: list[tuple[tuple[str, ...], float]], names: tuple[str, ...]) -> list[str]:
    least = support[0][1]
    shown = "; ".join(
        f"{' and '.join(found) or 'the file as it is'} {aicc - least:+.1f}" for found, aicc in support
    )
    said = [f"What the readings support, by AICc, the least first: {shown}."] if len(support) > 2 else []
    if not support[0][0] and len(support) > 1:
        said.append("The readings ask for no factor at all: the file as it is meets them as well.")
    elif len(support) > 2 and support[0][0] == names:
        rivals = [found for found, aicc in support[1:] if aicc - least < 2.0 and found]
        if rivals:
            said.append(
                f"As good: {'; '.join(' and '.join(found) for found in rivals)}. The readings do not tell these apart."
            )
    return said


def _against(alone: Mapping[str, tuple[Estimate, ...]]) -> list[str]:
    said = []
    for air, estimates in alone.items():
        said.append(f"{air} by itself: {'; '.join(map(str, estimates))}.")
    for (one, first), (two, second) in combinations(alone.items(), 2):
        for a, b in zip(first, second, strict=True):
            if a.sd is None or b.sd is None:
                continue
            apart = abs(a.value - b.value) / float(np.hypot(a.sd, b.sd) or 1e-300)
            if apart > _APART:
                said.append(
                    f"{one} and {two} do not agree on the {a.name} ({a.value:.3g} and {b.value:.3g}): what holds in "
                    "accelerated storage does not hold in the other. Trust the climate nearest to the store's."
                )
            else:
                said.append(f"{one} and {two} agree on the {a.name} within their errors.")
    return said
