"""Laws, activities and fluxes of many scenarios side by side, one to a lane.

The laws and their bounds are those of `kernel.py`, told there. What works on lanes is `vector.py`'s type; what is worked
out for one lane alone (the laws of its temperature) are plain numbers. `frame` is told in `lanes_rows.py`.
"""

from __future__ import annotations

import math

from hardtack.transport.kernel import (
    FLATTEST,
    LEAST,
    STEEPEST,
    _psat,
)  # fmt: skip
from hardtack.transport.lanes_rows import (
    B_SLOPE,
    BACK,
    BARRIER_ROWS,
    BETWEEN,
    BY_FIRST,
    BY_SECOND,
    CELL_ROWS,
    CENTRE,
    COLDER,
    COUNTS,
    CURVE,
    DELTA,
    DRY,
    DRY_INVERSE,
    E_ACT,
    E_BARRIER,
    FACE,
    FLUX,
    FROM_GAS,
    G_SLOPE,
    GAS,
    HALF_1,
    HALF_2,
    INTERVALS,
    JOINT_ROWS,
    LATER,
    LAYER_ROWS,
    LEAVING,
    LEAVING_LATER,
    LEVEL,
    LN2_HIGH,
    LN2_LOW,
    LOG2_E,
    MOBILITY,
    MOST,
    ONWARDS,
    OUT,
    R_BARRIER,
    SHIELD,
    SHIFT,
    SLOPE,
    SLOPE_INVERSE,
    SOLID,
    SOLID_REF,
    T_BARRIER,
    T_FIRST,
    T_NOW,
    T_REF,
    T_SLOPE,
    T_SPACING,
    TO_GAS,
    VAPOUR,
    VOLUME,
    WARMER,
    WATER,
    WITHIN,
    X_HALF,
    X_REF,
    B,
    C,
    G,
    H,
    T,
    compiled,
    inlined,
)  # fmt: skip
from hardtack.transport.vector import (
    WIDTH,
    load,
    pick,
    quartets,
    spread,
    store,
    times_power_of_two,
    whole,
)  # fmt: skip
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER


@inlined
def exponential(x):
    """e^x to its last bit or two, by a power of two and a series; below -700 as there."""
    x = pick(x < -700.0, -700.0, x)
    shifted = x * LOG2_E + SHIFT
    k = shifted - SHIFT
    r = x - k * LN2_HIGH - k * LN2_LOW
    p = r * (1.0 / 6227020800.0) + 1.0 / 479001600.0
    p = r * (r * p + 1.0 / 39916800.0) + 1.0 / 3628800.0
    p = r * (r * p + 1.0 / 362880.0) + 1.0 / 40320.0
    p = r * (r * p + 1.0 / 5040.0) + 1.0 / 720.0
    p = r * (r * p + 1.0 / 120.0) + 1.0 / 24.0
    p = r * (r * p + 1.0 / 6.0) + 0.5
    return times_power_of_two(r * (r * p + 1.0) + 1.0, shifted)


@compiled
def cubic(X, j, frame):
    """Of the activity in layer j at X: du/dX, q, the place y in the interval, and the four coefficients."""
    S, counts, flags, _, shape, offsets = frame
    layer, now, top = offsets[0] + j * LAYER_ROWS, offsets[3], shape[1]
    row = COUNTS + 3 * j
    x_half, intervals = load(S, layer, X_HALF), load(S, layer, INTERVALS)
    q = 1.0 / (X + x_half)
    u = X * q * intervals
    k = pick(u > 0.0, u, 0.0)  # nor is it ever no number
    k = whole(pick(k < top, k, top))  # the last interval is the straight continuation
    c0, c1, c2, c3 = quartets(counts, row + 1, k)
    if flags[BETWEEN] != 0:
        w0, w1, w2 = load(S, now, COLDER), load(S, now, LEVEL), load(S, now, WARMER)
        a0, a1, a2, a3 = quartets(counts, row, k)
        b0, b1, b2, b3 = quartets(counts, row + 2, k)
        c0, c1 = w0 * a0 + w1 * c0 + w2 * b0, w0 * a1 + w1 * c1 + w2 * b1
        c2, c3 = w0 * a2 + w1 * c2 + w2 * b2, w0 * a3 + w1 * c3 + w2 * b3
    return intervals * x_half * q * q, q, u - k, c0, c1, c2, c3


