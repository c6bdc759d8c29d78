"""Outer packs in series, each with its own air and the water its board stores.

One outer pack is a node between what is around it and the packs it holds:

    d/dt (V rho_sat(T) a + m_board X_board(a)) = g_out (a_around - a) + N g_in (a_within - a)

with g_out its film and the air it changes, N the packs it holds, g_in what each of them lets through. Steps are
implicit and conserve water exactly: what is stored is what came in less what was handed on. Several outer packs are
gone through from the outside to the inside, over and over until their airs agree.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.pack.film import permeance_between
from hardtack.pack.leaks import exchange_conductance
from hardtack.states import Floats, OuterPack
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import moisture

HOUR = 3600.0
FEWEST, MOST = 96, 1500
"""A leg is cut into hours, and into so many steps at least; in steady air into so many at most."""
SWEEPS = 40
AGREED = 1e-10
"""Activity to which the airs of several outer packs must agree from sweep to sweep."""
ROOM = 296.15
_A = np.linspace(0.0, 1.0, 201)


@dataclass(frozen=True, slots=True)
class OuterAir:
    """Air in the outer packs over `times` [s, n]: `activity` [outer packs, n], innermost first.

    `stored`, `came_in` and `handed_on` [outer packs, kg] are the changes over the leg, for one of each:
    stored = came in - handed on, to round-off.
    """

    times: Floats
    activity: Floats
    stored: Floats
    came_in: Floats
    handed_on: Floats


def leg_times(start: float, end: float, *, steady: bool = False) -> Floats:
    """The steps of a leg [s]."""
    n = max(FEWEST, math.ceil((end - start) / HOUR - 1e-9))
    if steady:
        n = min(n, MOST)
    return np.linspace(start, end, n + 1)


def outer_conductance(outer: OuterPack, T: Floats, a_in: Floats, a_out: Floats) -> Floats:
    """Water into one outer pack per unit activity difference [kg/s]: film and exchanged air."""
    air = np.asarray(exchange_conductance(outer.air, outer.air_changes, T), dtype=np.float64)
    if outer.film is None:
        return air
    return air + outer.area * permeance_between(outer.film, T, a_in, a_out) * saturation_pressure(T)


def outer_air(
    outers: Sequence[OuterPack],
    times: Floats,
    T: Floats,
    a_around: Floats,
    g_pack: Floats,
    a_pack: Floats,
    start: Sequence[float],
) -> OuterAir:
    """Air in each outer pack over a leg, from the activities `start`.

    `T` [K], the outside activity `a_around`, the pack's conductance `g_pack` [kg/s] and headspace activity `a_pack`
    are given at `times` [s].
    """
    n = len(outers)
    airs = np.stack([np.full(times.size, a) for a in start])
    stored, came_in, handed = np.zeros(n), np.zeros(n), np.zeros(n)
    for _ in range(SWEEPS):
        before = airs.copy()
        for k in reversed(range(n)):
            around = airs[k + 1] if k + 1 < n else a_around
            within = airs[k - 1] if k > 0 else a_pack
            g_out = outer_conductance(outers[k], T, airs[k], around)
            g_in = outer_conductance(outers[k - 1], T, within, airs[k]) if k > 0 else g_pack
            airs[k], came_in[k], handed[k], stored[k] = _follow(
                outers[k], times, T, g_out, around, outers[k].holds * g_in, within, start[k]
            )
        if float(np.max(np.abs(airs - before))) < AGREED:
            break
    return OuterAir(times, airs, stored, came_in, handed)


def _follow(
    outer: OuterPack,
    times: Floats,
    T: Floats,
    g_out: Floats,
    around: Floats,
    g_in: Floats,
    within: Floats,
    start: float,
) -> tuple[Floats, float, float, float]:
    """One outer pack: its air, and what came in, was handed on and is stored [kg]."""
    board = np.zeros_like(_A)
    if outer.isotherm is not None and outer.board > 0.0:
        board = outer.board * np.asarray(moisture(outer.isotherm, np.clip(_A, 0.005, 0.995), ROOM))
        board[0] = 0.0
    room = outer.air * np.asarray(vapour_density(saturation_pressure(T), T), dtype=np.float64)
    air = np.empty_like(times)
    air[0] = start
    held = first = float(np.interp(start, _A, board) + room[0] * start)
    came_in = handed = 0.0
    step = _A[1]
    for k in range(1, times.size):
        h = float(times[k] - times[k - 1])
        go, gi = h * float(g_out[k]), h * float(g_in[k])
        want = held + go * float(around[k]) + gi * float(within[k])
        # held(a) + (go + gi) a is straight between the points of the board's table, and rises
        stiff = float(room[k]) + go + gi
        j = int(np.searchsorted(board + stiff * _A, want, side="right")) - 1
        j = min(max(j, 0), _A.size - 2)
        low = float(board[j]) + stiff * float(_A[j])
        rise = (float(board[j + 1]) - float(board[j])) / step + stiff
        a = float(_A[j]) + (want - low) / rise
        into, on = go * (float(around[k]) - a), gi * (a - float(within[k]))
        air[k] = a
        held += into - on
        came_in += into
        handed += on
    return air, came_in, handed, held - first
