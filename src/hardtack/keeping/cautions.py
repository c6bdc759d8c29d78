"""What one run must warn of: isotherms used beyond their range, swings a day's mean hides, no compiler."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hardtack.failures.names import FERMENTATION, MOULD, RANCIDITY
from hardtack.product import Product
from hardtack.reference import lookup
from hardtack.states import FailureCourse, History, Journey, Leg, Piece
from hardtack.transport.compiler import WITHOUT, compiled
from hardtack.units import DAY

WARMTH = (MOULD, FERMENTATION, RANCIDITY)
"""Failures whose rate bends upward with temperature, so that a mean of the day is not the mean of the rate."""
WORTH_SAYING = 0.05


def range_remarks(pieces: Sequence[Piece], history: History, end: int) -> tuple[str, ...]:
    """Say when a layer's isotherm was used outside the range in which it is known."""
    said = []
    for k, layer in enumerate(layer for piece in pieces for layer in piece.layers):
        low, high = layer.isotherm.activity_range
        reached = history.activity[: end + 1, k]
        if reached.max() > high or reached.min() < low:
            said.append(
                f"The {layer.name} passed through activities {reached.min():.2f} to {reached.max():.2f}; its isotherm "
                f"({layer.isotherm.name}) is known from {low:.2f} to {high:.2f} only."
            )
    return tuple(said)


def record_remarks(product: Product) -> tuple[str, ...]:
    """Say what was laid straight, moved or left out in the logger and weather files the legs name."""
    said = [line for record in product.loggers.values() for line in record.told]
    said += [
        f"{record.file}: {record.bridged} hours without a value, laid straight between their neighbours."
        for record in product.weathers.values()
        if record.bridged
    ]
    return tuple(said)


def compiler_remarks(history: History) -> tuple[str, ...]:
    """Say when the water was followed without the compiler."""
    return () if history.method == "lumped" or compiled() else (WITHOUT,)


def swing_remarks(journey: Journey, courses: Sequence[FailureCourse], end: float) -> tuple[str, ...]:
    """Say by how much a temperature that swings by the day speeds what was added up at the day's mean."""
    names = [name for name in WARMTH if name in {course.name for course in courses}]
    if not names:
        return ()
    Q10 = lookup("rancidity", "bakery goods")["Q10"]
    said = []
    for leg in journey.legs:
        faster = _faster(leg, Q10)
        if leg.start < end and faster > WORTH_SAYING:
            said.append(
                f"On the leg “{leg.name}” the temperature swings within the day, but {' and '.join(names)} went by the day's "
                f"mean: with a rate that grows {Q10:.1f}-fold per 10 K the true pace is about {faster:.0%} faster there (mould "
                "near its best temperature is slowed instead)."
            )
    return tuple(said)


def _faster(leg: Leg, Q10: float) -> float:
    """Mean of the rate over the rate at the mean, less one: over the whole days of a leg, the greatest."""
    climate = leg.climate
    worst = 0.0
    day = np.floor((climate.times - leg.start) / DAY)
    for number in np.unique(day)[:366]:
        T = climate.temperature[day == number]
        if T.size > 2:
            worst = max(worst, float(np.mean(Q10 ** ((T - T.mean()) / 10.0))) - 1.0)
    return worst
