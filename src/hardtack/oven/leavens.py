"""What lifts: the leavening of the oven's formula, and how well its structure holds gas."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hardtack.dough import Formula
from hardtack.dough.fermentation import Fermented, food_of
from hardtack.dough.leaveners import leaveners_of
from hardtack.dough.leavening import Dose, SourIngredient
from hardtack.dough.makeup import makeup_of
from hardtack.dough.structure import Direction, structure_card
from hardtack.dough.yeast import gas_rate
from hardtack.product import FormulaSpec
from hardtack.reference import lookup

DRY = 0.05
"""Moisture of the baked piece (wet basis) with which the structure is judged: it decides crispness, not lift."""


@dataclass(frozen=True, slots=True)
class Leavens:
    """Per kg of dough: bases, acids, sour ingredients, fresh yeast [kg] and flour [kg]; salt and sugar on flour; `food`
    [kg] is the sugar, as glucose, that the bench has left the yeast.
    """

    bases: tuple[Dose, ...]
    acids: tuple[Dose, ...]
    sour: tuple[SourIngredient, ...]
    yeast: float
    salt: float
    sugar: float
    flour: float
    food: float

    @property
    def any_chemical(self) -> bool:
        """Whether a base gives gas."""
        return any(dose.mass > 0 for dose in self.bases)

    def yeast_rate(self, T: float) -> float:
        """Carbon dioxide of the yeast [mol/s per kg of dough] at T [K]."""
        if self.yeast <= 0 or self.flour <= 0:
            return 0.0
        return self.flour * gas_rate(self.yeast / self.flour, T, self.salt, self.sugar)


def leavens_of(spec: FormulaSpec, formula: Formula, proved: Fermented | None) -> Leavens:
    """The formula's leavening after what yeast did on the bench. Raises `HardtackError` as
    `hardtack.dough.leaveners.leaveners_of`.
    """
    found = leaveners_of(spec, formula)
    whole = formula.composition.dry_mass * (1.0 + formula.moisture)
    flour = formula.flour or 1.0
    return Leavens(
        found.bases,
        found.acids,
        found.sour,
        sum(mass for _, mass in found.yeast),
        min(1.0, sum(formula.composition.salts.values()) / whole / flour),
        min(1.9, sum(formula.composition.sugars.values()) / whole / flour),
        formula.flour,
        max(0.0, food_of(formula) - (proved.glucose if proved is not None else 0.0)),
    )


def hold_of(spec: FormulaSpec, formula: Formula, sheets: float | None) -> tuple[float, Direction]:
    """Most gas per volume of gas-free dough that the walls hold, and how well in words.

    `sheets` of dough parted by fat, None as the formula says. An egg foam or a gel does not stretch as gluten does.
    """
    makeup = makeup_of(spec, formula, DRY)
    level: Direction = "low"
    if makeup is not None:
        if sheets is not None:
            makeup = replace(makeup, sheets=round(sheets))
        card = structure_card(makeup)
        level = card.lift
        if level == "high" and card.holder != "gluten" and makeup.sheets <= 2:
            level = "middle"
    return lookup("lift", f"hold, {level}")["gas"], level
