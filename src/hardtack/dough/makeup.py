"""From a formula to what decides its structure: gluten, hydration, fat, sugar, sheets, and the texture reading."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.dough import brought as bring
from hardtack.dough.formula import Formula
from hardtack.dough.label import named_allergens
from hardtack.dough.structure import BiteStrength, Laminate, Makeup, bite_strength, laminate
from hardtack.product import FormulaSpec
from hardtack.product.dough_spec import TextureSpec
from hardtack.reference import lookup, on_shelf
from hardtack.sourced import Used


@dataclass(frozen=True, slots=True)
class Texture:
    """A reading scaled to another density, in the reading's unit."""

    strength: BiteStrength
    unit: str
    wanted_density: float
    density: float
    used: tuple[Used, ...]


def makeup_of(spec: FormulaSpec, formula: Formula, moisture: float | None) -> Makeup | None:
    """What decides structure, on flour. `moisture` is of the baked piece, wet basis. None without flour or moisture."""
    if formula.flour <= 0 or moisture is None or formula.hydration is None:
        return None
    parts = formula.ingredients
    rolled = _rolled_in(spec)
    mixed = [part for part in parts if part.name.casefold() != rolled]
    flour = formula.flour
    gluten = [part for part in parts if "wheat" in (named_allergens(part.name) or ())]
    gums = [part for part in parts if _gum(part.name)]
    folded = laminate_of(spec, formula)
    return Makeup(
        gluten_protein=bring.mass_of(gluten, lambda made: made.wheat_protein) / flour,
        hydration=bring.water([part for part in parts if not part.flour]) / flour,
        fat=bring.mass_of(mixed, lambda made: made.fat) / flour,
        sugar=(bring.mass_of(parts, bring.sugars) + bring.mass_of(parts, bring.polyols)) / flour,
        final_moisture=moisture,
        egg_protein=bring.mass_of(parts, lambda made: made.egg_protein) / flour,
        gum=sum(part.share for part in gums) / flour,
        gelled_starch=spec.structure.gelled_starch.value
        if spec.structure and spec.structure.gelled_starch
        else 0.0,
        sheets=folded.dough_sheets if folded and not folded.merged else 1,
    )


def laminate_of(spec: FormulaSpec, formula: Formula) -> Laminate | None:
    """The sheets of a folded dough, None where the file gives no turns. Raises `HardtackError` as `laminate`."""
    given = spec.structure
    if given is None or not given.turns or given.rolled_in is None or given.rolled_to is None:
        return None
    fat = sum(part.share for part in formula.ingredients if part.name.casefold() == _rolled_in(spec))
    volume = fat / lookup("dough defaults", "fat")["density"]
    share = volume / (volume + (1.0 - fat) / lookup("dough defaults", "dough without gas")["density"])
    return laminate([round(turn.value) for turn in given.turns], given.rolled_to.value, share)


def texture_of(spec: TextureSpec) -> Texture:
    """Bite strength at the wanted density, from the user's own reading. Raises `HardtackError` as `bite_strength`."""
    walls = spec.wall_density or lookup("dough defaults", "cell walls").values["density"]
    strength = bite_strength(spec.reading.value, spec.density.value, spec.wanted_density.value, walls.value)
    used = (
        Used("texture reading", spec.reading, True),
        Used("density of the pieces read", spec.density, True),
        Used("density wanted", spec.wanted_density, True),
        Used("density of the cell walls", walls, spec.wall_density is not None),
    )
    return Texture(strength, spec.reading.unit, spec.wanted_density.value, spec.density.value, used)


def _rolled_in(spec: FormulaSpec) -> str:
    return spec.structure.rolled_in.casefold() if spec.structure and spec.structure.rolled_in else ""


def _gum(name: str) -> bool:
    row = on_shelf("structure", name)
    return row is not None and row.name == "gum"
