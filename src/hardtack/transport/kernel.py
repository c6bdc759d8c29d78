"""The compiled march of water: one conservative state, potentials in closed form, no Newton iteration.

State M [kg] of every cell, then of the gas space (node n), then the water let in since the start (node n+1).
Activities follow from the state by table. One step solves, per stage, (C/(gamma h) + L) z = rhs in activities,
C = dM/da, L = minus the flux Jacobian: tridiagonal along the cells, bordered by the gas space. State increments
are C z, and every flux is one number, so sums of state telescope and the water balance closes to round-off.

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
DRY, DRY_INVERSE, WITHIN, MOBILITY, K, RISE, Z, FLUX, LEAVING, LATER, LEAVING_LATER, FACE, OUT = range(13)
C, STORE, ONWARDS, BACK, TO_GAS, FROM_GAS, PIVOT, STAYS, GOES_ON, GOES_OUT, UP, BY, SOURCE, CELL_ROWS = range(
    13, 27
)
# columns of layers, rows of joints, columns of barriers, entries of now: scratch from SOLID, SHIELD, T_NOW on
RHO, D_REF, SLOPE, X_REF, T_REF, E_ACT, DELTA, X_HALF, INTERVALS, CAP, SOLID, VAPOUR, LAYER_COLUMNS = range(
    13
)
HALF_1, HALF_2, NARROWS_1, NARROWS_2, SHIELD, COVER, BY_FIRST, BY_SECOND, JOINT_ROWS = range(9)
JOINT, R_BARRIER, T_BARRIER, E_BARRIER, OPENS = range(5)
(
    VOLUME,
    T_FIRST,
    T_SPACING,
    FILM,
    T_NOW,
    CENTRE,
    GAS,
    SHARE,
    W_COLDER,
    W_LEVEL,
    W_WARMER,
    ROUNDING,
    NOW_SIZE,
) = range(13)
# result codes
DONE, TOO_MANY, STUCK = 0, 1, 2
# Least rise of activity over an interval of the curves. Free water has none at all, and where it is free at one
# temperature but not yet at the next, interpolation may even fall a little; capacity must stay finite.
FLATTEST = 1e-8
# Most dX/da counted for half a cell at a joint. Free water has no bound to it, and so no resistance at all; with this
# one kg/kg across the half cell takes a difference of 1e-3 in activity.
STEEPEST = 1e3
# A joint's flux grows with the first and falls with the second activity, by this share of its conductance at least,
# whatever D(X) does: `_factor` needs both signs.
LEAST = 0.1
SLIGHT = 1e-16  # share of the first water that counts as rounding: of a stage's balance, or left in a cell dried out
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
def _project(air, film, t0, h, k0, env):
    """Straight lines for [t0, t0 + h], t0 in piece k0: env = mean and slope of g, of b = g a_out, and of T.

    `film` multiplies g and b.
    """
    edges, left, right, _, _, _ = air
    t1, mid = t0 + h, t0 + h / 2
    if t1 <= edges[k0 + 1]:
        per_width = 1.0 / (edges[k0 + 1] - edges[k0])
        for j in range(3):
            rise = (right[j, k0] - left[j, k0]) * per_width
            times = film if j < 2 else 1.0
            env[2 * j] = (left[j, k0] + rise * (mid - edges[k0])) * times
            env[2 * j + 1] = rise * times
        return
    k1 = _piece_of(edges, t1, k0)
    for j in range(2):
        before, moment_before = _upto(air, j, k0, t0)
        after, moment = _upto(air, j, k1, t1)
        mean = (after - before) / h
        moment -= moment_before + mid * (after - before)
        # conductances and inflows stay positive over the step, whatever spikes they hold
        steepest = 2.0 * mean / h
        env[2 * j] = mean * film
        env[2 * j + 1] = min(max(12.0 * moment / h**3, -steepest), steepest) * film
    # temperature runs straight from end to end, so that it never jumps: the gas space would follow every jump
    T0 = left[2, k0] + (right[2, k0] - left[2, k0]) * ((t0 - edges[k0]) / (edges[k0 + 1] - edges[k0]))
    T1 = left[2, k1] + (right[2, k1] - left[2, k1]) * ((t1 - edges[k1]) / (edges[k1 + 1] - edges[k1]))
    env[4], env[5] = (T0 + T1) / 2, (T1 - T0) / h


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
    joints[SHIELD : COVER + 1, :] = 0.0
    for b in range(barriers.shape[0]):
        heat = barriers[b, E_BARRIER] / GAS_CONSTANT * (1.0 / T - 1.0 / barriers[b, T_BARRIER])
        # what lies across the joint whole, and what has holes, with the water that gathers to them beside it
        row = COVER if barriers[b, OPENS] > 0.0 else SHIELD
        joints[row, int(barriers[b, JOINT])] += barriers[b, R_BARRIER] / psat * math.exp(heat)


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
    return (1.0 - now[SHARE]) + now[SHARE] * (water / now[GAS])


@_inlined
def _end(M, i, j, cells, layers, curves, now):
    """At a node that meets a joint: activity, 1/kappa with kappa = rho D dX/da + delta psat, -d(1/kappa)/da."""
    if i == cells.shape[1] - 2:
        return _gas(M[i], now), 0.0, 0.0  # the gas space sets no resistance of its own
    X = M[i] * cells[DRY_INVERSE, i]
    a, da, dda = _activity(X, _curve(j, layers, curves, now))
    slope = layers[j, SLOPE] if layers[j, SLOPE] * (X - layers[j, X_REF]) < layers[j, CAP] else 0.0
    rise, steepens, mobility = 1.0 / da, -dda / da, cells[MOBILITY, i]
    bounded = min(rise, STEEPEST)
    if bounded < rise:
        steepens = 0.0
    hindrance = 1.0 / (mobility * bounded + layers[j, VAPOUR])
    return a, hindrance, mobility * (slope + steepens) * rise * bounded * hindrance**2


@_compiled
def _fluxes(M, g, b, cells, layers, spans, joints, nodes, curves, now, flux, leaving):
    """Every flux once [kg/s]: from each cell to the next, from each to the gas space, and that of the film, returned.

    Within a layer the potential is K = integral of kappa da = rho integral of D dX + delta psat a: so the flux between
    centres is exact for any D(X). The film's is b - g a. Leaves, too, rho D of every cell and the derivatives of the
    joints' fluxes.
    """
    mobility, potential, within = cells[MOBILITY], cells[K], cells[WITHIN]
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
        flux[i] = (potential[i] - potential[i + 1]) * within[i]
        leaving[i] = 0.0
    for k in range(nodes.shape[0]):
        a1, hindrance1, falls1 = _end(M, nodes[k, 0], nodes[k, 1], cells, layers, curves, now)
        a2, hindrance2, falls2 = _end(M, nodes[k, 2], nodes[k, 3], cells, layers, curves, now)
        half1, half2, shield, cover = (
            joints[HALF_1, k],
            joints[HALF_2, k],
            joints[SHIELD, k],
            joints[COVER, k],
        )
        if cover > 0.0:
            narrows = joints[NARROWS_1, k] * hindrance1 + joints[NARROWS_2, k] * hindrance2
            beside = 1.0 / (cover + narrows)
            shield += cover * narrows * beside
            half1 += joints[NARROWS_1, k] * (cover * beside) ** 2
            half2 += joints[NARROWS_2, k] * (cover * beside) ** 2
        G = 1.0 / (joints[HALF_1, k] * hindrance1 + joints[HALF_2, k] * hindrance2 + shield)
        through = (a1 - a2) * G
        joints[BY_FIRST, k] = G * max(1.0 + through * half1 * falls1, LEAST)
        joints[BY_SECOND, k] = G * max(1.0 - through * half2 * falls2, LEAST)
        if nodes[k, 2] == n:
            leaving[nodes[k, 0]] += through
        else:
            flux[nodes[k, 0]] = through
    return b - g * _gas(M[n], now)


@_inlined
def _jacobian(M, inv, cells, layers, spans, joints, nodes, curves, now):
    """The matrix C/(gamma h) + L, inv = 1/(gamma h), at the state `_fluxes` has seen last.

    Into cells: C, STORE (C inv), and the derivatives of the fluxes: ONWARDS (from cell i to i+1, by a_i), BACK (the
    same by a_i+1), TO_GAS and FROM_GAS.
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
def _factor(cells, g):
    """Eliminate along the cells, the gas space last; without pivoting and without a subtraction.

    Every column of the matrix sums to its store: what leaves a node enters another. Carrying that excess, not the
    diagonal, keeps pivots exact to round-off however far conductances exceed store (after Grassmann, Taksar & Heyman
    1985, Operations Research 33:1107, on Markov chains). Leaves 1/diagonal in PIVOT; the shares, one in all, of what
    comes to a cell: STAYS, GOES_ON to the next cell, GOES_OUT to the gas space (or from there through the film); and
    the multipliers of the backward sweep, UP and BY.
    """
    store, onwards, back, to_gas, from_gas = (
        cells[STORE], cells[ONWARDS], cells[BACK], cells[TO_GAS], cells[FROM_GAS],
    )  # fmt: skip
    pivot, stays, goes_on, goes_out, ups, bys = (
        cells[PIVOT], cells[STAYS], cells[GOES_ON], cells[GOES_OUT], cells[UP], cells[BY],
    )  # fmt: skip
    n = cells.shape[1] - 2
    excess, to, by, gas = store[0], to_gas[0], from_gas[0], store[n]
    for i in range(n):
        inverse = 1.0 / (excess + onwards[i] + to)
        up, down, stay = back[i] * inverse, onwards[i] * inverse, excess * inverse
        pivot[i], stays[i], goes_on[i], goes_out[i] = inverse, stay, down, to * inverse
        ups[i], bys[i] = up, by * inverse
        gas += by * stay
        excess = store[i + 1] + up * excess
        to, by = to_gas[i + 1] + up * to, from_gas[i + 1] + down * by
    pivot[n] = 1.0 / (gas + g)
    stays[n], goes_out[n] = gas * pivot[n], g * pivot[n]


