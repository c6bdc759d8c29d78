"""What each ingredient brings, in kg per kg of dough."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from hardtack.dough.ingredients import Ingredient
from hardtack.water.composition import Composition

_SUGAR_TO_GLUCOSE = {
    "sucrose": 2 * 180.156 / 342.297,
    "maltose": 2 * 180.156 / 342.297,
    "glucose": 1.0,
    "fructose": 1.0,
}
"""Glucose from one part of a sugar that baker's yeast ferments, by molar masses; lactose it does not touch."""


def mass_of(parts: Iterable[Ingredient], what: Callable[[Composition], float]) -> float:
    """Mass [kg per kg of dough] that the parts bring of `what` is read from a composition."""
    total = 0.0
    for part in parts:
        if part.composition is not None:
            scale = part.share * (1.0 - part.water) / part.composition.dry_mass
            total += scale * what(part.composition)
    return total


def water(parts: Iterable[Ingredient]) -> float:
    """Water [kg per kg of dough] in the parts."""
    return sum(part.share * part.water for part in parts)


def flour(parts: Iterable[Ingredient]) -> float:
    """Flour [kg per kg of dough] among the parts."""
    return sum(part.share for part in parts if part.flour)


def sugars(made: Composition) -> float:
    """All sugars of a composition, in its own unit."""
    return sum(made.sugars.values())


def polyols(made: Composition) -> float:
    """All polyols of a composition, in its own unit."""
    return sum(made.polyols.values())


def salt(made: Composition) -> float:
    """Table salt of a composition, in its own unit."""
    return made.salts.get("NaCl", 0.0)


def protein(made: Composition) -> float:
    """All protein of a composition, in its own unit."""
    return made.wheat_protein + made.egg_protein + made.milk_protein


def ferments(sugar: str) -> bool:
    """Whether baker's yeast ferments the sugar."""
    return sugar in _SUGAR_TO_GLUCOSE


def fermentable(made: Composition) -> float:
    """Sugar that yeast ferments, as glucose, in the composition's own unit."""
    return sum(mass * _SUGAR_TO_GLUCOSE.get(name, 0.0) for name, mass in made.sugars.items())
