"""Peleg: X = C1 a^C2 + C3 a^C4.

C1 and C3 in kg/kg dry, the exponents free of unit, as a rule C2 < 1 < C4. Range 0..0.95. Source: Peleg
(1993), J. Food Process Eng. 16:21. It stays finite at a = 1, so it holds too little water near there.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import Constants, Numbers, require
from hardtack.water.isotherms.inverse import invert

PARAMETERS = ("C1", "C2", "C3", "C4")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a, 0..1."""
    with np.errstate(under="ignore"):
        return p["C1"] * a ** p["C2"] + p["C3"] * a ** p["C4"]


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], by bracketed Newton steps; 1 where X is above the curve's end."""
    # Each term alone holds at most X, the larger at least half of it: that brackets the activity.
    half = np.minimum(_power(X, p, 1, 2.0), _power(X, p, 3, 2.0))
    return invert(
        lambda a: (moisture(a, p), slope(a, p)),
        np.minimum(X, p["C1"] + p["C3"]),
        np.minimum(half, 1.0),
        np.minimum(1.0, np.minimum(_power(X, p, 1, 1.0), _power(X, p, 3, 1.0))),
    )


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]; infinite at a = 0 when an exponent is below 1."""
    a = np.asarray(a, dtype=float)
    with np.errstate(divide="ignore", under="ignore"):
        return (p["C1"] * p["C2"] * a ** (p["C2"] - 1.0) + p["C3"] * p["C4"] * a ** (p["C4"] - 1.0))[()]


def check(p: Constants) -> None:
    """Raise `HardtackError` unless all four constants are above zero."""
    require("peleg", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: 1."""
    return 1.0


def _power(X: Numbers, p: Constants, term: int, share: float) -> Numbers:
    """The activity at which one term alone holds X / share."""
    with np.errstate(over="ignore"):
        return (np.asarray(X, dtype=float) / (share * p[f"C{term}"])) ** (1.0 / p[f"C{term + 1}"])
