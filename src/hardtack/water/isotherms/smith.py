"""Smith: X = A - B ln(1 - a), natural logarithm.

A and B in kg/kg dry. Some papers print log10: their B must be divided by ln 10 = 2.3026 before it is used
here (check one value of the paper). Typical range 0.3..0.9. Source: Smith (1947), J. Am. Chem. Soc. 69:646.

The author's curve leaves a residue A at a = 0 (or is negative near it when A < 0). Such a residue has no
meaning, so the curve here runs straight to the origin over the first twentieth of the way to a = 1, counted
from where the author's curve begins.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("A", "B")

_JOIN = 0.95
"""1 - a at the join, relative to 1 - a where the author's curve begins."""


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    a_join, X_join = _join(p)
    return np.where(a < a_join, X_join / a_join * a, p["A"] - p["B"] * np.log1p(-a))[()]


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form."""
    a_join, X_join = _join(p)
    below, inside = np.less(X, X_join), np.maximum(X, X_join)
    return np.where(below, a_join / X_join * X, -np.expm1((p["A"] - inside) / p["B"]))[()]


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]."""
    a_join, X_join = _join(p)
    return np.where(a < a_join, X_join / a_join, p["B"] / (1.0 - a))[()]


def check(p: Constants) -> None:
    """Raise `HardtackError` unless B is above zero."""
    require("smith", PARAMETERS, p, above_zero=("B",))


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN


def _join(p: Constants) -> tuple[Numbers, Numbers]:
    start = np.minimum(p["A"], 0.0) / p["B"]
    return -np.expm1(start + np.log(_JOIN)), np.maximum(p["A"], 0.0) - p["B"] * np.log(_JOIN)
