"""The compiled march of water: one conservative state, potentials in closed form, no Newton iteration.

State M [kg] of every cell, then the gas space (node n), then the water let in since the start (node n+1).
Potentials (activities) follow from the state by table. One step solves, per stage, (C / (gamma h) + L) z = rhs
in potential space, C = dM/da, L = minus the flux Jacobian: tridiagonal along the cells and bordered by the gas
space. State increments are C z, so sums of state telescope and the water balance closes to round-off.

All functions here take plain arrays; `march.py` gives them names and units. The arrays travel in bundles:

    row    = dry mass, its inverse, layer of each cell, spans, constants, within, joint nodes, halves,
             barrier joints, barriers, gas volume
    tables = curves, first temperature, temperature spacing
    laws   = what depends on temperature only; filled by `_laws` (see there)
    air    = the surroundings' edges, left, right, sums
    scheme = gamma, A, C, m, e, alpha, gamma_sum, fresh
    matrix = the step's matrix and, after `_factor`, its factors (see there)
    work   = scratch rows, one node a column

Everything compiled lives in this file: numba's cache watches the file of the function that is called, and would
miss a change in another. Only `march_kernel` is called from outside, so only it is cached.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure

# columns of the layers' constants, and of the barriers
RHO, D_REF, SLOPE, X_REF, T_REF, E_ACT, DELTA, X_HALF, INTERVALS = range(9)
R_BARRIER, T_BARRIER, E_BARRIER = range(3)
# result codes
DONE, TOO_MANY, STUCK = 0, 1, 2
FLATTEST = 1e-8
"""Least rise of activity over an interval of the curves. Free water has none at all, and where it is free at one
temperature but not yet at the next, interpolation may even fall a little; capacity must stay finite."""
FIRST = 10.0
"""The first step tried [s]; the error control takes it from there."""
SHORTEST = 1e-9
"""A step [s] below which the march gives up."""
CROSSING_WIDTH = 1.0
"""Width [s] to which a crossing is bracketed."""

_compiled = njit(error_model="numpy", _nrt=False, fastmath={"contract"})
_psat = _compiled(saturation_pressure)


@_compiled
def _piece_of(edges, t, hint):
    """Index of the piece of surroundings that holds time t, searched from a hint."""
    last = edges.size - 2
    k = hint
    while k < last and t >= edges[k + 1]:
        k += 1
    while k > 0 and t < edges[k]:
        k -= 1
    return k


@_compiled
def _part(edges, left, right, k, t0, t1, mid):
    """Integral of a linear piece over [t0, t1], and its first moment about mid."""
    rise = (right[k] - left[k]) / (edges[k + 1] - edges[k])
    v0 = left[k] + rise * (t0 - edges[k])
    v1 = left[k] + rise * (t1 - edges[k])
    dt = t1 - t0
    whole = (v0 + v1) / 2 * dt
    return whole, whole * ((t0 + t1) / 2 - mid) + (v1 - v0) * dt * dt / 12


@_compiled
def _project(air, t0, h, k0, env):
    """Linear functions for [t0, t0 + h], t0 in piece k0: env = mean g, slope g, mean b, slope b, mean T, slope T."""
    edges, left, right, sums = air
    t1 = t0 + h
    mid = t0 + h / 2
    if t1 <= edges[k0 + 1]:
        # inside one piece: exact as it stands
        per_width = 1.0 / (edges[k0 + 1] - edges[k0])
        for j in range(3):
            rise = (right[j, k0] - left[j, k0]) * per_width
            env[2 * j] = left[j, k0] + rise * (mid - edges[k0])
            env[2 * j + 1] = rise
        return
    k1 = _piece_of(edges, t1, k0)
    for j in range(3):
        s0, s1 = _part(edges, left[j], right[j], k0, t0, edges[k0 + 1], mid)
        e0, e1 = _part(edges, left[j], right[j], k1, edges[k1], t1, mid)
        # whole pieces between, from the prefix sums
        between = sums[2 * j, k1] - sums[2 * j, k0 + 1]
        moment = sums[2 * j + 1, k1] - sums[2 * j + 1, k0 + 1] - mid * between
        mean = (s0 + e0 + between) / h
        # conductances and inflows stay positive over the step, whatever spikes they hold
        steepest = 2.0 * mean / h if j < 2 else 0.0
        env[2 * j] = mean
        env[2 * j + 1] = min(max(12.0 * (s1 + e1 + moment) / h**3, -steepest), steepest)


@_compiled
def _centre_row(T, tables):
    """Which of the tables' temperatures lies at the middle of the three to interpolate among."""
    curves, T0, dT = tables
    if curves.shape[1] < 3:
        return 0
    return min(max(round((T - T0) / dT), 1), curves.shape[1] - 2)