@inlined
def _slope(y, c1, c2, c3):
    """da/du, never below the flattest."""
    slope = c1 + y * (2.0 * c2 + 3.0 * y * c3)
    return pick(slope > FLATTEST, slope, FLATTEST)


@inlined
def _solid(X, j, plain, S, layer):
    """Mobility rho D and rho integral of D dX."""
    solid = load(S, layer, SOLID)
    if plain:
        return solid, solid * X
    e = load(S, layer, SLOPE) * (X - load(S, layer, X_REF))
    beyond = e - load(S, layer, MOST)
    beyond = pick(beyond > 0.0, beyond, 0.0)
    mobility = solid * exponential(e - beyond)
    return mobility, mobility * (1.0 + beyond) * load(S, layer, SLOPE_INVERSE)


@compiled
def laws_of(lane, T_now, frame):
    """Fill what depends on a lane's temperature only, unless it stands for T already."""
    S, counts, _, structure, _, offsets = frame
    now = offsets[3]
    if S[now + T_NOW, lane] == T_now:
        return
    psat = _psat(T_now)
    S[now + T_NOW, lane] = T_now
    x = (T_now - S[now + T_FIRST, lane]) / S[now + T_SPACING, lane] - counts[CENTRE, lane]
    S[now + GAS, lane] = S[now + VOLUME, lane] * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T_now)
    S[now + COLDER, lane], S[now + LEVEL, lane], S[now + WARMER, lane] = (
        x * (x - 1.0) / 2, 1.0 - x * x, x * (x + 1.0) / 2,
    )  # fmt: skip
    for j in range(structure[0].shape[0]):
        at = offsets[0] + j * LAYER_ROWS
        heat = S[at + E_ACT, lane] / GAS_CONSTANT * (1.0 / T_now - 1.0 / S[at + T_REF, lane])
        S[at + SOLID, lane] = S[at + SOLID_REF, lane] * math.exp(-heat)
        S[at + VAPOUR, lane] = S[at + DELTA, lane] * psat
    for k in range(structure[1].shape[0]):
        S[offsets[1] + k * JOINT_ROWS + SHIELD, lane] = 0.0
    for b in range(structure[2].shape[0]):
        at, joint = offsets[2] + b * BARRIER_ROWS, structure[2][b]
        heat = S[at + E_BARRIER, lane] / GAS_CONSTANT * (1.0 / T_now - 1.0 / S[at + T_BARRIER, lane])
        S[offsets[1] + joint * JOINT_ROWS + SHIELD, lane] += S[at + R_BARRIER, lane] / psat * math.exp(heat)


@compiled
def centre_on(lane, T_now, frame):
    """Set which three of a lane's curves stand around T."""
    S, counts, _, structure, shape, offsets = frame
    now, last, nodes = offsets[3], shape[3] - 1, shape[1] + 1
    k = (
        min(max(round((T_now - S[now + T_FIRST, lane]) / S[now + T_SPACING, lane]), 1), last - 1)
        if last > 0
        else 0
    )
    if counts[CENTRE, lane] == k:
        return
    counts[CENTRE, lane], S[now + T_NOW, lane] = k, math.nan
    for j in range(structure[0].shape[0]):
        row, first = COUNTS + 3 * j, counts[CURVE, lane]
        for side in range(3):
            which = min(max(k - 1 + side, 0), last)
            counts[row + side, lane] = first + 32 * nodes * (j * (last + 1) + which)


@inlined
def weigh_curves(frame):
    """Whether any lane stands between the temperatures of the curves."""
    S, _, flags, _, _, offsets = frame
    now = offsets[3]
    flags[BETWEEN] = 0
    for lane in range(WIDTH):
        if S[now + COLDER, lane] != 0.0 or S[now + WARMER, lane] != 0.0:
            flags[BETWEEN] = 1


@compiled
def laws_at(share, frame):
    """Every lane's laws at this share of its step."""
    S, _, _, _, _, offsets = frame
    for lane in range(WIDTH):
        now = offsets[3]
        ahead = share * S[now + H, lane]
        laws_of(lane, S[now + T, lane] + S[now + T_SLOPE, lane] * ahead, frame)
    weigh_curves(frame)


