"""The piece after packing, left to itself: how soon the moistures of centre and surface even out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.oven.baking import Baked, depth
from hardtack.oven.handover import at_packing
from hardtack.oven.properties import material_of
from hardtack.oven.zones import SHUT
from hardtack.piece.build import outer_area
from hardtack.reference import lookup
from hardtack.states import Floats
from hardtack.transport.bake_march import BakePiece, Spell, bake_march
from hardtack.transport.bake_table import bake_table

LONGEST = 30 * 86400.0
"""Time [s] that is followed."""
POINTS = 60


@dataclass(frozen=True, slots=True)
class Rest:
    """Over `times` [k, s] since packing: `difference` of moisture, centre less surface (wet basis), in a piece that neither
    gives nor takes water. `halved` and `within` [s]: the difference is half of what it was, and at most the rule of thumb's
    for checking; None where it is not within the time followed, `within` 0 where it is from the start.
    """

    times: Floats
    difference: Floats
    halved: float | None
    within: float | None


def resting(baked: Baked) -> Rest:
    """Follow the packed piece at its temperature with the bake's own paths of vapour and water. Raises as `bake_march`."""
    march, product = baked.march, baked.product
    across = depth(product)
    material, _ = material_of(
        baked.formula.composition, bake_table(baked.isotherm), product.kind, baked.factors
    )
    weights = march.dry_mass / march.dry_mass.sum()
    T = float(march.temperature[-1] @ weights)
    piece = BakePiece(
        product.piece.shape, across, outer_area(product.piece, across), baked.dry_mass, baked.moisture, T
    )
    times = np.concatenate([[0.0], np.geomspace(60.0, LONGEST, POINTS)])
    ends = (SHUT, SHUT)
    rest = bake_march(
        piece, material, (Spell(LONGEST, ends, ends),), times, cells_across=march.centres.size, moisture=march.moisture[-1]
    )  # fmt: skip
    X = rest.moisture
    middle = X.shape[1] // 2 if product.piece.shape == "slab" else 0
    surface = (X[:, 0] + X[:, -1]) / 2 if product.piece.shape == "slab" else X[:, -1]
    difference = _wet(X[:, middle]) - _wet(surface)
    start = abs(float(difference[0]))
    limit = lookup("checking", "hard biscuit")["difference"]
    return Rest(times, difference, _first(times, difference, start / 2), _first(times, difference, limit))


def rest_words(baked: Baked) -> str:
    """How soon centre and surface even out in the shut pack; nothing where they stand within a tenth of a point."""
    if abs(at_packing(baked).difference) < 1e-3:
        return "Centre and surface are even when packed."
    rest = resting(baked)
    halved = "does not halve in a month" if rest.halved is None else f"halves in {_span(rest.halved)}"
    limit = lookup("checking", "hard biscuit")["difference"]
    within = (
        f"is not within {100 * limit:.0f} point in a month" if rest.within is None
        else f"is within {100 * limit:.0f} point from the start" if rest.within == 0
        else f"is within {100 * limit:.0f} point after {_span(rest.within)}"
    )  # fmt: skip
    return (
        f"Equalising: shut in its pack the difference of {100 * rest.difference[0]:+.1f} points, centre less surface, {halved} "
        f"and {within}, at the soonest (the bake's paths of water and vapour, assumed to hold in the cold; checking is known to "
        "go on for hours to days)."
    )


def _first(times: Floats, difference: Floats, limit: float) -> float | None:
    inside = np.abs(difference) <= limit
    return float(times[int(np.argmax(inside))]) if inside.any() else None


def _wet(X: Floats) -> Floats:
    return np.asarray(X / (1.0 + X))


def _span(seconds: float) -> str:
    if seconds < 5400:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} hours" if seconds < 172800 else f"{seconds / 86400:.0f} days"
