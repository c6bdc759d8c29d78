"""Water activity of solutions of one salt: Pitzer's equation for the osmotic coefficient.

phi - 1 = |z+ z-| f + m (2 v+ v-/v) B + m^2 (2 (v+ v-)^1.5 / v) C, f = -A sqrt(I) / (1 + 1.2 sqrt(I)),
B = b0 + b1 exp(-2 sqrt(I)), ln a_w = -v m phi M_w (Pitzer and Mayorga 1973, J. Phys. Chem. 77:2300).
Constants of 25 degC; those of NaCl and KCl move by under 2 % between 0 and 50 degC.
"""

from __future__ import annotations

from collections.abc import Mapping

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

_NUDGE = 1e-5
"""Relative step of the difference that serves Newton as a slope; the root does not depend on it."""

CHARGES: Mapping[str, tuple[int, int, int, int]] = {"1:1": (1, 1, 1, 1), "2:1": (2, 1, 1, 2)}
"""Cations and anions per formula, and their charges, by the charge type a row of the shelf names."""


def osmotic_coefficient(salt: str, m: Numbers) -> Numbers:
    """Osmotic coefficient of a salt at molality m [mol/kg water], 25 degC.

    Good to about 0.01 up to 4-6 mol/kg; the phosphates are fitted to less. Raises `NotOnShelf` for a salt
    without constants.
    """
    row = lookup("electrolytes", salt)
    cations, anions, z_plus, z_minus = _charges(row)
    ions = cations + anions
    I = 0.5 * m * (cations * z_plus**2 + anions * z_minus**2)  # noqa: E741 -- ionic strength
    root = np.sqrt(I)
    f = -A_PHI * root / (1.0 + _B * root)
    B = row["b0"] + row["b1"] * np.exp(-_ALPHA * root)
    C = row["Cphi"]
    pairs = cations * anions
    phi: Numbers = (
        1.0 + z_plus * z_minus * f + m * (2.0 * pairs / ions) * B + m**2 * (2.0 * pairs**1.5 / ions) * C
    )
    return phi


def salt_solution_activity(salt: str, m: Numbers) -> Numbers:
    """Water activity over a salt's solution at molality m [mol/kg water], 25 degC. Raises as above."""
    activity: Numbers = np.exp(-_depth(salt, m))
    return activity


def salt_molality(salt: str, a: Numbers, saturation: float) -> Floats:
    """Molality [mol/kg water] at which the salt alone shows water activity `a`.

    Beyond `saturation` [mol/kg water] the osmotic coefficient is held: such a solution exists only beside
    other solutes, and the fitted equation ends there (assumed).
    """
    depth = -np.log(np.asarray(a, dtype=float))
    ions = lookup("electrolytes", salt)["ions"]
    held = ions * MOLAR_MASS_WATER * float(osmotic_coefficient(salt, saturation))
    deepest = held * saturation
    inside = np.asarray(
        invert(
            lambda m: _depth(salt, m),
            lambda m: (
                (_depth(salt, m * (1.0 + _NUDGE)) - _depth(salt, m * (1.0 - _NUDGE))) / (2.0 * _NUDGE * m)
            ),
            np.minimum(depth, deepest),
            np.zeros_like(depth),
            np.full_like(depth, saturation),
        )
    )
    return np.asarray(np.where(depth > deepest, depth / held, inside))


def _depth(salt: str, m: Numbers) -> Numbers:
    """-ln a_w."""
    ions = lookup("electrolytes", salt)["ions"]
    return ions * m * osmotic_coefficient(salt, m) * MOLAR_MASS_WATER


def _charges(row: Row) -> tuple[int, int, int, int]:
    if row.form not in CHARGES:
        raise HardtackError(f"{row.name}: charge type {row.form!r} is not one of {', '.join(CHARGES)}")
    return CHARGES[row.form]
