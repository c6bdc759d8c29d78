"""Where can it be sold? The date over the climates of a store, and over a list of places."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack import reference
from hardtack.keeping.cases import Case
from hardtack.keeping.follow import Followed, follow
from hardtack.pack import journey_of, pack_of
from hardtack.pack.journey import LONGEST, at_the_load, place_climate
from hardtack.piece import pieces_of
from hardtack.product import Product
from hardtack.sourced import Provenance
from hardtack.states import Climate, Floats, Journey, Pack, Piece
from hardtack.units import DAY, ZERO_CELSIUS

TEMPERATURES = ZERO_CELSIUS + np.arange(10.0, 41.0, 5.0)
HUMIDITIES = np.linspace(0.30, 0.90, 7)
HORIZONS = (60 * DAY, 300 * DAY, LONGEST)
FARTHER = 2.5
"""The store is followed so far, and further only where nothing fails by then; in the grid first to so many times the
days of the next damper air."""


@dataclass(frozen=True, slots=True)
class Place:
    """One place: the product's `days` there from packing (None: not within three years) and what fails first.

    `temperature` [K] and `humidity` are the means of its air from the start of the store leg to the failure, or of a
    year. `source` says how its climate is known.
    """

    name: str
    days: float | None
    failure: str
    temperature: float
    humidity: float
    provenance: Provenance
    source: str


@dataclass(frozen=True, slots=True)
class Where:
    """Days from packing over store climates: `days` [temperatures, humidities], inf where nothing fails in three years.

    The store is the last leg of the journey, `leg`, from day `begins` on; the legs before it stay as they are.
    `failures` names what fails first, '' where nothing does.
    """

    product: str
    leg: str
    begins: float
    temperatures: Floats
    humidities: Floats
    days: Floats
    failures: tuple[tuple[str, ...], ...]
    places: tuple[Place, ...]
    packed_on: str
    remarks: tuple[str, ...]


def where(product: Product, places: Sequence[str] | None = None) -> Where:
    """The date over temperature and humidity of the store, and at `places` of the shelf (None: all of them).

    Raises as `keep`, and `NotOnShelf` for a place that is not on the shelf.
    """
    rows = reference.rows("places") if places is None else [reference.place(name) for name in places]
    pieces, _, _ = pieces_of(product)
    pack, _ = pack_of(product)
    journey, _ = journey_of(product)
    case = Case(product, pieces, pack, journey)
    last, spec = journey.legs[-1], product.journey[-1]
    start, end = last.start, max(LONGEST, last.start + DAY)
    days = np.full((TEMPERATURES.size, HUMIDITIES.size), np.inf)
    failures: list[tuple[str, ...]] = []
    for i, T in enumerate(TEMPERATURES):
        names: list[str] = []
        for j in reversed(range(HUMIDITIES.size)):
            damper = days[i, j + 1] * DAY if j + 1 < HUMIDITIES.size else HORIZONS[0] / FARTHER
            for stop in _stops(start, end, FARTHER * damper):
                air = Climate(np.array([start, stop]), np.full(2, T), np.full(2, HUMIDITIES[j]))
                time, name = _first(product, pieces, pack, _in_store(journey, air))
                if time is not None:
                    break
            days[i, j] = np.inf if time is None else time / DAY
            names.append(name)
        failures.append(tuple(reversed(names)))
    found = []
    for row in rows:
        followed, air = followed_at(case, row.name)
        time, stop = followed.first_time, float(air.times[-1])
        name = "" if time is None else followed.judged[0][0].name
        lasted = air.times <= max(time if time is not None else min(stop, start + 365 * DAY), start + DAY)
        found.append(
            Place(
                row.name,
                None if time is None else time / DAY,
                name,
                float(air.temperature[lasted].mean()),
                float(air.humidity[lasted].mean()),
                _weakest([amount.provenance for amount in row.values.values()]),
                row.source.citation,
            )
        )
    found.sort(key=lambda place: np.inf if place.days is None else place.days)
    return Where(
        product=product.name,
        leg=spec.leg,
        begins=start / DAY,
        temperatures=TEMPERATURES,
        humidities=HUMIDITIES,
        days=days,
        failures=tuple(failures),
        places=tuple(found),
        packed_on=product.packed_on.isoformat() if product.packed_on else "",
        remarks=_remarks(product, start),
    )


def followed_at(case: Case, place: str) -> tuple[Followed, Climate]:
    """The case with the air of a place of the shelf in its last leg, to its first failure or three years; and that air.

    Raises as `follow`, and `NotOnShelf`.
    """
    last, spec = case.journey.legs[-1], case.product.journey[-1]
    before = case.journey.legs[-2] if len(case.journey.legs) > 1 else None
    day = case.product.packed_on or datetime.date(2026, 1, 1)
    clock = (day - datetime.date(day.year, 1, 1)).days * DAY
    start, end = last.start, max(LONGEST, last.start + DAY)
    for stop in _stops(start, end, HORIZONS[0]):
        air, _ = place_climate(place, spec.leg, start, stop - start, clock)
        air, _ = at_the_load(spec, air, before)
        followed = follow(case.product, case.pieces, case.pack, _in_store(case.journey, air))
        if followed.first_time is not None:
            break
    return followed, air


def _stops(start: float, end: float, first: float) -> list[float]:
    """How far to follow the store, one after the other [s]; beyond all reach only once."""
    if first > LONGEST:
        return [end]
    return sorted({min(start + horizon, end) for horizon in (first, *HORIZONS) if horizon >= first})


def _in_store(journey: Journey, air: Climate) -> Journey:
    """The journey with its last leg in other air, to the end of that air."""
    last = replace(journey.legs[-1], climate=air, end=float(air.times[-1]), open_ended=True)
    return replace(journey, legs=(*journey.legs[:-1], last))


def _first(
    product: Product, pieces: tuple[Piece, ...], pack: Pack | None, journey: Journey
) -> tuple[float | None, str]:
    """When and how it first fails."""
    first = follow(product, pieces, pack, journey).judged[0][1]
    return (None, "") if first.time is None else (first.time, first.name)


def _weakest(known: Sequence[Provenance]) -> Provenance:
    order: tuple[Provenance, ...] = ("invented", "assumed", "from memory", "seen", "measured here")
    return next(kind for kind in order if kind in known)


def _remarks(product: Product, start: float) -> tuple[str, ...]:
    said = []
    if product.packed_on is None:
        said.append("The file does not say when it was packed: places are taken from 1 January on.")
    if product.journey[-1].indoors_at is None:
        said.append(
            "Places are taken outdoors, in the shade; a heated or cooled shop differs ('indoors at' on the last leg)."
        )
    if start > 0.0:
        said.append(f"Days count from packing; the store begins on day {start / DAY:.0f}.")
    return tuple(said)