@compiled
def _end(i, j, row, frame):
    """Beside a joint, in cell i of layer j: a, 1/kappa, -d(1/kappa)/da."""
    S, layer = frame[0], frame[5][0] + j * LAYER_ROWS
    X, mobility = (
        load(S, i * CELL_ROWS, row) * load(S, i * CELL_ROWS, DRY_INVERSE),
        load(S, i * CELL_ROWS, MOBILITY),
    )
    u_X, q, y, c0, c1, c2, c3 = cubic(X, j, frame)
    a_u = _slope(y, c1, c2, c3)
    a_uu = pick(a_u > FLATTEST, 2.0 * c2 + 6.0 * y * c3, 0.0)
    rise = 1.0 / (a_u * u_X)
    slope = load(S, layer, SLOPE)
    slope = pick(slope * (X - load(S, layer, X_REF)) < load(S, layer, MOST), slope, 0.0)
    steepens = (2.0 * q * a_u - a_uu * u_X) * u_X * rise
    bounded = pick(rise < STEEPEST, rise, STEEPEST)
    steepens = pick(bounded < rise, 0.0, steepens)
    hindrance = 1.0 / (mobility * bounded + load(S, layer, VAPOUR))
    a = c0 + y * (c1 + y * (c2 + y * c3))
    return a, hindrance, mobility * (slope + steepens) * rise * bounded * hindrance * hindrance


@compiled
def inner_fluxes(row, frame):
    """The fluxes from cell to cell of the state in `row`, and every cell's mobility."""
    S, _, _, structure, _, offsets = frame
    spans, plain, pores = structure[0], structure[3], structure[4]
    for j in range(spans.shape[0]):
        layer, first, last = offsets[0] + j * LAYER_ROWS, spans[j, 0], spans[j, 1]
        before = spread(0.0)
        for i in range(first, last):
            X = load(S, i * CELL_ROWS, row) * load(S, i * CELL_ROWS, DRY_INVERSE)
            mobility, potential = _solid(X, j, plain[j], S, layer)
            if pores[j]:
                _, _, y, c0, c1, c2, c3 = cubic(X, j, frame)
                potential = potential + load(S, layer, VAPOUR) * (c0 + y * (c1 + y * (c2 + y * c3)))
            store(S, i * CELL_ROWS, MOBILITY, mobility)
            if i > first:
                store(
                    S, (i - 1) * CELL_ROWS, FLUX, (before - potential) * load(S, (i - 1) * CELL_ROWS, WITHIN)
                )
            before = potential
        store(S, (last - 1) * CELL_ROWS, FLUX, 0.0)


@compiled
def inner_fluxes_first(frame):
    """The same at the start of a step, with C and the derivatives of these fluxes, ONWARDS and BACK."""
    S, _, _, structure, _, offsets = frame
    spans, plain, pores = structure[0], structure[3], structure[4]
    for j in range(spans.shape[0]):
        layer, first, last = offsets[0] + j * LAYER_ROWS, spans[j, 0], spans[j, 1]
        before, kappa_before = spread(0.0), spread(0.0)
        for i in range(first, last):
            X = load(S, i * CELL_ROWS, WATER) * load(S, i * CELL_ROWS, DRY_INVERSE)
            mobility, potential = _solid(X, j, plain[j], S, layer)
            u_X, _, y, c0, c1, c2, c3 = cubic(X, j, frame)
            rise = 1.0 / (_slope(y, c1, c2, c3) * u_X)
            kappa = mobility * rise
            if pores[j]:
                vapour = load(S, layer, VAPOUR)
                kappa = kappa + vapour
                potential = potential + vapour * (c0 + y * (c1 + y * (c2 + y * c3)))
            store(S, i * CELL_ROWS, MOBILITY, mobility)
            store(S, i * CELL_ROWS, C, load(S, i * CELL_ROWS, DRY) * rise)
            if i > first:
                within = load(S, (i - 1) * CELL_ROWS, WITHIN)
                store(S, (i - 1) * CELL_ROWS, FLUX, (before - potential) * within)
                store(S, (i - 1) * CELL_ROWS, ONWARDS, kappa_before * within)
                store(S, (i - 1) * CELL_ROWS, BACK, kappa * within)
            before, kappa_before = potential, kappa
        for other in (FLUX, ONWARDS, BACK):
            store(S, (last - 1) * CELL_ROWS, other, 0.0)


