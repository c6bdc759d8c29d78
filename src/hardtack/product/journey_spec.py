"""Pack and journey as the product file states them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, PlainValidator, Tag, WithJsonSchema

from hardtack.product.base import Model
from hardtack.product.quantities import (
    Area,
    Clock,
    FactorOrName,
    Humidity,
    HumiditySwing,
    MolarEnergy,
    MonthDay,
    OrPlain,
    Permeance,
    Reads,
    Temperature,
    TemperatureSwing,
    Transmission,
    VelocityOrName,
    Volume,
    Word,
    YesNo,
    fault,
)
from hardtack.sourced import Sourced

UNTIL_IT_FAILS: Literal["until it fails"] = "until it fails"


def name_or_given(value: Any) -> str:
    """Tells a name on the reference shelf from a mapping that gives the properties."""
    return "<name>" if isinstance(value, (str, int, float)) else "<given>"


def _until(value: Any) -> str:
    if " ".join(str(value).lower().split()) == UNTIL_IT_FAILS:
        return UNTIL_IT_FAILS
    raise fault(f"cannot read {str(value)[:30]!r} as a duration", f"write 21 days, or {UNTIL_IT_FAILS}")


def _duration_or_until(value: Any) -> str:
    words = isinstance(value, str) and value.strip()[:1].isalpha()
    return "<until>" if words else "<duration>"


Lasts = Annotated[
    Annotated[Sourced, Reads("duration"), Tag("<duration>")]
    | Annotated[
        Literal["until it fails"],
        PlainValidator(_until),
        WithJsonSchema({"const": UNTIL_IT_FAILS}),
        Tag("<until>"),
    ],
    Discriminator(_duration_or_until),
]


class TestedAt(Model):
    """The climate on both sides of a film while it was tested."""

    __test__ = False  # not a test case, whatever its name suggests

    temperature: Temperature = Field(description="temperature of the test", examples=["38 degC"])
    humidity_outside: Humidity | None = Field(
        None, description="relative humidity on the wet side", examples=["90 %"]
    )
    humidity_inside: Humidity | None = Field(
        None, description="relative humidity on the dry side", examples=["0 %"]
    )


class FilmSpec(Model):
    """A packaging film by the supplier's test: a transmission rate or a permeance, and its conditions."""

    name: Word | None = Field(None, description="what to call it in answers")
    transmission: Transmission | None = Field(
        None, description="water vapour transmission rate of the flat film", examples=["4.2 g/m2/day"]
    )
    permeance: Permeance | None = Field(
        None, description="instead of the transmission: permeance", examples=["0.05 perm"]
    )
    tested_at: TestedAt = Field(
        description="conditions of the test",
        examples=["{temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}"],
    )
    activation_energy: MolarEnergy | None = Field(
        None, description="of the permeance; without it the reference shelf's law is used"
    )


class PackSpec(Model):
    """What the pieces are sealed in."""

    film: Annotated[
        Annotated[Word, Tag("<name>")] | Annotated[FilmSpec, Tag("<given>")], Discriminator(name_or_given)
    ] = Field(
        description="the packaging film: a name on the reference shelf, or its test", examples=["OPP 20 um"]
    )
    area: Area = Field(description="area of film around the pieces, front and back", examples=["0.066 m2"])
    headspace: Volume = Field(description="gas in the pack beside the pieces", examples=["250 mL"])
    whole_pack_factor: FactorOrName | None = Field(
        None,
        alias="whole-pack factor",
        description="the whole pack, seals and folds included, over its flat film; or a name on the shelf",
        examples=[1.3],
    )


class TemperatureCourse(Model):
    """A mean temperature with a daily and a yearly swing; a swing is half of highest minus lowest."""

    mean: Temperature = Field(description="mean of the course", examples=["30 degC"])
    daily_swing: TemperatureSwing | None = Field(None, description="half of the day's highest minus lowest")
    highest_at: Clock | None = Field(None, alias="warmest at", description="time of day of the highest")
    yearly_swing: TemperatureSwing | None = Field(
        None, description="half of warmest minus coldest day's mean; needs 'packed on'"
    )
    highest_on: MonthDay | None = Field(None, alias="warmest on", description="month and day of the highest")


class HumidityCourse(Model):
    """A mean humidity with its swings; without times of its own it keeps the temperature's times.

    A negative swing is lowest when the temperature is highest.
    """

    mean: Humidity = Field(description="mean of the course", examples=["65 %"])
    daily_swing: HumiditySwing | None = Field(
        None, description="half of the day's highest minus lowest; negative when lowest at the warmest hour"
    )
    highest_at: Clock | None = Field(None, description="time of day of the highest")
    yearly_swing: HumiditySwing | None = Field(
        None, description="half of the year's highest minus lowest; negative when lowest on the warmest day"
    )
    highest_on: MonthDay | None = Field(None, description="month and day of the highest")


class LegSpec(Model):
    """One stretch of the journey. `lasts` is None only for a logger leg that runs to the file's end."""

    leg: Word = Field(description="name of the leg", examples=["sea container"])
    lasts: Lasts | None = Field(
        None, description="how long; 'until it fails' for the last leg only, at most three years"
    )
    temperature: Annotated[TemperatureCourse, OrPlain("temperature", "mean")] | None = Field(
        None, description="temperature of the air: constant, or a course with swings"
    )
    humidity: Annotated[HumidityCourse, OrPlain("humidity", "mean")] | None = Field(
        None, description="relative humidity of the air: constant, or a course with swings"
    )
    climate: Word | None = Field(
        None, description="a climate of the reference shelf, instead of temperature and humidity"
    )
    logger: Word | None = Field(
        None, description="a logger's CSV file beside the product file, instead of temperature and humidity"
    )
    unpacked: YesNo = Field(False, description="true when the pieces lie open to the air of the leg")
    outside_film_coefficient: VelocityOrName | None = Field(
        None, description="for an unpacked leg: mass transfer coefficient of the air, or a name on the shelf"
    )
