"""Bake loss: what a piece loses in the oven, as a steady rate after a time of heating up.

loss = rate x (t - lag) for t > lag, a share of the dough weight. Simple on purpose: common practice, no source;
near the end of a hard bake the rate falls, and the line must not be carried on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import Fit, Sought, least_squares
from hardtack.sourced import Provenance
from hardtack.states import Floats


@dataclass(frozen=True, slots=True, eq=False)
class BakeLoss:
    """The fit: `rate` [1/min of the dough weight] and `lag` [min]; over baking times `range` [s]."""

    fit: Fit
    range: tuple[float, float]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"

    def moisture(self, time: float, dough_moisture: float) -> tuple[float, float]:
        """Moisture [kg/kg dry] after `time` [s] from the dough's, with its standard deviation.

        X = X_dough - loss (1 + X_dough), as loss counts on the dough weight.
        """
        X = dough_moisture
        return self.fit.spread(lambda p: X - p["rate"] * max(time / 60 - p["lag"], 0.0) * (1 + X))


def fit_bake_loss(times: Floats, dough: Floats, baked: Floats, *, profiles: bool = True) -> BakeLoss:
    """Fit baking times [s] and weights before and after [kg]; `profiles` as in `least_squares`.

    Raises `HardtackError` when pieces gained weight or too few times were baked.
    """
    t, before, after = (np.asarray(values, dtype=float) for values in (times, dough, baked))
    if not np.all((after < before) & (after > 0)):
        raise HardtackError(
            "a baked piece weighs as much as its dough", "look at order and unit of the weights"
        )
    minutes, loss = t / 60, 1 - after / before
    if np.unique(minutes).size < 3:
        raise HardtackError(
            "fewer than three baking times", "bake three times at least, one short and one long"
        )
    slope = max(float(np.polyfit(minutes, loss, 1)[0]), 1e-6)
    names = (
        Sought("rate", 0.0, 1.0, "1/min", "share of the dough weight lost per minute"),
        Sought("lag", 0.0, float(minutes.max()), "min", "time of heating up"),
    )
    starts = [{"rate": slope, "lag": share * float(minutes.min())} for share in (0.1, 0.5, 0.9)]
    fit = least_squares(
        lambda p: p["rate"] * np.maximum(minutes - p["lag"], 0.0), loss, names, starts, profiles=profiles
    )
    told = (
        f"Loses {100 * fit['rate'].value:.2g} % of the dough weight a minute after {fit['lag'].value:.2g} min.",
        *(str(estimate) for estimate in fit.estimates),
        f"Baked {minutes.min():.3g} to {minutes.max():.3g} min; outside it is extrapolation.",
        *(f"{doubt}." for doubt in fit.weak),
        *(f"piece {i + 1} stands apart from the line; it is still in the fit." for i in fit.outliers),
    )
    return BakeLoss(fit, (float(t.min()), float(t.max())), told)
