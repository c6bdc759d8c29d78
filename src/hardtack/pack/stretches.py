"""The journey as the solver sees it: conductance, outside activity and temperature, leg by leg."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.pack.film import bare_conductance, minds_humidity
from hardtack.pack.links import from_pack, places, through
from hardtack.pack.outer import Around, about, guessed, leg_times
from hardtack.states import Floats, Journey, Leg, Pack, Piece
from hardtack.transport.surroundings import Stretch
from hardtack.units import DAY
from hardtack.water.isotherm import activity

STEADY = 1e-9


@dataclass(frozen=True, slots=True)
class Inside:
    """Activity of the headspace over `times` [s], as an earlier pass has it, and the airs of the outer packs leg by leg:
    films that depend on them are taken at them."""

    times: Floats
    activity: Floats
    around: tuple[Around | None, ...]

    def at(self, times: Floats) -> Floats:
        """Activity at `times` [s]."""
        return np.interp(times, self.times, self.activity)


def exposed_area(piece: Piece) -> float:
    """Surface of all pieces of a pack that meets the air [m2]."""
    if piece.shape == "slab":
        return piece.count * piece.area * sum(piece.open_ends)
    return piece.count * piece.area * piece.open_ends[1]


def leans_on_inside(pack: Pack | None, journey: Journey) -> bool:
    """Whether what crosses the pack depends on the air inside it: then stretches are found by passes."""
    if pack is None:
        return False
    films = [pack.film, *(outer.film for outer in pack.outer if outer.film is not None)]
    return any(minds_humidity(film) for film in films) or any(places(pack, leg) for leg in journey.legs)


def stretches_of(
    journey: Journey, pack: Pack | None, pieces: Sequence[Piece], inside: Inside | None = None
) -> list[Stretch]:
    """One stretch for each leg, for all kinds of piece in the pack together.

    Steps may span hours of swinging humidity (six hours at most: layer means within about 1e-5 in activity), and
    eight of a swinging temperature (within about 2e-4 where it swings by 10 K, 4e-4 by 30 K). `inside` is the
    headspace and the outer airs of an earlier pass; without it films count as at half the outside humidity, and outer
    packs as about pieces that even out at once.
    """
    area = sum(exposed_area(piece) for piece in pieces)
    around = inside.around if inside is not None else first_airs(journey, pack, pieces, np.zeros(0))
    stretches: list[Stretch] = []
    for leg, at in zip(journey.legs, around, strict=True):
        if at is not None and pack is not None:
            a_out = np.clip(at.airs[0], 0.0, 1.0)
            g = through(from_pack(pack, leg, at.T), _inner(inside, at.times), a_out)
            stretches.append(_limited(at.times, g, a_out, at.T))
        else:
            stretches.append(_stretch(leg, pack, area, inside))
    return stretches


def first_airs(
    journey: Journey,
    pack: Pack | None,
    pieces: Sequence[Piece],
    rows: Floats,
    a_start: float | None = None,
    before: Floats | None = None,
) -> tuple[Around | None, ...]:
    """The outer airs leg by leg with the pieces as one lump, None where no outer pack with board is around.

    `rows` [s] are the history's times; `a_start` the headspace's activity and `before` [kg] the water of the outer packs
    as the first leg begins, unless the pack is closed then.
    """
    found: list[Around | None] = []
    a_start = _at_packing(pieces, journey.legs[0]) if a_start is None else a_start
    before = np.zeros(0) if before is None else before
    for leg in journey.legs:
        if pack is None or not places(pack, leg):
            found.append(None)
            before = np.zeros(0)
            continue
        at = about(leg, pack, rows)
        g = through(from_pack(pack, leg, at.T), np.zeros_like(at.T), at.outside)
        at, run = guessed(leg, pack, pieces, at, g, a_start, before)
        a_start, before = float(run.activity[0, -1]), run.held[1:]
        found.append(at)
    return tuple(found)


def _at_packing(pieces: Sequence[Piece], leg: Leg) -> float:
    """Mean activity of the layers as packed, by their dry mass."""
    T = float(leg.climate.temperature[0])
    layers = [(piece.count * layer.dry_mass, layer) for piece in pieces for layer in piece.layers]
    seen = [float(activity(layer.isotherm, layer.moisture, T)) for _, layer in layers]
    return min(float(np.average(seen, weights=[mass for mass, _ in layers])), 1.0)


def _stretch(leg: Leg, pack: Pack | None, area: float, inside: Inside | None) -> Stretch:
    T, times = leg.climate.temperature, leg.climate.times
    if leg.film_coefficient is not None:
        g = bare_conductance(area, leg.film_coefficient, T)
        return _limited(times, np.asarray(g, dtype=np.float64), leg.climate.humidity, T)
    assert pack is not None  # the product file asks for a pack when a leg is sealed
    a_out = leg.climate.humidity
    links = from_pack(pack, leg, T)
    if (
        any(link.minds for link in links) and times.size == 2
    ):  # the headspace moves even where the air stands still
        times = leg_times(leg.start, leg.end, steady=True)
        T, a_out = np.full_like(times, T[0]), np.full_like(times, a_out[0])
        links = from_pack(pack, leg, T)
    return _limited(times, through(links, _inner(inside, times), a_out), a_out, T)


def _inner(inside: Inside | None, times: Floats) -> Floats:
    return np.zeros_like(times) if inside is None else inside.at(times)


def _limited(times: Floats, g: Floats, a_out: Floats, T: Floats) -> Stretch:
    if np.ptp(T) > STEADY:
        limit = DAY / 3
    elif np.ptp(a_out) > STEADY or np.ptp(g) > STEADY * float(g.max()):
        limit = DAY / 4
    else:
        limit = math.inf
    return Stretch(times, g, a_out, T, limit)