@_compiled
def _laws(T, kT, row, tables, laws):
    """Fill what depends on temperature only, unless it already stands for T and the curves around row kT.

    laws = known (T, kT, psat, gas capacity), weights of the curves kT-1, kT, kT+1 (Lagrange), and per layer
    rho D(T) and delta psat, and per joint the barriers' resistance to activity differences [1/(kg/s)].
    """
    known, weights, solid, vapour, shield = laws
    if known[0] == T and known[1] == kT:
        return
    constants, barrier_joint, barriers, volume = row[4], row[8], row[9], row[10]
    psat = _psat(T)
    known[0], known[1], known[2] = T, kT, psat
    known[3] = volume * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
    x = (T - tables[1]) / tables[2] - kT if tables[0].shape[1] > 1 else 0.0
    weights[0], weights[1], weights[2] = x * (x - 1.0) / 2, 1.0 - x * x, x * (x + 1.0) / 2
    for j in range(constants.shape[0]):
        heat = constants[j, E_ACT] / GAS_CONSTANT * (1.0 / T - 1.0 / constants[j, T_REF])
        solid[j] = constants[j, RHO] * constants[j, D_REF] * math.exp(-heat)
        vapour[j] = constants[j, DELTA] * psat
    for k in range(shield.size):
        shield[k] = 0.0
    for b in range(barrier_joint.size):
        heat = barriers[b, E_BARRIER] / GAS_CONSTANT * (1.0 / T - 1.0 / barriers[b, T_BARRIER])
        shield[barrier_joint[b]] += barriers[b, R_BARRIER] / psat * math.exp(heat)


@_compiled
def _around(curves, j, kT):
    """The three curves of layer j to interpolate among; thrice the same where the journey is isothermal."""
    last = curves.shape[1] - 1
    return curves[j, max(kT - 1, 0)], curves[j, kT], curves[j, min(kT + 1, last)]


@_compiled
def _activity(X, x_half, intervals, colder, level, warmer, w0, w1, w2):
    """a, da/dX and d2a/dX2 at moisture X from the curves in s = X / (X + X_half)."""
    q = 1.0 / (X + x_half)
    u = X * q * intervals
    k = min(int(u), level.shape[0] - 1)  # the last interval is the straight continuation
    y = u - k
    c0 = w0 * colder[k, 0] + w1 * level[k, 0] + w2 * warmer[k, 0]
    c1 = w0 * colder[k, 1] + w1 * level[k, 1] + w2 * warmer[k, 1]
    c2 = w0 * colder[k, 2] + w1 * level[k, 2] + w2 * warmer[k, 2]
    c3 = w0 * colder[k, 3] + w1 * level[k, 3] + w2 * warmer[k, 3]
    u_X = intervals * x_half * q * q
    a_u = max(c1 + y * (2.0 * c2 + 3.0 * y * c3), FLATTEST)
    a_uu = 2.0 * c2 + 6.0 * y * c3 if a_u > FLATTEST else 0.0
    return c0 + y * (c1 + y * (c2 + y * c3)), a_u * u_X, (a_uu * u_X - 2.0 * q * a_u) * u_X


