"""An isotherm tabulated for the oven: activity over moisture, from frozen dough to a crust at 320 degC."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats, Isotherm
from hardtack.units import ZERO_CELSIUS
from hardtack.water.isotherm import activity_limit
from hardtack.water.tables import activity_table
from hardtack.water.temperature import check_heat, shift

NODES = 257
COLDEST, HOTTEST, SPACING = ZERO_CELSIUS - 30.0, ZERO_CELSIUS + 320.0, 10.0


@dataclass(frozen=True, slots=True)
class BakeTable:
    """`curves` [temperatures, nodes, 4]: cubics of activity in s = X / (X + X_half), with `intervals` per unit of s, the
    last one the straight continuation. Straight between temperatures, 10 K apart from -30 degC.

    `hottest` [K] is as far as the isotherm's heat law goes; from there up its last curve stands.
    """

    curves: Floats
    X_half: float
    intervals: float
    hottest: float


def bake_table(iso: Isotherm) -> BakeTable:
    """Tabulate an isotherm for the oven.

    Where its heat law ends (activity would no longer rise with moisture) the hottest curve that it allows stands for
    all hotter ones. Raises `HardtackError` when it does not even reach room temperature.
    """
    temperatures = np.arange(COLDEST, HOTTEST + SPACING / 2, SPACING)
    allowed = temperatures[: _reached(iso, temperatures)]
    table = activity_table(iso, allowed, NODES)
    intervals = (NODES - 1) / table.s_max
    reached = allowed.size
    curves = np.zeros((temperatures.size, NODES, 4))
    curves[:reached, :, 0], curves[:reached, :, 1] = table.a, table.dads / intervals
    rise = np.diff(table.a, axis=1)
    left, right = curves[:reached, :-1, 1], curves[:reached, 1:, 1]
    curves[:reached, :-1, 2] = 3.0 * rise - 2.0 * left - right
    curves[:reached, :-1, 3] = left + right - 2.0 * rise
    limit = np.array([activity_limit(iso, float(T)) for T in allowed])
    curves[:reached, -1, 1] = (limit - table.a[:, -1]) / (1.0 - table.s_max) / intervals
    curves[reached:] = curves[reached - 1]
    return BakeTable(curves, float(table.X_half), float(intervals), float(allowed[-1]))


def _reached(iso: Isotherm, temperatures: Floats) -> int:
    """How many of the temperatures the isotherm's heat law allows, at least up to 30 degC."""
    if iso.heat is None:
        return temperatures.size
    for k, T in enumerate(temperatures):
        try:
            check_heat(iso, shift(iso, float(T)))
        except HardtackError:
            if T < ZERO_CELSIUS + 30.0:
                raise
            return k
    return temperatures.size
