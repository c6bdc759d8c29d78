"""Composition of the dough and of the piece baked from it, per kg of dough.

What leaves: water, the carbon dioxide and the alcohol of yeast, the carbon dioxide of soda that found acid, all of
ammonium bicarbonate. Starch, protein and fat are taken to stay; browning and spitting are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from hardtack.dough import brought as bring
from hardtack.dough.fermentation import Fermented, fermented
from hardtack.dough.formula import Formula, formula_of
from hardtack.dough.leaveners import Leaveners, leaveners_of
from hardtack.dough.leavening import AMMONIUM, MOLAR_MASS_CARBON_DIOXIDE, Balance
from hardtack.errors import HardtackError
from hardtack.product import Product
from hardtack.reference import lookup
from hardtack.water.air import MOLAR_MASS_WATER

COMPONENTS = (
    "water", "starch", "sugars", "fibre", "protein", "fat", "salt", "ash and leavening salts", "polyols", "alcohol",
    "other",
)  # fmt: skip
ANHYDRO = 162.141 / 180.156
"""Starch [kg] for one kg of the glucose it gives: one water is taken up. By molar masses."""


@dataclass(frozen=True, slots=True)
class Baked:
    """A piece baked from one kg of dough: `parts` [kg], `mass` [kg], `moisture` [kg/kg dry], `loss` of mass.

    `solids_lost` [kg] went as gas and vapour of what was not water; `alcohol_at_most` [kg] would stay if alcohol left
    no faster than water.
    """

    parts: Mapping[str, float]
    mass: float
    moisture: float
    loss: float
    solids_lost: float
    alcohol_at_most: float


def dough_parts(formula: Formula, leaveners: Leaveners) -> dict[str, float]:
    """The dough as mixed, kg per kg of dough, by `COMPONENTS`."""
    here = formula.ingredients
    salts = [part for part in here if part.name in leaveners.names]
    leavening = bring.mass_of(salts, lambda made: made.other + sum(made.salts.values()) - bring.salt(made))
    return {
        "water": bring.water(here),
        "starch": bring.mass_of(here, lambda made: made.starch + made.dextrin),
        "sugars": bring.mass_of(here, bring.sugars),
        "fibre": bring.mass_of(here, lambda made: made.fibre),
        "protein": bring.mass_of(here, bring.protein),
        "fat": bring.mass_of(here, lambda made: made.fat),
        "salt": bring.mass_of(here, bring.salt),
        "ash and leavening salts": bring.mass_of(here, lambda made: made.ash) + leavening,
        "polyols": bring.mass_of(here, bring.polyols),
        "alcohol": 0.0,
        "other": bring.mass_of(
            [part for part in here if part.name not in leaveners.names], lambda made: made.other
        ),
    }


def baked_of(
    formula: Formula,
    leaveners: Leaveners,
    balance: Balance,
    proved: Fermented | None,
    *,
    loss: float | None = None,
    moisture: float | None = None,
) -> Baked:
    """Bake the dough to a loss of mass (share of the dough) or to a moisture [kg/kg dry]: give one of the two.

    Raises `HardtackError` when the loss is more than water and gas can make, or the moisture more than the dough has.
    """
    parts = dough_parts(formula, leaveners)
    wet = parts["water"]
    before = sum(parts.values()) - wet
    _ferment(parts, proved)
    ammonium = sum(dose.mass for dose in leaveners.bases if dose.name == AMMONIUM)
    formed = balance.by_acid + ammonium / lookup("leavening bases", AMMONIUM)["M"]
    parts["ash and leavening salts"] -= (
        balance.by_acid * (MOLAR_MASS_CARBON_DIOXIDE + MOLAR_MASS_WATER) + ammonium
    )
    parts["water"] += formed * MOLAR_MASS_WATER
    dry = sum(parts.values()) - parts["water"]
    if moisture is not None:
        left = moisture * dry
    elif loss is not None:
        left = 1.0 - loss - dry
    else:
        raise HardtackError("nothing says how far it is baked", "give 'bake loss' or 'baked moisture'")
    if not 0.0 <= left <= parts["water"]:
        most = 1.0 - dry
        raise HardtackError(
            f"a piece of this dough cannot come out with {100 * left / (left + dry):.1f} % water"
            if left > 0
            else f"a bake loss of {100 * (loss or 0.0):.1f} % is more than the dough has to give",
            f"the dough holds {100 * wet:.1f} % water and loses at most {100 * most:.1f} % of its mass",
        )
    at_most = (proved.ethanol if proved else 0.0) * left / wet if wet > 0 else 0.0
    parts["water"] = left
    mass = left + dry
    return Baked(parts, mass, left / dry, 1.0 - mass, before - dry, at_most)


def fermented_out(formula: Formula, proved: Fermented | None) -> Formula:
    """The formula with the sugar that yeast took off its dry matter, for the isotherm of the baked piece.

    Taken from the sugars yeast ferments, each in proportion to the glucose it gives, then from starch. Which of two
    sugars goes first is left out, and so is the fructose that waits while glucose lasts.
    """
    if proved is None or proved.glucose <= 0:
        return formula
    made = formula.composition
    eaten = proved.glucose * made.dry_mass * (1.0 + formula.moisture)  # in the composition's own unit
    food = bring.fermentable(made)
    left = 1.0 - min(1.0, eaten / food) if food > 0 else 0.0
    sugars = {name: mass * (left if bring.ferments(name) else 1.0) for name, mass in made.sugars.items()}
    starch = max(0.0, made.starch - max(0.0, eaten - food) * ANHYDRO)
    return replace(formula, composition=replace(made, sugars=sugars, starch=starch))


def as_baked(product: Product, name: str) -> Formula:
    """The product file's formula less what its yeast took. Raises `HardtackError` as `formula_of` and `leaveners_of`."""
    spec, formula = product.formulas[name], formula_of(product, name)
    return fermented_out(formula, fermented(spec, formula, leaveners_of(spec, formula)))


def _ferment(parts: dict[str, float], proved: Fermented | None) -> None:
    """Take what yeast ate from sugars first, then from starch."""
    if proved is None:
        return
    from_sugars = min(parts["sugars"], proved.glucose)
    rest = proved.glucose - from_sugars
    parts["sugars"] -= from_sugars
    parts["starch"] -= rest * ANHYDRO
    parts["water"] -= rest * (1.0 - ANHYDRO)
