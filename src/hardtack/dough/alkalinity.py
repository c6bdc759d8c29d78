"""The pH that leavening leaves, only where enough was measured to say it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.dough.gas import dissolved_carbon_dioxide
from hardtack.dough.leavening import SODA, Balance
from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.sourced import Sourced
from hardtack.units import ZERO_CELSIUS

ROOM = ZERO_CELSIUS + 25.0
ACTIVITY_ERROR = 0.2
"""One standard deviation [pH] for activity coefficients in the dough's water, not modelled. Assumed."""


@dataclass(frozen=True, slots=True)
class Titration:
    """The same dough made without soda but with its acids, titrated with alkali as a slurry at 25 degC.

    `pH` rising, beside `alkali` [mol per kg of dough] added so far, at least two points; `sd` of one reading
    [pH]; `water` [kg per kg of dough]. It holds the buffering of flour, milk and phosphates alike.
    """

    pH: Sequence[float]  # noqa: N815 -- the field's own spelling
    alkali: Sequence[float]
    sd: float
    water: float


@dataclass(frozen=True, slots=True)
class PH:
    """An estimate of the pH with one standard deviation, or None for both; `why` gives the reason."""

    value: float | None
    sd: float | None
    why: str


def crumb_pH(leavening: Balance, titration: Titration | None, carbon_dioxide: Sourced | None) -> PH:
    """pH of the dough or crumb (as a slurry at 25 degC) from its soda and its titration.

    Charges per kg of dough: soda = alkali(pH) + [HCO3-] + 2 [CO3--], alkali(pH) read from the titration.
    Carbonate follows the partial pressure of `carbon_dioxide` [Pa, with its spread] that the crumb last stood
    in: outside air about 40, cells full of gas up to 100 000. It moves the answer by whole units, so it is
    asked, never guessed. Ammonium bicarbonate is taken as gone.

    None with the reason when titration, pressure or its spread is missing, or when the answer leaves the
    titration. No published pairs of soda and pH were found to compare with: a guess with a width; measure.
    Raises `HardtackError` for a titration that cannot be.
    """
    if titration is None:
        return _none("No pH without the buffering of the dough: titrate the same dough made without soda.")
    if carbon_dioxide is None or carbon_dioxide.sd is None:
        return _none(
            "No pH without the carbon dioxide the crumb stands in, with its spread: it decides the rest."
        )
    _check(titration, carbon_dioxide.value)
    soda = leavening.soda / lookup("leavening bases", SODA)["M"] / leavening.dough
    p = carbon_dioxide.value
    pH = _solve(soda, titration, 0.0, p)
    higher = _solve(soda, titration, titration.sd, p)
    fuller = _solve(soda, titration, 0.0, p + carbon_dioxide.sd)
    if pH is None or higher is None or fuller is None:
        return _none("The answer or its spread leaves the titration: titrate further.")
    sd = (ACTIVITY_ERROR**2 + (higher - pH) ** 2 + (fuller - pH) ** 2) ** 0.5
    return PH(pH, sd, "Soda against the dough's own titration; activity coefficients are not modelled.")


def _none(why: str) -> PH:
    return PH(None, None, why)


def _check(titration: Titration, carbon_dioxide: float) -> None:
    pH, alkali = np.asarray(titration.pH, dtype=float), np.asarray(titration.alkali, dtype=float)
    if pH.ndim != 1 or pH.size < 2 or pH.shape != alkali.shape:
        raise HardtackError("a titration needs two points or more", "give as many pH as amounts of alkali")
    if np.any(np.diff(pH) <= 0) or np.any(np.diff(alkali) <= 0) or pH[0] < 0 or pH[-1] > 14:
        raise HardtackError(
            "pH and alkali of a titration both rise", "give the points in the order they were read"
        )
    if not (titration.water > 0 and titration.sd >= 0 and carbon_dioxide >= 0):
        raise HardtackError(
            "water must be above zero, spread and pressure zero or more", "give kg per kg, pH and Pa"
        )


def _solve(soda: float, titration: Titration, shift: float, carbon_dioxide: float) -> float | None:
    """The pH at which the charges balance, by halving; None where the titration does not reach it."""
    pK1, pK2 = lookup("carbonic acid", "first")["pK"], lookup("carbonic acid", "second")["pK"]
    dissolved = dissolved_carbon_dioxide(titration.water, ROOM, carbon_dioxide)
    points = np.asarray(titration.pH, dtype=float) + shift

    def surplus(pH: float) -> float:
        bicarbonate = dissolved * float(10.0 ** (pH - pK1))
        carbonate = bicarbonate * float(10.0 ** (pH - pK2))
        return float(np.interp(pH, points, titration.alkali)) + bicarbonate + 2.0 * carbonate - soda

    low, high = float(points[0]), float(points[-1])
    if surplus(low) > 0 or surplus(high) < 0:
        return None
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if surplus(middle) > 0 else (middle, high)
    return (low + high) / 2.0
