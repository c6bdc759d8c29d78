"""Yeasts that bear sugar: a filling, fondant or marzipan ferments, smells of it and blows its pack."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.failures.growth import PLAIN, Setting, Watched, carried, organism
from hardtack.failures.names import FERMENTATION
from hardtack.failures.running import first_time, running_integral
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Gate, History
from hardtack.units import celsius, days

NAME = FERMENTATION
ORGANISM = "Zygosaccharomyces rouxii"
CONFIRM = (
    "the person responsible for quality, by plating the filling and the ingredients that bring yeast "
    "(honey, syrups, nuts, "
    "fruit) on a medium of low activity"
)


@dataclass(frozen=True, slots=True)
class Fermentation:
    """Fermentation was first noticed in `layer` after `life` [s] at constant activity `a` and T [K]."""

    layer: str
    life: float
    a: float
    T: float
    measured_in: Setting = PLAIN
    setting: Setting = PLAIN
    provenance: Provenance = "measured here"
    source: str = ""


def gate(history: History, layer: str) -> Gate:
    """Whether yeasts that bear sugar can grow in the layer at all; no days, for those take a measurement."""
    row = lookup("growth limits", ORGANISM)
    highest = float(history.activity[:, history.layers.index(layer)].max())
    low, high = row["a_min"], row["a_min_highest"]
    words = (
        f"The {layer} reaches water activity {highest:.2f}. Yeasts that bear sugar stop at {low:.2f} to "
        f"{high:.2f} ({row.name})"
    )
    if highest < low:
        finding = f"{words}: it stays drier than any of them grows at. They may still be alive in it."
    elif highest < high:
        finding = (
            f"{words}: some strains may grow. It depends on what comes in with the sugar, syrup, honey or "
            "nuts."
        )
    else:
        finding = (
            f"{words}: they grow here unless something else stops them (cold, acid, preservative, clean "
            "ingredients)."
        )
    return Gate("yeasts in fillings", finding, CONFIRM, row.source.citation, row.provenance)


def course(history: History, spec: Fermentation) -> FailureCourse:
    """Share of life: dt / life measured, times the growth factor here over the factor where it was measured.

    Raises `HardtackError` when the yeast could not have grown where the day was measured.
    """
    kind = organism(ORGANISM)
    pace = carried(Watched(kind, spec.life, spec.a, spec.T, spec.measured_in), spec.setting)
    a = np.minimum(1.0, history.activity[:, history.layers.index(spec.layer)])
    share = running_integral(history, a, pace)
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=(
            f"fermentation noticed in {spec.layer}, from {days(spec.life):.3g} days measured at activity "
            f"{spec.a:.2f} and "
            f"{celsius(spec.T):.0f} °C"
        ),
        meaning=f"yeast has grown in the {spec.layer}: gas, smell, a blown pack",
        valid=(
            "relative rates of one yeast; how many cells come in decides the days, so the measured day "
            "must be of this plant"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen="days to gas at two activities of the filling, inoculated with a strain of this plant",
    )
