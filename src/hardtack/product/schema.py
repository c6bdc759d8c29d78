"""The product file, format version 1, as frozen models.

Field names are the file's keys with underscores for spaces. Every number is a `Sourced` in SI. Where a name
of the reference shelf may stand instead of properties, the field holds the name as text.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, PlainValidator, PrivateAttr, Tag, WithJsonSchema

from hardtack.product.base import Model
from hardtack.product.costs_spec import CostsSpec
from hardtack.product.failures_spec import FailuresSpec
from hardtack.product.formula_spec import FormulaSpec
from hardtack.product.isotherm_spec import IsothermSpec
from hardtack.product.journey_spec import LegSpec
from hardtack.product.logger import LoggerRecord
from hardtack.product.oven_spec import OvenSpec
from hardtack.product.pack_spec import PackSpec, name_or_given
from hardtack.product.quantities import (
    Acidity,
    Activity,
    Area,
    Day,
    DiffusivityValue,
    Length,
    Mass,
    Moisture,
    MolarEnergy,
    Number,
    OrPlain,
    Permeability,
    Permeance,
    PositiveNumber,
    Share,
    Temperature,
    Word,
    YesNo,
)
from hardtack.product.weather import WeatherRecord
from hardtack.sourced import Sourced

VERSION = 1


class DiffusivitySpec(Model):
    """D(X, T) = value exp(rises with moisture (X - around)) exp(-E/R (1/T - 1/at))."""

    value: DiffusivityValue = Field(description="moisture diffusivity", examples=["2e-11 m2/s"])
    at: Temperature | None = Field(None, description="temperature of the value")
    activation_energy: MolarEnergy | None = Field(None, description="how it rises with temperature")
    rises_with_moisture: Number | None = Field(
        None, description="slope of ln D against moisture, per kg water per kg dry solid", examples=[8]
    )
    around: Moisture | None = Field(None, description="moisture of the value")


class PassageEffect(Model):
    """What an ingredient does to water's passage: it changes how fast, never which way, nor where it ends."""

    ingredient: Word = Field(description="the emulsifier or other ingredient", examples=["lecithin"])
    factor: PositiveNumber = Field(
        description="what it multiplies all passage of water with, with its source: 0.7 lets through seven tenths",
        examples=[0.7],
    )


class LayerSpec(Model):
    """One layer that holds water."""

    name: Word = Field(description="what to call the layer", examples=["cracker"])
    share: Share = Field(
        description="share of the piece's mass; one layer may leave it out and takes the rest",
        examples=["100 %"],
    )
    thickness: Length = Field(
        description="baked thickness; one layer may leave it out and takes the rest", examples=["4.5 mm"]
    )
    moisture: Moisture | None = Field(None, description="moisture when packed, with its basis")
    activity: Activity | None = Field(None, description="water activity when packed")
    activity_at: Temperature | None = Field(
        None, description="temperature at which the activity was measured"
    )
    isotherm: (
        Annotated[
            Annotated[Word, Tag("<name>")] | Annotated[IsothermSpec, Tag("<given>")],
            Discriminator(name_or_given),
        ]
        | None
    ) = Field(None, description="a name on the reference shelf, or a form with its constants, or a table")
    formula: Word | None = Field(
        None, description="a formula of this file, to compute the isotherm from instead of naming one"
    )
    diffusivity: (
        Annotated[
            Annotated[Word, Tag("<name>")]
            | Annotated[DiffusivitySpec, OrPlain("diffusivity", "value"), Tag("<given>")],
            Discriminator(
                lambda value: (
                    "<name>" if isinstance(value, str) and value.strip()[:1].isalpha() else "<given>"
                )
            ),
        ]
        | None
    ) = Field(None, description="moisture diffusivity: a value, a law, or a name on the reference shelf")
    vapour_permeability: Permeability | None = Field(
        None, description="extra path for vapour through pores; leave out when the diffusivity holds it"
    )
    rim: Share | None = Field(
        None,
        description="share of the layer's edge that lies open to the headspace; of a cylinder, of its two cut ends",
        examples=["20 %"],
    )
    effects: tuple[PassageEffect, ...] = Field(
        (), description="ingredients that quicken or slow all water's passage through the layer"
    )
    pH: Acidity | None = Field(  # noqa: N815 -- the symbol is spelled so
        None, alias="pH", description="acidity, for limits that depend on it"
    )


