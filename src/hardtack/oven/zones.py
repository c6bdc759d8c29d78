"""From the product file's oven to what the two ends of the piece meet over time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import NotOnShelf
from hardtack.oven.band import Band
from hardtack.oven.properties import Factors
from hardtack.product.oven_spec import CoolingSpec, OvenSpec, ZoneSpec
from hardtack.reference import Row, lookup
from hardtack.sourced import Sourced, Used
from hardtack.states import Floats, Shape
from hardtack.transport.bake_march import EndAir, Spell
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import saturation_pressure

DEW_POINT = ZERO_CELSIUS + 50.0
"""Dew point of oven air where the file gives none; assumed (0.09 kg/kg: what the pieces give off stays in part)."""
ROOM, ROOM_HUMIDITY = ZERO_CELSIUS + 25.0, 0.5
STRETCHES = 16
"""Pieces a zone is cut into to follow the growth of the piece."""
COVERED = {"pan": 0.75}
COVERED_ELSE = 0.25
"""Share of a round piece's surface in a pan, or on a stone, band or sheet; assumed."""
SHUT = EndAir(ROOM, 0.0, 0.0, ROOM, 0.0, ROOM, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Contact:
    """How the piece lies: the shelf's row and the share of the end it covers, for the first and for the last end."""

    row: Row
    covered: tuple[float, float]


def contact_of(oven: OvenSpec, shape: Shape) -> Contact:
    """What the piece lies on. Raises `NotOnShelf` for a name the shelf does not hold as something to lie on."""
    row = lookup("oven transfer", oven.lying_on or ("steel band" if shape == "slab" else "stone"))
    if row.form != "below":
        raise NotOnShelf(
            f"nothing lies on {row.name!r}",
            "write one of: steel band, wire mesh, heavy mesh, stone, pan, none",
        )
    if shape == "slab":
        return Contact(row, (1.0, 0.0))
    given = oven.covered.value if oven.covered else COVERED.get(row.name, COVERED_ELSE)
    return Contact(row, (0.0, given if row.name != "none" else 0.0))


def spells_of(
    oven: OvenSpec,
    shape: Shape,
    factors: Factors,
    growth: tuple[Floats, Floats],
    bottom: Callable[[Floats], Floats] | None = None,
) -> tuple[Spell, ...]:
    """The oven's zones, then the cooling, for a piece whose volume (over the baked one) goes as `growth`: times [s] and
    factors; `bottom` is the temperature [K] of its lower face over time from an earlier march, boiling without one. Raises
    `NotOnShelf` for unknown names.
    """
    contact = contact_of(oven, shape)
    spells: list[Spell] = []
    start = 0.0
    for zone in oven.zones:
        spells.extend(_zone(oven, zone, shape, contact, factors, growth, start))
        start += zone.lasts.value
    if "steel" in contact.row.values:
        steel = lookup("oven transfer", "steel")
        holds = contact.row["steel"] * steel["density"] * steel["heat"]
        spells = _on_band(spells, oven, shape, holds, bottom)
    if oven.cooling is not None:
        spells.append(_cooling(oven.cooling, shape))
    return tuple(spells)


def _on_band(
    spells: list[Spell], oven: OvenSpec, shape: Shape, holds: float, bottom: Callable[[Floats], Floats] | None
) -> list[Spell]:
    """The spells with the temperature that the band takes by itself, where the file does not hold it."""
    side = 0 if shape == "slab" else 1
    held = [
        np.nan if (given := oven.zones[k // STRETCHES].band) is None else given.value
        for k in range(len(spells))
    ]
    times = np.concatenate([[0.0], np.cumsum([spell.duration for spell in spells])])
    ends = [spells[0].first, *(spell.last for spell in spells)]
    enters = None if oven.band_enters is None else oven.band_enters.value
    band = Band(
        times, tuple(_beside(pair, side) for pair in ends), np.array([*held, held[-1]]), holds, enters
    )
    course = band.course(bottom)

    def laid(ends: tuple[EndAir, EndAir], T: float) -> tuple[EndAir, EndAir]:
        under = replace(ends[side], contact=float(T))
        return (under, ends[1]) if side == 0 else (ends[0], under)

    return [
        replace(spell, first=laid(spell.first, course[k]), last=laid(spell.last, course[k + 1]))
        for k, spell in enumerate(spells)
    ]


def _beside(ends: tuple[EndAir, EndAir], side: int) -> EndAir:
    """What the band itself meets: the air and walls that the free face meets, and the piece's contact."""
    free = ends[1]
    share = free.open if free.open > 0.0 else 1.0
    return replace(free, h=free.h / share, emissivity=free.emissivity / share, h_contact=ends[side].h_contact)


def runs_round(oven: OvenSpec, shape: Shape) -> bool:
    """Whether the piece lies on a band whose temperature is left to the oven."""
    return "steel" in contact_of(oven, shape).row.values and any(zone.band is None for zone in oven.zones)


def baking_time(oven: OvenSpec) -> float:
    """Time in the oven [s]."""
    return sum(zone.lasts.value for zone in oven.zones)


def used_of(oven: OvenSpec, shape: Shape) -> tuple[Used, ...]:
    """The oven's numbers: those given, those of the shelf, those filled in."""
    contact, kind = contact_of(oven, shape), oven_kind(oven)
    used = [Used("mass of a dough piece", oven.dough_mass, True)]
    if oven.band_enters is not None:
        used.append(Used("temperature of the band where it enters", oven.band_enters, True))
    for zone in oven.zones:
        used.append(Used(f"air of the zone {zone.zone}", zone.temperature, True))
        used.append(Used(f"time in the zone {zone.zone}", zone.lasts, True))
        used.append(Used(f"dew point in the zone {zone.zone}", *_dew(zone)))
        if isinstance(zone.convection, Sourced):
            used.append(Used(f"convection in the zone {zone.zone}", zone.convection, True))
    if any(not isinstance(zone.convection, Sourced) for zone in oven.zones):
        used.append(Used(f"convection ({kind.name})", kind.values["h"], False))
    used.append(Used(f"emissivity ({kind.name})", kind.values["emissivity"], False))
    if "contact" in contact.row.values:
        used.append(Used(f"contact ({contact.row.name})", contact.row.values["contact"], False))
    if "steel" in contact.row.values:
        used.append(Used(f"steel of the band ({contact.row.name})", contact.row.values["steel"], False))
        metal = lookup("oven transfer", "steel").values
        used.append(Used("density of steel", metal["density"], False))
        used.append(Used("specific heat of steel", metal["heat"], False))
    return tuple(used)


def _dew(zone: ZoneSpec) -> tuple[Sourced, bool]:
    if zone.dew_point is not None:
        return zone.dew_point, True
    return Sourced(DEW_POINT, "K", "assumed", "no humidity given", written="50 °C"), False


def oven_kind(oven: OvenSpec) -> Row:
    """The shelf's row for the file's kind of oven. Raises `NotOnShelf` for a name that is none."""
    row = lookup("oven transfer", oven.oven or "default")
    if row.form != "air":
        raise NotOnShelf(f"{row.name!r} is no kind of oven", "see `hardtack reference oven transfer`")
    return row


def _zone(
    oven: OvenSpec,
    zone: ZoneSpec,
    shape: Shape,
    contact: Contact,
    factors: Factors,
    growth: tuple[Floats, Floats],
    start: float,
) -> Sequence[Spell]:
    """The zone in stretches, so that the piece may grow within it."""
    marks = np.linspace(0.0, 1.0, STRETCHES + 1)
    volumes = np.interp(start + marks * zone.lasts.value, *growth)
    rise = zone.to.value - zone.temperature.value if zone.to is not None else 0.0
    ends = [
        _ends(oven, zone, zone.temperature.value + share * rise, shape, contact, factors) for share in marks
    ]
    return [
        Spell(
            zone.lasts.value / STRETCHES,
            ends[k],
            ends[k + 1],
            (float(volumes[k]), float(volumes[k + 1])),
        )
        for k in range(STRETCHES)
    ]


def _ends(
    oven: OvenSpec, zone: ZoneSpec, air: float, shape: Shape, contact: Contact, factors: Factors
) -> tuple[EndAir, EndAir]:
    kind = oven_kind(oven)
    if isinstance(zone.convection, Sourced):
        h = zone.convection.value
    else:
        h = (lookup("oven transfer", zone.convection) if zone.convection else kind)["h"]
    dew = _dew(zone)[0].value
    # air cannot hold more than saturation, nor more than the pressure outside
    vapour = min(float(saturation_pressure(min(dew, air))), 0.95 * 101325.0)
    walls = zone.walls.value if zone.walls else air
    band = zone.band.value if zone.band else air
    row = contact.row
    touch, pass_on = (row["contact"] if "contact" in row.values else 0.0), row["open"]

    def end(covered: float) -> EndAir:
        free = 1.0 - covered * (1.0 - pass_on)
        if free >= 1.0 and covered == 1.0 and touch == 0.0:  # nothing under it
            covered = 0.0
        return EndAir(
            air=air,
            vapour_pressure=vapour,
            h=h * factors.heat * free,
            wall=walls,
            emissivity=kind["emissivity"] * factors.heat * free,
            contact=band,
            h_contact=touch * factors.heat * covered,
            open=free,
        )

    first, last = contact.covered
    return (end(first) if shape == "slab" else SHUT), end(last)


def _cooling(cooling: CoolingSpec, shape: Shape) -> Spell:
    T = cooling.temperature.value if cooling.temperature else ROOM
    humidity = cooling.humidity.value if cooling.humidity else ROOM_HUMIDITY
    given = cooling.convection
    row = lookup("oven transfer", "room air" if given is None or isinstance(given, Sourced) else given)
    h = given.value if isinstance(given, Sourced) else row["h"]
    air = EndAir(T, humidity * float(saturation_pressure(T)), h, T, row["emissivity"], T, 0.0, 1.0)
    ends = (air if shape == "slab" else SHUT), air
    return Spell(cooling.lasts.value, ends, ends)