@_compiled
def _activities(M, kT, row, tables, laws, a):
    """Activity of every cell and of the gas space."""
    dry_inverse, spans, constants = row[1], row[3], row[4]
    w0, w1, w2 = laws[1][0], laws[1][1], laws[1][2]
    for j in range(spans.shape[0]):
        x_half, intervals = constants[j, X_HALF], constants[j, INTERVALS]
        colder, level, warmer = _around(tables[0], j, kT)
        for i in range(spans[j, 0], spans[j, 1]):
            X = M[i] * dry_inverse[i]
            a[i] = _activity(X, x_half, intervals, colder, level, warmer, w0, w1, w2)[0]
    n = dry_inverse.size
    a[n] = M[n] / laws[0][3]


@_compiled
def _end(M, i, kT, row, tables, laws, mobility):
    """At a node that meets a joint: activity, permeability kappa = rho D dX/da + delta psat, dkappa/da."""
    dry_inverse, layer_of, constants = row[1], row[2], row[4]
    if i == layer_of.size:
        return M[i] / laws[0][3], 1.0, 0.0  # the gas space sets no resistance of its own
    j = layer_of[i]
    colder, level, warmer = _around(tables[0], j, kT)
    a, da, dda = _activity(
        M[i] * dry_inverse[i], constants[j, X_HALF], constants[j, INTERVALS], colder, level, warmer,
        laws[1][0], laws[1][1], laws[1][2],
    )  # fmt: skip
    rise = 1.0 / da
    bend = (constants[j, SLOPE] - dda * rise) * rise * rise
    return a, mobility[i] * rise + laws[3][j], mobility[i] * bend


@_compiled
def _fluxes(M, kT, row, tables, laws, K, mobility, F, F_joint):
    """Water from each cell to the next of its layer, F[i+1], and through each joint [kg/s]; and rho D(X).

    Within a layer the potential is K = integral of kappa da = rho integral of D dX + delta psat a, so the
    flux between centres is exact for any D(X), and activity is asked for only where vapour moves.
    """
    dry_inverse, spans, constants, within, nodes, halves = row[1], row[3], row[4], row[5], row[6], row[7]
    weights, solid, vapour, shield = laws[1], laws[2], laws[3], laws[4]
    for j in range(spans.shape[0]):
        slope, x_ref = constants[j, SLOPE], constants[j, X_REF]
        if slope == 0.0:
            for i in range(spans[j, 0], spans[j, 1]):
                mobility[i] = solid[j]
                K[i] = solid[j] * (M[i] * dry_inverse[i])
        else:
            for i in range(spans[j, 0], spans[j, 1]):
                mobility[i] = solid[j] * math.exp(slope * (M[i] * dry_inverse[i] - x_ref))
                K[i] = mobility[i] / slope
        if vapour[j] > 0.0:
            x_half, intervals = constants[j, X_HALF], constants[j, INTERVALS]
            colder, level, warmer = _around(tables[0], j, kT)
            w0, w1, w2 = weights[0], weights[1], weights[2]
            for i in range(spans[j, 0], spans[j, 1]):
                X = M[i] * dry_inverse[i]
                K[i] += vapour[j] * _activity(X, x_half, intervals, colder, level, warmer, w0, w1, w2)[0]
    n = within.size
    F[0] = 0.0
    for i in range(n - 1):
        F[i + 1] = (K[i] - K[i + 1]) * within[i]
    F[n] = 0.0
    for k in range(nodes.shape[0]):
        a1, kappa1, _ = _end(M, nodes[k, 0], kT, row, tables, laws, mobility)
        a2, kappa2, _ = _end(M, nodes[k, 1], kT, row, tables, laws, mobility)
        F_joint[k] = (a1 - a2) / (halves[k, 0] / kappa1 + halves[k, 1] / kappa2 + shield[k])


@_compiled
def _gather(F, F_joint, nodes, film, f):
    """Net inflow f of every node from the fluxes; what leaves one node enters another to the last bit."""
    n = f.size - 2
    for i in range(n):
        f[i] = F[i] - F[i + 1]
    f[n] = film
    f[n + 1] = film
    for k in range(nodes.shape[0]):
        f[nodes[k, 0]] -= F_joint[k]
        f[nodes[k, 1]] += F_joint[k]


