"""Outer packs in series, each with its own air and the water its board stores, and one account with what they hold.

An outer pack with board is a node between what is around it and the packs it holds (one without is a passage, `links`):

    d/dt (V rho_sat(T) a + m_board X_board(a)) = g_out (a_around - a) - N J

with g_out its film and the air it changes, N the packs it holds, J what each of them takes up. The march of the pieces
says what J was in the air it was given; a lumped stand-in for the pieces says how J changes with that air.
So the airs are found in a few passes: J = J_march + (J_lump in the new air - J_lump in the air before). Where
they agree, what leaves the innermost outer air is what the march let in, and `booked` follows the airs once more with
just that: water in all airs, boards, pieces and desiccants then closes as one account.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.pack.links import from_place, left, places, through
from hardtack.states import Floats, Leg, OuterPack, Pack, Piece
from hardtack.transport.nested import ACTIVITY, Nested, Node, nested, water_held
from hardtack.transport.surroundings import Stretch
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import moisture

HOUR = 3600.0
FEWEST, MOST = 96, 1500
"""A leg is cut into hours, and into so many steps at least; in steady air into so many at most."""
ROOM = 296.15
LOWEST, HIGHEST = 0.005, 0.995
"""Activities between which isotherms of board and pieces are read for their tables."""


@dataclass(frozen=True, slots=True)
class Around:
    """The airs about the pack in one leg: at `times` [s, n] the activities `airs` [places, n] of those with board, innermost first,
    and the leg's own air: temperature `T` [K] and activity `outside`."""

    times: Floats
    T: Floats
    outside: Floats
    airs: Floats


@dataclass(frozen=True, slots=True)
class Inner:
    """What a pass of the march gave: at `times` [s] the headspace's activity, and water taken up and held in all [kg] by
    one pack."""

    times: Floats
    headspace: Floats
    gained: Floats
    held: Floats


@dataclass(frozen=True, slots=True)
class Booked:
    """The airs of one leg with what the march let in taken out of them.

    `imbalance` is the largest error of the water in all of them, boards, pieces and desiccants together, against what
    came in from outside, relative to the water of the packs.
    """

    airs: Floats
    held: Floats
    imbalance: float


def leg_times(start: float, end: float, *, steady: bool = False) -> Floats:
    """The steps of a leg [s]."""
    n = max(FEWEST, math.ceil((end - start) / HOUR - 1e-9))
    if steady:
        n = min(n, MOST)
    return np.linspace(start, end, n + 1)


def board_table(outer: OuterPack) -> Floats:
    """Water in the board of one outer pack over `ACTIVITY` [kg]."""
    if outer.isotherm is None or outer.board <= 0.0:
        return np.zeros_like(ACTIVITY)
    table = np.asarray(outer.board * moisture(outer.isotherm, np.clip(ACTIVITY, LOWEST, HIGHEST), ROOM))
    table[0] = 0.0
    return table


def contents_table(pieces: Sequence[Piece], pack: Pack, T: float) -> Floats:
    """Water over `ACTIVITY` [kg] in the pieces and the desiccant of one pack at T [K], all at one activity."""
    a = np.clip(ACTIVITY, LOWEST, HIGHEST)
    table = np.zeros_like(ACTIVITY)
    for piece in pieces:
        for layer in piece.layers:
            table += piece.count * layer.dry_mass * np.asarray(moisture(layer.isotherm, a, T))
    if pack.desiccant is not None:
        table += pack.desiccant.dry_mass * np.asarray(moisture(pack.desiccant.isotherm, a, T))
    table[0] = 0.0
    return np.asarray(np.maximum.accumulate(table))


def about(leg: Leg, pack: Pack, rows: Floats) -> Around:
    """The leg's own air at the times its outer packs are stepped, the `rows` [s] of the history among them; their own
    airs stand at it."""
    steady = leg.climate.times.size == 2
    inside = rows[(rows > leg.start) & (rows < leg.end)]
    times = np.unique(
        np.concatenate([leg.climate.times, leg_times(leg.start, leg.end, steady=steady), inside])
    )
    T = np.interp(times, leg.climate.times, leg.climate.temperature)
    outside = np.interp(times, leg.climate.times, leg.climate.humidity)
    return Around(times, T, outside, np.tile(outside, (len(places(pack, leg)), 1)))


def _room(volume: float, T: Floats) -> Floats:
    return np.asarray(volume * vapour_density(saturation_pressure(T), T), dtype=np.float64)


def _outer_nodes(leg: Leg, pack: Pack, at: Around) -> list[Node]:
    """The outer packs with board as nodes, films that mind humidity at the airs of `at`; fewer pieces left take up less."""
    nodes: list[Node] = []
    own = places(pack, leg)
    for number, k in enumerate(own):
        beyond = at.airs[number + 1] if number + 1 < len(own) else at.outside
        here = np.clip(at.airs[number], 0.0, 1.0)
        g = through(from_place(pack, leg, at.T, k), here, np.clip(beyond, 0.0, 1.0))
        first = own[number - 1] + 1 if number else 0
        holds = math.prod(outer.holds for outer in pack.outer[first : k + 1]) * (1.0 if number else left(leg))
        outer = pack.outer[k]
        nodes.append(Node(board_table(outer), _room(outer.air, at.T), g, holds))
    return nodes