@_inlined
def _solve(cells, film, u):
    """Solve with the factors: Z takes the rise z of activity, u is added the water C z; returned are the film's flux,
    sum of C z.

    FACE and OUT hold the fluxes, SOURCE what the right-hand side has besides. Fluxes stay whole: where conductances
    are huge, what enters and what leaves a cell are each far larger than their difference, which would be lost to
    rounding. Eliminating a cell sends on the shares of its own water that do not stay; of its fluxes, which the next
    node has had already, it takes back the share that does: a flux counts by what a cell can hold of it.
    """
    z, capacity, flux, leaving, sources = cells[Z], cells[C], cells[FACE], cells[OUT], cells[SOURCE]
    pivot, stays, goes_on, goes_out = cells[PIVOT], cells[STAYS], cells[GOES_ON], cells[GOES_OUT]
    ups, bys, n = cells[UP], cells[BY], cells.shape[1] - 2
    gas, source, out = sources[n], sources[0], leaving[0]
    for i in range(n):
        z[i] = source - (flux[i] + out)
        gas += stays[i] * out + goes_out[i] * source
        source = goes_on[i] * source + (sources[i + 1] + stays[i] * flux[i])
        out = goes_on[i] * out + (leaving[i + 1] - goes_out[i] * flux[i])
    film_after = film * stays[n] - gas * goes_out[n]
    gas = (gas + film) * pivot[n]
    z[n], total, carried = gas, capacity[n] * gas, 0.0
    u[n] += total
    for i in range(n - 1, -1, -1):
        carried = (z[i] * pivot[i] + bys[i] * gas) + ups[i] * carried
        gained = capacity[i] * carried
        z[i] = carried
        u[i] += gained
        total += gained
    return film_after, total


