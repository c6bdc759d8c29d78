"""The compiled march of water: one conservative state, potentials in closed form, no Newton iteration.

State M [kg] of every cell, then of the gas space (node n), then the water let in since the start (node n+1).
Activities follow from the state by table. One step solves, per stage, (C/(gamma h) + L) z = rhs in activities,
C = dM/da, L = minus the flux Jacobian: tridiagonal along the cells, bordered by the gas space. State increments
are C z, so sums of state telescope and the water balance closes to round-off.

`march._model` lays the arrays out, few and fat: a compiled call passes each as seven numbers or more. Everything
compiled lives in this file: numba's cache watches the file of the function called from outside, and would miss a
change in another. None of it makes arrays, so it goes without reference counts (`_nrt`), in half the time; and only
`march_kernel` is called from outside, so only that is wrapped for Python.
"""

from __future__ import annotations

import math

from numba import njit

from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure

# rows of cells: those from MOBILITY on are scratch
DRY, DRY_INVERSE, WITHIN, MOBILITY, K, F, RATE, RATE_RATE, Z, RISE = range(10)
C, STORE, ONWARDS, BACK, TO_GAS, FROM_GAS, PIVOT, CELL_ROWS = range(10, 18)
# columns of layers, rows of joints, columns of barriers, entries of now: scratch from SOLID, SHIELD, T_NOW on
RHO, D_REF, SLOPE, X_REF, T_REF, E_ACT, DELTA, X_HALF, INTERVALS, CAP, SOLID, VAPOUR, LAYER_COLUMNS = range(
    13
)
HALF_1, HALF_2, SHIELD, FLUX, BY_FIRST, BY_SECOND, JOINT_ROWS = range(7)
JOINT, R_BARRIER, T_BARRIER, E_BARRIER = range(4)
VOLUME, T_FIRST, T_SPACING, T_NOW, CENTRE, GAS, SHARE, W_COLDER, W_LEVEL, W_WARMER, NOW_SIZE = range(11)
# result codes
DONE, TOO_MANY, STUCK = 0, 1, 2
# Least rise of activity over an interval of the curves. Free water has none at all, and where it is free at one
# temperature but not yet at the next, interpolation may even fall a little; capacity must stay finite.
FLATTEST = 1e-8
WET = 1e-4  # share of its supersaturation by which the gas space's activity exceeds 1 while water lies on the film
FIRST = 10.0  # step tried first [s]; the error control takes it from there
SHORTEST = 1e-9  # a step [s] below which the march gives up
CROSSING_WIDTH = 1.0  # width [s] to which a crossing is bracketed

_options = {"error_model": "numpy", "fastmath": {"contract"}, "_nrt": False}
_inside = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_compiled = njit(**_options, **_inside)
_inlined = njit(**_options, **_inside, forceinline=True)
_psat = _compiled(saturation_pressure)


@_compiled
def _piece_of(edges, t, k):
    """Index of the piece of air that holds time t, searched from k."""
    while k < edges.size - 2 and t >= edges[k + 1]:
        k += 1
    while k > 0 and t < edges[k]:
        k -= 1
    return k


@_compiled
def _upto(air, j, k, t):
    """Integral of quantity j of the air from the start to t, in piece k, and of t times it."""
    edges, left, right, sums, _, _ = air
    dt, first = t - edges[k], left[j, k]
    rise = (right[j, k] - first) / (edges[k + 1] - edges[k])
    whole = (first + rise * dt / 2) * dt
    return sums[2 * j, k] + whole, sums[2 * j + 1, k] + edges[k] * whole + (
        first / 2 + rise * dt / 3
    ) * dt * dt


