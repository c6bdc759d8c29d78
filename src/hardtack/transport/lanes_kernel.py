"""The march of water for many scenarios side by side: one to a lane, each with its own time and step, and the next of the
queue as soon as one has ended.

The scheme, the laws and the bounds are those of `kernel.py`, told there. What works on lanes is `vector.py`'s type; what
is worked out for one lane alone (its air, its temperature's laws, whether its step is taken) are plain numbers. Scratch
is one array, by cell, then by row, then by lane. Where a scenario meets what is not told here (water on the film, a step
become tiny), it is given up as HANDED_OVER, for the scalar march to follow from its start.

What it is made of stands in several files, while numba's cache watches this one alone: so the texts of the others are
part of the compiled function's key.
"""

from __future__ import annotations

import hashlib
import math
from pathlib import Path

from numba import njit

from hardtack.transport import kernel, lanes_flux, lanes_outputs, lanes_rows, lanes_step, vector
from hardtack.transport.kernel import (
    CROSSING_WIDTH,
    FIRST,
    SHORTEST,
    SLIGHT,
    _piece_of,
    _project,
)  # fmt: skip
from hardtack.transport.lanes_flux import (
    centre_on,
    laws_of,
)  # fmt: skip
from hardtack.transport.lanes_outputs import write_outputs
from hardtack.transport.lanes_rows import (
    ABOVE,
    AGAIN,
    AIMED,
    ATTEMPTS,
    B_SLOPE,
    BARRIER_ROWS,
    BEGAN,
    BELOW,
    CELL_ROWS,
    CENTRE,
    COUNTS,
    CURVE,
    DELTA,
    DONE,
    DRY,
    DRY_INVERSE,
    DUE,
    E_ACT,
    END,
    ENDED,
    ERROR,
    FILM,
    G_SLOPE,
    GAS,
    GOOD,
    HALF_1,
    HALF_2,
    HANDED_OVER,
    HELD,
    HELD_BEFORE,
    HELD_FIRST,
    HIGH,
    IDLE,
    INTERVALS,
    JOINT_ROWS,
    KEPT_TWICE,
    LAYER_ROWS,
    LEFT,
    LOW,
    MOST,
    NEXT,
    NUMBER,
    OPTIONS,
    OUTPUT,
    PAST,
    PIECE,
    ROOM,
    ROUNDING,
    SCENARIO,
    SLOPE,
    SLOPE_INVERSE,
    SOLID_REF,
    SOLIDS,
    STEPS,
    STOP_AT,
    T_FIRST,
    T_NOW,
    T_REF,
    T_SLOPE,
    T_SPACING,
    TAKEN,
    TIME,
    VOLUME,
    WARMING,
    WATCH,
    WATER,
    WHOLE,
    WITHIN,
    X_HALF,
    X_REF,
    B,
    G,
    H,
    T,
    compiled,
    inlined,
)  # fmt: skip
from hardtack.transport.lanes_step import (
    blend,
    step_all,
    sum_stages,
)  # fmt: skip
from hardtack.transport.vector import (
    WIDTH,
    table,
)  # fmt: skip
from hardtack.water import air as air_laws

# What is called for every lane at every step is put into its caller: each of the arrays in `frame`, `queue` and `results`
# would be handed over as seven numbers or more.


@inlined
def _air(which, airs):
    """An air as `kernel.py` has it, from where its arrays lie."""
    p = airs[which, 6]
    return (
        table(airs[which, 0], 1, p + 1)[0],
        table(airs[which, 1], 3, p),
        table(airs[which, 2], 3, p),
        table(airs[which, 3], 6, p + 1),
        table(airs[which, 4], 1, p)[0],
        table(airs[which, 5], 1, p)[0],
    )


