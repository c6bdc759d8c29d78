"""Water held by the solids that do not dissolve: starch, proteins, fibre.

To activity 0.90 GAB with the constants of the shelf, at any temperature by the isosteric heat. Above it GAB
ends and free water begins: Flory and Huggins, ln a = ln(1 - v) + v + chi v^2 with v the volume share of the
solid and chi = 1/2 + (chi_j - 1/2)(v/v_j)^2, where chi_j makes it meet GAB at 0.90 and 1/2 is the limit of a
fully swollen gel (assumed), so that activity reaches 1 only with endless water (Flory 1953, Principles of
Polymer Chemistry, ch. 12; that chi rises with concentration: van der Sman and Meinders 2011, Soft Matter
7:429, from memory). The two pieces meet in value, not in slope.
"""

from __future__ import annotations

from functools import cache
from types import MappingProxyType

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import isosteric_heat, lookup
from hardtack.states import Branch, Floats, Isotherm
from hardtack.water import isotherm
from hardtack.water.isotherms.inverse import invert

JOIN = 0.90
"""Activity at which GAB hands over to the free-water branch: the usual end of its range."""
WATER_DENSITY = 997.0
"""Liquid water at 25 degC [kg/m3], IAPWS R6-95."""
_SWOLLEN_CHI = 0.5


def polymer_moisture(name: str, branch: Branch, a: Floats, T: float) -> Floats:
    """Moisture [kg/kg dry] of one polymer at water activities `a` below 1 and T [K].

    `name` is starch, wheat protein, dextrin, egg protein, milk protein or fibre; all but the first two have one
    curve for both histories. Raises `NotOnShelf`, or `HardtackError` when a is out of range.
    """
    iso, density = _polymer(name, branch)
    if not np.all((a >= 0) & (a < 1)):
        raise HardtackError(f"{name}: water activity must lie from 0 to below 1")
    dry = isotherm.moisture(iso, np.minimum(a, JOIN), T)
    wet = a > JOIN
    if not np.any(wet):
        return dry
    dry[wet] = _swollen(a[wet], isotherm.moisture(iso, JOIN, T), density / WATER_DENSITY, name)
    return dry


@cache
def _polymer(name: str, branch: Branch) -> tuple[Isotherm, float]:
    both = {"starch", "wheat protein"}
    row = lookup("polymers", f"{name}, {branch}" if name in both else name)
    constants = MappingProxyType({symbol: row[symbol] for symbol in ("Xm", "C", "K")})
    iso = Isotherm(
        row.name,
        "gab",
        constants,
        reference_temperature=row["temperature"],
        heat=isosteric_heat(row.see),
        provenance=row.provenance,
        source=row.source.citation,
    )
    return iso, row["density"]


def _swollen(a: Floats, joined: float, relative_density: float, name: str) -> Floats:
    v_join = 1.0 / (1.0 + joined * relative_density)
    chi_join = (np.log(JOIN / (1.0 - v_join)) - v_join) / v_join**2
    steep = (chi_join - _SWOLLEN_CHI) / v_join**2
    # d(-ln a)/dv = v^2 (1/(1 - v) - 4 steep v) stays positive while 4 steep v (1 - v) < 1, so steep < 1.
    if not steep < 1.0:
        raise HardtackError(
            f"{name}: {joined:.3g} kg/kg dry at activity {JOIN:g} is too little to swell from",
            "isotherms from a formula reach to 55 degC; if it is cooler, check the GAB constants",
        )
    v = np.asarray(
        invert(
            lambda v: (
                -np.log1p(-v) - v - _SWOLLEN_CHI * v * v - steep * v**4,
                v * v * (1.0 / (1.0 - v) - 4.0 * steep * v),
            ),
            -np.log(a),
            np.zeros_like(a),
            np.full_like(a, v_join),
        )
    )
    return np.asarray((1.0 / v - 1.0) / relative_density)