@_compiled
def _jacobian(M, g, inv, kT, row, tables, laws, mobility, kappa, matrix):
    """The matrix C/(gamma h) + L, inv = 1/(gamma h), at the state whose `mobility` `_fluxes` has left.

    matrix = C, store (C inv, and the film's g for the gas space), and the derivatives of the fluxes: onwards
    (from cell i to i+1, by a_i), back (the same by a_i+1), to_gas and from_gas; the last row is for the pivots.
    """
    dry_mass, dry_inverse, spans, constants, within = row[0], row[1], row[3], row[4], row[5]
    nodes, halves, shield = row[6], row[7], laws[4]
    C, store, onwards, back, to_gas, from_gas = (
        matrix[0], matrix[1], matrix[2], matrix[3], matrix[4], matrix[5],
    )  # fmt: skip
    w0, w1, w2 = laws[1][0], laws[1][1], laws[1][2]
    n = within.size
    for j in range(spans.shape[0]):
        x_half, intervals, vapour = constants[j, X_HALF], constants[j, INTERVALS], laws[3][j]
        colder, level, warmer = _around(tables[0], j, kT)
        for i in range(spans[j, 0], spans[j, 1]):
            X = M[i] * dry_inverse[i]
            rise = 1.0 / _activity(X, x_half, intervals, colder, level, warmer, w0, w1, w2)[1]
            C[i] = dry_mass[i] * rise
            kappa[i] = mobility[i] * rise + vapour
    C[n] = laws[0][3]
    for i in range(n + 1):
        store[i] = C[i] * inv
    store[n] += g
    for i in range(n - 1):
        onwards[i] = kappa[i] * within[i]
        back[i] = kappa[i + 1] * within[i]
    onwards[n - 1] = 0.0
    back[n - 1] = 0.0
    for i in range(n):
        to_gas[i] = 0.0
        from_gas[i] = 0.0
    for k in range(nodes.shape[0]):
        first, second = nodes[k, 0], nodes[k, 1]
        a1, kappa1, kappa1_a = _end(M, first, kT, row, tables, laws, mobility)
        a2, kappa2, kappa2_a = _end(M, second, kT, row, tables, laws, mobility)
        G = 1.0 / (halves[k, 0] / kappa1 + halves[k, 1] / kappa2 + shield[k])
        bend = (a1 - a2) * G * G
        by_first = G + bend * halves[k, 0] * kappa1_a / (kappa1 * kappa1)
        by_second = G - bend * halves[k, 1] * kappa2_a / (kappa2 * kappa2)
        if second == n:
            to_gas[first] += by_first
            from_gas[first] += by_second
        else:
            onwards[first] = by_first
            back[first] = by_second


@_compiled
def _factor(matrix):
    """Eliminate along the cells, the gas space last; without pivoting and without a subtraction.

    Every column of the matrix sums to its store: what leaves a node enters another. Carrying that excess, not
    the diagonal, keeps each pivot exact to round-off however far conductances exceed store (the idea of
    Grassmann, Taksar & Heyman 1985, Operations Research 33:1107, for the generator of a Markov chain).
    On return: pivot = 1/diagonal; onwards, to_gas the multipliers of the forward sweep; back, from_gas those
    of the backward sweep; store[n] = 1/diagonal of the gas space.
    """
    store, onwards, back, to_gas, from_gas, pivot = (
        matrix[1], matrix[2], matrix[3], matrix[4], matrix[5], matrix[6],
    )  # fmt: skip
    n = pivot.size - 2
    excess, to, by = store[0], to_gas[0], from_gas[0]
    gas = store[n]
    for i in range(n):
        inverse = 1.0 / (excess + onwards[i] + to)
        up = back[i] * inverse
        down = onwards[i] * inverse
        pivot[i] = inverse
        onwards[i] = down
        back[i] = up
        to_gas[i] = to * inverse
        from_gas[i] = by * inverse
        gas += by * (excess * inverse)
        excess = store[i + 1] + up * excess
        to, by = to_gas[i + 1] + up * to, from_gas[i + 1] + down * by
    store[n] = 1.0 / gas


