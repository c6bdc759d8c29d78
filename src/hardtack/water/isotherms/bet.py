"""BET: X = Xm C a / ((1 - a)(1 - a + C a)), which is GAB with K = 1.

Xm [kg/kg dry], C free of unit. Typical range a < 0.45..0.5. Source: Brunauer, Emmett and Teller (1938),
J. Am. Chem. Soc. 60:309. Gets wrong: too much water above a of 0.5.
"""

from __future__ import annotations

from hardtack.water.isotherms import gab
from hardtack.water.isotherms.constants import Constants, Numbers, require

PARAMETERS = ("Xm", "C")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1."""
    return gab.moisture(a, {**p, "K": 1.0})


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], in closed form."""
    return gab.activity(X, {**p, "K": 1.0})


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]."""
    return gab.slope(a, {**p, "K": 1.0})


def check(p: Constants) -> None:
    """Raise `HardtackError` unless Xm and C are above zero."""
    require("bet", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return gab.limit({**p, "K": 1.0})
