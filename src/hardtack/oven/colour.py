"""Colour of the surface while baking, by two published laws that disagree below 150 degC; and acrylamide's levels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import NotOnShelf
from hardtack.reference import Row, lookup
from hardtack.states import Floats
from hardtack.water.air import GAS_CONSTANT

DRIEST = 0.05
"""Activity below which the law of lightness is read at this activity: its constants were not seen for drier crusts."""
LEVERS = (
    "what lowers acrylamide: no ammonium bicarbonate as raising agent; longer yeast fermentation (it eats the free "
    "asparagine); flour with less asparagine; calcium as carbonate or chloride; a lower pH (3-MCPD then rises); a lower "
    "or falling temperature at the end, steam, a paler and moister end"
)
"""Sadd, Hamlet and Liang 2008, J. Agric. Food Chem. 56:6154; Ahrne et al. 2007, LWT 40:1708; Surdyk et al. 2004, J.
Agric. Food Chem. 52:2047 (abstracts seen)."""


@dataclass(frozen=True, slots=True)
class Colour:
    """Over the bake: lightness L* [k] and colour difference dE [k] of the upper surface by the two laws, and what the
    trade's rule says: the hottest the surface has been and whether that passed the rule's temperature [K].
    """

    lightness: Floats
    difference: Floats
    hottest: float
    rule: float

    @property
    def browned(self) -> bool:
        """Whether the surface has passed the trade's temperature of a well-browned crust."""
        return self.hottest >= self.rule


def lightness(times: Floats, T: Floats, a: Floats) -> Floats:
    """L* over a course of surface temperature [K] and activity: dL/dt = -(k0 + k1/a) exp(-(E0 + E1/a)/T) L [1/min].

    Purlis and Salvadori 2009, constants from memory.
    """
    row = lookup("lightness", "Purlis and Salvadori")
    a = np.maximum(a, DRIEST)
    rate = (row["k0"] + row["k1"] / a) * np.exp(-(row["E0"] + row["E1"] / a) / T) / 60.0
    return np.asarray(row["L0"] * np.exp(-_integral(times, rate)))


def difference(times: Floats, T: Floats) -> Floats:
    """Colour difference dE over a course of surface temperature [K]: d(dE)/dt = k (52 - dE), k = A exp(-E/RT).

    Zanoni, Peri and Bruno 1995: dry crumb, 140 to 250 degC.
    """
    row = lookup("lightness", "Zanoni, Peri and Bruno")
    rate = row["A"] * np.exp(-row["E"] / (GAS_CONSTANT * T))
    return np.asarray(-row["dE_end"] * np.expm1(-_integral(times, rate)))


def colour(times: Floats, T: Floats, a: Floats) -> Colour:
    """Both laws and the trade's rule over one course of the upper surface."""
    rule = lookup("lightness", "trade rule")["browned"]
    return Colour(lightness(times, T, a), difference(times, T), float(T.max()), rule)


def benchmark(kind: str | None) -> Row:
    """Acrylamide benchmark level [ug/kg] for that kind of product."""
    try:
        return lookup("acrylamide", kind or "default")
    except NotOnShelf:
        return lookup("acrylamide", "default")


def _integral(times: Floats, rate: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.diff(times) * (rate[1:] + rate[:-1]) / 2)])