class BarrierProperties(Model):
    """How much a barrier lets through."""

    material: Word | None = Field(None, description="a barrier of the reference shelf; needs a thickness")
    permeability: Permeability | None = Field(None, description="permeability; needs a thickness")
    thickness: Length | None = Field(None, description="thickness of the barrier", examples=["0.3 mm"])
    permeance: Permeance | None = Field(None, description="permeance, instead of permeability and thickness")
    at: Temperature | None = Field(None, description="temperature of the permeability or permeance")
    activation_energy: MolarEnergy | None = Field(None, description="how it rises with temperature")
    coverage: Share | None = Field(
        None, description="share of the face it covers; the rest is holes, all of it covered unless said"
    )
    hole_width: Length | None = Field(None, description="across one hole", examples=["1 mm"])
    cracks: Share | None = Field(
        None, description="of an outside coat: share of its face that cracks lay open", examples=["0.5 %"]
    )
    crack_width: Length | None = Field(None, description="across one crack", examples=["0.1 mm"])
    effects: tuple[PassageEffect, ...] = Field(
        (), description="ingredients that quicken or slow water's passage through the barrier"
    )


class BarrierSpec(Model):
    """A thin film inside the piece that holds no water worth counting."""

    name: Word = Field(description="what to call the barrier", examples=["fat film"])
    barrier: BarrierProperties = Field(
        description="how much it lets through", examples=["{material: fat barrier, thickness: 0.3 mm}"]
    )
    share: Share | None = Field(None, description="share of the piece's mass, when it counts")

    @property
    def thickness(self) -> Sourced | None:
        """Thickness of the barrier [m], None when only a permeance is given."""
        return self.barrier.thickness


def _layer_or_barrier(value: Any) -> str:
    barrier = "barrier" in value if isinstance(value, Mapping) else isinstance(value, BarrierSpec)
    return "<barrier>" if barrier else "<layer>"


PartSpec = Annotated[
    Annotated[LayerSpec, Tag("<layer>")] | Annotated[BarrierSpec, Tag("<barrier>")],
    Discriminator(_layer_or_barrier),
]


class PieceSpec(Model):
    """One piece as packed: its shape, sizes and mass, and its layers from the first end to the last."""

    name: Word | None = Field(None, description="what to call it; needed with several kinds of piece")
    shape: Literal["slab", "cylinder", "sphere"] = Field(
        description="slab for anything flat, round biscuits too", examples=["slab"]
    )
    thickness: Length | None = Field(None, description="of a slab: through all layers")
    length: Length | None = Field(None, description="of a slab's face, or of a cylinder")
    width: Length | None = Field(None, description="of a slab's face")
    diameter: Length | None = Field(
        None, description="of a slab with a round face, of a cylinder, of a sphere"
    )
    face_area: Area | None = Field(None, description="of one face of a slab, instead of its sizes")
    mass: Mass = Field(description="mass of one piece as packed", examples=["7.6 g"])
    count: PositiveNumber | None = Field(
        None, description="number of pieces in a pack; needed with a pack", examples=[26]
    )
    open_ends: Literal["both", "first", "last", "none", "surface"] | None = Field(
        None, description="ends that meet the headspace: both unless said; of round pieces the surface"
    )
    layers: tuple[PartSpec, ...] = Field(
        description="from the first end (bottom, or centre) to the last (top, or surface)"
    )

    @property
    def ends(self) -> tuple[bool, bool]:
        """Whether the first and the last end meet the headspace; the centre of a round piece never does."""
        word = self.open_ends or ("both" if self.shape == "slab" else "surface")
        return word in ("both", "first"), word in ("both", "last", "surface")


class CrispnessLimit(Model):
    """When a layer has lost its crispness: at a limit, or at a loss of a falling sigmoid."""

    layer: Word = Field(description="the layer; may be left out when there is only one")
    activity: Activity | None = Field(None, description="limit as water activity, at the temperature 'at'")
    moisture: Moisture | None = Field(None, description="limit as moisture")
    at: Temperature | None = Field(None, description="temperature at which the activities hold")
    midpoint: Activity | None = Field(None, description="activity at which half the crispness is lost")
    steepness: PositiveNumber | None = Field(
        None, description="of the sigmoid 1/(1 + exp((activity - midpoint)/steepness))", examples=[0.05]
    )
    failing_loss: Share | None = Field(None, description="loss of crispness that counts as failure")


