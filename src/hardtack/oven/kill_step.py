"""Lethality from the temperature of the coldest place: an indication, never a validation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import NotOnShelf
from hardtack.reference import Row, lookup, rows
from hardtack.states import Floats

CAUTION = (
    "A model validates nothing: your process authority decides, on a study with this product in this oven. D and z "
    "belong to the dough, activity and strains they were measured in."
)
_MATRICES = {
    "bread": "bread", "loaf": "bread", "bun": "bread", "roll": "bread", "white bread": "bread", "cake": "biscuit",
}  # fmt: skip
"""Kinds of product and the doughs of the shelf nearest to them; dry goods otherwise take cookie dough."""


@dataclass(frozen=True, slots=True)
class Lethality:
    """Tenfold reductions at the coldest place at the end of the bake and cooling, by one row of the shelf.

    `held` counts temperatures above the hottest that was tested as that temperature; `literal` carries D and z on
    beyond it. `course` [k] is the held sum over time, `activity` [low, high] what the place went through, `counted_at` its
    mean activity while the reductions were counted.
    """

    row: Row
    held: float
    literal: float
    course: Floats
    activity: tuple[float, float]
    counted_at: float


def reductions(times: Floats, T: Floats, D: float, T_ref: float, z: float) -> Floats:
    """Integral of dt / D(T), D(T) = D 10^((T_ref - T)/z), over times [s] and temperatures [k, ...] [K]; trapezia."""
    rate = 10.0 ** ((T - T_ref) / z) / D
    steps = np.diff(times).reshape(-1, *([1] * (T.ndim - 1)))
    summed: Floats = np.concatenate(
        [np.zeros_like(rate[:1]), np.cumsum(steps * (rate[1:] + rate[:-1]) / 2, axis=0)]
    )
    return summed


def lethalities(
    times: Floats, T: Floats, a: Floats, kind: str | None, named: str | None
) -> tuple[Lethality, ...]:
    """Lethality at the place with the least of it, T and a [k, n], by the named row or by those of the nearest dough.

    Raises `NotOnShelf` for a row the shelf lacks.
    """
    if named is not None:
        chosen: tuple[Row, ...] = (lookup("oven lethality", named),)
    else:
        matrix = _MATRICES.get((kind or "").lower(), "biscuit")
        chosen = tuple(row for row in rows("oven lethality") if row.form == matrix)
    if not chosen:
        raise NotOnShelf("the shelf holds no heat resistance for this product", "name a row with 'kill step'")
    found = []
    for row in chosen:
        held = reductions(times, np.minimum(T, row["hottest"]), row["D"], row["T"], row["z"])
        literal = reductions(times, T, row["D"], row["T"], row["z"])
        place = int(np.argmin(literal[-1]))
        span = float(a[:, place].min()), float(a[:, place].max())
        gained = np.diff(held[:, place])
        whole = float(gained.sum())
        counted = (
            float(gained @ (a[1:, place] + a[:-1, place])) / 2 / whole if whole > 0 else float(a[0, place])
        )
        found.append(
            Lethality(row, float(held[-1, place]), float(literal[-1, place]), held[:, place], span, counted)
        )
    return tuple(found)