@_compiled
def _solve(matrix, z):
    """Solve with the factors; z holds the right-hand side and is overwritten by the solution."""
    store, onwards, back, to_gas, from_gas, pivot = (
        matrix[1], matrix[2], matrix[3], matrix[4], matrix[5], matrix[6],
    )  # fmt: skip
    n = pivot.size - 2
    carried = z[0]
    gas = z[n] + to_gas[0] * carried
    for i in range(1, n):
        carried = z[i] + onwards[i - 1] * carried
        z[i] = carried
        gas += to_gas[i] * carried
    gas *= store[n]
    z[n] = gas
    for i in range(n):
        z[i] = z[i] * pivot[i] + from_gas[i] * gas
    carried = z[n - 1]
    for i in range(n - 2, -1, -1):
        carried = z[i] + back[i] * carried
        z[i] = carried


@_compiled
def _add(n, c, x, y):
    """y += c x, first n entries."""
    for i in range(n):
        y[i] += c * x[i]


@_compiled
def _stepper(M, total, h, env, kT, row, tables, laws, scheme, matrix, U, work, joint_work, out):
    """One step of length h from M, written to `out`.

    Returns the error in activity, the round-off [kg] mended, and whether the step is good.
    """
    gamma, A, C_stage, m, e, alpha, gamma_sum, fresh = scheme
    nodes, spans, C = row[6], row[3], matrix[0]
    K, mobility, F, F_t, f, f_t, z, stage = (
        work[0], work[1], work[2], work[3], work[4], work[5], work[6], work[7],
    )  # fmt: skip
    F_joint, F_joint_t = joint_work[0], joint_work[1]
    n = C.size - 2
    g_slope, b_slope, T_slope = env[1], env[3], env[5]
    g0, b0, T0 = env[0] - g_slope * h / 2, env[2] - b_slope * h / 2, env[4] - T_slope * h / 2
    _laws(T0, kT, row, tables, laws)
    _fluxes(M, kT, row, tables, laws, K, mobility, F, F_joint)
    film = b0 - g0 * M[n] / laws[0][3]
    _gather(F, F_joint, nodes, film, f)
    _jacobian(M, g0, 1.0 / (gamma * h), kT, row, tables, laws, mobility, K, matrix)
    _factor(matrix)
    moving = g_slope != 0.0 or b_slope != 0.0 or T_slope != 0.0
    if moving:
        # df/dt at fixed state: each flux is differenced along the projected climate, then gathered
        dt = 1e-4 * h
        if T_slope != 0.0:
            _laws(T0 + T_slope * dt, kT, row, tables, laws)
            _fluxes(M, kT, row, tables, laws, K, mobility, F_t, F_joint_t)
            for i in range(n + 1):
                F_t[i] = (F_t[i] - F[i]) / dt
            for k in range(nodes.shape[0]):
                F_joint_t[k] = (F_joint_t[k] - F_joint[k]) / dt
        else:
            for i in range(n + 1):
                F_t[i] = 0.0
            for k in range(nodes.shape[0]):
                F_joint_t[k] = 0.0
        film_later = b0 + b_slope * dt - (g0 + g_slope * dt) * M[n] / laws[0][3]
        _gather(F_t, F_joint_t, nodes, (film_later - film) / dt, f_t)
    for s in range(alpha.size):
        if fresh[s]:
            for i in range(n + 1):
                stage[i] = M[i]
            for j in range(s):
                if A[s, j] != 0.0:
                    _add(n + 1, A[s, j], U[j], stage)
            least = stage[0]
            for i in range(n):
                least = min(least, stage[i])
            # the gas space is linear in its water, so a stage may overshoot below zero there
            if not least > 0.0:
                return 0.0, 0.0, False
            t = alpha[s] * h
            _laws(T0 + T_slope * t, kT, row, tables, laws)
            _fluxes(stage, kT, row, tables, laws, K, mobility, F, F_joint)
            film = b0 + b_slope * t - (g0 + g_slope * t) * stage[n] / laws[0][3]
            _gather(F, F_joint, nodes, film, f)
        for i in range(n + 2):
            z[i] = f[i]
        for j in range(s):
            _add(n + 2, C_stage[s, j] / h, U[j], z)
        if moving and gamma_sum[s] != 0.0:
            _add(n + 2, gamma_sum[s] * h, f_t, z)
        _solve(matrix, z)
        for i in range(n + 1):
            U[s, i] = C[i] * z[i]
        U[s, n + 1] = (z[n + 1] - g0 * z[n]) * (gamma * h)
    return _close(M, total, U, m, e, C, spans, z, out)


