"""`hardtack fit crispness`: force, sound or panel score to the limit of crispness."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.crispness import MEASURES, CrispnessLimit, crispness_from, sigmoid
from hardtack.measurements.fit_answer import Drawing, FitAnswer, Mark, Points, curve, grid, layer_named
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.reading import read_table
from hardtack.product import Product
from hardtack.units import ZERO_CELSIUS, celsius

ROOM = ZERO_CELSIUS + 25.0
_UNITS = {"force": "force, N", "sound": "sound", "score": "score"}


def fit_crispness(
    data: str | Path, *, loss: float = 0.5, temperature: float | None = None, said: Answers = NONE
) -> FitAnswer:
    """Fit the falling sigmoid; `loss` is the share of crispness whose loss counts as failure.

    `temperature` [K] is that of the test: the file's own mean unless given, and 25 °C when it has none. Raises
    `HardtackError` when the file leaves something open or the measure does not fall.
    """
    table = read_table(data, said)
    found, aside = crispness_from(table, loss)
    measure = next(name for name in MEASURES if table.keys(name))
    taken = table.take("activity", measure, replicated=measure)
    a, Y = taken.columns
    T, how = _temperature(table.numbers("temperature"), temperature)
    fit = found.fit
    x = grid(a, high=max(float(a.max()), found.activity + 0.02))
    marks = (Mark(found.activity, f"{loss:.0%} lost: {found.activity:.3f} ± {found.sd:.3f}"),)
    sentence = (
        f"The product has lost {loss:.0%} of its crispness at water activity {found.activity:.3f} ± {found.sd:.3f} "
        f"(90 %: {found.low:.3f} to {found.high:.3f}), judged by {measure}, at {celsius(T):.0f} °C{how}."
    )
    return FitAnswer(
        kind="crispness",
        sentence=sentence,
        told=found.told,
        estimates=fit.estimates,
        drawing=Drawing(
            "water activity", _UNITS[measure], (Points("measured", a, Y, fit.outliers, fit.predicted),),
            (curve(fit, "fitted", x, lambda p: sigmoid(x, p)),), marks, _UNITS[measure].rpartition(", ")[2],
        ),
        tables=(table,),
        aside=aside,
        weak=fit.weak,
        covariance=fit.named_covariance,
        facts={
            "measure": measure, "failing_loss": loss, "at_degC": celsius(T),
            "activity": found.activity, "sd": found.sd, "low": found.low, "high": found.high,
            "activity_range": list(found.range),
        },
        places=lambda product, layer: _entries(product, layer, found, T, Path(data).name),
    )  # fmt: skip


def _temperature(measured: np.ndarray, given: float | None) -> tuple[float, str]:
    if given is not None:
        return given, ""
    if measured.size:
        return float(measured.mean()), ""
    return ROOM, " (assumed: the file states no temperature)"


def _entries(product: Product, layer: str, found: CrispnessLimit, T: float, source: str) -> tuple[Entry, ...]:
    middle, steep = found.fit["midpoint"], found.fit["steepness"]
    loss = found.softening.failing_loss
    limit = {
        "layer": layer_named(product, layer),
        "midpoint": amount_text(middle.value, middle.sd, "", source=source),
        "steepness": amount_text(steep.value, steep.sd, "", source=source),
        "failing loss": f"{100 * loss:.4g} %",
        "at": f"{celsius(T):.4g} degC",
    }
    return (Entry("limits / crispness", limit, ("activity", "moisture")),)