class WaterLimit(Model):
    """When a layer has become too moist, or too dry."""

    layer: Word = Field(description="the layer; may be left out when there is only one")
    moisture: Moisture | None = Field(None, description="last moisture that is accepted")
    activity: Activity | None = Field(None, description="last activity accepted, at the temperature 'at'")
    at: Temperature | None = Field(None, description="temperature at which the activity holds")


class LimitsSpec(Model):
    """The user's own limits of texture; what is left out comes from the reference shelf where it knows one."""

    crispness: CrispnessLimit | None = Field(None, description="when crispness is lost")
    crust: WaterLimit | None = Field(None, description="when a crust or shell is leathery")
    sogginess: WaterLimit | None = Field(None, description="when a layer is wet to the bite")
    drying_out: WaterLimit | None = Field(None, description="when a soft layer is too dry")


class Product(Model):
    """A whole product file."""

    version: Annotated[
        int, PlainValidator(lambda value: int(str(value))), WithJsonSchema({"const": VERSION})
    ] = Field(alias="hardtack", description="version of the format", examples=[1])
    name: Word = Field(description="name of the product", examples=["Tidewater lean cracker"])
    kind: Word | None = Field(
        None, description="kind of product: picks isotherm and limits from the reference shelf"
    )
    origin: Word | None = Field(
        None,
        description="how numbers are known that do not say so themselves: measured here, seen, from memory, "
        "assumed or invented; words may follow after a comma",
    )
    packed_on: Day | None = Field(None, description="day of packing; needed once a leg has a season")
    formulas: dict[Word, FormulaSpec] = Field(
        default_factory=dict, description="formulas by name, for layers whose water is computed from them"
    )
    one_piece: PieceSpec | None = Field(None, alias="piece", description="one piece")
    several_pieces: tuple[PieceSpec, ...] = Field(
        (),
        alias="pieces",
        description="instead of 'piece': the kinds of piece that share one headspace, each with its count",
    )
    oven: OvenSpec | None = Field(
        None, description="the bake, for a piece whose moisture is computed from it"
    )
    pack: PackSpec | None = Field(None, description="the pack; may be left out when every leg is unpacked")
    journey: tuple[LegSpec, ...] = Field(description="the legs in order, from packing")
    limits: LimitsSpec | None = Field(None, description="your own limits")
    failures: FailuresSpec | None = Field(
        None, description="the other ways of failing: firming, mould, fermentation, rancidity and more"
    )
    costs: CostsSpec | None = Field(None, description="prices, for what a remedy changes")
    heat_treated_and_packed: YesNo | None = Field(
        None,
        alias="heat-treated and packed",
        description="true when it is baked through and packed before anything can get on it again: picks the table of the "
        "food code; left out, the stricter table is read",
    )
    notes: str | None = Field(None, description="free text")

    _file: Path | None = PrivateAttr(None)
    _lines: Mapping[tuple[str | int, ...], int] = PrivateAttr(default_factory=dict)
    _loggers: Mapping[str, LoggerRecord] = PrivateAttr(default_factory=dict)
    _weathers: Mapping[str, WeatherRecord] = PrivateAttr(default_factory=dict)

    @property
    def pieces(self) -> tuple[PieceSpec, ...]:
        """Every kind of piece in the pack; one when the file has `piece`."""
        return self.several_pieces if self.one_piece is None else (self.one_piece,)

    @property
    def piece(self) -> PieceSpec:
        """The first, and mostly the only, kind of piece."""
        return self.pieces[0]

    @property
    def layers(self) -> tuple[LayerSpec, ...]:
        """The layers that hold water, of all kinds of piece in order."""
        return tuple(part for piece in self.pieces for part in piece.layers if isinstance(part, LayerSpec))

    @property
    def file(self) -> Path | None:
        """The file it was read from, None when it was read from text."""
        return self._file

    @property
    def lines(self) -> Mapping[tuple[str | int, ...], int]:
        """The line (from 1) of every value: ``lines["piece", "layers", 0, "moisture"]``."""
        return MappingProxyType(dict(self._lines))

    @property
    def loggers(self) -> Mapping[str, LoggerRecord]:
        """The logger files of the journey, read, by the name that stands in the leg."""
        return MappingProxyType(dict(self._loggers))

    @property
    def weathers(self) -> Mapping[str, WeatherRecord]:
        """The weather files of the journey, read, by the name that stands in the leg."""
        return MappingProxyType(dict(self._weathers))
