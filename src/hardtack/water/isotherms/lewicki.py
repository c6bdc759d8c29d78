"""Lewicki (three constants): X = F / (1 - a)^G - F / (1 + a^H).

F in kg/kg dry, G and H free of unit. Typical range 0.10..0.97. Source: Lewicki (1998), J. Food Process Eng.
21:127.
"""

from __future__ import annotations

import numpy as np

from hardtack.water.isotherms.constants import POLE_MARGIN, Constants, Numbers, require
from hardtack.water.isotherms.inverse import invert

PARAMETERS = ("F", "G", "H")


def moisture(a: Numbers, p: Constants) -> Numbers:
    """X [kg/kg dry] at water activity a < 1. Both terms less 1, so that nothing cancels when dry."""
    with np.errstate(under="ignore"):
        powered = a ** p["H"]
    return p["F"] * (np.expm1(-p["G"] * np.log1p(-a)) + powered / (1.0 + powered))


def activity(X: Numbers, p: Constants) -> Numbers:
    """Water activity at X [kg/kg dry], by bracketed Newton steps."""
    return invert(
        lambda a: (moisture(a, p), slope(a, p)),
        np.minimum(X, moisture(limit(p), p)),
        0.0,
        # The first term alone holds at most X.
        np.minimum(limit(p), -np.expm1(-np.log1p(X / p["F"]) / p["G"])),
    )


def slope(a: Numbers, p: Constants) -> Numbers:
    """dX/da [kg/kg dry]; infinite at a = 0 when H < 1."""
    a, H = np.asarray(a, dtype=float), p["H"]
    with np.errstate(divide="ignore", under="ignore"):
        bent = H * a ** (H - 1.0) / (1.0 + a**H) ** 2
    return (p["F"] * (p["G"] * (1.0 - a) ** (-p["G"] - 1.0) + bent))[()]


def check(p: Constants) -> None:
    """Raise `HardtackError` unless F, G and H are above zero."""
    require("lewicki", PARAMETERS, p, above_zero=PARAMETERS)


def limit(p: Constants) -> Numbers:
    """Largest activity it can be evaluated at: just below the pole at 1."""
    return 1.0 - POLE_MARGIN