@_compiled
def _project(air, t0, h, k0, env):
    """Straight lines for [t0, t0 + h], t0 in piece k0: env = mean and slope of g, of b = g a_out, and of T."""
    edges, left, right, _, _, _ = air
    t1, mid = t0 + h, t0 + h / 2
    if t1 <= edges[k0 + 1]:
        per_width = 1.0 / (edges[k0 + 1] - edges[k0])
        for j in range(3):
            rise = (right[j, k0] - left[j, k0]) * per_width
            env[2 * j] = left[j, k0] + rise * (mid - edges[k0])
            env[2 * j + 1] = rise
        return
    k1 = _piece_of(edges, t1, k0)
    for j in range(3):
        before, moment_before = _upto(air, j, k0, t0)
        after, moment = _upto(air, j, k1, t1)
        mean = (after - before) / h
        moment -= moment_before + mid * (after - before)
        # conductances and inflows stay positive over the step, whatever spikes they hold; temperature is level
        steepest = 2.0 * mean / h if j < 2 else 0.0
        env[2 * j] = mean
        env[2 * j + 1] = min(max(12.0 * moment / h**3, -steepest), steepest)


@_compiled
def _centre(T, curves, now):
    """Set which of the curves' temperatures, the nearest to T, is the middle of the three to interpolate among."""
    last = curves.shape[1] - 1
    k = min(max(round((T - now[T_FIRST]) / now[T_SPACING]), 1), last - 1) if last > 0 else 0
    if now[CENTRE] != k:
        now[CENTRE], now[T_NOW] = k, math.nan


@_compiled
def _laws(T, layers, joints, barriers, now):
    """Fill what depends on temperature only, unless it stands for T already: the gas space's capacity, the weights of
    the three curves (Lagrange), rho D(T) and delta psat of every layer, the barriers' resistance of every joint.
    """
    if now[T_NOW] == T:
        return
    psat = _psat(T)
    now[T_NOW], x = T, (T - now[T_FIRST]) / now[T_SPACING] - now[CENTRE]
    now[GAS] = now[VOLUME] * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
    now[W_COLDER], now[W_LEVEL], now[W_WARMER] = x * (x - 1.0) / 2, 1.0 - x * x, x * (x + 1.0) / 2
    for j in range(layers.shape[0]):
        heat = layers[j, E_ACT] / GAS_CONSTANT * (1.0 / T - 1.0 / layers[j, T_REF])
        layers[j, SOLID] = layers[j, RHO] * layers[j, D_REF] * math.exp(-heat)
        layers[j, VAPOUR] = layers[j, DELTA] * psat
    joints[SHIELD, :] = 0.0
    for b in range(barriers.shape[0]):
        heat = barriers[b, E_BARRIER] / GAS_CONSTANT * (1.0 / T - 1.0 / barriers[b, T_BARRIER])
        joints[SHIELD, int(barriers[b, JOINT])] += barriers[b, R_BARRIER] / psat * math.exp(heat)


@_inlined
def _curve(j, layers, curves, now):
    """Layer j's scale, its three curves around the temperature (thrice one where that is constant), their weights."""
    k, last = int(now[CENTRE]), curves.shape[1] - 1
    colder, level, warmer = curves[j, max(k - 1, 0)], curves[j, k], curves[j, min(k + 1, last)]
    weights = now[W_COLDER], now[W_LEVEL], now[W_WARMER]
    return layers[j, X_HALF], layers[j, INTERVALS], colder, level, warmer, weights


@_inlined
def _activity(X, curve):
    """a, da/dX and d2a/dX2 at moisture X, cubic in s = X / (X + X_half)."""
    x_half, intervals, colder, level, warmer, (w0, w1, w2) = curve
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
def _along(M, j, cells, layers, spans, curves, now, a):
    """Activity of every cell of layer j, into a, and dX/da, into RISE."""
    dry_inverse, rise, curve = cells[DRY_INVERSE], cells[RISE], _curve(j, layers, curves, now)
    for i in range(spans[j, 0], spans[j, 1]):
        a[i], da, _ = _activity(M[i] * dry_inverse[i], curve)
        rise[i] = 1.0 / da


@_inlined
def _gas(water, now):
    """Activity of the gas space: its share of saturation, or near 1 while water lies on the film."""
    return 1.0 + now[SHARE] * (water / now[GAS] - 1.0)


