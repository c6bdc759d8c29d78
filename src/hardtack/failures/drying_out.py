"""Drying out: a soft layer loses water until it is dry and hard to eat."""

from __future__ import annotations

from hardtack.failures.texture import TextureLimit, limit_moisture, rising_share
from hardtack.states import FailureCourse, History, Isotherm
from hardtack.units import celsius, wet_basis

NAME = "drying out"


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh down to the limit."""
    X_limit = limit_moisture(limit, isotherm)
    X = history.moisture[:, history.layers.index(limit.layer)]
    return FailureCourse(
        name=NAME,
        layer=limit.layer,
        share=rising_share(X, X_limit),
        time=limit.crossing(history, X_limit),
        limit=(
            f"{limit.layer} at {100 * wet_basis(X_limit):.2f} % moisture (wet basis), "
            f"water activity {limit.activity_for(isotherm):.2f} at {celsius(limit.temperature):.0f} °C"
        ),
        meaning=f"the {limit.layer} has lost water until it eats dry",
        valid="while water leaves as vapour; firming of starch is another matter and not counted here",
        source=limit.source,
        provenance=limit.provenance,
        sharpen=f"moisture of the {limit.layer} against a panel's word for dry, five levels",
    )
