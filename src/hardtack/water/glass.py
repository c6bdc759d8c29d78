"""Glass transition of solids and water: Gordon and Taylor, Couchman and Karasz.

Temperatures in kelvin. Both equations are one when k is the ratio of the heat capacity steps, water over
solid. They assume one mixed phase: gluten and starch, or protein and much sugar, part into phases with a Tg
each, and gluten films follow Couchman and Karasz poorly (Gontard and Ring 1996, J. Agric. Food Chem.
44:3474). Crystals and fat have no part in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import lookup
from hardtack.states import Floats, Isotherm
from hardtack.water.isotherm import activity, activity_limit, moisture
from hardtack.water.isotherms.constants import Numbers


@dataclass(frozen=True, slots=True)
class Glass:
    """An amorphous solid: its dry Tg [K] and Gordon-Taylor k with water, and the Tg of water [K]."""

    name: str
    Tg_dry: float
    k: float
    Tg_water: float


def couchman_karasz(parts: Sequence[tuple[float, float, float]]) -> float:
    """Tg [K] = sum w dCp Tg / sum w dCp over (mass, Tg [K], dCp [J/kg/K]) of each part, water among them.

    Couchman and Karasz (1978), Macromolecules 11:117, in its usual linear form.
    """
    w, Tg, dCp = np.array(parts).T
    return float((w * dCp * Tg).sum() / (w * dCp).sum())


def glass(name: str) -> Glass:
    """The amorphous solid of that name from the shelf; k is there, or the ratio of heat capacity steps.

    Raises `NotOnShelf` when the shelf lacks it, or gives neither k nor dCp for it.
    """
    row, water = lookup("glass transitions", name), lookup("glass transitions", "water")
    if "k" in row.values:
        k = row["k"]
    elif "dCp" in row.values:
        k = water["dCp"] / row["dCp"]
    else:
        raise NotOnShelf(f"{row.name}: the shelf gives its dry Tg but no k with water", "choose another row")
    return Glass(row.name, row["Tg"], k, water["Tg"])


def mixed_glass(shares: Mapping[str, float]) -> Glass:
    """Several amorphous solids as one phase, by dry mass: Couchman and Karasz over all of them.

    With dCp = dCp_water/k for each solid, adding water to the result by `glass_transition` gives exactly the
    sum over all parts. Raises `HardtackError` when no mass is above zero, `NotOnShelf` as `glass`.
    """
    kept = {name: mass for name, mass in shares.items() if mass > 0}
    if not kept:
        raise HardtackError("no amorphous solid to take a glass transition of", "give at least one mass")
    solids = [glass(name) for name in kept]
    total = sum(kept.values())
    stiffness = [mass / total / solid.k for mass, solid in zip(kept.values(), solids, strict=True)]
    Tg = sum(s * solid.Tg_dry for s, solid in zip(stiffness, solids, strict=True)) / sum(stiffness)
    return Glass(" + ".join(kept), Tg, 1.0 / sum(stiffness), solids[0].Tg_water)


def glass_transition(solid: Glass, X: Numbers) -> Numbers:
    """Tg [K] at moisture X [kg/kg dry of this solid]: (Tg_dry + k X Tg_water) / (1 + k X).

    Gordon and Taylor (1952), J. Appl. Chem. 2:493, written on dry basis.
    """
    return (solid.Tg_dry + solid.k * X * solid.Tg_water) / (1.0 + solid.k * X)


def glass_transition_at(solid: Glass, iso: Isotherm, a: Floats, T: float) -> Floats:
    """Tg [K] of the solid equilibrated at water activities `a` and T [K], by its isotherm."""
    return np.asarray(glass_transition(solid, moisture(iso, a, T)))


def softening_moisture(solid: Glass, T: float) -> float:
    """Moisture [kg/kg dry] at which Tg comes down to T [K]; zero when the dry solid is soft already.

    Raises `HardtackError` when T lies at or below the Tg of water: no moisture brings it there.
    """
    if solid.Tg_water >= T:
        raise HardtackError(
            f"{solid.name}: no moisture brings the glass transition down to {T:g} K",
            f"water itself has {solid.Tg_water:g} K; temperatures are in kelvin here",
        )
    return max(0.0, (solid.Tg_dry - T) / (solid.k * (T - solid.Tg_water)))


def softening_activity(solid: Glass, iso: Isotherm, T: float) -> float | None:
    """Water activity at which Tg comes down to T [K], both solid and air at T; None when it never does.

    The isotherm must be of the same solid. Raises as `softening_moisture`.
    """
    X = softening_moisture(solid, T)
    if X == 0.0:
        return 0.0
    if moisture(iso, activity_limit(iso, T), T) < X:
        return None
    return float(activity(iso, X, T))
