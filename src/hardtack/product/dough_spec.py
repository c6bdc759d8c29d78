"""What the product file says of a dough beyond its ingredients: fermentation, batch, leavening, structure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any

from pydantic import Field, GetCoreSchemaHandler, PlainValidator, ValidationInfo, WithJsonSchema
from pydantic_core import core_schema

from hardtack.errors import HardtackError
from hardtack.product.base import Model
from hardtack.product.quantities import (
    Acidity,
    Length,
    Mass,
    Moisture,
    Number,
    Origin,
    PositiveNumber,
    Reads,
    Share,
    Temperature,
    Word,
    fault,
    read_quantity,
)
from hardtack.product.tree import Text
from hardtack.sourced import Sourced
from hardtack.units import parse_quantity

Duration = Annotated[Sourced, Reads("duration")]
Density = Annotated[Sourced, Reads("density")]
SpecificVolume = Annotated[Sourced, Reads("specific volume")]
MolesPerMass = Annotated[Sourced, Reads("amount per mass")]
Pressure = Annotated[Sourced, Reads("pressure")]
GasRate = Annotated[Sourced, Reads("gas rate")]

_NUMBER_AND_WORDS = re.compile(
    r"^\s*(?P<number>[-+\d.eE±\s/]*?\d)\s*(?P<unit>[^\s\d\[\].±+-][^\[\]]*?)\s*(?P<rest>\[.*\])?\s*$"
)


@dataclass(frozen=True, slots=True)
class ReadsNamed:
    """Marks a `Sourced` field whose unit is the user's own: a price by its currency, a texture reading."""

    price: bool

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._validate)

    def _validate(self, value: Any, info: ValidationInfo) -> Sourced:
        if isinstance(value, Sourced):
            return value
        origin: Origin = (info.context or {}).get("origin", Origin())
        example = "0.62 EUR/kg" if self.price else "18.2 N"
        match = None if isinstance(value, Mapping) else _NUMBER_AND_WORDS.match(str(value))
        if match is None:
            raise fault(f"cannot read {str(value)[:40]!r}", f"write a number and its unit, such as {example}")
        try:
            plain = f"{match['number']} {match['rest'] or ''}"
            text = Text(plain, value.line) if isinstance(value, Text) else plain
            amount = read_quantity(text, "positive number", origin)
            return (
                _price(amount, match["unit"], str(value))
                if self.price
                else _named(amount, match["unit"], value)
            )
        except HardtackError as error:
            raise fault(
                error.problems[0].what, error.problems[0].mend or f"write it such as {example}"
            ) from None

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        example = "0.62 EUR/kg" if self.price else "18.2 N"
        return {"type": "string", "examples": [example]}


def _named(amount: Sourced, unit: str, value: Any) -> Sourced:
    return replace(amount, unit=unit, written=str(value).partition("[")[0].strip())


def _price(amount: Sourced, unit: str, written: str) -> Sourced:
    """A price per kilogram from one per any mass: ``14.5 EUR/25 kg``, ``0.31 USD/lb``."""
    currency, slash, per = unit.partition("/")
    currency, per = currency.strip(), per.strip()
    if not slash or not currency or not per:
        raise HardtackError(
            f"{written[:40]}: a price of which money for which mass?", "write it such as 0.62 EUR/kg"
        )
    mass = parse_quantity(per if per[:1].isdigit() else f"1 {per}", "mass").value
    sd = None if amount.sd is None else amount.sd / mass
    plain = written.partition("[")[0].strip()
    return replace(amount, value=amount.value / mass, sd=sd, unit=f"{currency}/kg", written=plain)


Price = Annotated[Sourced, ReadsNamed(price=True)]
Reading = Annotated[Sourced, ReadsNamed(price=False)]


def _words(value: Any) -> tuple[str, ...]:
    """A list of words, or `none`."""
    if isinstance(value, str) and value.strip().casefold() == "none":
        return ()
    if isinstance(value, (list, tuple)) and value and all(isinstance(item, str) for item in value):
        return tuple(" ".join(item.split()) for item in value)
    raise fault("the allergens of an ingredient are a list", "write [wheat, milk], or none")


Allergens = Annotated[
    tuple[str, ...],
    PlainValidator(_words),
    WithJsonSchema({"anyOf": [{"type": "array", "items": {"type": "string"}}, {"const": "none"}]}),
]


class FermentSpec(Model):
    """A stretch of fermentation, rest or proof."""

    stage: Word = Field(description="what to call it", examples=["proof"])
    lasts: Duration = Field(description="how long", examples=["50 min"])
    temperature: Temperature = Field(description="temperature of the dough", examples=["32 degC"])


