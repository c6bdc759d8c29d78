"""An isotherm moved by its stated error, to see what that error does to an answer."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import IsostericHeat, Isotherm
from hardtack.water.isotherm import activity

_WARMEST = 323.15
"""Up to here the moved isotherm's heat law keeps activity rising with moisture [K]."""


def moved_in_activity(iso: Isotherm, by: float, known: Collection[float] = ()) -> Isotherm:
    """The table with every activity moved by `by` at the same moisture; near what is known the move fades out.

    Known are activity 0 and 1, and the activities in `known` (on the table, at its own temperature), such as a
    measured pair. Within twice `by` of them the move is in proportion to the distance, so that activity stays
    between 0 and 1 and rises with moisture. Where the moved curve is too steep for the heat law, the heat is
    lowered by tenths until activity rises with moisture up to 50 degC. Raises `HardtackError` for an isotherm
    that is no table.
    """
    if iso.form != "table":
        raise HardtackError(
            f"{iso.name}: only a table can be moved point by point", "name an isotherm from a formula"
        )
    if by == 0.0:
        return iso
    a, X = np.array(iso.points).T
    nearest = np.min([np.abs(a - point) for point in (0.0, 1.0, *known)], axis=0)
    moved = a + by * np.minimum(1.0, nearest / (2.0 * abs(by)))
    points = tuple(zip(moved.tolist(), X.tolist(), strict=True))
    return _with_bearable_heat(replace(iso, points=points, name=f"{iso.name}, moved by {by:+.3g}"))


def _with_bearable_heat(iso: Isotherm) -> Isotherm:
    if iso.heat is None:
        return iso
    X = np.array([X for _, X in iso.points])
    X = np.sort(np.concatenate((X, (X[1:] + X[:-1]) / 2))) * iso.scale
    for tenths in range(10, 0, -1):
        milder = replace(iso, heat=IsostericHeat(iso.heat.q0 * tenths / 10, iso.heat.X0))
        try:
            if np.all(np.diff(activity(milder, X, _WARMEST)) > 0):
                return milder
        except HardtackError:
            continue  # the water room refuses a heat that decays too steeply
    return replace(iso, heat=None)
