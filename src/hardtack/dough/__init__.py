"""Dough, crumb, cream or filling from its formula: shares, moisture, composition, isotherm."""

from hardtack.dough.formula import (
    Formula,
    bakers_percents,
    formula_of,
    isotherm_of_formula,
    masses,
    shares,
    sugar_settled,
)
from hardtack.dough.ingredients import Ingredient
from hardtack.dough.stated_error import moved_in_activity
from hardtack.dough.sugar_state import amorphous_phase, crystallising

__all__ = [
    "Formula",
    "Ingredient",
    "amorphous_phase",
    "bakers_percents",
    "crystallising",
    "formula_of",
    "isotherm_of_formula",
    "masses",
    "moved_in_activity",
    "shares",
    "sugar_settled",
]
