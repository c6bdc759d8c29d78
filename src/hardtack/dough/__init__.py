"""Dough, crumb, cream or filling from its formula: shares, moisture, composition, isotherm."""

from hardtack.dough.formula import (
    Formula,
    bakers_percents,
    crystallising,
    formula_of,
    isotherm_of_formula,
    masses,
    shares,
)
from hardtack.dough.ingredients import Ingredient
from hardtack.dough.stated_error import moved_in_activity

__all__ = [
    "Formula",
    "Ingredient",
    "bakers_percents",
    "crystallising",
    "formula_of",
    "isotherm_of_formula",
    "masses",
    "moved_in_activity",
    "shares",
]
