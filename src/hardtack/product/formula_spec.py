"""A formula in the product file: what goes into a dough, crumb, cream or filling, and how much of each."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import core_schema

from hardtack.errors import HardtackError
from hardtack.product.base import Model
from hardtack.product.dough_spec import Allergens, BatchSpec, FermentSpec, LeaveningSpec, Price, StructureSpec
from hardtack.product.quantities import Origin, Share, Word, YesNo, fault, quantity_json, read_quantity
from hardtack.sourced import Sourced

Basis = Literal["baker's percent", "true percent", "mass"]
BASES: tuple[Basis, ...] = ("baker's percent", "true percent", "mass")

_FLOURS = re.compile(r"\b(flour|flours|wholemeal|semolina|meal)\b", re.IGNORECASE)


def counts_as_flour(name: str, said: bool | None) -> bool:
    """Whether an ingredient belongs to the flour that is 100 %: as `said`, else by the words of its name."""
    return bool(_FLOURS.search(name)) if said is None else said


def kind_of_amount(basis: str) -> str:
    """The kind of quantity an amount is in a formula of that basis."""
    return "mass" if basis == "mass" else "proportion"


@dataclass(frozen=True, slots=True)
class ReadsAmount:
    """Marks a `Sourced` field as a percent of flour, a percent of the whole, or a mass."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._validate)

    def _validate(self, value: Any, info: ValidationInfo) -> Sourced:
        said = value.get("value", value.get("low", "")) if isinstance(value, Mapping) else value
        number = str(said).partition("[")[0]
        if not re.search(r"[%A-Za-zµμ]", number):
            raise fault(
                f"{str(said)[:40]}: percent or mass?",
                "write it such as 58 % (of the flour, or of the whole), or 1.2 kg with 'basis: mass'",
            )
        kind = "proportion" if "%" in number else "mass"
        try:
            return read_quantity(value, kind, (info.context or {}).get("origin", Origin()))
        except HardtackError as error:
            raise fault(error.problems[0].what, error.problems[0].mend) from None

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        percent, mass = quantity_json("proportion")["anyOf"], quantity_json("mass")["anyOf"]
        return {"anyOf": [percent[0], *mass]}


Amount = Annotated[Sourced, ReadsAmount()]


def _basis(value: Any) -> Any:
    text = " ".join(str(value).replace("’", "'").lower().split())
    if text not in BASES:
        raise fault(f"{str(value)[:40]!r} is no basis of a formula", f"one of: {', '.join(BASES)}")
    return text


class CompositionSpec(Model):
    """What an ingredient is made of, as it is; all shares add up to 100 %."""

    water: Share | None = Field(None, description="water")
    starch: Share | None = Field(None, description="starch")
    dextrins: Share | None = Field(None, description="dextrins of syrups, maltodextrin")
    sugars: dict[Word, Share] = Field(
        default_factory=dict, description="sugars by name, such as {sucrose: 10 %, lactose: 5 %}"
    )
    polyols: dict[Word, Share] = Field(
        default_factory=dict, description="polyols by name, such as {glycerol: 99 %}"
    )
    wheat_protein: Share | None = Field(None, description="protein of wheat or of other grain and seed")
    egg_protein: Share | None = Field(None, description="protein of egg")
    milk_protein: Share | None = Field(None, description="protein of milk")
    fibre: Share | None = Field(None, description="dietary fibre")
    fat: Share | None = Field(None, description="fat and emulsifiers; hold no water")
    salt: Share | None = Field(None, description="table salt")
    ash: Share | None = Field(None, description="other minerals; hold no water")
    other: Share | None = Field(None, description="anything else; counts as holding no water")


