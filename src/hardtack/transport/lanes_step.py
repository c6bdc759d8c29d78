"""One step of many scenarios side by side, one to a lane: the scheme and the elimination of `kernel.py`, told there."""

from __future__ import annotations

import math

from hardtack.transport.lanes_flux import (
    film_flux,
    inner_fluxes,
    inner_fluxes_first,
    joint_derivatives,
    joint_fluxes,
    laws_at,
    warming_rates,
)  # fmt: skip
from hardtack.transport.lanes_rows import (
    BACK,
    BY,
    C_STAGE,
    CELL_ROWS,
    END,
    ERROR,
    FACE,
    FLUX,
    FROM_GAS,
    GOES_ON,
    GOES_OUT,
    GOOD,
    HELD,
    HELD_BEFORE,
    LATER,
    LAYER_ROWS,
    LEAVING,
    LEAVING_LATER,
    LEFT,
    ONWARDS,
    OUT,
    PIVOT,
    REST,
    ROUNDING,
    SOURCE,
    STAYS,
    TAKEN,
    TO_GAS,
    U_HELD,
    UP,
    WARMING,
    WATER,
    C,
    G,
    H,
    U,
    Z,
    compiled,
    inlined,
)  # fmt: skip
from hardtack.transport.vector import (
    anywhere,
    load,
    pick,
    size,
    spread,
    store,
)  # fmt: skip


@compiled
def _factor(inverse, frame):
    """Eliminate; before cell `closed`, the first that sees the gas space, there is nothing of that to carry along."""
    S, now, n, closed = frame[0], frame[5][3], frame[4][0], frame[4][2]
    excess = load(S, 0 * CELL_ROWS, C) * inverse
    to, by, gas = spread(0.0), spread(0.0), load(S, n * CELL_ROWS, C) * inverse
    for i in range(closed):
        onwards = load(S, i * CELL_ROWS, ONWARDS)
        pivot = 1.0 / (excess + onwards)
        up = load(S, i * CELL_ROWS, BACK) * pivot
        store(S, i * CELL_ROWS, PIVOT, pivot)
        store(S, i * CELL_ROWS, STAYS, excess * pivot)
        store(S, i * CELL_ROWS, GOES_ON, onwards * pivot)
        store(S, i * CELL_ROWS, UP, up)
        excess = load(S, (i + 1) * CELL_ROWS, C) * inverse + up * excess
    if closed < n:
        to, by = load(S, closed * CELL_ROWS, TO_GAS), load(S, closed * CELL_ROWS, FROM_GAS)
    for i in range(closed, n):
        onwards = load(S, i * CELL_ROWS, ONWARDS)
        pivot = 1.0 / (excess + onwards + to)
        up, down, stay = load(S, i * CELL_ROWS, BACK) * pivot, onwards * pivot, excess * pivot
        store(S, i * CELL_ROWS, PIVOT, pivot)
        store(S, i * CELL_ROWS, STAYS, stay)
        store(S, i * CELL_ROWS, GOES_ON, down)
        store(S, i * CELL_ROWS, GOES_OUT, to * pivot)
        store(S, i * CELL_ROWS, UP, up)
        store(S, i * CELL_ROWS, BY, by * pivot)
        gas = gas + by * stay
        excess = load(S, (i + 1) * CELL_ROWS, C) * inverse + up * excess
        to = load(S, (i + 1) * CELL_ROWS, TO_GAS) + up * to
        by = load(S, (i + 1) * CELL_ROWS, FROM_GAS) + down * by
    g = load(S, now, G)
    pivot = 1.0 / (gas + g)
    store(S, n * CELL_ROWS, PIVOT, pivot)
    store(S, n * CELL_ROWS, STAYS, gas * pivot)
    store(S, n * CELL_ROWS, GOES_OUT, g * pivot)


