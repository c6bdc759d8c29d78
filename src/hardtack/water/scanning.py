"""Between the branches: the path of a product that has turned from drying to wetting, or back.

A baked piece leaves the oven on the drying (desorption) branch. When it then takes up water it does not jump to
the wetting branch but scans towards it. The slope on the way is a weighted mean of both branches' slopes,

    wetting: X' = (gamma (X - Xw)^2 Xd' + (X - Xd)^2 Xw') / (Xd - Xw)^2
    drying:  X' = ((X - Xw)^2 Xd' + gamma (X - Xd)^2 Xw') / (Xd - Xw)^2

with Xw, Xd the branches at the same activity. Both weights are positive, so the path always rises with activity.
Source: Rode (2001), Moisture transport with hysteresis, eqs. 2 and 3, for building materials, with gamma = 0.1
(a row of the shelf). No food's loop was found to hold it against.
"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.states import Floats, IsostericHeat, Isotherm
from hardtack.water.isotherm import activity_limit, moisture, slope
from hardtack.water.temperature import rising_heat, shift

STEPS = 400
DRIEST, WETTEST = 0.005, 0.995
WARMEST, KEPT_BACK = 333.0, 0.98
"""Temperature [K] up to which the path must rise, and the part of the heat that just lets it that is taken."""
CLOSED = 1e-5
"""Gap between the branches [kg/kg] below which the loop is closed and there is one curve."""


def scanning_isotherm(wetting: Isotherm, drying: Isotherm, a: float, X: float, T: float) -> Isotherm:
    """The isotherm through (a, X) [kg/kg dry] at T [K]: scanning to the wetting branch above, the drying one below.

    A measured table at T with its other laws from the wetting branch's heat. Raises `HardtackError` when the
    point does not lie between the branches.
    """
    low, high = float(moisture(wetting, a, T)), float(moisture(drying, a, T))
    if not low - 1e-12 <= X <= high + 1e-12 or not high > low:
        raise HardtackError(
            f"moisture {100 * X:.3g} %db at activity {a:g} does not lie between the branches "
            f"({100 * low:.3g} to {100 * high:.3g} %db)",
            "move the branches through your measured pairs first, or give the isotherm of one branch",
        )
    top = min(WETTEST, 0.999 * min(activity_limit(wetting, T), activity_limit(drying, T)))
    up = _path(wetting, drying, np.linspace(a, top, STEPS + 1), X, T, wets=True)
    down = _path(wetting, drying, np.linspace(a, DRIEST, STEPS + 1), X, T, wets=False)
    points = [*zip(np.linspace(a, DRIEST, STEPS + 1)[:0:-1].tolist(), down[:0:-1].tolist(), strict=True)]
    points += zip(np.linspace(a, top, STEPS + 1).tolist(), up.tolist(), strict=True)
    errors = [iso.activity_sd for iso in (wetting, drying) if iso.activity_sd is not None]
    table = Isotherm(
        name=f"between {wetting.name} and {drying.name}",
        form="table",
        points=tuple(points),
        reference_temperature=T,
        activity_range=(
            max(wetting.activity_range[0], drying.activity_range[0]),
            min(wetting.activity_range[1], drying.activity_range[1]),
        ),
        branch="adsorption",
        provenance="assumed",
        source=f"scanning between two branches through {a:.3g}; {lookup('scanning', 'default').note}",
        activity_sd=max(errors, default=None),
    )
    return _with_heat(table, wetting.heat)


def _with_heat(table: Isotherm, heat: IsostericHeat | None) -> Isotherm:
    """The wetting branch's heat, no more of it than lets activity rise with moisture on this path when warm."""
    if heat is None or not isfinite(heat.X0):
        return replace(table, heat=heat)
    warmest = float(shift(table, WARMEST))
    most = KEPT_BACK * rising_heat(table.points, heat.X0, warmest)
    return replace(table, heat=replace(heat, q0=min(heat.q0, most)))


def _path(wetting: Isotherm, drying: Isotherm, a: Floats, X: float, T: float, *, wets: bool) -> Floats:
    """March the slope rule along `a` by the midpoint rule, held between the branches."""
    gamma = lookup("scanning", "default")["gamma"]
    middle = (a[1:] + a[:-1]) / 2
    fine = np.sort(np.concatenate([a, middle]))
    at = {
        name: (np.asarray(moisture(iso, fine, T)), np.asarray(slope(iso, fine, T)))
        for name, iso in (("wet", wetting), ("dry", drying))
    }
    order = np.arange(fine.size) if wets else np.arange(fine.size)[::-1]
    Xw, sw = (values[order] for values in at["wet"])
    Xd, sd = (values[order] for values in at["dry"])

    def rate(k: int, x: float) -> float:
        gap = float(Xd[k] - Xw[k])
        if gap < CLOSED:
            return float(sw[k] if wets else sd[k])
        to_wet, to_dry = min((x - float(Xw[k])) / gap, 1.0), min((float(Xd[k]) - x) / gap, 1.0)
        weight = (gamma, 1.0) if wets else (1.0, gamma)
        return weight[0] * max(to_wet, 0.0) ** 2 * float(sd[k]) + weight[1] * max(to_dry, 0.0) ** 2 * float(
            sw[k]
        )

    path = np.empty(a.size)
    path[0] = X
    for i in range(a.size - 1):
        h = float(a[i + 1] - a[i])
        half = path[i] + h / 2 * rate(2 * i, path[i])
        path[i + 1] = path[i] + h * rate(2 * i + 1, half)
    return path
