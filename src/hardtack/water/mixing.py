"""Several components sealed together and left to rest: the water activity they come to share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Isotherm
from hardtack.water.isotherm import activity, activity_limit, moisture, slope

_ROUNDS = 200


@dataclass(frozen=True, slots=True)
class Component:
    """One component: `dry_mass` [kg], its isotherm, its moisture now [kg/kg dry]."""

    name: str
    dry_mass: float
    isotherm: Isotherm
    moisture: float


@dataclass(frozen=True, slots=True)
class Rest:
    """Where sealed components end: common `activity`, the `moistures` [kg/kg dry] in their order.

    `free_water` [kg] is what no component can hold (activity then stands at its limit), else zero.
    """

    activity: float
    moistures: tuple[float, ...]
    free_water: float


def common_activity(components: Sequence[Component], T: float) -> Rest:
    """The activity and moistures of sealed components at rest at T [K]; no water goes to the air or film.

    sum w_i X_i(a*) = sum w_i X_i now, by bisection: every isotherm rises, so there is one answer. What is
    left of the root's rounding is dealt out by w_i dX_i/da, so that water is conserved to round-off. An
    isotherm with its pole below 1 (GAB with K > 1) keeps the common activity below that pole. Hysteresis is
    left out: each keeps to its own isotherm. Raises `HardtackError` when there is no component or a mass or
    moisture is impossible.
    """
    _check(components)
    masses = np.array([part.dry_mass for part in components])
    now = np.array([part.moisture for part in components])
    total = float(masses @ now)

    def held(a: float) -> float:
        return sum(part.dry_mass * moisture(part.isotherm, a, T) for part in components)

    top = min(activity_limit(part.isotherm, T) for part in components)
    if held(top) <= total:
        ends = np.array([moisture(part.isotherm, top, T) for part in components])
        return Rest(top, tuple(ends.tolist()), total - float(masses @ ends))
    low, high = 0.0, top
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if held(middle) <= total else (low, middle)
    ends = np.array([moisture(part.isotherm, low, T) for part in components])
    rates = np.array([slope(part.isotherm, low, T) for part in components])
    if np.all(np.isfinite(rates)):
        ends = ends + rates * (total - float(masses @ ends)) / float(masses @ rates)
    return Rest(low, tuple(np.maximum(ends, 0.0).tolist()), 0.0)


def salwin_slawson(components: Sequence[Component], T: float) -> float:
    """The common activity if every isotherm were straight: sum(a S w) / sum(S w), S the slope now.

    Salwin and Slawson (1959), Food Technol. 13:715. A check by hand; `common_activity` needs no such
    assumption. Raises as above.
    """
    _check(components)
    a = np.array([activity(part.isotherm, part.moisture, T) for part in components])
    weights = np.array(
        [part.dry_mass * slope(part.isotherm, float(ai), T) for part, ai in zip(components, a, strict=True)]
    )
    return float(a @ weights / weights.sum())


def _check(components: Sequence[Component]) -> None:
    if not components:
        raise HardtackError("no components to bring to rest", "give at least one")
    for part in components:
        if not (0 < part.dry_mass < float("inf") and 0 <= part.moisture < float("inf")):
            raise HardtackError(
                f"{part.name}: dry mass {part.dry_mass:g} kg, moisture {part.moisture:g} kg/kg dry",
                "dry mass must be above zero, moisture zero or more",
            )