@compiled
def _solve(flux_row, out_row, film, into, frame):
    """Solve with the factors: Z takes the rise of activity, row `into` the water C z; returned are the film's flux, sum
    of C z."""
    S, n, closed = frame[0], frame[4][0], frame[4][2]
    source, out, gas = load(S, 0 * CELL_ROWS, SOURCE), spread(0.0), load(S, n * CELL_ROWS, SOURCE)
    for i in range(closed):
        flux = load(S, i * CELL_ROWS, flux_row)
        store(S, i * CELL_ROWS, Z, source - flux)
        source = load(S, i * CELL_ROWS, GOES_ON) * source + (
            load(S, (i + 1) * CELL_ROWS, SOURCE) + load(S, i * CELL_ROWS, STAYS) * flux
        )
    if closed < n:
        out = load(S, closed * CELL_ROWS, out_row)
    for i in range(closed, n):
        flux, stays, on, goes_out = (
            load(S, i * CELL_ROWS, flux_row), load(S, i * CELL_ROWS, STAYS), load(S, i * CELL_ROWS, GOES_ON), load(S, i * CELL_ROWS, GOES_OUT),
        )  # fmt: skip
        store(S, i * CELL_ROWS, Z, source - (flux + out))
        gas = gas + (stays * out + goes_out * source)
        source = on * source + (load(S, (i + 1) * CELL_ROWS, SOURCE) + stays * flux)
        out = on * out + (load(S, (i + 1) * CELL_ROWS, out_row) - goes_out * flux)
    film_after = film * load(S, n * CELL_ROWS, STAYS) - gas * load(S, n * CELL_ROWS, GOES_OUT)
    gas = (gas + film) * load(S, n * CELL_ROWS, PIVOT)
    total, carried = load(S, n * CELL_ROWS, C) * gas, spread(0.0)
    store(S, n * CELL_ROWS, Z, gas)
    store(S, n * CELL_ROWS, into, total)
    for i in range(n - 1, closed - 1, -1):
        carried = (
            load(S, i * CELL_ROWS, Z) * load(S, i * CELL_ROWS, PIVOT) + load(S, i * CELL_ROWS, BY) * gas
        ) + load(S, i * CELL_ROWS, UP) * carried
        gained = load(S, i * CELL_ROWS, C) * carried
        store(S, i * CELL_ROWS, Z, carried)
        store(S, i * CELL_ROWS, into, gained)
        total = total + gained
    for i in range(closed - 1, -1, -1):
        carried = (
            load(S, i * CELL_ROWS, Z) * load(S, i * CELL_ROWS, PIVOT) + load(S, i * CELL_ROWS, UP) * carried
        )
        gained = load(S, i * CELL_ROWS, C) * carried
        store(S, i * CELL_ROWS, Z, carried)
        store(S, i * CELL_ROWS, into, gained)
        total = total + gained
    return film_after, total


@compiled
def _stage(flux_row, out_row, film, inflow, gamma_h, u, frame):
    """One stage, into row u; lanes whose two accounts of the water differ are solved again for what is left over."""
    S, now, n = frame[0], frame[5][3], frame[4][0]
    through, gained = _solve(flux_row, out_row, film, u, frame)
    off = size(gained - (through + inflow) * gamma_h) > load(S, now, ROUNDING)
    if anywhere(off):
        inverse = 1.0 / gamma_h
        gas = load(S, n * CELL_ROWS, Z)
        for i in range(n):
            z = load(S, i * CELL_ROWS, Z)
            flux = load(S, i * CELL_ROWS, ONWARDS) * z - load(S, i * CELL_ROWS, BACK) * load(
                S, (i + 1) * CELL_ROWS, Z
            )
            out = load(S, i * CELL_ROWS, TO_GAS) * z - load(S, i * CELL_ROWS, FROM_GAS) * gas
            store(S, i * CELL_ROWS, FACE, load(S, i * CELL_ROWS, flux_row) + flux)
            store(S, i * CELL_ROWS, OUT, load(S, i * CELL_ROWS, out_row) + out)
        for i in range(n + 1):
            store(
                S, i * CELL_ROWS, SOURCE, load(S, i * CELL_ROWS, SOURCE) - load(S, i * CELL_ROWS, u) * inverse
            )
        again, _ = _solve(FACE, OUT, film - load(S, now, G) * gas, REST, frame)
        for i in range(n + 1):
            store(
                S, i * CELL_ROWS, u, load(S, i * CELL_ROWS, u) + pick(off, load(S, i * CELL_ROWS, REST), 0.0)
            )
        through = pick(off, again, through)
    store(S, (n + 1) * CELL_ROWS, u, (through + inflow) * gamma_h)


@compiled
def _stage_state(s, A, frame):
    """The state of stage s, into END; in which lanes no cell of it is dried out beyond rounding."""
    S, now, n = frame[0], frame[5][3], frame[4][0]
    least = spread(math.inf)
    for i in range(n + 1):
        x = load(S, i * CELL_ROWS, WATER)
        for j in range(s):
            if A[s, j] != 0.0:
                x = x + A[s, j] * load(S, i * CELL_ROWS, U + j)
        store(S, i * CELL_ROWS, END, x)
        if i < n:
            least = pick(x < least, x, least)
    return least > 0.0 - load(S, now, ROUNDING)


@inlined
def _sources(s, C_stage, per_h, frame):
    """What the stages before put into stage s's right-hand side, into SOURCE; the part in the film's flux is returned."""
    S, now, n = frame[0], frame[5][3], frame[4][0]
    inflow = spread(0.0)
    for j in range(s):
        c = C_stage[s, j] * per_h
        store(S, now, C_STAGE + j, c)
        inflow = inflow + c * load(S, (n + 1) * CELL_ROWS, U + j)
    for i in range(n + 1):
        x = spread(0.0)
        for j in range(s):
            x = x + load(S, now, C_STAGE + j) * load(S, i * CELL_ROWS, U + j)
        store(S, i * CELL_ROWS, SOURCE, x)
    return inflow


