"""An isotherm moved by its stated error, to see what that error does to an answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import IsostericHeat, Isotherm
from hardtack.water.temperature import check_heat, shift

_WARMEST = 323.15
"""Up to here the heat law of an isotherm from a formula keeps activity rising with moisture [K]."""


def moved_in_activity(iso: Isotherm, by: float) -> Isotherm:
    """The table with every activity moved by `by` at the same moisture; near 0 and 1 the move fades out.

    Within twice `by` of either end it is in proportion to the distance from that end, so that activity stays
    between 0 and 1 and rises with moisture. Where the moved curve is too steep for the heat law, the heat is
    lowered by tenths until activity rises with moisture up to 50 degC. Raises `HardtackError` for an isotherm
    that is no table.
    """
    if iso.form != "table":
        raise HardtackError(f"{iso.name}: only a table can be moved point by point", "name an isotherm from a formula")
    if by == 0.0:
        return iso
    near = 2.0 * abs(by)
    points = tuple((a + by * min(1.0, a / near, (1.0 - a) / near), X) for a, X in iso.points)
    return _with_bearable_heat(replace(iso, points=points, name=f"{iso.name}, moved by {by:+.3g}"))


def _with_bearable_heat(iso: Isotherm) -> Isotherm:
    if iso.heat is None:
        return iso
    for tenths in range(10, 0, -1):
        milder = replace(iso, heat=IsostericHeat(iso.heat.q0 * tenths / 10, iso.heat.X0))
        try:
            check_heat(milder, np.asarray(shift(milder, _WARMEST)))
        except HardtackError:
            continue
        return milder
    return replace(iso, heat=None)