@_compiled
def _close(M, total, U, m, e, C, spans, error, out):
    """The new state, its error and its round-off.

    The error is judged layer by layer, as activity: a thin cell counts by the water it holds. Where
    conductances are huge, the water they pass to and fro within a step is, too, and its rounding shows in the
    balance; so the cells take up, in proportion, what is missing to `total` (all water less the inflow, which
    no step changes).
    """
    n = M.size - 2
    for i in range(n + 2):
        out[i] = M[i]
        error[i] = 0.0
    for s in range(m.size):
        if m[s] != 0.0:
            _add(n + 2, m[s], U[s], out)
        if e[s] != 0.0:
            _add(n, e[s], U[s], error)
    water, least, worst = 0.0, out[n], 0.0
    for j in range(spans.shape[0]):
        wrong, holds = 0.0, 0.0
        for i in range(spans[j, 0], spans[j, 1]):
            wrong += abs(error[i])
            holds += C[i]
            water += out[i]
            least = min(least, out[i])
        if not wrong >= 0.0:
            return 0.0, 0.0, False
        worst = max(worst, wrong / holds)
    missing = total + out[n + 1] - out[n] - water
    if abs(missing) < 1e-3 * water:  # cells dried to nothing hold less than the rounding of what they held
        for i in range(n):
            out[i] *= 1.0 + missing / water
    return worst, abs(missing), least > 0.0


@_compiled
def _beyond(M, dry_mass, first, last, X, up):
    """How far the mean moisture of cells first..last lies beyond X in the watched direction."""
    water, dry = 0.0, 0.0
    for i in range(first, last):
        water += M[i]
        dry += dry_mass[i]
    return water / dry - X if up else X - water / dry


@_compiled
def _start_gas(M, kT, T, row, tables, laws, a):
    """Water of the gas space at the mean activity of the cells that see it, or of all where none does."""
    n = a.size - 1
    M[n] = 0.0
    _laws(T, kT, row, tables, laws)
    _activities(M, kT, row, tables, laws, a)
    total, count = 0.0, 0
    for k in range(row[6].shape[0]):
        if row[6][k, 1] == n:
            total += a[row[6][k, 0]]
            count += 1
    if count == 0:
        for i in range(n):
            total += a[i]
        count = n
    M[n] = laws[0][3] * total / count