@compiled
def step_all(scheme, frame):
    """One step of every lane, from WATER to END; its error into ERROR, whether it is good into GOOD."""
    S, _, flags, _, shape, offsets = frame
    gamma, A, C_stage, m, e, alpha, gamma_sum, fresh, _, _ = scheme
    now, n = offsets[3], shape[0]
    h = load(S, now, H)
    gamma_h, per_h, warming = gamma * h, 1.0 / h, flags[WARMING] != 0
    laws_at(0.0, frame)
    inner_fluxes_first(frame)
    joint_fluxes(WATER, frame)
    joint_derivatives(frame)
    _factor(1.0 / gamma_h, frame)
    dt = 1e-4 * h
    per = 1.0 / dt
    film = film_flux(WATER, h * 0.0, frame)
    if warming:
        laws_at(1e-4, frame)
        warming_rates(dt, per, frame)
    film_rate = (film_flux(WATER, dt, frame) - film) * per
    good = h > 0.0
    for s in range(alpha.size):
        if fresh[s]:
            good = good & _stage_state(s, A, frame)
            if warming:
                laws_at(alpha[s], frame)
            inner_fluxes(END, frame)
            joint_fluxes(END, frame)
            film = film_flux(END, alpha[s] * h, frame)
        inflow = _sources(s, C_stage, per_h, frame)
        ahead, flux_row, out_row = gamma_sum[s] * h, FLUX, LEAVING
        if warming and gamma_sum[s] != 0.0:
            flux_row, out_row = FACE, OUT
            for i in range(n):
                store(
                    S,
                    i * CELL_ROWS,
                    FACE,
                    load(S, i * CELL_ROWS, FLUX) + ahead * load(S, i * CELL_ROWS, LATER),
                )
                store(
                    S,
                    i * CELL_ROWS,
                    OUT,
                    load(S, i * CELL_ROWS, LEAVING) + ahead * load(S, i * CELL_ROWS, LEAVING_LATER),
                )
        _stage(flux_row, out_row, film + ahead * film_rate, inflow, gamma_h, U + s, frame)
    _close(good, m, e, frame)


@inlined
def _close(good, m, e, frame):
    """The new state, what rounding leaves out of it, and its error; the layers' water into HELD."""
    S, _, _, structure, shape, offsets = frame
    spans, now, n = structure[0], offsets[3], shape[0]
    none = 0.0 - load(S, now, ROUNDING)
    worst, least = spread(0.0), spread(math.inf)
    for j in range(spans.shape[0]):
        wrong, holds, held = spread(0.0), spread(0.0), spread(0.0)
        for i in range(spans[j, 0], spans[j, 1]):
            after, off = _closed(i, m, e, frame)
            wrong, holds, held = wrong + size(off), holds + load(S, i * CELL_ROWS, C), held + after
            least = pick(after < least, after, least)
        good = good & (wrong >= 0.0)
        off = wrong / holds
        worst = pick(off > worst, off, worst)
        store(S, offsets[0] + j * LAYER_ROWS, HELD, held)
    for i in range(n, n + 2):
        after, _ = _closed(i, m, e, frame)
        if i == n:
            least = pick(after < least, after, least)
    good = good & (least > none)
    store(S, now, ERROR, worst)
    store(S, now, GOOD, pick(good, 1.0, 0.0))


@inlined
def _closed(i, m, e, frame):
    """A node's new water, and the error of it."""
    S = frame[0]
    before, rise, off = load(S, i * CELL_ROWS, WATER), load(S, i * CELL_ROWS, LEFT), spread(0.0)
    for s in range(m.size):
        u = load(S, i * CELL_ROWS, U + s)
        if m[s] != 0.0:
            rise = rise + m[s] * u
        if e[s] != 0.0:
            off = off + e[s] * u
    after = before + rise
    store(S, i * CELL_ROWS, END, after)
    store(S, i * CELL_ROWS, REST, rise - (after - before))
    return after, off


@compiled
def sum_stages(frame):
    """Every layer's sums of the stages' U, for outputs inside the step."""
    S, _, _, structure, _, offsets = frame
    spans = structure[0]
    for j in range(spans.shape[0]):
        for s in range(frame[4][4]):
            held = spread(0.0)
            for i in range(spans[j, 0], spans[j, 1]):
                held = held + load(S, i * CELL_ROWS, U + s)
            store(S, offsets[0] + j * LAYER_ROWS, U_HELD + s, held)


@compiled
def blend(frame):
    """Where the step is taken, its end is the new state."""
    S, _, _, structure, shape, offsets = frame
    taken = load(S, offsets[3], TAKEN) > 0.0
    for i in range(shape[0] + 2):
        store(
            S, i * CELL_ROWS, WATER, pick(taken, load(S, i * CELL_ROWS, END), load(S, i * CELL_ROWS, WATER))
        )
        store(S, i * CELL_ROWS, LEFT, pick(taken, load(S, i * CELL_ROWS, REST), load(S, i * CELL_ROWS, LEFT)))
    for j in range(structure[0].shape[0]):
        at = offsets[0] + j * LAYER_ROWS
        held = pick(taken, load(S, at, HELD), load(S, at, HELD_BEFORE))
        store(S, at, HELD_BEFORE, held)
