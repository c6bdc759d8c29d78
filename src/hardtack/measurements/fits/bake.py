"""`hardtack fit bake`: weights before and after the oven to the rate of loss, and the moisture it leaves."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.bake_loss import BakeLoss, fit_bake_loss
from hardtack.measurements.fit_answer import Drawing, FitAnswer, Mark, Points, curve, grid, layer_named
from hardtack.measurements.fits.oven_log import is_oven_log, log_answer
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.reading import read_table
from hardtack.product import Product
from hardtack.units import wet_basis


def fit_bake(
    data: str | Path,
    *,
    dough_moisture: float | None = None,
    time: float | None = None,
    said: Answers = NONE,
) -> FitAnswer:
    """Fit baking time, dough weight and baked weight; or the log of a probe in the core.

    With the dough's moisture [kg/kg dry] and a baking `time` [s] the moisture of the baked piece is given. Raises
    `HardtackError` when the file leaves something open, or only one of the two is given.
    """
    if (dough_moisture is None) != (time is None):
        raise HardtackError(
            "the moisture of the baked piece needs two things",
            "give the dough's moisture and the baking time: --dough-moisture '29 %wb' --time '7 min'",
        )
    table = read_table(data, said)
    if is_oven_log(table):
        return log_answer(table, data)
    taken = table.take("time", "dough mass", "baked mass", replicated="baked mass")
    t, before, after = taken.columns
    found = fit_bake_loss(t, before, after)
    fit = found.fit
    baked = None if dough_moisture is None or time is None else found.moisture(time, dough_moisture)
    minutes = t / 60
    x = grid(minutes, low=0.0)
    sentence = found.told[0]
    marks: tuple[Mark, ...] = ()
    if baked is not None and time is not None:
        outside = (
            "" if found.range[0] <= time <= found.range[1] else ", outside the tested times: an extrapolation"
        )
        spread = 100 * baked[1] / (1 + baked[0]) ** 2
        sentence = (
            f"Baked for {time / 60:.3g} min the piece keeps {100 * wet_basis(baked[0]):.2f} ± {spread:.2f} % moisture "
            f"(wet basis){outside}."
        )
        marks = (Mark(time / 60, f"{time / 60:.3g} min"),)
    return FitAnswer(
        kind="bake",
        sentence=sentence,
        told=found.told,
        estimates=fit.estimates,
        drawing=Drawing(
            "baking time, min", "loss, % of the dough weight",
            (Points("measured", minutes, 100 * (1 - after / before), fit.outliers, 100 * fit.predicted),),
            (curve(fit, "fitted", x, lambda p: p["rate"] * np.maximum(x - p["lag"], 0.0), 100.0),), marks, "%",
        ),
        tables=(table,),
        aside=taken.aside,
        weak=fit.weak,
        covariance=fit.named_covariance,
        facts={
            "time_range_min": [end / 60 for end in found.range],
            "baked_moisture_dry_basis": None if baked is None else {"value": baked[0], "sd": baked[1]},
        },
        places=None if baked is None else (
            lambda product, layer: _entries(product, layer, found, baked, Path(data).name)
        ),
    )  # fmt: skip


def _entries(
    product: Product, layer: str, found: BakeLoss, baked: tuple[float, float], source: str
) -> tuple[Entry, ...]:
    text = amount_text(100 * baked[0], 100 * baked[1], "%db", found.provenance, f"{source}, bake loss")
    return (Entry(f"piece / layers / {layer_named(product, layer)} / moisture", text),)
