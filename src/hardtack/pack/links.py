"""Passages for water between the places that hold it: headspace, the board of outer packs, the air of the leg.

An outer pack without board holds next to nothing (the vapour of its air is some thousandth of the water in the pieces):
its air stands at the level between what comes in and what goes on, so that it is a resistance in series with its
neighbours. One with board is a place of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.pack.film import minds_humidity, pack_conductance, permeance_between
from hardtack.pack.leaks import exchange_conductance
from hardtack.states import Floats, Leg, OuterPack, Pack
from hardtack.water.air import saturation_pressure

SWEEPS = 60
"""Sweeps for the airs between films that mind humidity, as in a laminate."""


@dataclass(frozen=True, slots=True)
class Link:
    """One passage: its `conductance` [kg/s] between the activities on its inner and outer side, and how many of what
    lies innermost it serves at once."""

    conductance: Callable[[Floats, Floats], Floats]
    serves: float
    minds: bool


def has_board(outer: OuterPack) -> bool:
    """Whether an outer pack stores water that counts."""
    return outer.isotherm is not None and outer.board > 0.0


def places(pack: Pack, leg: Leg) -> list[int]:
    """Which of the outer packs still around in a leg are places of their own, innermost first."""
    if leg.film_coefficient is not None:
        return []
    return [k for k, outer in enumerate(pack.outer[: leg.outer]) if has_board(outer)]


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


def outer_conductance(outer: OuterPack, T: Floats, a_in: Floats, a_out: Floats) -> Floats:
    """Water into one outer pack per unit activity difference [kg/s]: film and exchanged air."""
    air = np.asarray(exchange_conductance(outer.air, outer.air_changes, T), dtype=np.float64)
    if outer.film is None:
        return air
    return air + outer.area * permeance_between(outer.film, T, a_in, a_out) * saturation_pressure(T)


def left(leg: Leg) -> float:
    """Share of the pieces left in the pack."""
    return 1.0 if leg.opened is None else leg.opened.left


def from_pack(pack: Pack, leg: Leg, T: Floats) -> list[Link]:
    """From the headspace to the first place around the pack, or to the air of the leg."""
    stop = next(iter(places(pack, leg)), leg.outer)
    own = Link(lambda a_in, a_out: leg_conductance(pack, leg, T, a_in, a_out), 1.0, minds_humidity(pack.film))
    return [own, *_outwards(pack, T, 0, stop, left(leg))]


def from_place(pack: Pack, leg: Leg, T: Floats, k: int) -> list[Link]:
    """From the outer pack number `k` to the next place around it, or to the air of the leg."""
    stop = next((j for j in places(pack, leg) if j > k), leg.outer)
    outer = pack.outer[k]
    return [_link(outer, T, 1.0), *_outwards(pack, T, k + 1, stop, 1.0)]


def _outwards(pack: Pack, T: Floats, first: int, stop: int, serves: float) -> list[Link]:
    """The outer packs from `first` to before `stop`, none of them a place."""
    links = []
    for outer in pack.outer[first:stop]:
        serves *= outer.holds
        links.append(_link(outer, T, serves))
    return links


def _link(outer: OuterPack, T: Floats, serves: float) -> Link:
    minds = outer.film is not None and minds_humidity(outer.film)
    return Link(lambda a_in, a_out: outer_conductance(outer, T, a_in, a_out), serves, minds)


def through(links: Sequence[Link], a_in: Floats, a_out: Floats) -> Floats:
    """Conductance of passages one after the other [kg/s], for one of what lies innermost.

    Films that mind humidity are at the activities of their own two sides: those at which the same water passes
    every one of them.
    """
    n = len(links)
    if n == 1:
        return links[0].conductance(a_in, a_out)
    joints = a_in + (a_out - a_in) * (np.arange(n + 1) / n).reshape(-1, 1)
    for _ in range(SWEEPS):
        resistances = np.stack(
            [link.serves / link.conductance(joints[k], joints[k + 1]) for k, link in enumerate(links)]
        )
        upto = np.concatenate([np.zeros((1, a_in.size)), np.cumsum(resistances, axis=0)])
        better = a_in + (a_out - a_in) * upto / upto[-1]
        moved = float(np.max(np.abs(better - joints)))
        if moved < 1e-9 or not any(link.minds for link in links):
            break
        joints = joints + 0.7 * (better - joints)
    return np.asarray(1.0 / resistances.sum(axis=0))
