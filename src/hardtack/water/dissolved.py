"""Water bound in the solution of a mixture's sugars, polyols and salts, at any water activity.

Each solute binds the water it would bind alone at the same activity, and the waters add up (Stokes and
Robinson 1966, J. Phys. Chem. 70:2126: the semi-ideal mixture). With n_i moles of solute i, of which at most
S_i W dissolve in the water W,

    W = sum_i min(n_i, S_i W) / m_i(a),

m_i(a) being the molality of solute i alone at activity a. Solutes named crystalline, and all salts, have
S_i from the shelf (that in pure water: mutual effects on solubility are left out); the others stay dissolved
or amorphous at any concentration. What exceeds solubility is inert crystal.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.states import Floats
from hardtack.water.electrolyte import salt_molality
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.solubility import solubility
from hardtack.water.solutions import norrish_molality

_DRIEST, _WETTEST = 1e-3, 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class Solute:
    """One solute of a mixture: `amount` [mol], molality at saturation (inf when it never crystallises)."""

    name: str
    salt: bool
    amount: float
    saturation: float


def solutes(
    masses: Mapping[str, float], salts: Mapping[str, float], T: float, crystalline: Collection[str]
) -> tuple[Solute, ...]:
    """The solutes of a mixture from kg of each sugar or polyol (`masses`) and of each salt.

    Raises `NotOnShelf` for a name without constants, `HardtackError` when `crystalline` names what is not
    there.
    """
    stray = sorted(set(crystalline) - set(masses))
    if stray:
        raise HardtackError(
            f"said to be crystalline but not in the mixture: {', '.join(stray)}",
            f"name what is there ({', '.join(masses) or 'no sugar or polyol'}); salts are crystalline anyway",
        )
    found = []
    for name, mass in masses.items():
        M = lookup("solutes", name)["M"]
        limit = solubility(name, T).value / M if name in crystalline else np.inf
        found.append(Solute(name, False, mass / M, limit))
    for name, mass in salts.items():
        M = lookup("electrolytes", name)["M"]
        found.append(Solute(name, True, mass / M, solubility(name, T).value / M))
    return tuple(solute for solute in found if solute.amount > 0)


def molality(solute: Solute, a: Numbers) -> Floats:
    """Molality [mol/kg water] at which this solute alone shows water activity `a`."""
    if solute.salt:
        return salt_molality(solute.name, a, solute.saturation)
    return norrish_molality(a, lookup("solutes", solute.name)["K"])


def deliquescence(mixture: Collection[Solute]) -> float | None:
    """Activity at which the mixture's crystals begin to take up bulk water; below that of any member alone.

    The lowest activity a solution saturated with all of them can have. None when some solute is dissolved or
    amorphous anyway (then no step is left), or there is none.
    """
    if not mixture or any(np.isinf(solute.saturation) for solute in mixture):
        return None
    return _deliquescence(frozenset((solute.name, solute.salt, solute.saturation) for solute in mixture))


def dissolving_steps(mixture: Collection[Solute]) -> tuple[tuple[float, float], ...]:
    """Where crystals dissolve: (activity, water [kg]) of the step of every set of them, as if alone.

    The set of all has the lowest activity. Many crystals have many sets: two to their number.
    """
    crystals = [solute for solute in mixture if np.isfinite(solute.saturation)]
    found = []
    for size in range(1, len(crystals) + 1):
        for chosen in combinations(crystals, size):
            point = deliquescence(chosen)
            if point is not None:
                found.append((point, min(solute.amount / solute.saturation for solute in chosen)))
    return tuple(found)


@lru_cache(maxsize=1024)
def _deliquescence(saturated: frozenset[tuple[str, bool, float]]) -> float:
    """The activity at which sum S_i/m_i(a), which rises with a, reaches 1; each round splits it in 32."""
    kept = [Solute(name, salt, 1.0, saturation) for name, salt, saturation in saturated]
    low, high = _DRIEST, _WETTEST
    for _ in range(6):
        a = np.linspace(low, high, 33)
        crowding = sum((solute.saturation / molality(solute, a) for solute in kept), np.zeros_like(a))
        at = min(max(1, int(np.searchsorted(crowding, 1.0))), len(a) - 1)
        low, high = float(a[at - 1]), float(a[at])
    return 0.5 * (low + high)


def solution_water(mixture: Collection[Solute], a: Floats, width: float) -> Floats:
    """Water in the mixture's solution [kg] at water activities `a` (0 < a < 1), never falling with a.

    Without spread the crystals' first uptake would be a step at `deliquescence`; it is spread evenly over
    `width` of activity below that point. The same ramp stands before the point of every set of the crystals,
    so that adding a solute never takes water away at any activity.
    """
    if not mixture:
        return np.zeros_like(a)
    # Ordered by the water that dissolves all of it, so that every saturated set is a tail of the list.
    order = sorted(mixture, key=lambda solute: solute.amount / solute.saturation)
    bound = [1.0 / molality(solute, a) for solute in order]
    crowding = [
        solute.saturation * b if np.isfinite(solute.saturation) else np.zeros_like(a)
        for solute, b in zip(order, bound, strict=True)
    ]
    crystals = sum(np.isfinite(solute.saturation) for solute in order)
    # The sum is concave in W: it is the least of its straight pieces, and the root the least of their roots.
    water = np.full_like(a, np.inf)
    for dissolved in range(len(order) - crystals, len(order) + 1):
        free = sum((s.amount * b for s, b in zip(order[:dissolved], bound, strict=False)), np.zeros_like(a))
        taken = sum(crowding[dissolved:], np.zeros_like(a))
        with np.errstate(divide="ignore", invalid="ignore"):
            root = np.where(taken < 1.0, free / (1.0 - taken), np.inf)
        water = np.minimum(water, root)
    for step, first in dissolving_steps(mixture):
        water = np.maximum(water, first * np.clip((a - (step - width)) / width, 0.0, 1.0))
    return water
