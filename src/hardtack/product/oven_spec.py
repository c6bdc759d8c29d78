"""The oven as the product file states it: the dough piece that enters, the zones, the cooling, what was measured."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from hardtack.product.base import Model
from hardtack.product.quantities import (
    Humidity,
    Length,
    Mass,
    Moisture,
    Number,
    OrPlain,
    PositiveNumber,
    Reads,
    Share,
    Temperature,
    Word,
)
from hardtack.sourced import Sourced

Duration = Annotated[Sourced, Reads("duration")]
Density = Annotated[Sourced, Reads("density")]
Convection = Annotated[Sourced | str, Reads("heat transfer coefficient", named=True)]


class ZoneSpec(Model):
    """One zone of the oven, or one stretch of a bake whose setting falls or rises."""

    zone: Word = Field(description="name of the zone", examples=["lift"])
    lasts: Duration = Field(description="time in the zone", examples=["75 s"])
    temperature: Temperature = Field(description="air, at the start of the zone", examples=["230 degC"])
    to: Temperature | None = Field(None, description="air at its end, when it changes along the zone")
    dew_point: Temperature | None = Field(None, description="humidity of the air, as its dew point")
    walls: Temperature | None = Field(None, description="radiating walls or burners, when not as the air")
    band: Temperature | None = Field(
        None,
        description="band, sheet, stone or pan as measured in the zone; else a band finds its own, others have the air's",
    )
    convection: Convection | None = Field(
        None, description="heat transfer coefficient of the air alone, or a kind of oven on the shelf"
    )


class CoolingSpec(Model):
    """The air the pieces cool in, on wires, until they are packed."""

    lasts: Duration = Field(description="time until packing", examples=["6 min"])
    temperature: Temperature | None = Field(None, description="air; 25 degC unless said")
    humidity: Humidity | None = Field(None, description="relative humidity of the air; 50 % unless said")
    convection: Convection | None = Field(
        None, description="heat transfer coefficient, or a kind of air on the shelf"
    )


class CorePoint(Model):
    """One reading of a probe in the centre."""

    at: Duration = Field(description="time since entering the oven", examples=["20 min"])
    temperature: Temperature = Field(description="temperature of the centre", examples=["93 degC"])


class MeasuredBake(Model):
    """What the plant measured on this bake: the model is fitted to it."""

    loss: Share | None = Field(None, description="loss of weight in the oven, of the dough")
    moisture: Moisture | None = Field(None, description="mean moisture at the oven's exit")
    core: tuple[CorePoint, ...] = Field((), description="log of the centre's temperature")
    lightness: Number | None = Field(None, description="L* of the upper surface at the exit")


class PlaceSpec(Model):
    """A place across the band."""

    place: Word = Field(description="where", examples=["left edge"])
    heat: PositiveNumber = Field(description="heat transfer there over that of the middle", examples=[0.93])


class FactorsSpec(Model):
    """Factors on the shelf's coefficients, as a fit to the plant gives them."""

    heat: PositiveNumber | None = Field(None, description="on convection, radiation and contact")
    dry_path: PositiveNumber | None = Field(None, description="on vapour through dry crumb and crust")
    wet_path: PositiveNumber | None = Field(None, description="on vapour through wet crumb")


class OvenSpec(Model):
    """The bake: from the dough piece to the cooled piece."""

    formula: Word = Field(description="the formula of the dough", examples=["cracker dough"])
    dough_mass: Mass = Field(description="one piece as it enters", examples=["8.9 g"])
    dough_thickness: Length | None = Field(None, description="of a slab as it enters the oven")
    dough_density: Density | None = Field(
        None, description="of the dough as it enters, gas included, instead of a thickness"
    )
    dough_temperature: Temperature | None = Field(None, description="30 degC unless said")
    oven: Word | None = Field(None, description="kind of oven on the shelf; forced convection unless said")
    lying_on: Word | None = Field(
        None,
        description="steel band, wire mesh, heavy mesh, stone, pan or none; a slab lies on a steel band unless said",
    )
    band_enters: Temperature | None = Field(
        None,
        description="band or mesh where the pieces are laid on it, when preheated; as it left the oven unless said",
    )
    covered: Share | None = Field(
        None, description="share of a round piece's surface that pan, stone or sheet covers"
    )
    sheets: PositiveNumber | None = Field(None, description="sheets of dough parted by fat; 1 unless said")
    zones: tuple[ZoneSpec, ...] = Field(description="the zones in order")
    cooling: Annotated[CoolingSpec, OrPlain("duration", "lasts")] | None = Field(
        None, description="air and time from the oven to packing"
    )
    kill_step: Word | None = Field(
        None, description="a row of the shelf's 'oven lethality'; chosen by the kind of product unless said"
    )
    measured: MeasuredBake | None = Field(None, description="what the plant measured on this bake")
    factors: FactorsSpec | None = Field(None, description="factors from an earlier fit")
    across_the_band: tuple[PlaceSpec, ...] = Field((), description="places hotter or colder than the middle")