@njit(cache=True, error_model="numpy")
def march_kernel(
    M, times, row, tables, air, limits, scheme, order, watches, crossed, stop, tolerance, cap, kept
):
    """March from times[0] over all output times. Returns code, outputs done, steps, attempts,
    and the water [kg] put back for round-off.

    limits = (step limits, ends) of the pieces of air; watches = (first cell, last cell, X, rising); crossed takes
    their times, NaN until met; kept = (water, activity, inflow, temperature) take the outputs. A gas space given as
    NaN starts at the mean activity of the cells that see it, or of all cells.
    """
    dry_mass, constants, joints = row[0], row[4], row[6].shape[0]
    step_limit, ends = limits
    water, activity, inflow, temperature = kept
    n = dry_mass.size
    laws = (
        np.full(4, np.nan), np.zeros(3), np.zeros(constants.shape[0]), np.zeros(constants.shape[0]),
        np.zeros(joints),
    )  # fmt: skip
    matrix = (
        np.zeros(n + 2), np.zeros(n + 2), np.zeros(n + 2), np.zeros(n + 2), np.zeros(n + 2), np.zeros(n + 2),
        np.zeros(n + 2),
    )  # fmt: skip
    U = np.zeros((scheme[5].size, n + 2))
    work = np.zeros((8, n + 2))
    joint_work = np.zeros((2, joints))
    out, trial, env = np.zeros(n + 2), np.zeros(n + 2), np.zeros(6)
    t, step, h = times[0], 0.0, FIRST
    attempts, steps, rounded = 0, 0, 0.0
    piece = _piece_of(air[0], t, 0)
    _project(air, t, 0.0, piece, env)
    if M[n] != M[n]:
        _start_gas(M, _centre_row(env[4], tables), env[4], row, tables, laws, activity[0])
    total = -M[n + 1]
    for i in range(n + 1):
        total += M[i]
    for o in range(times.size):
        target = times[o]
        while t < target:
            piece = _piece_of(air[0], t, piece)
            room = min(target, ends[piece]) - t
            if room < 1e-6:
                # a sliver left by rounding before a piece's end or an output
                t += room
                continue
            step = min(h, step_limit[piece])
            if step >= room * 0.999999:
                step = room
            elif step > 0.5 * room:
                step = 0.5 * room
            attempts += 1
            if attempts > cap:
                return TOO_MANY, o, steps, attempts, rounded
            _project(air, t, step, piece, env)
            kT = _centre_row(env[4], tables)
            error, missing, good = _stepper(
                M, total, step, env, kT, row, tables, laws, scheme, matrix, U, work, joint_work, out
            )  # fmt: skip
            ratio = error / tolerance
            grow = 6.0 if ratio < 1e-6 else min(6.0, max(0.2, 0.9 * ratio ** (-1.0 / order)))
            if not good or ratio > 1.0:
                h = step * (grow if good else 0.25)
                if h < SHORTEST:
                    return STUCK, o, steps, attempts, rounded
                continue
            for k in range(crossed.size):
                if not math.isnan(crossed[k]):
                    continue
                first, last, X, up = watches[0][k], watches[1][k], watches[2][k], watches[3][k]
                low, high, kept_end = 0.0, step, 0
                below = _beyond(M, dry_mass, first, last, X, up)
                above = _beyond(out, dry_mass, first, last, X, up)
                if below >= 0.0:
                    crossed[k] = t
                    continue
                if above < 0.0:
                    continue
                # step again from the same state, by false position; an end kept twice weighs half (Illinois)
                while high - low > CROSSING_WIDTH:
                    x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
                    x = min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)
                    _project(air, t, x, piece, env)
                    _, _, good = _stepper(
                        M, total, x, env, kT, row, tables, laws, scheme, matrix, U, work, joint_work, trial
                    )  # fmt: skip
                    y = _beyond(trial, dry_mass, first, last, X, up)
                    if not good or y >= 0.0:
                        high, above = x, y
                        below = below / 2 if kept_end == 1 else below
                        kept_end = 1
                    else:
                        low, below = x, y
                        above = above / 2 if kept_end == 2 else above
                        kept_end = 2
                crossed[k] = t + high
                _project(air, t, step, piece, env)
            for i in range(n + 2):
                M[i] = out[i]
            t = target if step == target - t else t + step
            steps += 1
            rounded += missing
            # a step cut short by an output or an edge of the air says nothing against the longer one
            h = step * grow if step >= 0.999 * h else max(h, step * grow)
        T = env[4] + env[5] * step / 2
        kT = _centre_row(T, tables)
        _laws(T, kT, row, tables, laws)
        _activities(M, kT, row, tables, laws, activity[o])
        for i in range(n + 1):
            water[o, i] = M[i]
        inflow[o] = M[n + 1]
        temperature[o] = T
        waiting = 0
        for k in range(crossed.size):
            if math.isnan(crossed[k]):
                waiting += 1
        if stop and waiting == 0 and crossed.size > 0:
            return DONE, o + 1, steps, attempts, rounded
    return DONE, times.size, steps, attempts, rounded
