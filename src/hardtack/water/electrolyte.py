"""Water activity of solutions of one salt: Pitzer's equation for the osmotic coefficient.

phi - 1 = |z+ z-| f + m (2 v+ v-/v) B + m^2 (2 (v+ v-)^1.5 / v) C, f = -A sqrt(I) / (1 + 1.2 sqrt(I)),
B = b0 + b1 exp(-2 sqrt(I)), ln a_w = -v m phi M_w (Pitzer and Mayorga 1973, J. Phys. Chem. 77:2300).
The constants of NaCl and KCl move with temperature (Silvester and Pitzer 1977, J. Phys. Chem. 81:1822, and 1978,
J. Solution Chem. 7:327), those of the other salts are of 25 degC; A moves for all with (D T)^-1.5, D the
permittivity of water, whose density is left out of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import Row, lookup
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import MOLAR_MASS_WATER
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.isotherms.inverse import invert

A_PHI = 0.392
"""Debye-Hueckel slope of water at 25 degC [(kg/mol)^0.5], Pitzer and Mayorga (1973)."""
_B = 1.2
_ALPHA = 2.0

_PROBES = 400
ROOM = ZERO_CELSIUS + 25.0

CHARGES: Mapping[str, tuple[int, int, int, int]] = {"1:1": (1, 1, 1, 1), "2:1": (2, 1, 1, 2)}
"""Cations and anions per formula, and their charges, by the charge type a row of the shelf names."""


class _Constants(NamedTuple):
    """What the equation needs of a salt at one temperature."""

    b0: float
    b1: float
    Cphi: float
    A: float
    ions: float
    cations: int
    anions: int
    z_plus: int
    z_minus: int


def osmotic_coefficient(salt: str, m: Numbers, T: float = ROOM) -> Numbers:
    """Osmotic coefficient of a salt at molality m [mol/kg water] and T [K].

    Good to about 0.01 up to 4-6 mol/kg; the phosphates are fitted to less. Raises `NotOnShelf` for a salt
    without constants.
    """
    return _osmotic(_constants(salt, T), m)[0]


@lru_cache(maxsize=256)
def _constants(salt: str, T: float) -> _Constants:
    row = lookup("electrolytes", salt)
    try:
        moves: Row | None = lookup("electrolyte temperatures", salt)
    except NotOnShelf:
        moves = None
    steps = (1.0 / T - 1.0 / ROOM, float(np.log(T / ROOM)), T - ROOM, T * T - ROOM * ROOM)

    def at(symbol: str) -> float:
        value = row[symbol]
        for place, step in enumerate(steps, start=1):
            key = f"{symbol} p{place}"
            if moves is not None and key in moves.values:
                value += moves[key] * step
        return value

    A = A_PHI * (_permittivity(ROOM) * ROOM / (_permittivity(T) * T)) ** 1.5
    return _Constants(at("b0"), at("b1"), at("Cphi"), A, row["ions"], *_charges(row))


def _permittivity(T: float) -> float:
    """Of water relative to vacuum, 0 to 100 degC (Malmberg and Maryott 1956, J. Res. NBS 56:1; from memory)."""
    t = T - ZERO_CELSIUS
    return 87.740 + t * (-0.40008 + t * (9.398e-4 - 1.410e-6 * t))


def _osmotic(salt: _Constants, m: Numbers) -> tuple[Numbers, Numbers]:
    """phi and m dphi/dm."""
    ions = salt.cations + salt.anions
    root = np.sqrt(0.5 * m * (salt.cations * salt.z_plus**2 + salt.anions * salt.z_minus**2))
    damped = 1.0 + _B * root
    fading = salt.b1 * np.exp(-_ALPHA * root)
    pairs = salt.cations * salt.anions
    limiting = -salt.z_plus * salt.z_minus * salt.A * root / damped
    second = m * (2.0 * pairs / ions)
    third = m * m * (2.0 * pairs**1.5 / ions) * salt.Cphi
    phi: Numbers = 1.0 + limiting + second * (salt.b0 + fading) + third
    rise: Numbers = (
        0.5 * limiting / damped + second * (salt.b0 + fading * (1.0 - 0.5 * _ALPHA * root)) + 2.0 * third
    )
    return phi, rise


def salt_solution_activity(salt: str, m: Numbers, T: float = ROOM) -> Numbers:
    """Water activity over a salt's solution at molality m [mol/kg water] and T [K]. Raises as above."""
    made = _constants(salt, T)
    activity: Numbers = np.exp(-made.ions * MOLAR_MASS_WATER * m * _osmotic(made, m)[0])
    return activity


def salt_molality(salt: str, a: Numbers, saturation: float, T: float = ROOM) -> Floats:
    """Molality [mol/kg water] at which the salt alone shows water activity `a` at T [K].

    Beyond `saturation` [mol/kg water] the osmotic coefficient is held: such a solution exists only beside
    other solutes, and the fitted equation ends there (assumed).
    """
    made = _constants(salt, T)
    depth = -np.log(np.asarray(a, dtype=float)) / (made.ions * MOLAR_MASS_WATER)
    least, most, held = _reach(salt, saturation, T)

    def curve(m: Floats) -> tuple[Numbers, Numbers]:
        phi, rise = _osmotic(made, m)
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
def _reach(salt: str, saturation: float, T: float) -> tuple[float, float, float]:
    """Bounds of the osmotic coefficient up to saturation, with a margin, and its value there."""
    phi = np.asarray(osmotic_coefficient(salt, np.linspace(0.0, saturation, _PROBES), T))
    return 0.95 * float(phi.min()), 1.05 * float(phi.max()), float(phi[-1])


def _charges(row: Row) -> tuple[int, int, int, int]:
    if row.form not in CHARGES:
        raise HardtackError(f"{row.name}: charge type {row.form!r} is not one of {', '.join(CHARGES)}")
    return CHARGES[row.form]