@_inlined
def _end(M, i, j, cells, layers, curves, now):
    """At a node that meets a joint: activity, 1/kappa with kappa = rho D dX/da + delta psat, -d(1/kappa)/da."""
    if i == cells.shape[1] - 2:
        return _gas(M[i], now), 0.0, 0.0  # the gas space sets no resistance of its own
    X = M[i] * cells[DRY_INVERSE, i]
    a, da, dda = _activity(X, _curve(j, layers, curves, now))
    slope = layers[j, SLOPE] if layers[j, SLOPE] * (X - layers[j, X_REF]) < layers[j, CAP] else 0.0
    rise, mobility = 1.0 / da, cells[MOBILITY, i]
    hindrance = 1.0 / (mobility * rise + layers[j, VAPOUR])
    return a, hindrance, mobility * (slope - dda * rise) * (rise * hindrance) ** 2


@_compiled
def _rates(M, g, b, since, per, cells, layers, spans, joints, nodes, curves, now, f):
    """Net inflow f of every node [kg/s], the film's from b - g a; what leaves one node enters another.

    Within a layer the potential is K = integral of kappa da = rho integral of D dX + delta psat a: so the flux between
    centres is exact for any D(X). With since = 0, per = 1. With since = 1 every flux is taken less that of the last
    call, times `per`. Leaves, too, rho D of every cell and the derivatives of the joints' fluxes.
    """
    mobility, potential, within, flux = cells[MOBILITY], cells[K], cells[WITHIN], cells[F]
    dry_inverse, n = cells[DRY_INVERSE], cells.shape[1] - 2
    for j in range(spans.shape[0]):
        # plain numbers first: an array's element might change under the loop for all the compiler knows
        slope, x_ref, solid, vapour = layers[j, SLOPE], layers[j, X_REF], layers[j, SOLID], layers[j, VAPOUR]
        first, last, cap = spans[j, 0], spans[j, 1], layers[j, CAP]
        if slope == 0.0:
            for i in range(first, last):
                mobility[i] = solid
                potential[i] = solid * (M[i] * dry_inverse[i])
        else:
            for i in range(first, last):
                e = slope * (M[i] * dry_inverse[i] - x_ref)
                beyond = max(e - cap, 0.0)  # where D has reached its bound and stays
                mobility[i] = solid * math.exp(e - beyond)
                potential[i] = mobility[i] * (1.0 + beyond) / slope
        if vapour > 0.0:
            _along(M, j, cells, layers, spans, curves, now, cells[Z])
            for i in range(first, last):
                potential[i] += vapour * cells[Z, i]
    for i in range(n):  # none from the last cell: its `within` is zero
        flux[i] = ((potential[i] - potential[i + 1]) * within[i] - since * flux[i]) * per
    f[0] = -flux[0]
    for i in range(1, n):
        f[i] = flux[i - 1] - flux[i]
    f[n] = f[n + 1] = (b - g * _gas(M[n], now) - since * cells[RATE, n + 1]) * per
    for k in range(nodes.shape[0]):
        a1, hindrance1, falls1 = _end(M, nodes[k, 0], nodes[k, 1], cells, layers, curves, now)
        a2, hindrance2, falls2 = _end(M, nodes[k, 2], nodes[k, 3], cells, layers, curves, now)
        half1, half2 = joints[HALF_1, k], joints[HALF_2, k]
        G = 1.0 / (half1 * hindrance1 + half2 * hindrance2 + joints[SHIELD, k])
        through = (a1 - a2) * G
        joints[BY_FIRST, k] = G * (1.0 + through * half1 * falls1)
        joints[BY_SECOND, k] = G * (1.0 - through * half2 * falls2)
        through = (through - since * joints[FLUX, k]) * per
        joints[FLUX, k] = through
        f[nodes[k, 0]] -= through
        f[nodes[k, 2]] += through


