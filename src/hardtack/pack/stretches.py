"""The journey as the solver sees it: conductance, outside activity and temperature, leg by leg."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.pack.film import bare_conductance, minds_humidity, pack_conductance
from hardtack.pack.leaks import exchange_conductance
from hardtack.pack.outer import leg_times, outer_air
from hardtack.states import Floats, Journey, Leg, Pack, Piece
from hardtack.transport.surroundings import Stretch
from hardtack.units import DAY

STEADY = 1e-9


@dataclass(frozen=True, slots=True)
class Inside:
    """Activity of the headspace over `times` [s], as an earlier pass has it: films and outer packs that depend on it
    are taken at it."""

    times: Floats
    activity: Floats

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
    return any(minds_humidity(film) for film in films) or any(leg.outer for leg in journey.legs)


def stretches_of(
    journey: Journey, pack: Pack | None, pieces: Sequence[Piece], inside: Inside | None = None
) -> list[Stretch]:
    """One stretch for each leg, for all kinds of piece in the pack together.

    Steps may span hours of swinging humidity (six hours at most: layer means within about 1e-5 in activity), and
    eight of a swinging temperature (within about 2e-4 where it swings by 10 K, 4e-4 by 30 K). `inside` is the
    headspace's activity of an earlier pass; without it films count as at half the outside humidity and outer packs as
    empty.
    """
    area = sum(exposed_area(piece) for piece in pieces)
    stretches: list[Stretch] = []
    airs: list[float] = []
    for leg in journey.legs:
        if leg.outer and pack is not None and leg.film_coefficient is None:
            stretch, airs = _through_outer_packs(leg, pack, inside, airs)
        else:
            stretch, airs = _stretch(leg, pack, area, inside), []
        stretches.append(stretch)
    return stretches


def _stretch(leg: Leg, pack: Pack | None, area: float, inside: Inside | None) -> Stretch:
    T, times = leg.climate.temperature, leg.climate.times
    if leg.film_coefficient is not None:
        g = bare_conductance(area, leg.film_coefficient, T)
        return _limited(times, np.asarray(g, dtype=np.float64), leg.climate.humidity, T)
    assert pack is not None  # the product file asks for a pack when a leg is sealed
    a_out = leg.climate.humidity
    if minds_humidity(pack.film) and times.size == 2:  # the headspace moves even where the air stands still
        times = leg_times(leg.start, leg.end, steady=True)
        T, a_out = np.full_like(times, T[0]), np.full_like(times, a_out[0])
    return _limited(times, leg_conductance(pack, leg, T, _inner(inside, times), a_out), a_out, T)


def leg_conductance(pack: Pack, leg: Leg, T: Floats, a_in: Floats, a_out: Floats) -> Floats:
    """Water into the pack per unit activity difference in one leg [kg/s], for as many pieces as were packed.

    An opened pack is closed again with its own factor, and changes its air while open. With fewer pieces left,
    each of them gets more: the pack is counted as so many more conductances for the pieces of a full one.
    """
    opened = leg.opened
    if opened is None:
        return np.asarray(pack_conductance(pack, T, a_in, a_out), dtype=np.float64)
    if opened.reclosed is not None:
        pack = replace(pack, whole_pack_factor=opened.reclosed)
    closed = pack_conductance(pack, T, a_in, a_out)
    gaping = exchange_conductance(pack.headspace, opened.air_changes, T)
    g = closed * (1.0 - opened.share) + gaping * opened.share
    return np.asarray(g / opened.left, dtype=np.float64)


def _through_outer_packs(
    leg: Leg, pack: Pack, inside: Inside | None, before: list[float]
) -> tuple[Stretch, list[float]]:
    """The stretch behind the outer packs still around, and the activities their airs end at.

    Their airs begin where the leg before left them, else at the air they are packed in.
    """
    outers = pack.outer[: leg.outer]
    steady = leg.climate.times.size == 2
    times = np.unique(np.concatenate([leg.climate.times, leg_times(leg.start, leg.end, steady=steady)]))
    T = np.interp(times, leg.climate.times, leg.climate.temperature)
    around = np.interp(times, leg.climate.times, leg.climate.humidity)
    a_in = _inner(inside, times)
    start = [*before[: len(outers)], *([float(around[0])] * (len(outers) - len(before)))]
    g = leg_conductance(pack, leg, T, a_in, around)
    # without an earlier pass the pack takes nothing from the air around it
    drawn = g if inside is not None else np.zeros_like(g)
    air = outer_air(outers, times, T, around, drawn, a_in, start)
    a_out = np.clip(air.activity[0], 0.0, 1.0)
    if inside is not None:
        g = leg_conductance(pack, leg, T, a_in, a_out)
    return _limited(times, g, a_out, T), [float(a) for a in air.activity[:, -1]]


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
