"""Water bound in the solution of a mixture's sugars, polyols and salts, at any water activity.

Each solute binds the water it would bind alone at the same activity, and the waters add up (Stokes and
Robinson 1966, J. Phys. Chem. 70:2126: the semi-ideal mixture). With n_i moles of solute i, of which at most
S_i W dissolve in the water W,

    W = sum_i min(n_i, S_i W) / m_i(a),

m_i(a) being the molality of solute i alone at activity a. Solutes named crystalline, and all salts, have
S_i from the shelf (that in pure water: mutual effects on solubility are left out); the others stay dissolved
or amorphous at any concentration. What exceeds solubility is inert crystal, but for the water of crystallisation
of a hydrate (lactose). A disaccharide that stays amorphous holds what its solution or its glass holds, whichever
is less: the law of the solution ends where the glass begins, and carried on it holds half as much again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import Row, lookup
from hardtack.states import Branch, Floats
from hardtack.water.air import MOLAR_MASS_WATER
from hardtack.water.electrolyte import salt_molality, salt_solution_activity
from hardtack.water.isotherms import gab
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.solubility import solubility
from hardtack.water.solutions import ROOM, solution_activity, solution_molality

_DRIEST = 1e-3
_NEAR_POLE = 0.999
_ROUNDS, _NEAR = 60, 1e-11


@dataclass(frozen=True, slots=True)
class Solute:
    """One solute of a mixture at T [K]: `amount` [mol], molality at saturation (inf when it never crystallises)."""

    name: str
    salt: bool
    amount: float
    saturation: float
    T: float = ROOM


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
        found.append(Solute(name, False, mass / M, limit, T))
    for name, mass in salts.items():
        M = lookup("electrolytes", name)["M"]
        found.append(Solute(name, True, mass / M, solubility(name, T).value / M, T))
    return tuple(solute for solute in found if solute.amount > 0)


def molality(solute: Solute, a: Numbers) -> Floats:
    """Molality [mol/kg water] at which this solute alone shows water activity `a`.

    Of one that never crystallises: in its solution or in its glass, whichever holds less water.
    """
    if solute.salt:
        return salt_molality(solute.name, a, solute.saturation, solute.T)
    dissolved = solution_molality(solute.name, a, solute.T)
    glass = _row("glassy sugars", solute.name) if np.isinf(solute.saturation) else None
    if glass is None:
        return dissolved
    constants = {symbol: glass[symbol] for symbol in ("Xm", "C", "K")}
    pole = _NEAR_POLE / constants["K"]
    M = lookup("solutes", solute.name)["M"]
    least = 1.0 / (M * gab.moisture(np.minimum(a, pole), constants))
    return np.where(np.asarray(a) < pole, np.maximum(dissolved, least), dissolved)


def hydrate_water(mixture: Collection[Solute], a: Floats, water: Floats, branch: Branch) -> Floats:
    """Water of crystallisation [kg] of the crystals that `water` [kg] leaves undissolved, never falling with a.

    Crystals that formed out of the glass (adsorption) take it up between two activities of the shelf, straight;
    crystals out of solution (desorption) hold it down to near dryness.
    """
    held = np.zeros_like(a)
    for solute in mixture:
        row = _row("hydrates", solute.name) if np.isfinite(solute.saturation) and not solute.salt else None
        if row is None:
            continue
        first, whole = (row["a_first"], row["a_whole"]) if branch == "adsorption" else (0.0, row["a_dry"])
        share = np.clip((a - first) / (whole - first), 0.0, 1.0)
        crystals = np.maximum(0.0, solute.amount - solute.saturation * water)
        held = held + share * crystals * row["n"] * MOLAR_MASS_WATER
    return held


def _row(topic: str, name: str) -> Row | None:
    try:
        return lookup(topic, name)
    except NotOnShelf:
        return None


def _saturated_depth(solute: Solute) -> float:
    """-ln of the water activity over its saturated solution."""
    activity = salt_solution_activity if solute.salt else solution_activity
    return -float(np.log(activity(solute.name, solute.saturation, solute.T)))


def deliquescence(mixture: Collection[Solute]) -> float | None:
    """Activity at which the mixture's crystals begin to take up bulk water; below that of any member alone.

    The lowest activity a solution saturated with all of them can have. None when some solute is dissolved or
    amorphous anyway (then no step is left), or there is none.
    """
    if not mixture or any(np.isinf(solute.saturation) for solute in mixture):
        return None
    return float(_points(_key(mixture))[-1])


def dissolving_steps(mixture: Collection[Solute]) -> tuple[tuple[float, float], ...]:
    """Where crystals dissolve: (activity, water [kg]) of the step of every set of them, as if alone.

    The set of all has the lowest activity. Many crystals have many sets: two to their number.
    """
    crystals = sorted((solute for solute in mixture if np.isfinite(solute.saturation)), key=_name)
    if not crystals:
        return ()
    points = _points(_key(crystals))
    dissolves = np.array([solute.amount / solute.saturation for solute in crystals])
    first = np.where(_sets(len(crystals)), dissolves, np.inf).min(axis=1)
    return tuple(zip(points.tolist(), first.tolist(), strict=True))


def _name(solute: Solute) -> tuple[str, bool]:
    return solute.name, solute.salt


def _key(mixture: Collection[Solute]) -> tuple[tuple[str, bool, float, float], ...]:
    return tuple((s.name, s.salt, s.saturation, s.T) for s in sorted(mixture, key=_name))


def _sets(members: int) -> NDArray[np.bool_]:
    """Every set of so many members but the empty one, as rows; the last row holds them all."""
    numbers = np.arange(1, 2**members)
    return np.asarray((numbers[:, None] >> np.arange(members)) & 1 == 1)


@lru_cache(maxsize=256)
def _points(saturated: tuple[tuple[str, bool, float, float], ...]) -> Floats:
    """For every set, the activity at which its sum S_i/m_i(a), which rises with a, reaches 1.

    A member alone is there over its saturated solution. A set is there below any of its members, near their
    product (Ross), as a rule well above its square; where not, the bracket reaches to the driest.
    """
    kept = [Solute(name, salt, 1.0, saturation, T) for name, salt, saturation, T in saturated]
    alone = np.array([_saturated_depth(solute) for solute in kept])
    sets = _sets(len(kept))
    t = np.log((sets * alone).max(axis=1))
    several = sets.sum(axis=1) > 1
    if np.any(several):
        chosen = sets[several].astype(float)
        t[several] = _together(kept, chosen, t[several], np.log(2.0 * (chosen @ alone)))
    return np.asarray(np.exp(-np.exp(t)))


def _together(kept: Sequence[Solute], chosen: Floats, wet: Floats, dry: Floats) -> Floats:
    """ln(-ln a) of the point of every set (a row of `chosen`), from a wet end at or above it and a likely dry end.

    All sets at once: the sum's logarithm is nearly straight in ln(-ln a), so regula falsi with the idle end's
    miss halved (Dowell and Jarratt 1971, BIT 11:168) is there in a few rounds.
    """

    def miss(t: Floats) -> Floats:
        a = np.exp(-np.exp(t))
        crowding = np.array([solute.saturation / molality(solute, a) for solute in kept])
        return np.asarray(np.log((chosen * crowding.T).sum(axis=1)))

    driest = np.full_like(wet, np.log(-np.log(_DRIEST)))
    dry = np.minimum(dry, driest)
    over, under = miss(wet), miss(dry)
    if np.any(under >= 0.0):
        dry = np.where(under < 0.0, dry, driest)
        under = miss(dry)
    last = np.zeros_like(wet)
    t = dry
    for _ in range(_ROUNDS):
        t = np.where(under < 0.0, wet + over * (dry - wet) / (over - under), dry)
        now = miss(t)
        side = np.where(now > 0.0, 1.0, -1.0)
        again = np.where(side == last, 0.5, 1.0)
        over, under = np.where(side > 0, now, over * again), np.where(side > 0, under * again, now)
        wet, dry = np.where(side > 0, t, wet), np.where(side > 0, dry, t)
        last = side
        if np.all(np.abs(now) < _NEAR):
            break
    return t


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
