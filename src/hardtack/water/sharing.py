"""The isotherm of a dough, crumb, filling, jam, cream or cracker from its formula alone.

Water is shared at equal activity, X(a) = sum w_i X_i(a): polymers by `polymers`, sugars, polyols and salts by
`dissolved`, fat, ash and crystals hold next to nothing. Nothing here knows of structure, baking loss or
history beyond the two branches; a measured isotherm, or one measured pair of moisture and activity
(`isotherm.reconcile`), is better and should replace it. How far off it is, against published pairs, is stated
with every isotherm (`activity_sd`).

The result is a fine table at one temperature. Its heat law is fitted to the mixture evaluated at two
temperatures where no crystal dissolves. Near a deliquescence point warmth dissolves more sugar and lowers
activity instead; one exponential cannot show that, so for another temperature make the isotherm there.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import fields, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.sourced import Sourced
from hardtack.states import Branch, Floats, IsostericHeat, Isotherm
from hardtack.water.air import GAS_CONSTANT
from hardtack.water.composition import Composition
from hardtack.water.dissolved import dissolving_steps, hydrate_water, solutes, solution_water
from hardtack.water.polymers import polymer_moisture
from hardtack.water.temperature import rising_heat, shift

WETTEST = 0.999
_STEP = 10.0
"""Temperature difference to either side from which the heat law is fitted [K]."""
_HOTTEST = 327.0
"""Above this the wheat protein of dry goods takes up too little for its swelling branch [K]."""
_DRIEST_FIT, _WETTEST_FIT = 0.10, 0.80
_KEPT = 333.15
"""Temperature up to which the law keeps activity rising with moisture [K]; colder it always does."""
_MARGIN = 0.98
"""Share taken of the heat that would just do so."""
_FADING = np.geomspace(0.005, 1.0, 60)[:42]
"""Fadings of the heat that are tried, to 0.2 kg/kg: wet goods carry next to none (the shelf's heats)."""
_LEAST_HEAT = 100.0
"""Heats below this [J/mol] move activity by under 0.0005 a degree: the law is left out."""


def stated_error(branch: Branch) -> Sourced:
    """Root mean square error of activity from a formula, against published pairs, for that history."""
    return lookup("formula errors", branch).values["rms"]


def shared_moisture(
    composition: Composition, a: Floats, T: float, *, crystalline: Collection[str], branch: Branch
) -> Floats:
    """Moisture [kg/kg dry] of the mixture at water activities `a` (0 < a < 1) and T [K].

    `crystalline` names the sugars and polyols present as crystals: they dissolve only up to solubility, what
    exceeds it stays inert. Sugars not named are taken for dissolved or amorphous. `branch` is desorption for
    solids never dried hard (flour, dough, crumb, soft goods), adsorption for baked dry goods taking water up.
    Raises `HardtackError` when a is out of range or `crystalline` names what is not there, `NotOnShelf` for
    an unknown sugar, polyol or salt.
    """
    if not np.all((a > 0) & (a < 1)):
        raise HardtackError("water activity must lie between 0 and 1", "leave both ends out")
    polymers = {
        "starch": composition.starch,
        "dextrin": composition.dextrin,
        "wheat protein": composition.wheat_protein,
        "egg protein": composition.egg_protein,
        "milk protein": composition.milk_protein,
        "fibre": composition.fibre,
    }
    water = np.zeros_like(a)
    for name, mass in polymers.items():
        if mass > 0:
            water = water + mass * polymer_moisture(name, branch, a, T)
    masses = {**composition.sugars, **composition.polyols}
    mixture = solutes(masses, composition.salts, T, crystalline)
    width = lookup("deliquescence", "spread of the step")["width"]
    dissolved = solution_water(mixture, a, width)
    water = water + dissolved + hydrate_water(mixture, a, dissolved, branch)
    surface = lookup("polymers", "inert solids")["X_surface"]
    return water / composition.dry_mass + surface * a


def formula_isotherm(
    name: str,
    composition: Composition,
    *,
    crystalline: Collection[str],
    branch: Branch,
    T: float = 298.15,
) -> Isotherm:
    """The isotherm of a mixture at T [K] as a table of some 300 points; arguments and errors as above.

    `activity_sd` carries the stated error, `source` says how it was made and which sugars were taken for
    crystals. The table runs to activity 0.999. What was made once is remembered: while a pack or a journey is
    changed, the formula stays.
    """
    amounts = tuple(
        (item.name, tuple(held.items()) if isinstance(held, Mapping) else held)
        for item in fields(composition)
        for held in (getattr(composition, item.name),)
    )
    return _made(name, amounts, frozenset(crystalline), branch, T)


@lru_cache(maxsize=64)
def _made(
    name: str, amounts: tuple[tuple[str, Any], ...], crystalline: frozenset[str], branch: Branch, T: float
) -> Isotherm:
    parts: dict[str, Any] = {
        key: MappingProxyType(dict(held)) if isinstance(held, tuple) else held for key, held in amounts
    }
    composition = Composition(**parts)
    a = _grid(composition, crystalline, T)
    X = shared_moisture(composition, a, T, crystalline=crystalline, branch=branch)
    error = stated_error(branch)
    sugars = ", ".join(sorted(crystalline)) or "none"
    table = Isotherm(
        name,
        "table",
        points=tuple(zip(a.tolist(), X.tolist(), strict=True)),
        reference_temperature=T,
        activity_range=(0.05, WETTEST),
        branch=branch,
        provenance="assumed",
        source=(
            f"shared at equal activity from the formula ({branch}; taken for crystals: {sugars}); "
            f"rms {error.value:.2g} in activity against published pairs"
        ),
        activity_sd=error.value,
    )
    return _with_heat(table, composition, crystalline, branch)


def _grid(composition: Composition, crystalline: Collection[str], T: float) -> Floats:
    """Activities of the table: dense near a deliquescence point and near 1."""
    steps = _steps(composition, crystalline, T)
    width = lookup("deliquescence", "spread of the step")["width"]
    pieces = [
        np.linspace(0.002, 0.05, 25),
        np.linspace(0.05, 0.90, 171),
        1.0 - np.geomspace(0.10, 1.0 - WETTEST, 80),
    ]
    for step in steps:
        around = np.linspace(step - 1.5 * width, step + 0.5 * width, 41 if len(steps) < 8 else 9)
        pieces.append(around[(around > 0.0) & (around < WETTEST)])
    return np.unique(np.round(np.concatenate(pieces), 9))


def _with_heat(
    table: Isotherm, composition: Composition, crystalline: Collection[str], branch: Branch
) -> Isotherm:
    """The table with q0 exp(-X/X0) fitted where water is held by polymers; no heat where there is none."""
    T = table.reference_temperature
    a, X = np.array(table.points).T
    hot = max(T, min(T + _STEP, _HOTTEST))
    cold = hot - 2.0 * _STEP
    curves = [shared_moisture(composition, a, t, crystalline=crystalline, branch=branch) for t in (cold, hot)]
    top = min(_WETTEST_FIT, *(step - 0.05 for step in _steps(composition, crystalline, hot)), 1.0)
    use = (a >= _DRIEST_FIT) & (a <= top)
    if use.sum() < 3:
        return table
    drier, wetter = (np.log(np.interp(X[use], curve, a)) for curve in curves)
    q = GAS_CONSTANT * (wetter - drier) / (1.0 / cold - 1.0 / hot)
    warmest = float(shift(table, _KEPT))
    fits = []
    for X0 in _FADING:
        shape = np.exp(-X[use] / X0)
        # Never more heat than keeps activity rising with moisture, least where crystals dissolve.
        q0 = min(float(q @ shape / (shape @ shape)), _MARGIN * rising_heat(table.points, float(X0), warmest))
        fits.append((float(np.square(q - q0 * shape).sum()), q0, float(X0)))
    _, q0, X0 = min(fits)
    return table if q0 < _LEAST_HEAT else replace(table, heat=IsostericHeat(q0, X0))


def _steps(composition: Composition, crystalline: Collection[str], T: float) -> list[float]:
    """Activities at which crystals of the mixture dissolve."""
    masses = {**composition.sugars, **composition.polyols}
    return [step for step, _ in dissolving_steps(solutes(masses, composition.salts, T, crystalline))]
