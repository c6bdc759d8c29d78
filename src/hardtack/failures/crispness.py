"""Crispness lost: a layer drinks past the moisture at which it is no longer crisp."""

from __future__ import annotations

import numpy as np

from hardtack.failures.texture import Softening, TextureLimit, limit_moisture, rising_share
from hardtack.states import FailureCourse, Floats, History, Isotherm
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import activity

NAME = "crispness"


def crispness_left(softening: Softening, a: Floats) -> Floats:
    """Share of the dry crispness left at activity a (judged at the limit's temperature)."""
    return 1.0 / (1.0 + np.exp((np.asarray(a) - softening.midpoint) / softening.steepness))


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh to the limit, or of the allowed loss when the
    limit is a sigmoid. Failure time is the located crossing of the layer's mean moisture."""
    X_limit = limit_moisture(limit, isotherm)
    at = history.layers.index(limit.layer)
    X = history.moisture[:, at]
    if limit.softening is None:
        share = rising_share(X, X_limit)
        shape = ""
    else:
        a = activity(isotherm, X, limit.temperature)
        left = crispness_left(limit.softening, a)
        share = np.maximum(0.0, (left[0] - left) / (left[0] - (1.0 - limit.softening.failing_loss)))
        if left[0] <= 1.0 - limit.softening.failing_loss:
            share = np.full_like(X, 1.0)
        shape = f", when {limit.softening.failing_loss:.0%} of its crispness is gone"
    time = limit.crossing(history, X_limit)
    return FailureCourse(
        name=NAME,
        layer=limit.layer,
        share=share,
        time=time,
        limit=(
            f"{limit.layer} at {100 * wet_basis(X_limit):.2f} % moisture (wet basis), "
            f"water activity {limit.activity_for(isotherm):.2f} at {celsius(limit.temperature):.0f} °C{shape}"
        ),
        meaning=f"the {limit.layer} has taken up water until it no longer snaps",
        valid="while the limit was found on a like product; texture follows moisture, so the limit is one of moisture",
        source=limit.source,
        provenance=limit.provenance,
        sharpen=(
            "crispness against water activity of this product: jars over salts from 0.2 to 0.6, "
            "10 pieces each, by panel or by force and sound"
        ),
    )