@_inlined
def _stage(cells, g, gamma_h, film, inflow, rounding, u):
    """One stage, into u: the water every node gains, C z, and that which comes through the film.

    Both are worked out apart. Where they differ by more than `rounding` [kg], a flux was far larger than what its nodes
    take up within the step. Then z brings them to where it nearly vanishes, and the system is solved again for what is
    left over (iterative refinement): that is of the size of the water that really moves, and so is its rounding.
    """
    z, source, flux, leaving, n = cells[Z], cells[SOURCE], cells[FACE], cells[OUT], cells.shape[1] - 2
    onwards, back, to_gas, from_gas = cells[ONWARDS], cells[BACK], cells[TO_GAS], cells[FROM_GAS]
    for i in range(n + 1):
        u[i] = 0.0
    for again in range(2):  # one call: the compiler puts the elimination in once
        through, gained = _solve(cells, film, u)
        if again == 1 or not abs(gained - (through + inflow) * gamma_h) > rounding:
            u[n + 1] = (through + inflow) * gamma_h
            return
        for i in range(n):
            flux[i] += onwards[i] * z[i] - back[i] * z[i + 1]
            leaving[i] += to_gas[i] * z[i] - from_gas[i] * z[n]
        for i in range(n + 1):
            source[i] -= u[i] / gamma_h
        film -= g * z[n]


@_inlined
def _add(n, c, x, y):
    """y += c x, first n entries."""
    for i in range(n):
        y[i] += c * x[i]


