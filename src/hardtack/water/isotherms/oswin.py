"""Oswin: X = A (a / (1 - a))^B.

A [kg/kg dry] is the moisture at a = 0.5, B is free of unit. Typical range 0.05..0.90. Source: Oswin (1946),
J. Soc. Chem. Ind. 65:419. Gets wrong: for B < 1 the curve leaves the origin straight up (dX/da infinite).
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("A", "B")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    return p["A"] * (a / (1.0 - a)) ** p["B"]


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form."""
    odds = (X / p["A"]) ** (1.0 / p["B"])
    return odds / (1.0 + odds)


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]; infinite at a = 0 when B < 1."""
    with np.errstate(divide="ignore"):
        powered = np.asarray(a / (1.0 - a), dtype=float) ** (p["B"] - 1.0)
    return p["A"] * p["B"] * powered / (1.0 - a) ** 2


def check(p: Constants) -> None:
    """Raise `HardtackError` unless A and B are above zero."""
    require("oswin", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN
