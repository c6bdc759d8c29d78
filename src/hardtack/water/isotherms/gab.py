"""GAB: X = Xm C K a / ((1 - K a)(1 - K a + C K a)).

Xm [kg/kg dry] is the monolayer, C and K are free of unit. Typical range 0.05..0.90. Source: van den Berg
and Bruin (1981); form as in Timmermann, Chirife and Iglesias (2001), J. Food Eng. 48:19. Gets wrong:
crystalline sugar (a step), and everything above its pole a = 1/K when K > 1.
"""

from __future__ import annotations

import numpy as np

from hardtack.errors import HardtackError
from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("Xm", "C", "K")

LARGEST_K = 1.2
"""Published fits run to K = 1.14 (confectionery and sugar-rich goods); beyond 1.2 it is taken for a slip."""


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a, below `limit`."""
    C, u = p["C"], p["K"] * a
    return p["Xm"] * C * u / ((1.0 - u) * (1.0 - u + C * u))


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form.

    u = K a solves (C - 1) y u^2 + (C - (C - 2) y) u - y = 0, y = X/Xm. Its discriminant is a sum of
    positive terms, C^2 ((1 - y)^2 + 4 y / C), and each sign of the middle coefficient has a root form that
    adds instead of subtracting, so no digits cancel.
    """
    C, y = p["C"], X / p["Xm"]
    middle = C - (C - 2.0) * y
    root = C * np.sqrt((1.0 - y) ** 2 + 4.0 * y / C)
    rising = middle > 0
    # Where the middle coefficient is negative C exceeds 2, so the division is safe.
    u = np.where(
        rising,
        2.0 * y / np.where(rising, middle + root, 1.0),
        (root - middle) / np.where(rising, 1.0, 2.0 * (C - 1.0) * y),
    )
    return u[()] / p["K"]


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]."""
    C, u = p["C"], p["K"] * a
    below = (1.0 - u) * (1.0 - u + C * u)
    return p["Xm"] * C * p["K"] * (1.0 + (C - 1.0) * u * u) / (below * below)


def check(p: Constants) -> None:
    """Raise `HardtackError` unless Xm, C > 0 and 0 < K <= 1.2."""
    require("gab", PARAMETERS, p, above_zero=PARAMETERS)
    K = float(np.max(p["K"]))
    if K > LARGEST_K:
        raise HardtackError(
            f"gab: K = {K:g} puts the pole at water activity {1 / K:.3g}",
            f"K lies between 0 and {LARGEST_K}; were K and C swapped? or refit without the wettest points",
        )


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: 1, or just below the pole 1/K when K >= 1."""
    K = np.asarray(p["K"], dtype=float)
    return np.where(K < 1.0 - POLE_MARGIN, 1.0, (1.0 - POLE_MARGIN) / K)[()]