@_compiled
def _step(start, h, env, model, scheme, U, end):
    """One step of length h from `start` to `end`: its error in activity, and whether it is good.

    Either is two rows: the state, and what rounding left out of it so far.
    """
    M, out = start[0], end[0]
    cells, layers, spans, joints, nodes, barriers, curves, now = model
    gamma, A, C_stage, m, e, alpha, gamma_sum, fresh, _ = scheme
    gamma_h = gamma * h
    flux, leaving, later, leaving_later = cells[FLUX], cells[LEAVING], cells[LATER], cells[LEAVING_LATER]
    face, leaves, source, n = cells[FACE], cells[OUT], cells[SOURCE], cells.shape[1] - 2
    g_slope, b_slope, T_slope = env[1], env[3], env[5]
    g0, b0, T0 = env[0] - g_slope * h / 2, env[2] - b_slope * h / 2, env[4] - T_slope * h / 2
    _laws(T0, layers, joints, barriers, now)
    film = _fluxes(M, g0, b0, cells, layers, spans, joints, nodes, curves, now, flux, leaving)
    film_rate = 0.0
    _jacobian(M, 1.0 / gamma_h, cells, layers, spans, joints, nodes, curves, now)
    _factor(cells, g0)
    moving = g_slope != 0.0 or b_slope != 0.0 or T_slope != 0.0
    if moving:
        # df/dt at fixed state: each flux differenced along the projected climate
        dt = 1e-4 * h
        per = 1.0 / dt
        g, b = g0 + g_slope * dt, b0 + b_slope * dt
        _laws(T0 + T_slope * dt, layers, joints, barriers, now)
        film_rate = _fluxes(M, g, b, cells, layers, spans, joints, nodes, curves, now, later, leaving_later)
        film_rate = (film_rate - film) * per
        for i in range(n):
            later[i] = (later[i] - flux[i]) * per
            leaving_later[i] = (leaving_later[i] - leaving[i]) * per
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
            if not least > -now[ROUNDING]:
                return 0.0, False
            t = alpha[s] * h
            g, b = g0 + g_slope * t, b0 + b_slope * t
            _laws(T0 + T_slope * t, layers, joints, barriers, now)
            film = _fluxes(out, g, b, cells, layers, spans, joints, nodes, curves, now, flux, leaving)
        inflow = 0.0
        for i in range(n + 1):
            source[i] = 0.0
        for j in range(s):
            c = C_stage[s, j] / h
            _add(n + 1, c, U[j], source)
            inflow += c * U[j, n + 1]
        for i in range(n):
            face[i] = flux[i]
            leaves[i] = leaving[i]
        ahead = gamma_sum[s] * h if moving else 0.0
        if ahead != 0.0:
            _add(n, ahead, later, face)
            _add(n, ahead, leaving_later, leaves)
        _stage(cells, g0, gamma_h, film + ahead * film_rate, inflow, now[ROUNDING], U[s])
    return _close(start, U, m, e, cells, spans, now[ROUNDING], end)


@_inlined
def _close(start, U, m, e, cells, spans, rounding, end):
    """The new state and its error, judged layer by layer, as activity: a thin cell counts by the water it holds.

    Thousands of small increments are added to each cell; what a sum cannot hold is kept for the next (Kahan 1965,
    Communications of the ACM 8:40). A cell may not be emptied: water below zero by less than `rounding` counts as none.
    """
    error, capacity, out, left, n = cells[Z], cells[C], end[0], end[1], cells.shape[1] - 2
    for i in range(n + 2):
        left[i] = start[1, i]
        error[i] = 0.0
    for s in range(m.size):
        if m[s] != 0.0:
            _add(n + 2, m[s], U[s], left)
        if e[s] != 0.0:
            _add(n, e[s], U[s], error)
    for i in range(n + 2):
        rise, before = left[i], start[0, i]
        after = before + rise
        out[i], left[i] = after, rise - (after - before)
    least, worst = out[n], 0.0
    for j in range(spans.shape[0]):
        wrong, holds = 0.0, 0.0
        for i in range(spans[j, 0], spans[j, 1]):
            wrong += abs(error[i])
            holds += capacity[i]
            least = min(least, out[i])
        if not wrong >= 0.0:
            return 0.0, False
        worst = max(worst, wrong / holds)
    return worst, least > -rounding


@_compiled
def _beyond(M, dry, first, last, X, up):
    """How far the mean moisture of cells first..last lies beyond X in the watched direction."""
    held, solids = 0.0, 0.0
    for i in range(first, last):
        held += M[i]
        solids += dry[i]
    return held / solids - X if up else X - held / solids


