"""The journey as the product file states it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, PlainValidator, Tag, WithJsonSchema

from hardtack.product.base import Model
from hardtack.product.quantities import (
    Clock,
    Duration,
    FactorOrName,
    Humidity,
    HumiditySwing,
    MonthDay,
    OrPlain,
    RateOrName,
    Reads,
    Share,
    Temperature,
    TemperatureSwing,
    TwelveHumidities,
    TwelveTemperatures,
    VelocityOrName,
    Word,
    YesNo,
    fault,
)
from hardtack.sourced import Sourced

UNTIL_IT_FAILS: Literal["until it fails"] = "until it fails"


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


class MonthsSpec(Model):
    """A year by its months: twelve means each, and how far the day swings about them."""

    temperature: TwelveTemperatures = Field(
        description="mean of each month, January first, twelve numbers and the unit",
        examples=["2, 3, 6, 10, 14, 17, 19, 19, 15, 11, 6, 3 degC"],
    )
    humidity: TwelveHumidities = Field(
        description="mean of each month, January first, twelve numbers and %",
        examples=["86, 82, 76, 69, 67, 67, 68, 70, 76, 81, 86, 88 %"],
    )
    daily_swing: TemperatureSwing | None = Field(
        None, description="of the temperature: half of the day's highest minus lowest"
    )
    warmest_at: Clock | None = Field(None, description="time of day of the highest; 14:00 when left out")
    humidity_swing: HumiditySwing | None = Field(
        None, description="of the humidity; negative when lowest at the warmest hour"
    )


class OpenedSpec(Model):
    """A pack that is opened and taken from: how long it gapes each day, and how it is closed again."""

    each_day: Duration = Field(description="how long it stands open each day, in all", examples=["5 min"])
    air_changes: RateOrName | None = Field(
        None,
        description="how often the headspace is changed while open; a number per time, or a name on the shelf",
    )
    reclosed: FactorOrName | None = Field(
        None,
        description="the closed-again pack over its flat film: a factor, or a way of reclosing of the shelf",
        examples=["clip"],
    )
    pieces_left: Share | None = Field(
        None, description="share of the pieces left in the pack during this leg", examples=["50 %"]
    )


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
        None, description="a climate or a place of the reference shelf, instead of temperature and humidity"
    )
    months: MonthsSpec | None = Field(
        None, description="a year by its months, instead of temperature and humidity; needs 'packed on'"
    )
    weather: Word | None = Field(
        None,
        description="a weather file in EPW format beside the product file, instead of temperature and humidity; "
        "needs 'packed on'",
    )
    logger: Word | None = Field(
        None, description="a logger's CSV file beside the product file, instead of temperature and humidity"
    )
    gaps: Duration | None = Field(
        None,
        description="for a logger: holes up to this long are laid straight and told (6 hours when left out)",
        examples=["8 days"],
    )
    clock_jumps: Literal["shift"] | None = Field(
        None,
        description="for a logger: 'shift' moves on what follows a clock set back, to the usual spacing; refused when left out",
        examples=["shift"],
    )
    indoors_at: Temperature | None = Field(
        None,
        description="the air of the climate, brought indoors and kept at this temperature: its water stays in it",
        examples=["21 degC"],
    )
    load_lag: Duration | None = Field(
        None, description="how long the load takes to follow the air's temperature", examples=["12 hours"]
    )
    load_starts_at: Temperature | None = Field(
        None,
        description="temperature of the load when the leg begins, with 'load lag': packed warm, or out of the freezer",
        examples=["40 degC"],
    )
    unpacked: YesNo = Field(False, description="true when the pieces lie open to the air of the leg")
    outside_film_coefficient: VelocityOrName | None = Field(
        None, description="for an unpacked leg: mass transfer coefficient of the air, or a name on the shelf"
    )
    opened: OpenedSpec | None = Field(None, description="the pack has been opened and is used from")
    outer_packs: Word | None = Field(
        None,
        description="which outer packs are still around: 'all' (unless said), 'none' (when opened), "
        "or the name of the outermost one left",
    )