class IngredientSpec(Model):
    """One line of a formula."""

    ingredient: Word = Field(
        description="an ingredient of the reference shelf, or any name beside its own composition",
        examples=["bread flour"],
    )
    amount: Amount = Field(
        description="percent of flour, percent of the whole, or mass, as the basis says", examples=["100 %"]
    )
    composition: CompositionSpec | None = Field(
        None, description="what it is made of, for an ingredient the reference shelf lacks"
    )
    flour: YesNo | None = Field(
        None, description="whether it counts as flour; left out, its name decides (flour, meal, semolina)"
    )
    price: Price | None = Field(None, description="price per mass, in any currency")
    acidity: Share | None = Field(
        None, description="measured titratable acid as lactic acid, of a sour ingredient such as buttermilk"
    )
    allergens: Allergens | None = Field(
        None, description="the allergens it brings, by the names of the reference shelf, or none"
    )

    @property
    def is_flour(self) -> bool:
        """Whether it belongs to the flour that is 100 %."""
        return counts_as_flour(self.ingredient, self.flour)


class PreFermentSpec(Model):
    """A sponge, poolish, biga or levain: its flour and water count in the formula's totals."""

    name: Word = Field(description="what to call it", examples=["sponge"])
    ingredients: tuple[IngredientSpec, ...] = Field(description="what goes into it")
    amount: Amount | None = Field(
        None,
        description="how much of it the dough takes. Left out, its ingredients are in the formula's own basis and "
        "belong to its totals (all flour together 100 %); given, they only say its own proportions",
        examples=["40 %"],
    )
    ferments: tuple[FermentSpec, ...] = Field((), description="its times and temperatures, in order")
    acidity: Share | None = Field(
        None, description="measured titratable acid of the ripe pre-ferment, as lactic acid"
    )


@dataclass(frozen=True, slots=True)
class Line:
    """An ingredient with the part of the dough it goes into: `stage` is "" for the dough itself.

    `amount` is in the formula's basis; `path` is its place below the formula in the file.
    """

    stage: str
    spec: IngredientSpec
    amount: float
    path: tuple[str | int, ...]


class FormulaSpec(Model):
    """A formula: from it the moisture of the dough and an isotherm are computed."""

    basis: Annotated[Basis, BeforeValidator(_basis)] = Field(
        description="what the amounts refer to: all flours together as 100 %, the whole as 100 %, or nothing",
        examples=["baker's percent"],
    )
    ingredients: tuple[IngredientSpec, ...] = Field(description="the ingredients")
    sugar: Literal["crystalline", "amorphous"] | None = Field(
        None,
        description="whether sugars that crystallise are crystals as far as not dissolved, or a glass: "
        "crystalline or amorphous; unless said, amorphous where it dissolved in a dough with flour that was baked dry, as long "
        "as the layer is hard at 25 degC, else crystalline",
    )
    branch: Literal["adsorption", "desorption", "scanning"] | None = Field(
        None,
        description="adsorption (unless said) for what was dried hard and takes up water; desorption for "
        "crumb, soft goods and anything never dried hard; scanning for what stands where drying left it and bends "
        "from there into the wetting branch",
    )
    pre_ferments: tuple[PreFermentSpec, ...] = Field(
        (),
        alias="pre-ferments",
        description="sponges, poolish, levain: parts of the dough fermented beforehand",
    )
    ferments: tuple[FermentSpec, ...] = Field((), description="fermentation and proof of the dough, in order")
    batch: BatchSpec | None = Field(None, description="how much is made, and what is lost")
    leavening: LeaveningSpec | None = Field(None, description="what the leaveners' names do not say")
    structure: StructureSpec | None = Field(None, description="folds, sheeting, texture")

    @property
    def lines(self) -> tuple[Line, ...]:
        """All ingredients, those of the pre-ferments first, in the formula's basis."""
        found: list[Line] = []
        for k, part in enumerate(self.pre_ferments):
            scale = 1.0
            if part.amount is not None:
                scale = part.amount.value / sum(line.amount.value for line in part.ingredients)
            found += [
                Line(part.name, line, scale * line.amount.value, ("pre-ferments", k, "ingredients", n))
                for n, line in enumerate(part.ingredients)
            ]
        found += [
            Line("", line, line.amount.value, ("ingredients", n)) for n, line in enumerate(self.ingredients)
        ]
        return tuple(found)