@_compiled
def _locate(k, watches, state, t, step, piece, air, env, model, scheme):
    """When within the step from `start` to `end` watch k meets its limit; NaN if it does not."""
    start, end, trial, U = state[0:2], state[2:4], state[4:6], state[6:]
    first, last, X, up, dry = watches[0][k], watches[1][k], watches[2][k], watches[3][k], model[0][DRY]
    below, above = _beyond(start[0], dry, first, last, X, up), _beyond(end[0], dry, first, last, X, up)
    if below >= 0.0:
        return t
    if above < 0.0:
        return math.nan
    low, high, kept = 0.0, step, 0
    # step again from the start, by false position; an end kept twice weighs half (Illinois)
    while high - low > CROSSING_WIDTH:
        x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
        x = min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)
        _project(air, model[7][FILM], t, x, piece, env)
        good = _step(start, x, env, model, scheme, U, trial)[1]
        y = _beyond(trial[0], dry, first, last, X, up)
        if not good or y >= 0.0:
            high, above, below, kept = x, y, below / 2 if kept == 1 else below, 1
        else:
            low, below, above, kept = x, y, above / 2 if kept == 2 else above, 2
    _project(air, model[7][FILM], t, step, piece, env)
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
        a[i] = max(a[i], 0.0)
    inflow[o], temperature[o] = M[n + 1], T


@njit(cache=True, nogil=True, **_options)
def march_kernel(state, times, model, air, scheme, watches, crossed, stop, tolerance, cap, env, kept):
    """March from times[0] over all output times: code, outputs done, steps, attempts.

    The arguments are told in `march._run`.
    """
    start, end, U = state[0:2], state[2:4], state[6:]
    M, out = start[0], end[0]
    edges, step_limit, ends, now, n, drying = air[0], air[4], air[5], model[7], M.size - 2, False
    t, step, h, order = times[0], 0.0, FIRST, scheme[8]
    attempts, steps, piece = 0, 0, _piece_of(edges, t, 0)
    now[ROUNDING] = SLIGHT * M[:n].sum()
    _project(air, now[FILM], t, 0.0, piece, env)
    for o in range(times.size):
        while t < times[o]:
            piece = _piece_of(edges, t, piece)
            stop_at = min(times[o], ends[piece])
            room = stop_at - t
            step = min(h, step_limit[piece])
            step = room if step >= room * 0.999999 else min(step, 0.5 * room)
            attempts += 1
            if attempts > cap:
                return TOO_MANY, o, steps, attempts
            _project(air, now[FILM], t, step, piece, env)
            _centre(env[4], model[6], now)
            # whether water lies on the film holds for the whole step, so that its stages see no kink
            _laws(env[4] - env[5] * step / 2, model[1], model[3], model[5], now)
            now[SHARE] = WET if M[n] > now[GAS] and not drying else 1.0
            error, good = _step(start, step, env, model, scheme, U, end)
            filled = out[n] / now[GAS]
            if now[SHARE] < 1.0 and filled < 0.5:
                # all that lies on the film goes within this step: stop when it has, or, if it is little, step as if
                # it were in the air
                held = M[n] / now[GAS]
                drying = held < 2.0
                h = step if drying else step * (held - 1.0) / (held - filled)
                continue
            ratio = error / tolerance
            grow = 6.0 if ratio < 1e-6 else min(6.0, max(0.2, 0.9 * ratio ** (-1.0 / order)))
            good = good and (now[SHARE] < 1.0 or filled < 1.05)
            if not good or ratio > 1.0:
                h = step * (grow if good else 0.25)
                if h < SHORTEST:
                    return STUCK, o, steps, attempts
                drying = False
                continue
            for k in range(crossed.size):
                if math.isnan(crossed[k]):
                    crossed[k] = _locate(k, watches, state, t, step, piece, air, env, model, scheme)
            for i in range(n + 2):
                start[0, i], start[1, i] = end[0, i], end[1, i]
            t = stop_at if step == room else t + step
            steps, drying = steps + 1, False
            # a step cut short by an output or an edge of the air says nothing against the longer one
            h = step * grow if step >= 0.999 * h else max(h, step * grow)
        _keep(o, env[4] + env[5] * step / 2, M, model, kept)
        if stop and crossed.size > 0 and not math.isnan(crossed.sum()):
            return DONE, o + 1, steps, attempts
    return DONE, times.size, steps, attempts
