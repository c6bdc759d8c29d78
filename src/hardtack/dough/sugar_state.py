"""Whether the sugar of a formula is glass or crystals, when the file does not say.

Sugar that dissolved in the dough and was dried in the oven is a glass, as long as the amorphous phase that holds it
(starch, gluten, dextrins and sugars together) is hard; above its glass transition it crystallises in time. Sugar for
which the dough never held the water stays crystals.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hardtack.reference import lookup
from hardtack.states import Branch, Isotherm
from hardtack.units import ZERO_CELSIUS
from hardtack.water.composition import Composition
from hardtack.water.glass import Glass, glass_transition, mixed_glass
from hardtack.water.isotherm import activity, activity_limit, moisture
from hardtack.water.sharing import formula_isotherm
from hardtack.water.solubility import solubility

ROOM = ZERO_CELSIUS + 25.0

CRYSTALLISING = ("sucrose", "lactose", "mannitol", "erythritol", "xylitol")
"""What crystallises from a dough, cream or syrup by itself; glucose, fructose, maltose, sorbitol and glycerol
stay dissolved or glassy in company (common practice, no source)."""

GLASSY = ("sucrose", "glucose", "fructose", "maltose", "lactose", "sorbitol")
"""Sugars and polyols of which the shelf knows the glass transition with water."""


@dataclass(frozen=True, slots=True)
class AmorphousPhase:
    """The amorphous solids of a composition as one phase: names, their composition, their glass."""

    solids: tuple[str, ...]
    composition: Composition
    glass: Glass


def crystallising(composition: Composition) -> tuple[str, ...]:
    """The solutes of a composition that crystallise by themselves."""
    solutes: Mapping[str, float] = {**composition.sugars, **composition.polyols}
    return tuple(name for name in CRYSTALLISING if solutes.get(name, 0.0) > 0.0)


def amorphous_phase(made: Composition, crystalline: tuple[str, ...]) -> AmorphousPhase | None:
    """Starch, gluten, dextrins and the sugars that are no crystals, None when there are none."""
    sugars = {
        name: mass
        for name, mass in {**made.sugars, **made.polyols}.items()
        if name in GLASSY and name not in crystalline and mass > 0
    }
    solids = {
        "starch": made.starch,
        "gluten": made.wheat_protein,
        "maltodextrin DE 20": made.dextrin,
        **sugars,
    }
    solids = {name: mass for name, mass in solids.items() if mass > 0}
    if not solids:
        return None
    phase = Composition(
        starch=made.starch, dextrin=made.dextrin, wheat_protein=made.wheat_protein, sugars=sugars
    )
    return AmorphousPhase(tuple(solids), phase, mixed_glass(solids))


def stays_glass(composition: Composition, branch: Branch, X: float) -> bool:
    """Whether the composition's amorphous phase is hard at 25 degC with X [kg/kg dry] of water in the whole.

    Should all water sit in the phase and it still be hard, its isotherm is not asked for.
    """
    phase = amorphous_phase(composition, ())
    if phase is None:
        return False
    most = X * composition.dry_mass / phase.composition.dry_mass
    if float(glass_transition(phase.glass, most)) > ROOM:
        return True
    own, whole = (
        formula_isotherm(name, made, crystalline=(), branch=branch, T=ROOM)
        for name, made in (("amorphous phase", phase.composition), ("whole", composition))
    )
    return float(glass_transition(phase.glass, _held(own, float(activity(whole, X, ROOM))))) > ROOM


def _held(iso: Isotherm, a: float) -> float:
    return float(moisture(iso, min(a, activity_limit(iso, ROOM)), ROOM))


def dissolvable(composition: Composition, water: float) -> float:
    """Share of the crystallising sugars that `water` [in the unit of the composition] dissolves, at most, as the
    dough warms: solubilities at the temperature by which all sugar of a baking cookie was seen dissolved."""
    T = lookup("amorphous sugar", "sugar in baking cookies")["dissolves"]
    amounts = {**composition.sugars, **composition.polyols}
    needed = sum(amounts[name] / solubility(name, T).value for name in crystallising(composition))
    return 1.0 if needed <= water else water / needed
