"""The ways of failing that add up over time, as the product file states them.

What is left out comes from the reference shelf where it holds it; a failure for which neither says enough is
not judged, and the answer says so.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from hardtack.product.base import Model
from hardtack.product.quantities import (
    Acidity,
    Activity,
    Duration,
    Force,
    GasPermeance,
    Humidity,
    Moisture,
    MolarEnergy,
    Number,
    PositiveNumber,
    RateConstant,
    Share,
    Temperature,
    Word,
)

_LAYER = "the layer; may be left out when there is only one"
_DAY_ACTIVITY = "water activity at which it was watched, held steady"
_DAY_AT = "temperature at which it was watched, held steady"


class EffectSpec(Model):
    """What an ingredient does to firming: by the reference shelf, or by your own factor."""

    ingredient: Word = Field(
        description="an ingredient of the shelf (monoglyceride, sodium stearoyl lactylate, maltogenic amylase), or any name "
        "with its factor",
        examples=["monoglyceride"],
    )
    on: Literal["rate", "final firmness"] | None = Field(
        None, description="what the factor acts on; rate and final firmness are two things"
    )
    factor: PositiveNumber | None = Field(
        None, description="your own factor: 0.6 slows to six tenths", examples=[0.6]
    )


class FirmingSpec(Model):
    """Firming of crumb by Avrami: share of the way = 1 - exp(-(rate t)^exponent)."""

    layer: Word = Field(description=_LAYER)
    rate: RateConstant | None = Field(None, description="rate of firming at the temperature 'at'")
    at: Temperature | None = Field(None, description="temperature of the rate")
    exponent: PositiveNumber | None = Field(None, description="Avrami exponent, near 1 for bread")
    limit: Share | None = Field(None, description="share of the way to the final firmness that is stale")
    firmness_limit: Force | None = Field(None, description="instead of the share: firmness that is stale")
    fresh_firmness: Force | None = Field(None, description="with a firmness limit: firmness when packed")
    final_firmness: Force | None = Field(
        None, description="with a firmness limit: firmness in the end, without the effects"
    )
    effects: tuple[EffectSpec, ...] = Field(
        (), description="ingredients that slow firming or keep the end softer"
    )
    kept_on_re_warming: Share | None = Field(
        None,
        alias="kept on re-warming",
        description="share of the way still there after a leg above the melting of starch crystals, about 60 degC",
    )
    apparent_energy: MolarEnergy | None = Field(
        None, description="instead of the shelf's course over temperature; negative, for cold speeds firming"
    )


class PreservativeSpec(Model):
    """A weak acid in the product."""

    name: Word = Field(description="propionic acid or sorbic acid", examples=["propionic acid"])
    dose: Share = Field(description="share of the finished product", examples=["0.2 %"])
    weighed_as: Literal["salt", "acid"] = Field(
        "salt", description="calcium propionate and potassium sorbate are salts; or the free acid"
    )


class SettingSpec(Model):
    """What else bears on growth and stays the same."""

    pH: Acidity | None = Field(None, alias="pH", description="acidity; left out, the layer's")  # noqa: N815
    preservatives: tuple[PreservativeSpec, ...] = Field((), description="weak acids in the product")
    carbon_dioxide: Share | None = Field(None, description="share of carbon dioxide in the headspace")


class MouldSpec(SettingSpec):
    """First mould, by one of three ways."""

    way: Literal["lines", "growth", "measured day"] = Field(
        description="the published lines of wrapped cakes (activity 0.74-0.90, 21-27 degC); the growth model; or a mould day "
        "measured on this product",
        examples=["growth"],
    )
    organism: Word | None = Field(
        None, description="a mould of the shelf's growth cardinals; left out, whichever is seen first"
    )
    layers: tuple[Word, ...] = Field((), description="layers that may mould; all when left out")
    seen_after: Duration | None = Field(None, description="of a measured day: time to the first mould")
    activity: Activity | None = Field(None, description=f"of a measured day: {_DAY_ACTIVITY}")
    at: Temperature | None = Field(None, description=f"of a measured day: {_DAY_AT}")
    measured_in: SettingSpec | None = Field(
        None, description="of a measured day: its setting, where it was another than the product's"
    )


class FermentationSpec(SettingSpec):
    """Yeasts that bear sugar, from a measured day."""

    layer: Word = Field(description=_LAYER)
    noticed_after: Duration = Field(description="time until gas or smell was noticed", examples=["30 days"])
    activity: Activity = Field(description=_DAY_ACTIVITY, examples=["0.80"])
    at: Temperature = Field(description=_DAY_AT, examples=["25 degC"])
    measured_in: SettingSpec | None = Field(
        None, description="setting of the measured day, where it was another than the product's"
    )


class SugarSpec(Model):
    """Sugar that weeps or grains at its deliquescence point, or a glassy sugar that crystallises."""

    layer: Word = Field(description=_LAYER)
    sugar: Word | None = Field(None, description="a sugar of the shelf's deliquescence points")
    must_not: Literal["weep", "grain"] | None = Field(
        None, description="of that sugar: crystals that draw water, or a syrup that grains"
    )
    glass: Word | None = Field(None, description="instead: a glass of the shelf's glass transitions")
    crystals_after: Duration | None = Field(None, description="of a glass: time until crystals were seen")
    moisture: Moisture | None = Field(None, description="of a glass: its moisture then, held steady")
    at: Temperature | None = Field(None, description="of a glass: its temperature then, held steady")


class CheckingSpec(Model):
    """Cracking of hard biscuits as their moisture evens out."""

    layers: tuple[Word, ...] = Field(
        (), description="the hard layers, centre and rim in the piece's order; all when left out"
    )
    difference: Share | None = Field(
        None, description="greatest harmless difference in moisture between them, wet basis"
    )


class RanciditySpec(Model):
    """Oxidation of fat with the oxygen of the pack."""

    layer: Word = Field(description=_LAYER)
    fat: Share = Field(description="fat in the layer as packed", examples=["18 %"])
    rate: RateConstant = Field(
        description="rise of the peroxide value in plain air: meq oxygen per kg of fat in a time",
        examples=["0.05 1/day"],
    )
    at: Temperature = Field(description="temperature of the rate", examples=["25 degC"])
    activity: Activity = Field(description="water activity of the rate", examples=["0.3"])
    start: Number | None = Field(None, description="peroxide value when packed, meq oxygen per kg of fat")
    limit: Number | None = Field(None, description="peroxide value at which it is rancid")
    oxygen: Share | None = Field(None, description="oxygen in the headspace when packed; air unless said")
    film_oxygen: GasPermeance | None = Field(
        None,
        description="oxygen transmission of the film per atmosphere; left out, the shelf's for this film",
    )
    Q10: PositiveNumber | None = Field(None, alias="Q10", description="factor on the rate per 10 K")
    activation_energy: MolarEnergy | None = Field(None, description="instead of Q10")


class ColourSpec(Model):
    """Browning or fading, by a measured rate."""

    layer: Word = Field(description=_LAYER)
    rate: RateConstant = Field(description="rise of the colour difference in a time", examples=["0.02 1/day"])
    at: Temperature = Field(description="temperature of the rate", examples=["23 degC"])
    limit: PositiveNumber = Field(description="colour difference that is no longer accepted", examples=[4])
    Q10: PositiveNumber | None = Field(None, alias="Q10", description="factor on the rate per 10 K")


class MarkerSpec(Model):
    """A reading that rises as fat oxidises, by a measured rate; the oxygen of the pack is not in it."""

    layer: Word = Field(description=_LAYER)
    marker: Word = Field(description="what is read", examples=["hexanal"])
    rise: Literal["straight", "exponential"] = Field(
        "straight", description="whether it rises by the same amount or by the same share in a time"
    )
    rate: RateConstant = Field(
        description="rise in the marker's own unit in a time; a share in a time when exponential",
        examples=["0.04 1/day"],
    )
    at: Temperature = Field(description="temperature of the rate", examples=["25 degC"])
    activity: Activity | None = Field(
        None, description="water activity of the rate; left out, activity does not count"
    )
    start: Number = Field(description="reading when packed, in the marker's own unit", examples=[0.3])
    limit: Number = Field(description="reading at which it is no longer accepted", examples=[2])
    Q10: PositiveNumber | None = Field(None, alias="Q10", description="factor on the rate per 10 K")
    activation_energy: MolarEnergy | None = Field(None, description="instead of Q10")


class AcceptanceSpec(Model):
    """How long a panel accepted the product, from packs kept in one steady air."""

    layer: Word = Field(description=_LAYER)
    accepted_for: Duration = Field(
        description="time until the share 'rejecting' of the panel rejected it", examples=["62 ± 5 days"]
    )
    rejecting: Share = Field(description="share of the people who then rejected it", examples=["50 %"])
    at: Temperature = Field(description="temperature the packs were kept at", examples=["25 degC"])
    humidity: Humidity | None = Field(None, description="humidity of the air the packs were kept in")
    Q10: PositiveNumber | None = Field(
        None, alias="Q10", description="how many times sooner per 10 K, from panels at two temperatures"
    )
    activation_energy: MolarEnergy | None = Field(None, description="instead of Q10")


class FailuresSpec(Model):
    """The ways of failing that add up over time."""

    firming: FirmingSpec | None = Field(None, description="crumb sets again and grows firm")
    mould: MouldSpec | None = Field(None, description="mould is seen")
    fermentation: FermentationSpec | None = Field(None, description="yeast grows in a sweet filling")
    sugar: SugarSpec | None = Field(None, description="sugar weeps, grains or crystallises")
    checking: CheckingSpec | None = Field(None, description="hard biscuits crack by themselves")
    rancidity: RanciditySpec | None = Field(None, description="fat oxidises")
    colour: ColourSpec | None = Field(None, description="colour changes")
    marker: MarkerSpec | None = Field(None, description="a marker of rancidity rises, such as hexanal")
    acceptance: AcceptanceSpec | None = Field(None, description="a panel stops accepting the product")
