"""The journey as the solver sees it: conductance, outside activity and temperature, leg by leg."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hardtack.pack.film import bare_conductance, pack_conductance
from hardtack.states import Journey, Leg, Pack, Piece
from hardtack.transport.surroundings import Stretch
from hardtack.units import DAY

STEADY = 1e-9


def exposed_area(piece: Piece) -> float:
    """Surface of all pieces of a pack that meets the air [m2]."""
    if piece.shape == "slab":
        return piece.count * piece.area * sum(piece.open_ends)
    return piece.count * piece.area * piece.open_ends[1]


def stretches_of(journey: Journey, pack: Pack | None, pieces: Sequence[Piece]) -> list[Stretch]:
    """One stretch for each leg, for all kinds of piece in the pack together.

    Steps may span hours of swinging humidity (six hours at most: layer means within about 1e-5 in activity), but every hour of
    a swinging temperature is resolved: then all conductances swing, inside the pack, too.
    """
    area = sum(exposed_area(piece) for piece in pieces)
    return [_stretch(leg, pack, area) for leg in journey.legs]


def _stretch(leg: Leg, pack: Pack | None, area: float) -> Stretch:
    T = leg.climate.temperature
    if leg.film_coefficient is not None:
        g = bare_conductance(area, leg.film_coefficient, T)
    else:
        assert pack is not None  # the product file asks for a pack when a leg is sealed
        g = pack_conductance(pack, T)
    if np.ptp(T) > STEADY:
        limit = 0.0
    elif np.ptp(leg.climate.humidity) > STEADY:
        limit = DAY / 4
    else:
        limit = math.inf
    return Stretch(leg.climate.times, np.asarray(g, dtype=np.float64), leg.climate.humidity, T, limit)