@compiled
def _enter(lane, q, begins, queue, frame):
    """Put scenario q of the queue into a lane."""
    S, counts, _, structure, shape, offsets = frame
    start, dry, within, constants, halves, barriers, numbers, curve, _, _ = queue
    n, now = shape[0], offsets[3]
    for i in range(n + 2):
        S[i * CELL_ROWS + WATER, lane] = start[q, i] if i <= n else 0.0
        S[i * CELL_ROWS + END, lane] = S[i * CELL_ROWS + WATER, lane]
        S[i * CELL_ROWS + LEFT, lane] = 0.0
    for i in range(n):
        (
            S[i * CELL_ROWS + DRY, lane],
            S[i * CELL_ROWS + DRY_INVERSE, lane],
            S[i * CELL_ROWS + WITHIN, lane],
        ) = dry[q, i], 1.0 / dry[q, i], within[q, i]
    whole = 0.0
    for j in range(structure[0].shape[0]):
        at, row, held, solids = offsets[0] + j * LAYER_ROWS, constants[q, j], 0.0, 0.0
        S[at + SOLID_REF, lane], S[at + DELTA, lane] = row[0] * row[1], row[6]
        S[at + SLOPE, lane], S[at + X_REF, lane], S[at + T_REF, lane], S[at + E_ACT, lane] = (
            row[2],
            row[3],
            row[4],
            row[5],
        )
        S[at + X_HALF, lane], S[at + INTERVALS, lane], S[at + MOST, lane] = row[7], row[8], row[9]
        S[at + SLOPE_INVERSE, lane] = 1.0 / row[2] if row[2] != 0.0 else 0.0
        for i in range(structure[0][j, 0], structure[0][j, 1]):
            held += start[q, i]
            solids += dry[q, i]
        S[at + HELD, lane], S[at + HELD_BEFORE, lane], S[at + SOLIDS, lane] = held, held, solids
        whole += held
    for k in range(structure[1].shape[0]):
        at = offsets[1] + k * JOINT_ROWS
        S[at + HALF_1, lane], S[at + HALF_2, lane] = halves[q, k, 0], halves[q, k, 1]
    for b in range(structure[2].shape[0]):
        for c in range(3):
            S[offsets[2] + b * BARRIER_ROWS + c, lane] = barriers[q, b, c]
    S[now + VOLUME, lane], S[now + T_FIRST, lane] = numbers[q, 0], numbers[q, 1]
    S[now + T_SPACING, lane], S[now + FILM, lane] = numbers[q, 2], numbers[q, 3]
    S[now + ROUNDING, lane], S[now + HELD_FIRST, lane], S[now + WHOLE, lane] = (
        SLIGHT * whole,
        whole,
        whole + start[q, n],
    )
    S[now + T_NOW, lane], S[now + TIME, lane], S[now + BEGAN, lane], S[now + NEXT, lane] = (
        math.nan,
        begins,
        begins,
        FIRST,
    )
    for count in range(COUNTS):
        counts[count, lane] = 0
    counts[SCENARIO, lane], counts[CURVE, lane] = q, curve[q]
    counts[CENTRE, lane] = counts[WATCH, lane] = -1


@inlined
def _aim(lane, times, queue, airs, cap, given, env, frame):
    """Choose a lane's next step and its air; whether it can be taken here."""
    S, counts, flags, _, shape, offsets = frame
    now, q, n = offsets[3], counts[SCENARIO, lane], shape[0]
    if q < 0:
        S[now + H, lane], S[now + T_SLOPE, lane] = FIRST, 0.0
        return True
    air, t, o = _air(queue[8][q], airs), S[now + TIME, lane], counts[OUTPUT, lane]
    piece = _piece_of(air[0], t, counts[PIECE, lane])
    stop_at = min(times[times.size - 1 if shape[4] > 0 else o], air[5][piece])
    room = stop_at - t
    step = min(S[now + NEXT, lane], air[4][piece])
    step = room if step >= room * 0.999999 else min(step, 0.5 * room)
    if counts[STEPS, lane] < given.shape[1]:
        step = given[q, counts[STEPS, lane]]
    if counts[WATCH, lane] >= 0:
        step = _trial(S, lane, now)
    elif counts[AGAIN, lane] == 0:
        counts[ATTEMPTS, lane] += 1
    counts[AGAIN, lane], counts[PIECE, lane] = 0, piece
    S[now + STOP_AT, lane], S[now + ROOM, lane], S[now + H, lane] = stop_at, room, step
    _project(air, S[now + FILM, lane], t, step, piece, env)
    S[now + G, lane], S[now + G_SLOPE, lane] = env[0] - env[1] * step / 2, env[1]
    S[now + B, lane], S[now + B_SLOPE, lane] = env[2] - env[3] * step / 2, env[3]
    S[now + T, lane], S[now + T_SLOPE, lane] = env[4] - env[5] * step / 2, env[5]
    if env[5] != 0.0:
        flags[WARMING] = 1
    centre_on(lane, env[4], frame)
    laws_of(lane, S[now + T, lane], frame)
    return S[n * CELL_ROWS + WATER, lane] <= S[now + GAS, lane] and counts[ATTEMPTS, lane] <= cap


@inlined
def _trial(S, lane, now):
    """Where to look next for a crossing: by false position."""
    low, high, below, above = (
        S[now + LOW, lane],
        S[now + HIGH, lane],
        S[now + BELOW, lane],
        S[now + ABOVE, lane],
    )
    x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
    return min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)


@inlined
def _beyond(lane, k, row, watches, queue, frame):
    """How far a lane's watched layer lies beyond its limit, at the start or the end of the step."""
    S, counts, offsets = frame[0], frame[1], frame[5]
    at = offsets[0] + watches[0][k] * LAYER_ROWS
    over = S[at + row, lane] / S[at + SOLIDS, lane] - queue[9][counts[SCENARIO, lane], k]
    return over if watches[1][k] else -over


@compiled
def _narrow(lane, watches, queue, crossed, frame):
    """What a trial step says of where the watch is met; an end kept twice weighs half (Illinois)."""
    S, counts, offsets = frame[0], frame[1], frame[5]
    now, k, kept = offsets[3], counts[WATCH, lane], counts[KEPT_TWICE, lane]
    y = _beyond(lane, k, HELD, watches, queue, frame)
    if S[now + GOOD, lane] == 0.0 or y >= 0.0:
        S[now + HIGH, lane], S[now + ABOVE, lane] = S[now + H, lane], y
        if kept == 1:
            S[now + BELOW, lane] /= 2
        counts[KEPT_TWICE, lane] = 1
    else:
        S[now + LOW, lane], S[now + BELOW, lane] = S[now + H, lane], y
        if kept == 2:
            S[now + ABOVE, lane] /= 2
        counts[KEPT_TWICE, lane] = 2
    if S[now + HIGH, lane] - S[now + LOW, lane] <= CROSSING_WIDTH:
        crossed[k] = S[now + TIME, lane] + S[now + HIGH, lane]
        counts[WATCH, lane], counts[AGAIN, lane] = -1, 1


@compiled
def _met(lane, watches, queue, crossed, frame):
    """Whether the step now done goes through a limit: then it is tried shorter, and taken again after."""
    S, counts, offsets = frame[0], frame[1], frame[5]
    now = offsets[3]
    for k in range(crossed.size):
        if not math.isnan(crossed[k]):
            continue
        below, above = (
            _beyond(lane, k, HELD_BEFORE, watches, queue, frame),
            _beyond(lane, k, HELD, watches, queue, frame),
        )
        if below >= 0.0:
            crossed[k] = S[now + TIME, lane]
        elif above >= 0.0 and S[now + H, lane] <= CROSSING_WIDTH:
            crossed[k] = S[now + TIME, lane] + S[now + H, lane]
        elif above >= 0.0:
            counts[WATCH, lane], counts[KEPT_TWICE, lane] = k, 0
            S[now + LOW, lane], S[now + HIGH, lane] = 0.0, S[now + H, lane]
            S[now + BELOW, lane], S[now + ABOVE, lane] = below, above
            return True
    return False


@inlined
def _retire(lane, code, results, number, frame):
    """A lane's scenario is at its end."""
    counts, s = frame[1], number[frame[1][SCENARIO, lane]]
    results[2][s], results[3][s], results[4][s] = counts[STEPS, lane], counts[ATTEMPTS, lane], code
    counts[SCENARIO, lane] = ENDED


@inlined
def _judge(lane, times, scheme, watches, queue, stop, tolerance, given, results, number, frame):
    """After a step: whether a lane takes it; what comes next; outputs that are due."""
    S, counts, _, _, shape, offsets = frame
    now, n, q = offsets[3], shape[0], counts[SCENARIO, lane]
    if q < 0:
        return False
    crossed, step, free = results[0][number[q]], S[now + H, lane], given.shape[1] == 0
    if counts[WATCH, lane] >= 0:
        _narrow(lane, watches, queue, crossed, frame)
        return False
    ratio = S[now + ERROR, lane] / tolerance
    good = S[now + GOOD, lane] != 0.0 and S[n * CELL_ROWS + END, lane] / S[now + GAS, lane] < 1.05
    grow = 6.0 if ratio < 1e-6 else min(6.0, max(0.2, 0.9 * ratio ** (-1.0 / scheme[8])))
    if (not good or ratio > 1.0) and free:
        S[now + NEXT, lane] = step * (grow if good else 0.25)
        if S[now + NEXT, lane] < SHORTEST:
            _retire(lane, HANDED_OVER, results, number, frame)
        return False
    if _met(lane, watches, queue, crossed, frame):
        return False
    t, o = S[now + TIME, lane], counts[OUTPUT, lane]
    ends = S[now + STOP_AT, lane] if step == S[now + ROOM, lane] else t + step
    counts[STEPS, lane] += 1
    counts[NUMBER, lane], counts[DUE, lane], S[now + BEGAN, lane] = number[q], o, t
    over = False
    while not over and o < times.size and times[o] <= ends:
        o += 1
        over = o == times.size or (stop and crossed.size > 0 and times[o - 1] >= _latest(crossed))
    counts[PAST, lane] = o
    if over:
        _retire(lane, DONE, results, number, frame)
    counts[OUTPUT, lane], S[now + TIME, lane] = o, ends
    longest = S[now + NEXT, lane]
    S[now + NEXT, lane] = step * grow if step >= 0.999 * longest else max(longest, step * grow)
    return True


@inlined
def _latest(crossed):
    """The last of the crossings; NaN while one is to come."""
    latest = 0.0
    for k in range(crossed.size):
        latest = crossed[k] if not crossed[k] <= latest else latest
    return latest + 0.0 * crossed.sum()


@compiled
def _refill(lane, q, times, queue, airs, env, results, number, frame):
    """Put the next scenario into a lane, its first output due; how many are taken of the queue."""
    S, counts, now = frame[0], frame[1], frame[5][3]
    if q >= number.size:
        counts[SCENARIO, lane] = IDLE
        return q
    _enter(lane, q, times[0], queue, frame)
    air = _air(queue[8][q], airs)
    counts[PIECE, lane] = _piece_of(air[0], times[0], 0)
    _project(air, 1.0, times[0], 0.0, counts[PIECE, lane], env)
    S[now + T, lane], S[now + T_SLOPE, lane] = env[4], 0.0
    counts[NUMBER, lane], counts[DUE, lane], counts[PAST, lane], counts[OUTPUT, lane] = number[q], 0, 1, 1
    results[1][number[q]] = 0.0
    if times.size == 1:
        _retire(lane, DONE, results, number, frame)
    return q + 1


@compiled
def _ready(taken, times, scheme, queue, airs, cap, given, env, results, number, frame):
    """Fill the lanes that are free and aim the next step of all: how many are taken of the queue, and whether any is left."""
    counts, flags, ready, live = frame[1], frame[2], False, False
    flags[WARMING] = 0
    while not ready:
        entered, ready = False, True
        for lane in range(WIDTH):
            if counts[SCENARIO, lane] == ENDED:
                entered, taken = True, _refill(lane, taken, times, queue, airs, env, results, number, frame)
        if entered:
            write_outputs(times, scheme[9], results, frame)
        for lane in range(WIDTH):
            if counts[SCENARIO, lane] != ENDED and counts[AIMED, lane] == 0:
                counts[AIMED, lane] = _aim(lane, times, queue, airs, cap, given, env, frame)
                if counts[AIMED, lane] == 0:
                    _retire(lane, HANDED_OVER, results, number, frame)
            ready = ready and counts[SCENARIO, lane] != ENDED
            live = live or counts[SCENARIO, lane] >= 0
    return taken, live


def _stamp():
    """Of the texts that the compiled march is made of beside this one."""
    texts = [
        Path(module.__file__).read_bytes()
        for module in (vector, kernel, lanes_rows, lanes_flux, lanes_step, lanes_outputs, air_laws)
    ]
    return hashlib.sha256(b"".join(texts)).hexdigest()


def _march(stamp):
    """The march, compiled anew where what it is made of has changed: numba keeps apart what is closed over."""

    @njit(cache=True, nogil=True, **OPTIONS)
    def march_lanes(
        S,
        counts,
        flags,
        structure,
        shape,
        offsets,
        times,
        scheme,
        airs,
        queue,
        number,
        watches,
        stop,
        tolerance,
        cap,
        given,
        env,
        results,
    ):
        """March the queue's scenarios. The arguments are told in `lanes.py`."""
        made_of = stamp  # noqa: F841
        frame = (S, counts, flags, structure, shape, offsets)
        taken_of_queue, now, inside = 0, offsets[3], scheme[9].shape[0] > 0
        for lane in range(WIDTH):
            _enter(
                lane, taken_of_queue, times[0], queue, frame
            )  # what may idle must have something to work on
            S[now + T, lane] = S[now + T_FIRST, lane]
            centre_on(lane, S[now + T, lane], frame)
            counts[SCENARIO, lane], counts[AIMED, lane] = ENDED, 0
        while True:
            taken_of_queue, live = _ready(
                taken_of_queue, times, scheme, queue, airs, cap, given, env, results, number, frame
            )
            if not live:
                return
            step_all(scheme, frame)
            if inside:
                sum_stages(frame)
            for lane in range(WIDTH):
                took = _judge(
                    lane, times, scheme, watches, queue, stop, tolerance, given, results, number, frame
                )
                S[now + TAKEN, lane], counts[AIMED, lane] = 1.0 if took else 0.0, 0
            write_outputs(times, scheme[9], results, frame)
            blend(frame)

    return march_lanes


march_lanes = _march(_stamp())