@compiled
def joint_fluxes(row, frame):
    """The fluxes through the joints and their derivatives."""
    S, _, _, structure, shape, offsets = frame
    nodes, n = structure[1], shape[0]
    for k in range(nodes.shape[0]):
        if nodes[k, 2] == n:
            store(S, nodes[k, 0] * CELL_ROWS, LEAVING, 0.0)
    for k in range(nodes.shape[0]):
        joint, i1, j1, i2, j2 = (
            offsets[1] + k * JOINT_ROWS,
            nodes[k, 0],
            nodes[k, 1],
            nodes[k, 2],
            nodes[k, 3],
        )
        a1, hindrance1, falls1 = _end(i1, j1, row, frame)
        half1, half2 = load(S, joint, HALF_1), load(S, joint, HALF_2)
        resistance = half1 * hindrance1 + load(S, joint, SHIELD)
        if i2 == n:
            ease = 1.0 / resistance
            through = (a1 - load(S, n * CELL_ROWS, row) / load(S, offsets[3], GAS)) * ease
            store(S, joint, BY_SECOND, ease)
            store(S, i1 * CELL_ROWS, LEAVING, load(S, i1 * CELL_ROWS, LEAVING) + through)
        else:
            a2, hindrance2, falls2 = _end(i2, j2, row, frame)
            ease = 1.0 / (resistance + half2 * hindrance2)
            through = (a1 - a2) * ease
            falls = 1.0 - through * half2 * falls2
            store(S, joint, BY_SECOND, ease * pick(falls > LEAST, falls, LEAST))
            store(S, i1 * CELL_ROWS, FLUX, through)
        grows = 1.0 + through * half1 * falls1
        store(S, joint, BY_FIRST, ease * pick(grows > LEAST, grows, LEAST))


@compiled
def joint_derivatives(frame):
    """The joints' part of the matrix; that of the cells is there."""
    S, _, _, structure, shape, offsets = frame
    nodes, n = structure[1], shape[0]
    for k in range(nodes.shape[0]):
        if nodes[k, 2] == n:
            store(S, nodes[k, 0] * CELL_ROWS, TO_GAS, 0.0)
            store(S, nodes[k, 0] * CELL_ROWS, FROM_GAS, 0.0)
    for k in range(nodes.shape[0]):
        i, joint = nodes[k, 0], offsets[1] + k * JOINT_ROWS
        by_first, by_second = load(S, joint, BY_FIRST), load(S, joint, BY_SECOND)
        if nodes[k, 2] == n:
            store(S, i * CELL_ROWS, TO_GAS, load(S, i * CELL_ROWS, TO_GAS) + by_first)
            store(S, i * CELL_ROWS, FROM_GAS, load(S, i * CELL_ROWS, FROM_GAS) + by_second)
        else:
            store(S, i * CELL_ROWS, ONWARDS, by_first)
            store(S, i * CELL_ROWS, BACK, by_second)
    store(S, n * CELL_ROWS, C, load(S, offsets[3], GAS))


@inlined
def film_flux(row, t, frame):
    """What comes in through the film t [s] into the step."""
    S, now, n = frame[0], frame[5][3], frame[4][0]
    g = load(S, now, G) + load(S, now, G_SLOPE) * t
    b = load(S, now, B) + load(S, now, B_SLOPE) * t
    return b - g * (load(S, n * CELL_ROWS, row) / load(S, now, GAS))


@compiled
def warming_rates(dt, per, frame):
    """How the fluxes change with the lanes' temperatures, into LATER; the state's own are kept."""
    S, n = frame[0], frame[4][0]
    for i in range(n):
        store(S, i * CELL_ROWS, FACE, load(S, i * CELL_ROWS, FLUX))
        store(S, i * CELL_ROWS, OUT, load(S, i * CELL_ROWS, LEAVING))
    inner_fluxes(WATER, frame)
    joint_fluxes(WATER, frame)
    for i in range(n):
        flux, leaving = load(S, i * CELL_ROWS, FACE), load(S, i * CELL_ROWS, OUT)
        store(S, i * CELL_ROWS, LATER, (load(S, i * CELL_ROWS, FLUX) - flux) * per)
        store(S, i * CELL_ROWS, LEAVING_LATER, (load(S, i * CELL_ROWS, LEAVING) - leaving) * per)
        store(S, i * CELL_ROWS, FLUX, flux)
        store(S, i * CELL_ROWS, LEAVING, leaving)