class BatchSpec(Model):
    """How much is made, and what is lost on the way."""

    dough: Mass | None = Field(None, description="mass of dough in the mixer, pre-ferments included")
    pieces: PositiveNumber | None = Field(
        None, description="baked pieces wanted, instead of the mass of dough"
    )
    dough_piece: Mass | None = Field(
        None, description="mass of one dough piece; left out, computed back from the baked piece"
    )
    process_loss: Share | None = Field(
        None, description="dough lost between mixer and oven: scraps not re-used, fermentation, cleaning"
    )
    bake_loss: Share | None = Field(None, description="loss of mass from dough piece to cooled piece")
    baked_moisture: Moisture | None = Field(
        None, description="moisture of the baked piece, instead of the bake loss; left out, the layer's own"
    )


class PowderSpec(Model):
    """What a ready baking powder holds."""

    soda: Share = Field(description="share of sodium bicarbonate", examples=["30 %"])
    acid: Word = Field(description="its acid, by the name of the reference shelf", examples=["SAPP 28"])


class BenchSpec(Model):
    """From mixer to oven."""

    lasts: Duration = Field(description="from mixing to the oven", examples=["20 min"])
    temperature: Temperature = Field(description="temperature of the dough", examples=["24 degC"])
    kept: Share | None = Field(
        None, description="share of the leaveners' gas of the bench that is still there when the oven begins"
    )


class HeatingSpec(Model):
    """The dough's own temperature in the oven, taken as a straight climb."""

    lasts: Duration = Field(description="time of the climb", examples=["6 min"])
    to: Temperature = Field(description="temperature of the dough at its end", examples=["98 degC"])


class WantedSpec(Model):
    """A lift to be reached with one acid."""

    cells: SpecificVolume = Field(
        description="volume of cells per mass of dough when it sets", examples=["1.2 L/kg"]
    )
    at: Temperature = Field(description="temperature of the dough when it sets", examples=["85 degC"])
    acid: Word = Field(description="the acid to use", examples=["SAPP 28"])
    kept: Share | None = Field(None, description="share of the gas not lost before setting")


class TitrationPoint(Model):
    """One reading of a titration."""

    pH: Acidity = Field(alias="pH", description="reading", examples=[6.0])  # noqa: N815 -- the symbol is spelled so
    alkali: MolesPerMass = Field(
        description="alkali added so far, per mass of dough", examples=["12 mmol/kg"]
    )


class TitrationSpec(Model):
    """The same dough made without soda, titrated with alkali as a slurry at 25 degC."""

    points: tuple[TitrationPoint, ...] = Field(description="the readings, in order")
    reading_error: Number = Field(description="one standard deviation of a reading, in pH", examples=[0.05])
    carbon_dioxide: Pressure = Field(
        description="carbon dioxide the crumb stands in, with its spread", examples=["200 ± 100 Pa"]
    )


class LeaveningSpec(Model):
    """What the names and amounts of the leaveners do not say."""

    powder: PowderSpec | None = Field(None, description="what the baking powder among the ingredients holds")
    mixed_in_air: Share | None = Field(
        None, alias="mixed-in air", description="air mixed in, share of the dough's volume"
    )
    bench: BenchSpec | None = Field(None, description="from mixer to oven")
    oven: HeatingSpec | None = Field(None, description="the dough's temperature in the oven")
    gas_rate: GasRate | None = Field(
        None,
        description="your own gas of fresh yeast in this dough at 30 degC, per mass of fresh yeast and time",
    )
    kept_in_proof: Share | None = Field(
        None,
        description="share of the dough's yeast gas in its cells at the end of proof, from the height of proof",
    )
    neutral_with: Word | None = Field(None, description="an acid to make it neutral with")
    wanted: WantedSpec | None = Field(None, description="a lift to be reached")
    titration: TitrationSpec | None = Field(None, description="buffering of the dough, for its pH")


class TextureSpec(Model):
    """A texture reading to scale to another density."""

    reading: Reading = Field(description="bite strength as read, with its unit", examples=["18.2 N"])
    density: Density = Field(description="density of the pieces read", examples=["420 kg/m3"])
    wanted_density: Density = Field(description="density to predict for", examples=["360 kg/m3"])
    wall_density: Density | None = Field(None, description="density of the cell walls")


class StructureSpec(Model):
    """Folds, sheeting, and a texture reading."""

    turns: tuple[PositiveNumber, ...] | None = Field(
        None, description="the folds: 3 for in three, 4 for a book turn, such as [3, 3, 4]"
    )
    rolled_in: Word | None = Field(None, description="the ingredient rolled in between the sheets")
    rolled_to: Length | None = Field(None, description="thickness of the sheet as cut", examples=["3.5 mm"])
    rolled_at: Temperature | None = Field(
        None, description="temperature of the fat when it is rolled in", examples=["16 degC"]
    )
    holes: Share | None = Field(
        None,
        description="share of the face open through all sheets, docked or cracked; none unless said",
        examples=["0.5 %"],
    )
    gelled_starch: Share | None = Field(
        None,
        description="starch cooked to a gel before or in forming, on flour, where it holds the gas instead of gluten",
    )
    texture: TextureSpec | None = Field(None, description="a texture reading to calibrate with")
