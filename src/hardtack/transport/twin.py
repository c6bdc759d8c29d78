"""The march of water in numpy: every scenario of a batch in one lockstep, each with its own time and step.

It checks the compiled march, which shares nothing with it but the chain and the scheme's coefficients, and it stands in for
it where numba is not installed: slower, to the same answer within the tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hardtack.states import Floats
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.rosenbrock import Scheme
from hardtack.transport.surroundings import Surroundings
from hardtack.transport.twin_step import WET, Lot, activity, centre, gas_activity, laws, lot, step, structure

DONE, TOO_MANY, STUCK = 0, 1, 2
SLIGHT, FIRST, SHORTEST, CROSSING_WIDTH = 1e-16, 10.0, 1e-9, 1.0
"""As in `kernel.py`: the share of the first water that counts as rounding, the first and the shortest step [s], the width
to which a crossing is bracketed [s]."""
SIDE_BY_SIDE = 256
"""Scenarios in one lockstep: more are taken in lots, so that memory stays bounded."""
WORTH_CLOSING_UP = 0.8

Bools = np.ndarray[Any, np.dtype[np.bool_]]


@dataclass(slots=True)
class _Group:
    """The scenarios still under way, column by column, and where each stands."""

    numbers: Ints
    rows: Lot
    film: Floats
    air_of: Ints
    state: Floats
    rounding: Floats
    t: Floats
    h: Floats
    T: Floats
    before: Floats
    U: Floats
    began: Floats
    output: Ints
    steps: Ints
    attempts: Ints
    drying: Bools
    live: Bools

    def close_up(self) -> None:
        """Leave out what is done."""
        at = np.flatnonzero(self.live)
        self.rows = self.rows.take(at)
        for name in ("numbers", "film", "air_of", "state", "rounding", "t", "h", "T", "before", "U", "began", "output", "steps", "attempts", "drying", "live"):  # fmt: skip
            setattr(self, name, getattr(self, name)[..., at])


@dataclass(frozen=True, slots=True)
class _Task:
    """What is asked; `airs` and `watches` by scenario."""

    times: Floats
    airs: Sequence[Surroundings]
    scheme: Scheme
    watches: Sequence[tuple[Any, ...]]
    stop: bool
    tolerance: float
    cap: int
    replay: Sequence[Floats] | None


@dataclass(frozen=True, slots=True)
class Lockstep:
    """What came of every scenario: code, outputs done, steps, attempts [S], and what was kept of it.

    `kept` are water and activity [S, times, cells+1], inflow and temperature [S, times]; `crossed` [S, watches] holds times.
    """

    code: Ints
    done: Ints
    steps: Ints
    attempts: Ints
    kept: tuple[Floats, Floats, Floats, Floats]
    crossed: Floats


def lockstep(
    starts: Sequence[Floats],
    times: Floats,
    chains: Sequence[Chain],
    airs: Sequence[Surroundings],
    scheme: Scheme,
    watches: Sequence[tuple[Any, ...]],
    stop: bool,
    tolerance: float,
    cap: int,
    films: Floats,
    replay: Sequence[Floats] | None = None,
) -> Lockstep:
    """March scenarios whose chains share one `structure`; the arguments are those of `march.follow`, one for each.

    `replay` holds the steps [s] to take of each, as `march.follow` records them: then there is no error control.
    """
    S, n, outputs = len(starts), starts[0].size - 1, times.size
    strict = tolerance * scheme.strictness
    task = _Task(times, _hour_by_hour(airs), scheme, watches, stop, strict, cap, replay)
    kept = (
        np.zeros((S, outputs, n + 1)),
        np.zeros((S, outputs, n + 1)),
        np.zeros((S, outputs)),
        np.zeros((S, outputs)),
    )
    code, done, steps, attempts = np.zeros((4, S), dtype=np.int64)
    got = Lockstep(code, done, steps, attempts, kept, np.full((S, len(watches[0][0])), np.nan))
    state = np.zeros((2, n + 2, S))
    state[0, :-1] = np.stack(starts, axis=-1)
    group = _Group(
        numbers=np.arange(S),
        rows=lot(chains),
        film=films,
        air_of=_unique(airs),
        state=state,
        rounding=SLIGHT * state[0, :n].sum(axis=0),
        t=np.full(S, times[0]),
        h=np.full(S, FIRST),
        T=np.zeros(S),
        before=state[0].copy(),
        U=np.zeros((scheme.m.size, n + 2, S)),
        began=np.full(S, times[0]),
        output=np.zeros(S, dtype=np.int64),
        steps=np.zeros(S, dtype=np.int64),
        attempts=np.zeros(S, dtype=np.int64),
        drying=np.zeros(S, dtype=np.bool_),
        live=np.ones(S, dtype=np.bool_),
    )
    # a trial may overflow; what is not a number is then found out and tried again with a shorter step
    with np.errstate(all="ignore"):
        group.T[:] = _project(task, group, np.zeros(S))[4]
        while group.live.any():
            _outputs(task, group, got)
            if group.live.mean() < WORTH_CLOSING_UP:
                group.close_up()
            if group.live.any():
                _advance(task, group, got)
    return got


def follow(
    start: Floats, times: Floats, chain: Chain, air: Surroundings, scheme: Scheme, watches: tuple[Any, ...], crossed: Floats,
    stop: bool, tolerance: float, kept: tuple[Any, ...], film: float, cap: int,
) -> tuple[int, int, int, int]:  # fmt: skip
    """One scenario; as `march.follow`."""
    one = lockstep([start], times, [chain], [air], scheme, [watches], stop, tolerance, cap, np.array([film]))
    for room, rows in zip(kept, one.kept, strict=True):
        room[:] = rows[0]
    crossed[:] = one.crossed[0]
    return int(one.code[0]), int(one.done[0]), int(one.steps[0]), int(one.attempts[0])


def lots(chains: Sequence[Chain], schemes: Sequence[Scheme]) -> list[Ints]:
    """Numbers of the scenarios that can be marched side by side, lot by lot."""
    alike: dict[tuple[object, ...], list[int]] = {}
    for s, (chain, scheme) in enumerate(zip(chains, schemes, strict=True)):
        alike.setdefault((*structure(chain), scheme.name), []).append(s)
    return [
        np.array(one[k : k + SIDE_BY_SIDE])
        for one in alike.values()
        for k in range(0, len(one), SIDE_BY_SIDE)
    ]


def _unique(airs: Sequence[Surroundings]) -> Ints:
    """For every scenario the first that has the same air."""
    first: dict[int, int] = {}
    return np.array([first.setdefault(id(air), s) for s, air in enumerate(airs)])


def _piece_of(edges: Floats, t: Floats) -> Ints:
    """Index of the piece of air that holds each time."""
    return np.clip(np.searchsorted(edges, t, side="right") - 1, 0, edges.size - 2).astype(np.int64)


def _upto(air: Surroundings, j: int, k: Ints, t: Floats) -> tuple[Floats, Floats]:
    """Integral of quantity j of the air from the start to t, in piece k, and of t times it."""
    dt, first = t - air.edges[k], air.left[j, k]
    rise = (air.right[j, k] - first) / (air.edges[k + 1] - air.edges[k])
    whole = (first + rise * dt / 2) * dt
    moment = air.edges[k] * whole + (first / 2 + rise * dt / 3) * dt * dt
    return air.sums[2 * j, k] + whole, air.sums[2 * j + 1, k] + moment


def _projected(air: Surroundings, film: Floats, t0: Floats, h: Floats, k0: Ints) -> Floats:
    """Mean and slope of g, of b = g a_out and of T over [t0, t0 + h] [6, S]; as `kernel._project`."""
    edges, left, right = air.edges, air.left, air.right
    t1, mid, width = t0 + h, t0 + h / 2, edges[k0 + 1] - edges[k0]
    inside = t1 <= edges[k0 + 1]
    k1 = k0 if inside.all() else _piece_of(edges, t1)
    env = np.zeros((6, t0.size))
    for j in range(2):
        rise = (right[j, k0] - left[j, k0]) * (1.0 / width)
        (before, moment_before), (after, moment) = _upto(air, j, k0, t0), _upto(air, j, k1, t1)
        mean = (after - before) / h
        steepest = 2.0 * mean / h
        slope = 12.0 * (moment - (moment_before + mid * (after - before))) / h**3
        env[2 * j] = np.where(inside, left[j, k0] + rise * (mid - edges[k0]), mean) * film
        env[2 * j + 1] = np.where(inside, rise, np.clip(slope, -steepest, steepest)) * film
    rise = (right[2, k0] - left[2, k0]) * (1.0 / width)
    T0 = left[2, k0] + (right[2, k0] - left[2, k0]) * ((t0 - edges[k0]) / width)
    T1 = left[2, k1] + (right[2, k1] - left[2, k1]) * ((t1 - edges[k1]) / (edges[k1 + 1] - edges[k1]))
    env[4] = np.where(inside, left[2, k0] + rise * (mid - edges[k0]), (T0 + T1) / 2)
    env[5] = np.where(inside, rise, (T1 - T0) / h)
    return env


def _hour_by_hour(airs: Sequence[Surroundings]) -> list[Surroundings]:
    """The airs with every piece resolved where temperature varies: the lockstep does not average over spells."""
    apart: dict[int, Surroundings] = {}
    for air in airs:
        if id(air) in apart:
            continue
        colder, warmer = np.minimum(air.left[2], air.right[2]), np.maximum(air.left[2], air.right[2])
        ends = air.ends.copy()
        for end in np.unique(air.ends):
            here = air.ends == end
            if warmer[here].max() > colder[here].min():
                ends[here] = air.edges[1:][here]
        apart[id(air)] = replace(air, ends=ends)
    return [apart[id(air)] for air in airs]


def _bounds(task: _Task, group: _Group) -> tuple[Floats, Floats]:
    """From where each stands: how long a step may be, and where it must end [S]."""
    limit, ends = np.zeros(group.t.size), np.zeros(group.t.size)
    for s in np.unique(group.air_of):
        at, air = np.flatnonzero(group.air_of == s), task.airs[s]
        k = _piece_of(air.edges, group.t[at])
        limit[at], ends[at] = air.step_limit[k], air.ends[k]
    return limit, ends


def _project(task: _Task, group: _Group, h: Floats) -> Floats:
    """The air over the next h [S]: mean and slope of g, b and T [6, S]."""
    env = np.zeros((6, h.size))
    for s in np.unique(group.air_of):
        at, air = np.flatnonzero(group.air_of == s), task.airs[s]
        env[:, at] = _projected(air, group.film[at], group.t[at], h[at], _piece_of(air.edges, group.t[at]))
    return env


def _outputs(task: _Task, group: _Group, got: Lockstep) -> None:
    """Write what is due and take the scenarios that have come to their end out of the march."""
    last = task.times.size - 1
    while (due := np.flatnonzero(group.live & (group.t >= task.times[np.minimum(group.output, last)]))).size:
        when = task.times[group.output[due]]
        rows, M = group.rows.take(due), group.state[0][:, due]
        T = group.T[due]
        if (inside := group.t[due] > when).any():
            x = (when - group.began[due]) / (group.t[due] - group.began[due])
            weights = task.scheme.continuous @ np.stack([x, x * x, x * x * x])
            M = np.where(
                inside, group.before[:, due] + (weights[:, None] * group.U[:, :, due]).sum(axis=0), M
            )
            T = np.where(inside, _temperature(task, group, due, when), T)
        _write(rows, M, T, got, (group.numbers[due], group.output[due]))
        group.output[due] += 1
        ended = group.output[due] > last
        if task.stop and got.crossed.shape[1] > 0:
            ended |= when >= got.crossed[group.numbers[due]].max(axis=1)
        _retire(group, got, due[ended], DONE)


def _temperature(task: _Task, group: _Group, columns: Ints, when: Floats) -> Floats:
    """Of the air of each of the columns at a time of its own."""
    T = np.zeros(columns.size)
    for k, (c, t) in enumerate(zip(columns, when, strict=True)):
        air = task.airs[int(group.air_of[c])]
        p = _piece_of(air.edges, np.array([t]))
        T[k] = _projected(air, np.ones(1), np.array([t]), np.zeros(1), p)[4, 0]
    return T


def _write(rows: Lot, M: Floats, T: Floats, got: Lockstep, at: tuple[Ints, Ints]) -> None:
    """One output of each of the columns."""
    n = M.shape[0] - 2
    now = laws(rows, T, centre(rows, T))
    share = np.where(M[n] > now.gas, WET, 1.0)
    a = np.vstack([activity(rows, now, M[:n] / rows.dry, rows.layer_of)[0], gas_activity(M[n], now, share)])
    water, activities, inflow, temperature = got.kept
    water[at], activities[at] = M[: n + 1].T, np.maximum(a, 0.0).T
    inflow[at], temperature[at] = M[n + 1], T


def _retire(group: _Group, got: Lockstep, at: Ints, code: int) -> None:
    numbers = group.numbers[at]
    got.code[numbers], got.done[numbers] = code, group.output[at]
    got.steps[numbers], got.attempts[numbers] = group.steps[at], group.attempts[at]
    group.live[at] = False


def _advance(task: _Task, group: _Group, got: Lockstep) -> None:
    """One attempt of every scenario under way."""
    n, live = group.state.shape[1] - 2, group.live
    limit, ends = _bounds(task, group)
    last = task.times.size - 1
    ahead = np.minimum(group.output, last) if task.scheme.continuous.size == 0 else np.full(live.size, last)
    stop_at = np.minimum(task.times[ahead], ends)
    room = np.where(live, stop_at - group.t, 1.0)  # what rests is carried along to no effect
    h = np.minimum(group.h, limit)
    h = np.where(h >= room * 0.999999, room, np.minimum(h, 0.5 * room))
    if task.replay is not None:
        given = np.array([task.replay[s][min(k, task.replay[s].size - 1)] for s, k in zip(group.numbers, group.steps, strict=True)])  # fmt: skip
        h, group.drying = np.where(live, np.abs(given), 1.0), given < 0.0
    group.attempts += live
    _retire(group, got, np.flatnonzero(live & (group.attempts > task.cap)), TOO_MANY)
    env = _project(task, group, h)
    middle = centre(group.rows, env[4])
    gas = laws(group.rows, env[4] - env[5] * h / 2, middle).gas
    M = group.state[0]
    share = np.where((M[n] > gas) & ~group.drying, WET, 1.0)
    error, end, filled, U = step(group.rows, task.scheme, group.state, h, env, middle, share, group.rounding)
    ratio, good = error / task.tolerance, ~np.isnan(error)
    ratio[~good] = 0.0
    grow = np.clip(0.9 * np.maximum(ratio, 1e-12) ** (-1.0 / task.scheme.order), 0.2, 6.0)
    # all that lies on the film goes within this step: stop when it has, or, if it is little, step as if it were in the air
    held = M[n] / gas
    emptied = good & (share < 1.0) & (filled < 0.5)
    good &= (share < 1.0) | (filled < 1.05)
    taken = live & ~emptied & good & (ratio <= 1.0)
    if task.replay is not None:
        taken = live.copy()
    again = live & ~emptied & ~taken
    shorter = h * np.where(good, grow, 0.25)
    group.drying = np.where(emptied & ~taken, held < 2.0, False) & live
    longer = np.where(h >= 0.999 * group.h, h * grow, np.maximum(group.h, h * grow))
    group.h = np.where(taken, longer, np.where(again, shorter, np.where(held < 2.0, h, h * (held - 1.0) / (held - filled))))  # fmt: skip
    if task.replay is None:
        _retire(group, got, np.flatnonzero(again & (group.h < SHORTEST)), STUCK)
        taken &= group.live
    _crossings(task, group, got, np.flatnonzero(taken), h, end, (middle, share))
    if task.scheme.continuous.size:
        group.before, group.U = np.where(taken, group.state[0], group.before), np.where(taken, U, group.U)
        group.began = np.where(taken, group.t, group.began)
    group.state = np.where(taken, end, group.state)
    group.t = np.where(taken, np.where(h == room, stop_at, group.t + h), group.t)
    group.T = np.where(taken, env[4] + env[5] * h / 2, group.T)
    group.steps += taken


def _crossings(
    task: _Task, group: _Group, got: Lockstep, taken: Ints, h: Floats, end: Floats, still: tuple[Ints, Floats]
) -> None:
    """Where a watch has met its limit within the step, the moment."""
    for k in range(got.crossed.shape[1]):
        for c in taken:
            s = int(group.numbers[c])
            if not np.isnan(got.crossed[s, k]):
                continue
            watch = tuple(part[k] for part in task.watches[s])
            dry = group.rows.dry[:, c]
            below, above = _beyond(watch, dry, group.state[0, :, c]), _beyond(watch, dry, end[0, :, c])
            if below >= 0.0:
                got.crossed[s, k] = group.t[c]
            elif above >= 0.0:
                got.crossed[s, k] = group.t[c] + _located(
                    task, group, int(c), h[c], (below, above), watch, still
                )


def _beyond(watch: tuple[Any, ...], dry: Floats, M: Floats) -> float:
    """How far the mean moisture of the watched cells lies beyond the limit in the watched direction."""
    first, last, X, rising = watch
    over = float(M[first:last].sum() / dry[first:last].sum() - X)
    return over if rising else -over


def _located(
    task: _Task, group: _Group, c: int, h: float, beyond: tuple[float, float], watch: tuple[Any, ...], still: tuple[Ints, Floats]
) -> float:  # fmt: skip
    """Time into the step at which scenario c crosses, stepped again from its start: false position, as the kernel's."""
    one = np.array([c])
    rows, air, (middle, share) = group.rows.take(one), task.airs[int(group.air_of[c])], still
    (below, above), low, high, kept = beyond, 0.0, h, 0
    t = group.t[one]
    while high - low > CROSSING_WIDTH:
        x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
        x = min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)
        env = _projected(air, group.film[one], t, np.array([x]), _piece_of(air.edges, t))
        error, end, _, _ = step(rows, task.scheme, group.state[:, :, one], np.array([x]), env, middle[one], share[one], group.rounding[one])  # fmt: skip
        y = _beyond(watch, rows.dry[:, 0], end[0, :, 0])
        if np.isnan(error[0]) or y >= 0.0:
            high, above, below, kept = x, y, below / 2 if kept == 1 else below, 1
        else:
            low, below, above, kept = x, y, above / 2 if kept == 2 else above, 2
    return high
