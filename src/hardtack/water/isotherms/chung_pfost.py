"""Chung-Pfost: a = exp(-A exp(-B X)), so X = -ln(-ln(a) / A) / B.

X in kg/kg dry, B in kg dry/kg; A holds the temperature of the fit. Typical range 0.2..0.9. Source: Chung and
Pfost (1967), Trans. ASAE 10:549.

The authors' curve meets X = 0 at a = exp(-A) and is negative below. Such a residue has no meaning, so below
a = exp(-A/2), where X = ln 2 / B, the curve here runs straight to the origin.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("A", "B")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    a_join, X_join = _join(p)
    inside = np.maximum(a, a_join)
    return np.where(a < a_join, X_join / a_join * a, -np.log(-np.log(inside) / p["A"]) / p["B"])[()]


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form."""
    a_join, X_join = _join(p)
    with np.errstate(under="ignore"):
        curve = np.exp(-p["A"] * np.exp(-p["B"] * X))
    return np.where(np.less(X, X_join), a_join / X_join * X, curve)[()]


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]."""
    a_join, X_join = _join(p)
    inside = np.maximum(a, a_join)
    return np.where(a < a_join, X_join / a_join, -1.0 / (p["B"] * inside * np.log(inside)))[()]


def check(p: Constants) -> None:
    """Raise `HardtackError` unless A and B are above zero."""
    require("chung_pfost", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN


def _join(p: Constants) -> tuple[Numbers, Numbers]:
    return np.exp(-p["A"] / 2.0), np.log(2.0) / p["B"]