def _held_at(nodes: Sequence[Node], airs: Sequence[float]) -> list[float]:
    return [
        float(water_held(node, np.full(node.room.size, a))[0]) for node, a in zip(nodes, airs, strict=True)
    ]


def _start(nodes: Sequence[Node], at: Around, before: Floats) -> list[float]:
    """Water of the outer packs as the leg begins: what the leg before left, else that at the air they are packed in."""
    fresh = _held_at(nodes, [float(at.outside[0])] * len(nodes))
    return [*(float(held) for held in before[: len(nodes)]), *fresh[before.size :]]


def guessed(
    leg: Leg, pack: Pack, pieces: Sequence[Piece], at: Around, g: Floats, a_start: float, before: Floats
) -> tuple[Around, Nested]:
    """The airs with the contents as one lump; `g` [n] is the pack's conductance, `a_start` its headspace at first."""
    T = float(at.T.mean())
    inner = Node(contents_table(pieces, pack, T), _room(pack.headspace, at.T), g)
    nodes = _outer_nodes(leg, pack, at)
    held = [*_held_at([inner], [a_start]), *_start(nodes, at, before)]
    run = nested(at.times, [inner, *nodes], at.outside, held, np.zeros((len(held), at.times.size)))
    return _with(at, run.activity[1:]), run


def corrected(
    leg: Leg, pack: Pack, pieces: Sequence[Piece], at: Around, stretch: Stretch, inner: Inner, before: Floats
) -> tuple[Around, Floats]:
    """The airs after a pass of the march in those of `at`, and the water they hold at the leg's end [outer packs, kg]."""
    lump, first, own = _lump(leg, pack, pieces, at, stretch, inner)
    nodes = _outer_nodes(leg, pack, at)
    given = np.zeros((1 + len(nodes), at.times.size))
    given[1, 1:] = np.diff(_beyond_lump(at, inner, own))
    run = nested(at.times, [lump, *nodes], at.outside, [*first, *_start(nodes, at, before)], given)
    return _with(at, run.activity[1:]), run.held[1:]


def booked(
    leg: Leg, pack: Pack, pieces: Sequence[Piece], at: Around, stretch: Stretch, inner: Inner, before: Floats
) -> Booked:
    """The airs with what the march let in, no more and no less, taken out of them; and the account of it all."""
    _, _, own = _lump(leg, pack, pieces, at, stretch, inner)
    nodes = _outer_nodes(leg, pack, at)
    given = np.zeros((len(nodes), at.times.size))
    given[0, 1:] = np.diff(own.came[0] + _beyond_lump(at, inner, own))
    run = nested(at.times, nodes, at.outside, _start(nodes, at, before), given)
    return Booked(run.activity, run.held, _imbalance(nodes, run, inner))


def _lump(
    leg: Leg, pack: Pack, pieces: Sequence[Piece], at: Around, stretch: Stretch, inner: Inner
) -> tuple[Node, list[float], Nested]:
    """The contents as one lump, its first water [kg], and its course in the air the march was given."""
    table = contents_table(pieces, pack, float(at.T.mean()))
    lump = Node(table, _room(pack.headspace, at.T), stretch.g)
    first = _held_at([lump], [float(np.interp(leg.start, inner.times, inner.headspace))])
    return lump, first, nested(at.times, [lump], stretch.a_out, first, np.zeros((1, at.times.size)))


def _beyond_lump(at: Around, inner: Inner, own: Nested) -> Floats:
    """Water the march took up beyond the lump since the leg began [n, kg]: exact at the rows, straight between them."""
    rows = (inner.times > at.times[0]) & (inner.times < at.times[-1])
    known = np.concatenate([at.times[:1], inner.times[rows], at.times[-1:]])
    gained = np.interp(known, inner.times, inner.gained)
    beyond = (gained - gained[0]) - np.interp(known, at.times, own.came[0])
    return np.asarray(np.interp(at.times, known, beyond), dtype=np.float64)


def _imbalance(nodes: Sequence[Node], run: Nested, inner: Inner) -> float:
    """Water held by outermost pack, all within it counted as often as it is there, against what came in from outside."""
    rows = (inner.times >= run.times[0]) & (inner.times <= run.times[-1])
    at = np.searchsorted(run.times, inner.times[rows])
    times_held = np.cumprod([node.holds for node in reversed(nodes)])[::-1]
    whole = times_held[0] * inner.held[rows]
    for k, node in enumerate(nodes):
        number = times_held[k + 1] if k + 1 < len(nodes) else 1.0
        whole = whole + number * water_held(node, run.activity[k])[at]
    came = run.came[-1][at]
    off = np.abs((whole - whole[0]) - (came - came[0]))
    return float(off.max() / (times_held[0] * inner.held[0]))


def _with(at: Around, airs: Floats) -> Around:
    return Around(at.times, at.T, at.outside, airs)
