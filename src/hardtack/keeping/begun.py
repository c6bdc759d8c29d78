"""A journey followed up to its last leg once, for many ways it may go on: where the product stands then."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hardtack.keeping.history import ROWS, Standing
from hardtack.states import Crossing, Floats, History
from hardtack.transport.surroundings import Stretch


@dataclass(frozen=True, slots=True)
class Begun:
    """The history up to the last leg and the stretches it ran through; `standing` is the water in cells and headspace as the
    leg begins, `outer` [kg] that in the outer packs with board."""

    history: History
    stretches: tuple[Stretch, ...]
    standing: Standing
    outer: Floats


def went_on(begun: Begun, history: History) -> History:
    """The history of the last leg after that of the legs before it; a moment met before stands."""
    before = begun.history
    rows: dict[str, Any] = {
        name: np.concatenate([getattr(before, name), getattr(history, name)[1:]]) for name in ROWS
    }
    gained = before.water_gained[-1] + history.water_gained[1:]
    rows["water_gained"] = np.concatenate([before.water_gained, gained])
    crossings = tuple(
        Crossing(now.layer, now.moisture, now.rising, now.time if met.time is None else met.time)
        for met, now in zip(before.crossings, history.crossings, strict=True)
    )
    return replace(
        history,
        times=np.concatenate([before.times, history.times[1:]]),
        leg=np.concatenate([before.leg, history.leg[1:] + int(before.leg.max()) + 1]),
        crossings=crossings,
        resistance_ratio=min(before.resistance_ratio, history.resistance_ratio),
        imbalance=max(before.imbalance, history.imbalance),
        **rows,
    )
