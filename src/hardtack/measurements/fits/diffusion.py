"""`hardtack fit diffusion`: sorption steps of a sample to the diffusivity of its material."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.diffusivity import DiffusivityResult, Sample, course, fit_diffusivity
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Points, layer_named
from hardtack.measurements.fitting import Estimate, Named
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import SetAside, Table
from hardtack.product import Product
from hardtack.states import Floats, Isotherm
from hardtack.units import celsius

HOUR = 3600.0
_SAME_AIR = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    activity: float
    start: float
    times: Floats
    moisture: Floats
    found: DiffusivityResult


def fit_diffusion(
    data: str | Path,
    *,
    sample: Sample,
    isotherm: Isotherm,
    temperature: float,
    activity: float | None = None,
    said: Answers = NONE,
) -> FitAnswer:
    """Follow every step of humidity through the transport core and fit D; `temperature` in K.

    The file has time and moisture (or mass, with the sample's dry mass), and the air's humidity unless
    `activity` gives it for all rows. Several steps give D at several moistures, and its slope. Raises
    `HardtackError` when the file leaves something open or a step says nothing.
    """
    table = read_table(data, said)
    t, X, a, aside = _readings(table, sample, activity)
    steps = []
    for first, last in _steps(a):
        # a step begins with the last reading before it
        begin = max(first - 1, 0)
        times, moistures = t[begin : last + 1] - t[begin], X[begin : last + 1]
        found = fit_diffusivity(sample, isotherm, times, moistures, float(a[last]), temperature)
        steps.append(_Step(float(a[last]), float(t[begin]), times, moistures, found))
    law = _law(steps)
    told = [line for k, step in enumerate(steps) for line in _told(k, step, len(steps))]
    return FitAnswer(
        kind="diffusion",
        sentence=_sentence(steps, law, temperature),
        told=tuple(told),
        estimates=_estimates(steps, law),
        drawing=_drawing(steps, sample, isotherm, temperature),
        tables=(table,),
        aside=aside,
        weak=tuple(doubt for step in steps for doubt in step.found.fit.weak),
        covariance=_covariance(steps),
        facts={
            "at_degC": celsius(temperature),
            "steps": [
                {
                    "humidity": step.activity, "from_hour": step.start / HOUR,
                    "D_m2_per_s": {"value": step.found.D, "sd": step.found.sd, "low": step.found.low, "high": step.found.high},
                    "moisture_dry_basis": list(step.found.range), "final_moisture_dry_basis": step.found.final_moisture,
                }
                for step in steps
            ],
            "slope_of_ln_D_per_moisture": None if law is None else {"value": law[2], "sd": law[3]},
        },
        places=lambda product, layer: _entries(product, layer, steps, law, temperature, Path(data).name),
    )  # fmt: skip


def _readings(
    table: Table, sample: Sample, activity: float | None
) -> tuple[Floats, Floats, Floats, tuple[SetAside, ...]]:
    what = "moisture" if table.keys("moisture") else "mass"
    names = ("time", what) if activity is not None else ("time", what, "humidity")
    taken = table.take(*names)
    t, X = taken.columns[:2]
    if what == "mass":
        X = X / sample.dry_mass - 1.0
        if X.size and X.min() <= 0:
            raise HardtackError(
                f"{table.file}: the sample weighs less than its dry mass", "look at --dry-mass and the unit"
            )
    a = taken.columns[2] if activity is None else np.full(t.size, activity)
    if t.size < 4:
        raise HardtackError(
            f"{table.file}: {t.size} readings are no sorption step", "weigh at least four times"
        )
    return t - t[0], X, a, taken.aside


def _steps(a: Floats) -> list[tuple[int, int]]:
    """First and last reading of every stretch of one humidity."""
    changes = [0, *(k for k in range(1, a.size) if abs(a[k] - a[k - 1]) > _SAME_AIR), a.size]
    found = [(first, end - 1) for first, end in pairwise(changes)]
    # a first row alone in its air is the state before the step
    return [pair for pair in found if pair[1] - pair[0] >= 2] or [(0, a.size - 1)]


def _law(steps: list[_Step]) -> tuple[float, float, float, float] | None:
    """ln D at the middle moisture with sd, and its slope against moisture with sd; None for one step."""
    if len(steps) < 2 or not all(np.isfinite(step.found.sd) and step.found.sd > 0 for step in steps):
        return None
    X = np.array([np.mean(step.found.range) for step in steps])
    y = np.log([step.found.D for step in steps])
    w = np.array([step.found.D / step.found.sd for step in steps])
    middle = float(np.average(X, weights=w**2))
    design = np.stack([np.ones_like(X), X - middle], axis=1) * w[:, None]
    covariance = np.linalg.inv(design.T @ design)
    at, slope = covariance @ design.T @ (w * y)
    return float(at), float(np.sqrt(covariance[0, 0])), float(slope), float(np.sqrt(covariance[1, 1]))


def _middle(steps: list[_Step]) -> float:
    w = np.array([(step.found.D / step.found.sd) ** 2 for step in steps])
    return float(np.average([np.mean(step.found.range) for step in steps], weights=w))


def _sentence(steps: list[_Step], law: tuple[float, float, float, float] | None, T: float) -> str:
    if law is None:
        found = steps[0].found
        low, high = found.range
        return (
            f"The moisture diffusivity is {found.D:.2e} ± {found.sd:.1e} m²/s at {celsius(T):.0f} °C, between "
            f"{100 * low:.1f} and {100 * high:.1f} g water per 100 g dry."
        )
    return (
        f"The moisture diffusivity is {np.exp(law[0]):.2e} ± {np.exp(law[0]) * law[1]:.1e} m²/s at "
        f"{100 * _middle(steps):.1f} g water per 100 g dry and {celsius(T):.0f} °C, and changes by a factor "
        f"{np.exp(0.01 * law[2]):.2f} for every 1 g/100 g more ({len(steps)} steps)."
    )


def _covariance(steps: list[_Step]) -> Named:
    """Of all steps' constants; steps were fitted one by one, so nothing ties them."""
    names = [f"{name} of step {k + 1}" for k, step in enumerate(steps) for name in step.found.fit.values]
    whole = np.zeros((len(names), len(names)))
    for k, step in enumerate(steps):
        n = len(step.found.fit.values)
        whole[k * n : (k + 1) * n, k * n : (k + 1) * n] = step.found.fit.covariance
    return tuple(names), whole


def _told(k: int, step: _Step, count: int) -> tuple[str, ...]:
    head = f"Step {k + 1}, to {step.activity:.0%} humidity: " if count > 1 else ""
    return (head + step.found.told[0], *step.found.told[1:])


def _estimates(steps: list[_Step], law: tuple[float, float, float, float] | None) -> tuple[Estimate, ...]:
    made = [
        Estimate(f"D{k + 1}" if len(steps) > 1 else "D", step.found.D, step.found.sd, step.found.low, step.found.high,
                 "m2/s", f"diffusivity in the step to {step.activity:.0%} humidity")
        for k, step in enumerate(steps)
    ]  # fmt: skip
    if law is not None:
        made.append(Estimate("slope", law[2], law[3], law[2] - 1.645 * law[3], law[2] + 1.645 * law[3], "per kg/kg dry",
                             "slope of ln D against moisture"))  # fmt: skip
    return tuple(made)


def _drawing(steps: list[_Step], sample: Sample, isotherm: Isotherm, T: float) -> Drawing:
    points, curves = [], []
    for step in steps:
        fit = step.found.fit
        name = f"to {step.activity:.0%} humidity"
        predicted = 100 * np.concatenate([step.moisture[:1], fit.predicted])
        apart = tuple(k + 1 for k in fit.outliers)
        points.append(Points(name, (step.start + step.times) / HOUR, 100 * step.moisture, apart, predicted))
        x = np.linspace(0.0, float(step.times[-1]), 81)
        y = [course(sample, isotherm, x, float(step.moisture[0]), p, step.activity, T) for p in _sides(step)]
        curves.append(
            Curve(
                name, (step.start + x) / HOUR, 100 * y[0], 100 * np.minimum(*y[1:]), 100 * np.maximum(*y[1:])
            )
        )
    return Drawing(
        "hours", "moisture, g water per 100 g dry", tuple(points), tuple(curves), (), "g/100 g dry"
    )


def _sides(step: _Step) -> list[dict[str, float]]:
    """The fitted constants, and the same with D at the ends of its 90 % interval."""
    found, values = step.found, step.found.fit.values
    low, high = found.low or found.D, found.high or found.D
    return [values, {**values, "log10_D": float(np.log10(low))}, {**values, "log10_D": float(np.log10(high))}]


def _entries(
    product: Product,
    layer: str,
    steps: list[_Step],
    law: tuple[float, float, float, float] | None,
    T: float,
    source: str,
) -> tuple[Entry, ...]:
    if law is None:
        found = steps[0].found
        made = {"value": amount_text(found.D, found.sd, "m2/s", source=source)}
        drops: tuple[str, ...] = ("rises with moisture", "around")
    else:
        D = float(np.exp(law[0]))
        made = {
            "value": amount_text(D, D * law[1], "m2/s", source=source),
            "rises with moisture": amount_text(law[2], law[3], "", source=source),
            "around": f"{100 * _middle(steps):.4g} %db",
        }
        drops = ()
    made["at"] = f"{celsius(T):.4g} degC"
    return (Entry(f"piece / layers / {layer_named(product, layer)} / diffusivity", made, drops),)
