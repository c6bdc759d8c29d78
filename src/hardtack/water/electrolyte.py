"""Water activity of solutions of one salt: Pitzer's equation for the osmotic coefficient.

phi - 1 = |z+ z-| f + m (2 v+ v-/v) B + m^2 (2 (v+ v-)^1.5 / v) C, f = -A sqrt(I) / (1 + 1.2 sqrt(I)),
B = b0 + b1 exp(-2 sqrt(I)), ln a_w = -v m phi M_w (Pitzer and Mayorga 1973, J. Phys. Chem. 77:2300).
Constants of 25 degC; those of NaCl and KCl move by under 2 % between 0 and 50 degC.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import Row, lookup
from hardtack.states import Floats
from hardtack.water.air import MOLAR_MASS_WATER
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.isotherms.inverse import invert

A_PHI = 0.392
"""Debye-Hueckel slope of water at 25 degC [(kg/mol)^0.5], Pitzer and Mayorga (1973)."""
_B = 1.2
_ALPHA = 2.0

_PROBES = 400

CHARGES: Mapping[str, tuple[int, int, int, int]] = {"1:1": (1, 1, 1, 1), "2:1": (2, 1, 1, 2)}
"""Cations and anions per formula, and their charges, by the charge type a row of the shelf names."""


def osmotic_coefficient(salt: str, m: Numbers) -> Numbers:
    """Osmotic coefficient of a salt at molality m [mol/kg water], 25 degC.

    Good to about 0.01 up to 4-6 mol/kg; the phosphates are fitted to less. Raises `NotOnShelf` for a salt
    without constants.
    """
    return _osmotic(lookup("electrolytes", salt), m)[0]


def _osmotic(row: Row, m: Numbers) -> tuple[Numbers, Numbers]:
    """phi and m dphi/dm."""
    cations, anions, z_plus, z_minus = _charges(row)
    ions = cations + anions
    root = np.sqrt(0.5 * m * (cations * z_plus**2 + anions * z_minus**2))
    damped = 1.0 + _B * root
    fading = row["b1"] * np.exp(-_ALPHA * root)
    pairs = cations * anions
    limiting = -z_plus * z_minus * A_PHI * root / damped
    second = m * (2.0 * pairs / ions)
    third = m * m * (2.0 * pairs**1.5 / ions) * row["Cphi"]
    phi: Numbers = 1.0 + limiting + second * (row["b0"] + fading) + third
    rise: Numbers = (
        0.5 * limiting / damped + second * (row["b0"] + fading * (1.0 - 0.5 * _ALPHA * root)) + 2.0 * third
    )
    return phi, rise


def salt_solution_activity(salt: str, m: Numbers) -> Numbers:
    """Water activity over a salt's solution at molality m [mol/kg water], 25 degC. Raises as above."""
    row = lookup("electrolytes", salt)
    activity: Numbers = np.exp(-row["ions"] * MOLAR_MASS_WATER * m * _osmotic(row, m)[0])
    return activity


def salt_molality(salt: str, a: Numbers, saturation: float) -> Floats:
    """Molality [mol/kg water] at which the salt alone shows water activity `a`.

    Beyond `saturation` [mol/kg water] the osmotic coefficient is held: such a solution exists only beside
    other solutes, and the fitted equation ends there (assumed).
    """
    row = lookup("electrolytes", salt)
    depth = -np.log(np.asarray(a, dtype=float)) / (row["ions"] * MOLAR_MASS_WATER)
    least, most, held = _reach(salt, saturation)

    def curve(m: Floats) -> tuple[Numbers, Numbers]:
        phi, rise = _osmotic(row, m)
        return m * phi, phi + rise

    inside = np.asarray(
        invert(
            curve,
            np.minimum(depth, held * saturation),
            np.minimum(depth / most, saturation),
            np.minimum(depth / least, saturation),
        )
    )
    return np.asarray(np.where(depth > held * saturation, depth / held, inside))


@lru_cache(maxsize=256)
def _reach(salt: str, saturation: float) -> tuple[float, float, float]:
    """Bounds of the osmotic coefficient up to saturation, with a margin, and its value there."""
    phi = np.asarray(osmotic_coefficient(salt, np.linspace(0.0, saturation, _PROBES)))
    return 0.95 * float(phi.min()), 1.05 * float(phi.max()), float(phi[-1])


def _charges(row: Row) -> tuple[int, int, int, int]:
    if row.form not in CHARGES:
        raise HardtackError(f"{row.name}: charge type {row.form!r} is not one of {', '.join(CHARGES)}")
    return CHARGES[row.form]
