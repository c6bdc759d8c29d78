"""The pack as the product file states it: film, leaks, gas, desiccant, and the packs around it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag

from hardtack.product.base import Model
from hardtack.product.quantities import (
    Area,
    FactorOrName,
    GasPermeance,
    Humidity,
    Length,
    Mass,
    Moisture,
    MolarEnergy,
    Permeance,
    PositiveNumber,
    RateConstant,
    Share,
    Temperature,
    Transmission,
    Volume,
    Word,
)


def name_or_given(value: Any) -> str:
    """Tells a name on the reference shelf from a mapping that gives the properties."""
    return "<name>" if isinstance(value, (str, int, float)) else "<given>"


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
    humidity_law: Word | None = Field(
        None,
        description="how it opens in damp air: a name of the shelf's 'film humidity law' (paper, EVOH, ...)",
        examples=["paper"],
    )
    oxygen: GasPermeance | None = Field(
        None,
        description="oxygen transmission rate per atmosphere, near 23 degC",
        examples=["1500 cm3/m2/day/atm"],
    )
    carbon_dioxide: GasPermeance | None = Field(
        None, description="carbon dioxide transmission rate per atmosphere; oxygen times 4 when left out"
    )


class PlyOfFilm(Model):
    """One ply of a laminate: a film of the shelf, at a thickness of its own if need be."""

    film: Word = Field(description="a film of the reference shelf", examples=["LDPE"])
    thickness: Length | None = Field(None, description="its thickness; the tested one when left out")


AnyFilm = Annotated[
    Annotated[Word, Tag("<name>")] | Annotated[FilmSpec, Tag("<given>")], Discriminator(name_or_given)
]


class LeakSpec(Model):
    """Holes of one size: pinholes through the film, or channels through a seal."""

    diameter: Length = Field(description="of one hole", examples=["100 um"])
    depth: Length = Field(
        description="way through the hole: the film's thickness for a pinhole, the seal's width for a channel",
        examples=["50 um"],
    )
    count: PositiveNumber | None = Field(None, description="how many; one when left out", examples=[2])


class DesiccantSpec(Model):
    """A desiccant in the headspace."""

    kind: Word = Field(description="a desiccant of the reference shelf", examples=["silica gel"])
    mass: Mass = Field(description="mass as laid in", examples=["5 g"])
    moisture: Moisture | None = Field(
        None, description="moisture as laid in; the shelf's residual moisture when left out"
    )


class AtmosphereSpec(Model):
    """The gas packed with the pieces; the rest is nitrogen."""

    oxygen: Share = Field(description="share of oxygen", examples=["0.5 %"])
    carbon_dioxide: Share = Field(description="share of carbon dioxide", examples=["60 %"])


class OuterPackSpec(Model):
    """A pack around packs, with its own air: carton, shipper, pallet hood, liner."""

    name: Word = Field(description="what to call it", examples=["shipper"])
    holds: PositiveNumber = Field(
        description="how many of the packs before it in the list it holds", examples=[24]
    )
    film: AnyFilm | None = Field(None, description="what it is closed with, besides its board")
    area: Area | None = Field(None, description="its surface; needed with a film")
    air: Volume = Field(description="air in it beside what it holds", examples=["6 L"])
    air_changes: RateConstant | None = Field(
        None, description="how often its air is changed through gaps and vents", examples=["0.5 1/h"]
    )
    board: Mass | None = Field(None, description="mass of its board, which stores water", examples=["350 g"])


class PackSpec(Model):
    """What the pieces are sealed in."""

    style: Word | None = Field(
        None,
        description="a way of packing of the reference shelf: its whole-pack factor",
        examples=["flow pack"],
    )
    film: AnyFilm | None = Field(
        None,
        description="the packaging film: a name on the reference shelf, or its test",
        examples=["OPP 20 um"],
    )
    laminate: tuple[PlyOfFilm, ...] = Field(
        (), description="instead of the film: its plies, from the inside to the outside"
    )
    area: Area = Field(description="area of film around the pieces, front and back", examples=["0.066 m2"])
    headspace: Volume = Field(description="gas in the pack beside the pieces", examples=["250 mL"])
    whole_pack_factor: FactorOrName | None = Field(
        None,
        alias="whole-pack factor",
        description="the whole pack, seals and folds included, over its flat film; or a name on the shelf",
        examples=[1.3],
    )
    leaks: tuple[LeakSpec, ...] = Field((), description="holes and channels, by size")
    desiccant: DesiccantSpec | None = Field(None, description="a desiccant in the headspace")
    atmosphere: AtmosphereSpec | None = Field(None, description="the gas packed; air when left out")
    outer_packs: tuple[OuterPackSpec, ...] = Field(
        (), description="the packs around it, from the inside to the outside, each with its own air"
    )
