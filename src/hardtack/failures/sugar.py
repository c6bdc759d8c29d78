"""Sugar: an icing weeps, a wet icing grains, a glassy sugar crystallises and turns sticky or hard.

A crystal draws water above its deliquescence point and a solution grains below it: that is a crossing of one
activity. A glass keeps while its transition lies above the temperature; above it, time counts, by Williams,
Landel and Ferry (1955), J. Am. Chem. Soc. 77:3701.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import SUGAR
from hardtack.failures.running import first_time
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Floats, History
from hardtack.units import celsius, days
from hardtack.water.glass import Glass, glass, glass_transition

NAME = SUGAR


@dataclass(frozen=True, slots=True)
class Crossing:
    """A sugar of the shelf in `layer` that must not draw water ("weeping") or must not grain ("graining")."""

    layer: str
    sugar: str
    way: Literal["weeping", "graining"]


@dataclass(frozen=True, slots=True)
class Glassy:
    """A glassy sugar in `layer` crystallised after `life` [s] at moisture X [kg/kg dry] and T [K], steady.

    `solid` names its glass on the shelf (glass transitions).
    """

    layer: str
    solid: str
    life: float
    X: float
    T: float
    provenance: Provenance = "measured here"
    source: str = ""


def course(history: History, spec: Crossing | Glassy) -> FailureCourse:
    """The sugar course by what the spec is: crossing the deliquescence point, or time above the glass."""
    return _crossing(history, spec) if isinstance(spec, Crossing) else _glassy(history, spec)


def mobility(solid: Glass, X: Floats | float, T: Floats | float) -> Floats:
    """Speed of what the glass holds, relative to that at its transition: 10^(C1 (T - Tg)/(C2 + T - Tg)).

    Zero at and below the transition, where nothing was seen to happen in years.
    """
    row = lookup("amorphous sugar", "Williams-Landel-Ferry")
    above = np.asarray(T - glass_transition(solid, np.asarray(X, dtype=np.float64)), dtype=np.float64)
    lifted = np.maximum(above, 0.0)
    return np.where(above > 0.0, 10.0 ** (row["C1"] * lifted / (row["C2"] + lifted)), 0.0)


def _crossing(history: History, spec: Crossing) -> FailureCourse:
    row = lookup("deliquescence", spec.sugar)
    point = row["RH0"]
    a = history.activity[:, history.layers.index(spec.layer)]
    rising = spec.way == "weeping"
    gone = a[0] >= point if rising else a[0] <= point
    share = np.ones_like(a) if gone else np.maximum(0.0, (a - a[0]) / (point - a[0]))
    deed = "draws water and weeps" if rising else "gives up water and grains"
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=f"{spec.layer} at the deliquescence point of {row.name}, water activity {point:.2f}",
        meaning=f"the {row.name} in the {spec.layer} {deed}",
        valid=(
            "crystals of one sugar; blends of sugars draw water lower than any of them. A point of 25 °C, "
            "moving little"
        ),
        source=row.source.citation,
        provenance=row.provenance,
        sharpen=f"the {spec.layer} in jars over salts either side of {point:.2f}, watched for a week",
    )


def _glassy(history: History, spec: Glassy) -> FailureCourse:
    solid = glass(spec.solid)
    there = float(mobility(solid, spec.X, spec.T))
    if not (there > 0.0 and spec.life > 0.0):
        raise HardtackError(
            f"{solid.name} at {spec.X:.3g} kg/kg dry and {celsius(spec.T):.0f} °C is a glass: it cannot "
            "have crystallised",
            "check the moisture (dry basis) and the solid, or use a softer one that is like the sugar "
            "mixture",
        )
    X = history.moisture[:, history.layers.index(spec.layer)]
    T = history.temperature[1:]
    steps = (mobility(solid, X[:-1], T) + mobility(solid, X[1:], T)) / 2.0 * np.diff(history.times)
    share = np.concatenate(([0.0], np.cumsum(steps))) / (there * spec.life)
    soft = bool(np.any(mobility(solid, X[1:], T) > 0.0))
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=(
            f"crystals in {spec.layer}, from {days(spec.life):.3g} days measured at {100 * spec.X:.2f} % "
            "moisture (dry basis) "
            f"and {celsius(spec.T):.0f} °C"
        ),
        meaning=(
            f"the glassy sugar of the {spec.layer} has crystallised: it gives up water and turns sticky, "
            "then short"
        ),
        valid=(
            "universal constants above the glass; other sugars and syrups delay crystals far more than "
            "their glass tells"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen=f"days to crystals of the {spec.layer} at two humidities above its glass transition",
        told=() if soft else ("it stays a glass on this journey",),
    )
