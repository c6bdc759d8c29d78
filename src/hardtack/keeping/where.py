"""Where can it be sold? The date over the climates of a store, and over a list of places."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack import reference
from hardtack.keeping.cases import Case, case_of, follow_case, follow_many
from hardtack.keeping.follow import Followed, begun_of
from hardtack.pack.journey import LONGEST, at_the_load, place_climate
from hardtack.product import Product
from hardtack.sourced import Provenance
from hardtack.states import Climate, Floats, Journey
from hardtack.units import DAY, ZERO_CELSIUS

TEMPERATURES = ZERO_CELSIUS + np.arange(10.0, 41.0, 5.0)
HUMIDITIES = np.linspace(0.30, 0.90, 7)
HORIZONS = (60 * DAY, 300 * DAY, LONGEST)
SPARE = 1.4
"""A place is followed first so many times as far as the grid says of the means of its year."""
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


def where(
    product: Product, places: Sequence[str] | None = None, heard: Callable[[float], None] = lambda share: None
) -> Where:
    """The date over temperature and humidity of the store, and at `places` of the shelf (None: all of them).

    `heard` is told the share of the work done, and may raise to end it. Raises as `keep`, and `NotOnShelf` for a place
    that is not on the shelf.
    """
    rows = reference.rows("places") if places is None else [reference.place(name) for name in places]
    case = case_of(product)
    case = replace(case, begun=begun_of(case.product, case.pieces, case.pack, case.journey))
    last, spec = case.journey.legs[-1], product.journey[-1]
    search = _Search(case, last.start, max(LONGEST, last.start + DAY), heard, _GRID + len(rows))
    days = np.full((TEMPERATURES.size, HUMIDITIES.size), np.inf)
    failures = [[""] * HUMIDITIES.size for _ in TEMPERATURES]
    first = np.full(TEMPERATURES.size, HORIZONS[0])
    for j in reversed(range(HUMIDITIES.size)):
        # the days in drier air are a few times those in damper air at most, or without end
        for i, met in enumerate(search.met([_steady(T, HUMIDITIES[j]) for T in TEMPERATURES], first)):
            days[i, j] = np.inf if met.time is None else met.time / DAY
            failures[i][j] = met.failure
        first = FARTHER * days[:, j] * DAY
    return Where(
        product=product.name,
        leg=spec.leg,
        begins=last.start / DAY,
        temperatures=TEMPERATURES,
        humidities=HUMIDITIES,
        days=days,
        failures=tuple(tuple(names) for names in failures),
        places=_at_places(rows, search, days),
        packed_on=product.packed_on.isoformat() if product.packed_on else "",
        remarks=_remarks(product, last.start),
    )


_GRID = TEMPERATURES.size * HUMIDITIES.size
Air = Callable[[float, float], Climate]
"""The store's air from one time to another [s]."""


@dataclass(frozen=True, slots=True)
class _Met:
    """When and how it first fails [s], None where it does not; `air` is what the store was followed in."""

    time: float | None
    failure: str
    air: Climate


@dataclass(slots=True)
class _Search:
    """The store, from `start` to `end` [s], in many airs at once; `heard` is told of each that is done."""

    case: Case
    start: float
    end: float
    heard: Callable[[float], None]
    whole: int
    done: int = 0

    def met(self, airs: Sequence[Air], first: Sequence[float] | Floats) -> list[_Met]:
        """What comes in each of the airs, followed for `first` [s] and further only where nothing fails by then."""
        ahead = [_stops(self.start, self.end, float(horizon)) for horizon in first]
        found: dict[int, _Met] = {}
        while len(found) < len(airs):
            open_ones = [k for k in range(len(airs)) if k not in found]
            climates = [airs[k](self.start, ahead[k].pop(0)) for k in open_ones]
            cases = [
                replace(self.case, journey=_in_store(self.case.journey, climate)) for climate in climates
            ]
            for k, climate, followed in zip(open_ones, climates, follow_many(cases), strict=True):
                time = followed.first_time
                if time is not None or not ahead[k]:
                    found[k] = _Met(time, "" if time is None else followed.judged[0][1].name, climate)
                    self._tell()
        return [found[k] for k in range(len(airs))]

    def _tell(self) -> None:
        self.done += 1
        self.heard(self.done / self.whole)


