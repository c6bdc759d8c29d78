"""Halsey: X = (A / (-ln a))^(1/B).

X in kg/kg dry; A and B depend on the unit of X (here kg/kg). Typical range 0.1..0.8. Source: Halsey (1948),
J. Chem. Phys. 16:931. Gets wrong: the dry end, where activity vanishes faster than any power of X.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("A", "B")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    with np.errstate(divide="ignore"):
        return (p["A"] / -np.log(a)) ** (1.0 / p["B"])


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry]: a = exp(-A X^-B)."""
    with np.errstate(divide="ignore", over="ignore", under="ignore"):
        return np.exp(-p["A"] * np.asarray(X, dtype=float) ** -p["B"])[()]


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry] = X / (B a (-ln a)); infinite at a = 0."""
    dry = np.asarray(a, dtype=float) <= 0
    inside = np.where(dry, 0.5, a)
    return np.where(dry, np.inf, moisture(inside, p) / (p["B"] * inside * -np.log(inside)))[()]


def check(p: Constants) -> None:
    """Raise `HardtackError` unless A and B are above zero."""
    require("halsey", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN
