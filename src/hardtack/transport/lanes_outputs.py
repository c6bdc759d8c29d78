"""What the lanes give out: means of layers one lane at a time, water and activity of every cell for all lanes that are due."""

from __future__ import annotations

from hardtack.transport.lanes_flux import (
    centre_on,
    cubic,
    laws_of,
    weigh_curves,
)  # fmt: skip
from hardtack.transport.lanes_rows import (
    BEGAN,
    CELL_ROWS,
    DRY_INVERSE,
    DUE,
    END,
    GAS,
    HELD,
    HELD_BEFORE,
    HELD_FIRST,
    INSIDE,
    LAYER_ROWS,
    NUMBER,
    PAST,
    SHARE,
    SOLIDS,
    T_SLOPE,
    TIME,
    U_HELD,
    WATER,
    WHOLE,
    T,
    U,
    Z,
    compiled,
    inlined,
)  # fmt: skip
from hardtack.transport.vector import (
    WIDTH,
    load,
    pick,
    store,
)  # fmt: skip


@inlined
def _output(lane, o, t, results, frame):
    """Write output o, at t, of what is not told cell by cell: of the step's end, or within the step where that lies beyond."""
    S, _, _, structure, shape, offsets = frame
    _, imbalance, _, _, _, moisture, headspace, inflow, temperature, _, _ = results
    n, now, s = shape[0], offsets[3], frame[1][NUMBER, lane]
    T_out, inside = (
        S[now + T, lane] + S[now + T_SLOPE, lane] * (t - S[now + BEGAN, lane]),
        t < S[now + TIME, lane],
    )
    centre_on(lane, T_out, frame)
    laws_of(lane, T_out, frame)
    whole = 0.0
    for j in range(structure[0].shape[0]):
        at = offsets[0] + j * LAYER_ROWS
        held = S[at + HELD, lane]
        if inside:
            held = S[at + HELD_BEFORE, lane]
            for u in range(shape[4]):
                held += S[now + SHARE + u, lane] * S[at + U_HELD + u, lane]
        whole += held
        if moisture.shape[0] > 0:
            moisture[s, o, j] = held / S[at + SOLIDS, lane]
    gas, came = _water_of(lane, n, inside, frame), _water_of(lane, n + 1, inside, frame)
    wrong = abs(whole + gas - S[now + WHOLE, lane] - came) / S[now + HELD_FIRST, lane]
    if not wrong <= imbalance[s] and imbalance[s] == imbalance[s]:
        imbalance[s] = wrong
    if headspace.shape[0] > 0:
        headspace[s, o] = max(gas / S[now + GAS, lane], 0.0)
    if inflow.shape[0] > 0:
        inflow[s, o] = came
    if temperature.shape[0] > 0:
        temperature[s, o] = T_out


@inlined
def _water_of(lane, i, inside, frame):
    """Water of node i at the step's end, or within it."""
    S, i_row, now = frame[0], i * CELL_ROWS, frame[5][3]
    if not inside:
        return S[i_row + END, lane]
    held = S[i_row + WATER, lane]
    for u in range(frame[4][4]):
        held += S[now + SHARE + u, lane] * S[i_row + U + u, lane]
    return held


@compiled
def write_outputs(times, continuous, results, frame):
    """Write what is due of all lanes, one output of each at a time."""
    S, counts, _, _, _, offsets = frame
    now, profile = offsets[3], results[9].shape[0] > 0 or results[10].shape[0] > 0
    more = True
    while more:
        more = False
        for lane in range(WIDTH):
            o = counts[DUE, lane]
            if o >= counts[PAST, lane]:
                continue
            more = True
            x = (times[o] - S[now + BEGAN, lane]) / (S[now + TIME, lane] - S[now + BEGAN, lane])
            for u in range(continuous.shape[0]):
                S[now + SHARE + u, lane] = x * (
                    continuous[u, 0] + x * (continuous[u, 1] + x * continuous[u, 2])
                )
            S[now + INSIDE, lane] = 1.0 if times[o] < S[now + TIME, lane] else 0.0
            _output(lane, o, times[o], results, frame)
        if more and profile:
            _profiles(results[9], results[10], frame)
        for lane in range(WIDTH):
            counts[DUE, lane] += 1


@compiled
def _profiles(activity, water, frame):
    """Of every cell: water and activity."""
    S, _, _, structure, shape, offsets = frame
    n, now, stages = shape[0], offsets[3], shape[4]
    inside = load(S, now, INSIDE) > 0.0
    for i in range(n + 1):
        held = load(S, i * CELL_ROWS, END)
        if stages > 0:
            within = load(S, i * CELL_ROWS, WATER)
            for u in range(stages):
                within = within + load(S, now, SHARE + u) * load(S, i * CELL_ROWS, U + u)
            held = pick(inside, within, held)
        store(S, i * CELL_ROWS, Z, held)
    if water.shape[0] > 0:
        _scatter(water, frame)
    if activity.shape[0] == 0:
        return
    weigh_curves(frame)
    for j in range(structure[0].shape[0]):
        for i in range(structure[0][j, 0], structure[0][j, 1]):
            X = load(S, i * CELL_ROWS, Z) * load(S, i * CELL_ROWS, DRY_INVERSE)
            _, _, y, c0, c1, c2, c3 = cubic(X, j, frame)
            a = c0 + y * (c1 + y * (c2 + y * c3))
            store(S, i * CELL_ROWS, Z, pick(a > 0.0, a, 0.0))
    a = load(S, n * CELL_ROWS, Z) / load(S, now, GAS)
    store(S, n * CELL_ROWS, Z, pick(a > 0.0, a, 0.0))
    _scatter(activity, frame)


@compiled
def _scatter(rows, frame):
    """Of every cell and the gas space, from scratch by cells to rows by scenarios, of the lanes that are due."""
    S, counts, n = frame[0], frame[1], frame[4][0]
    for i in range(n + 1):
        for lane in range(WIDTH):
            if counts[DUE, lane] < counts[PAST, lane]:
                rows[counts[NUMBER, lane], counts[DUE, lane], i] = S[i * CELL_ROWS + Z, lane]