def _steady(T: float, RH: float) -> Air:
    return lambda start, stop: Climate(np.array([start, stop]), np.full(2, T), np.full(2, RH))


def followed_at(case: Case, place: str) -> tuple[Followed, Climate]:
    """The case with the air of a place of the shelf in its last leg, to its first failure or three years; and that air.

    Raises as `follow`, and `NotOnShelf`.
    """
    start, air_of = case.journey.legs[-1].start, _air_at(case, place)
    for stop in _stops(start, max(LONGEST, start + DAY), HORIZONS[0]):
        air = air_of(start, stop)
        followed = follow_case(replace(case, journey=_in_store(case.journey, air)))
        if followed.first_time is not None:
            break
    return followed, air


def _air_at(case: Case, place: str) -> Air:
    """The air of a place of the shelf as the load meets it in the last leg."""
    spec, journey = case.product.journey[-1], case.journey
    day = case.product.packed_on or datetime.date(2026, 1, 1)
    clock = (day - datetime.date(day.year, 1, 1)).days * DAY
    before = journey.legs[-2] if len(journey.legs) > 1 else None

    def air(start: float, stop: float) -> Climate:
        climate, _ = place_climate(place, spec.leg, start, stop - start, clock)
        return at_the_load(spec, climate, before)[0]

    return air


def _at_places(rows: Sequence[reference.Row], search: _Search, days: Floats) -> tuple[Place, ...]:
    """The places, the shortest days first."""
    first = [_expected(row, days, search.start) for row in rows]
    found = []
    met = search.met([_air_at(search.case, row.name) for row in rows], first)
    for row, there in zip(rows, met, strict=True):
        stop = float(there.air.times[-1])
        until = there.time if there.time is not None else min(stop, search.start + 365 * DAY)
        lasted = there.air.times <= max(until, search.start + DAY)
        found.append(
            Place(
                row.name,
                None if there.time is None else there.time / DAY,
                there.failure,
                float(there.air.temperature[lasted].mean()),
                float(there.air.humidity[lasted].mean()),
                _weakest([amount.provenance for amount in row.values.values()]),
                row.source.citation,
            )
        )
    return tuple(sorted(found, key=lambda place: np.inf if place.days is None else place.days))


def _expected(row: reference.Row, days: Floats, start: float) -> float:
    """How far to follow a place at first [s]: somewhat farther than the grid's days at the means of its year."""
    T = float(np.mean([row[f"T{m}"] for m in range(1, 13)]))
    RH = float(np.mean([row[f"RH{m}"] for m in range(1, 13)]))
    # the pace, one over days, is nought where it keeps for good
    at_RH = [float(np.interp(RH, HUMIDITIES, pace)) for pace in 1.0 / days]
    pace = float(np.interp(T, TEMPERATURES, at_RH))
    return LONGEST if pace == 0.0 else max(SPARE * DAY / pace - start, 10 * DAY)


def _stops(start: float, end: float, first: float) -> list[float]:
    """How far to follow the store, one after the other [s]; beyond all reach only once."""
    if first > LONGEST:
        return [end]
    return sorted({min(start + horizon, end) for horizon in (first, *HORIZONS) if horizon >= first})


def _in_store(journey: Journey, air: Climate) -> Journey:
    """The journey with its last leg in other air, to the end of that air."""
    last = replace(journey.legs[-1], climate=air, end=float(air.times[-1]), open_ended=True)
    return replace(journey, legs=(*journey.legs[:-1], last))


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