@_inlined
def _jacobian(M, g, inv, cells, layers, spans, joints, nodes, curves, now):
    """The matrix C/(gamma h) + L, inv = 1/(gamma h), at the state `_rates` has seen last.

    Into cells: C, STORE (C inv, and the film's g for the gas space), and the derivatives of the fluxes: ONWARDS (from
    cell i to i+1, by a_i), BACK (the same by a_i+1), TO_GAS and FROM_GAS.
    """
    dry, within, mobility, kappa, rise = cells[DRY], cells[WITHIN], cells[MOBILITY], cells[K], cells[RISE]
    capacity, store, onwards, back = cells[C], cells[STORE], cells[ONWARDS], cells[BACK]
    to_gas, from_gas, n = cells[TO_GAS], cells[FROM_GAS], cells.shape[1] - 2
    for j in range(spans.shape[0]):
        vapour = layers[j, VAPOUR]
        _along(M, j, cells, layers, spans, curves, now, cells[Z])
        for i in range(spans[j, 0], spans[j, 1]):
            capacity[i] = dry[i] * rise[i]
            kappa[i] = mobility[i] * rise[i] + vapour
    capacity[n] = now[GAS] / now[SHARE]
    cells[TO_GAS : FROM_GAS + 1, :] = 0.0
    for i in range(n + 1):
        store[i] = capacity[i] * inv
    store[n] += g
    for i in range(n - 1):
        onwards[i] = kappa[i] * within[i]
        back[i] = kappa[i + 1] * within[i]
    for k in range(nodes.shape[0]):
        first = nodes[k, 0]
        if nodes[k, 2] == n:
            to_gas[first] += joints[BY_FIRST, k]
            from_gas[first] += joints[BY_SECOND, k]
        else:
            onwards[first], back[first] = joints[BY_FIRST, k], joints[BY_SECOND, k]


@_inlined
def _factor(cells):
    """Eliminate along the cells, the gas space last; without pivoting and without a subtraction.

    Every column of the matrix sums to its store: what leaves a node enters another. Carrying that excess, not the
    diagonal, keeps pivots exact to round-off however far conductances exceed store (after Grassmann, Taksar & Heyman
    1985, Operations Research 33:1107, on Markov chains). Leaves 1/diagonal in PIVOT and STORE[n], the multipliers of
    the forward sweep in ONWARDS and TO_GAS, of the backward sweep in BACK and FROM_GAS.
    """
    store, onwards, back, pivot = cells[STORE], cells[ONWARDS], cells[BACK], cells[PIVOT]
    to_gas, from_gas, n = cells[TO_GAS], cells[FROM_GAS], cells.shape[1] - 2
    excess, to, by, gas = store[0], to_gas[0], from_gas[0], store[n]
    for i in range(n):
        inverse = 1.0 / (excess + onwards[i] + to)
        up, down = back[i] * inverse, onwards[i] * inverse
        pivot[i], onwards[i], back[i] = inverse, down, up
        to_gas[i], from_gas[i] = to * inverse, by * inverse
        gas += by * (excess * inverse)
        excess = store[i + 1] + up * excess
        to, by = to_gas[i + 1] + up * to, from_gas[i + 1] + down * by
    store[n] = 1.0 / gas


@_inlined
def _solve(cells, u):
    """Solve with the factors: Z holds the right-hand side, at last z[n] for the gas space; u takes C z."""
    z, capacity, onwards, back, pivot = cells[Z], cells[C], cells[ONWARDS], cells[BACK], cells[PIVOT]
    to_gas, from_gas, n = cells[TO_GAS], cells[FROM_GAS], cells.shape[1] - 2
    carried = z[0]
    gas = z[n] + to_gas[0] * carried
    for i in range(1, n):
        carried = z[i] + onwards[i - 1] * carried
        z[i] = carried
        gas += to_gas[i] * carried
    gas *= cells[STORE, n]
    z[n], u[n] = gas, capacity[n] * gas
    for i in range(n):
        z[i] = z[i] * pivot[i] + from_gas[i] * gas
    carried = 0.0
    for i in range(n - 1, -1, -1):
        carried = z[i] + back[i] * carried
        u[i] = capacity[i] * carried


@_inlined
def _add(n, c, x, y):
    """y += c x, first n entries."""
    for i in range(n):
        y[i] += c * x[i]


@_compiled
def _step(M, total, h, env, model, scheme, U, out):
    """One step of length h from M to `out`: its error in activity, round-off mended [kg], whether it is good."""
    cells, layers, spans, joints, nodes, barriers, curves, now = model
    gamma, A, C_stage, m, e, alpha, gamma_sum, fresh, _ = scheme
    f, f_t, z, n = cells[RATE], cells[RATE_RATE], cells[Z], cells.shape[1] - 2
    g_slope, b_slope, T_slope = env[1], env[3], env[5]
    g0, b0, T0 = env[0] - g_slope * h / 2, env[2] - b_slope * h / 2, env[4] - T_slope * h / 2
    _laws(T0, layers, joints, barriers, now)
    _rates(M, g0, b0, 0.0, 1.0, cells, layers, spans, joints, nodes, curves, now, f)
    _jacobian(M, g0, 1.0 / (gamma * h), cells, layers, spans, joints, nodes, curves, now)
    _factor(cells)
    moving = g_slope != 0.0 or b_slope != 0.0 or T_slope != 0.0
    if moving:
        # df/dt at fixed state: each flux differenced along the projected climate, so that it, too, telescopes
        dt = 1e-4 * h
        g, b = g0 + g_slope * dt, b0 + b_slope * dt
        _laws(T0 + T_slope * dt, layers, joints, barriers, now)
        _rates(M, g, b, 1.0, 1.0 / dt, cells, layers, spans, joints, nodes, curves, now, f_t)
    for s in range(alpha.size):
        if fresh[s]:
            # `out` serves for the stage's state
            for i in range(n + 1):
                out[i] = M[i]
            for j in range(s):
                if A[s, j] != 0.0:
                    _add(n + 1, A[s, j], U[j], out)
            least = out[0]
            for i in range(n):
                least = min(least, out[i])
            # the gas space is linear in its water, so a stage may overshoot below zero there
            if not least > 0.0:
                return 0.0, 0.0, False
            t = alpha[s] * h
            g, b = g0 + g_slope * t, b0 + b_slope * t
            _laws(T0 + T_slope * t, layers, joints, barriers, now)
            _rates(out, g, b, 0.0, 1.0, cells, layers, spans, joints, nodes, curves, now, f)
        for i in range(n + 2):
            z[i] = f[i]
        for j in range(s):
            _add(n + 2, C_stage[s, j] / h, U[j], z)
        if moving and gamma_sum[s] != 0.0:
            _add(n + 2, gamma_sum[s] * h, f_t, z)
        _solve(cells, U[s])
        U[s, n + 1] = (z[n + 1] - g0 * z[n]) * (gamma * h)
    return _close(M, total, U, m, e, cells, spans, out)


@_inlined
def _close(M, total, U, m, e, cells, spans, out):
    """The new state, its error and its round-off.

    The error is judged layer by layer, as activity: a thin cell counts by the water it holds. Huge conductances pass
    much water to and fro within a step, whose rounding shows in the balance; so the cells take up, in proportion, what
    is missing to `total` (all water less the inflow, which no step changes).
    """
    error, capacity, n = cells[Z], cells[C], cells.shape[1] - 2
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
            holds += capacity[i]
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
def _beyond(M, dry, first, last, X, up):
    """How far the mean moisture of cells first..last lies beyond X in the watched direction."""
    held, solids = 0.0, 0.0
    for i in range(first, last):
        held += M[i]
        solids += dry[i]
    return held / solids - X if up else X - held / solids


@_compiled
def _locate(k, watches, state, total, t, step, piece, air, env, model, scheme):
    """When within the step from M to `out` watch k meets its limit; NaN if it does not."""
    M, out, trial, U = state[0], state[1], state[2], state[3:]
    first, last, X, up, dry = watches[0][k], watches[1][k], watches[2][k], watches[3][k], model[0][DRY]
    below, above = _beyond(M, dry, first, last, X, up), _beyond(out, dry, first, last, X, up)
    if below >= 0.0:
        return t
    if above < 0.0:
        return math.nan
    low, high, kept = 0.0, step, 0
    # step again from M, by false position; an end kept twice weighs half (Illinois)
    while high - low > CROSSING_WIDTH:
        x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
        x = min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)
        _project(air, t, x, piece, env)
        good = _step(M, total, x, env, model, scheme, U, trial)[2]
        y = _beyond(trial, dry, first, last, X, up)
        if not good or y >= 0.0:
            high, above, below, kept = x, y, below / 2 if kept == 1 else below, 1
        else:
            low, below, above, kept = x, y, above / 2 if kept == 2 else above, 2
    _project(air, t, step, piece, env)
    return t + high


@_compiled
def _keep(o, T, M, model, kept):
    """Write output o."""
    cells, layers, spans, joints, _, barriers, curves, now = model
    water, activity, inflow, temperature = kept
    n, a = cells.shape[1] - 2, activity[o]
    _centre(T, curves, now)
    _laws(T, layers, joints, barriers, now)
    for j in range(spans.shape[0]):
        _along(M, j, cells, layers, spans, curves, now, a)
    now[SHARE] = WET if M[n] > now[GAS] else 1.0
    a[n] = _gas(M[n], now)
    for i in range(n + 1):
        water[o, i] = M[i]
    inflow[o], temperature[o] = M[n + 1], T


@njit(cache=True, **_options)
def march_kernel(state, times, model, air, scheme, watches, crossed, stop, tolerance, cap, env, kept):
    """March from times[0] over all output times: code, outputs done, steps, attempts, water put back for round-off.

    The arguments are told in `march._run`.
    """
    M, out, U = state[0], state[1], state[3:]
    edges, step_limit, ends, now, n, drying = air[0], air[4], air[5], model[7], M.size - 2, False
    t, step, h, total, order = times[0], 0.0, FIRST, M[: n + 1].sum() - M[n + 1], scheme[8]
    attempts, steps, rounded, piece = 0, 0, 0.0, _piece_of(edges, t, 0)
    _project(air, t, 0.0, piece, env)
    for o in range(times.size):
        while t < times[o]:
            piece = _piece_of(edges, t, piece)
            stop_at = min(times[o], ends[piece])
            room = stop_at - t
            step = min(h, step_limit[piece])
            step = room if step >= room * 0.999999 else min(step, 0.5 * room)
            attempts += 1
            if attempts > cap:
                return TOO_MANY, o, steps, attempts, rounded
            _project(air, t, step, piece, env)
            _centre(env[4], model[6], now)
            # whether water lies on the film holds for the whole step, so that its stages see no kink
            _laws(env[4] - env[5] * step / 2, model[1], model[3], model[5], now)
            now[SHARE] = WET if M[n] > now[GAS] and not drying else 1.0
            error, missing, good = _step(M, total, step, env, model, scheme, U, out)
            filled = out[n] / now[GAS]
            if now[SHARE] < 1.0 and filled < 0.5:
                drying = True  # all of it goes within this step: step as if it were in the air
                continue
            ratio = error / tolerance
            grow = 6.0 if ratio < 1e-6 else min(6.0, max(0.2, 0.9 * ratio ** (-1.0 / order)))
            good = good and (now[SHARE] < 1.0 or drying or filled < 1.05)
            if not good or ratio > 1.0:
                h = step * (grow if good else 0.25)
                if h < SHORTEST:
                    return STUCK, o, steps, attempts, rounded
                continue
            for k in range(crossed.size):
                if math.isnan(crossed[k]):
                    crossed[k] = _locate(k, watches, state, total, t, step, piece, air, env, model, scheme)
            for i in range(n + 2):
                M[i] = out[i]
            t = stop_at if step == room else t + step
            steps, rounded, drying = steps + 1, rounded + missing, False
            # a step cut short by an output or an edge of the air says nothing against the longer one
            h = step * grow if step >= 0.999 * h else max(h, step * grow)
        _keep(o, env[4] + env[5] * step / 2, M, model, kept)
        if stop and crossed.size > 0 and not math.isnan(crossed.sum()):
            return DONE, o + 1, steps, attempts, rounded
    return DONE, times.size, steps, attempts, rounded
