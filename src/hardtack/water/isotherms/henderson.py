"""Henderson: 1 - a = exp(-A X^B), so X = (-ln(1 - a) / A)^(1/B).

X in kg/kg dry; A holds the temperature of the fit and depends on the unit of X (here kg/kg). Typical range
0.10..0.75. Source: Henderson (1952), Agric. Eng. 33:29.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require

PARAMETERS = ("A", "B")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    return (-np.log1p(-a) / p["A"]) ** (1.0 / p["B"])


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form."""
    return -np.expm1(-p["A"] * X ** p["B"])


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]; infinite at a = 0 when B > 1."""
    power = 1.0 / p["B"]
    with np.errstate(divide="ignore"):
        powered = np.asarray(-np.log1p(-a) / p["A"], dtype=float) ** (power - 1.0)
    return power * powered / (p["A"] * (1.0 - a))


def check(p: Constants) -> None:
    """Raise `HardtackError` unless A and B are above zero."""
    require("henderson", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN
