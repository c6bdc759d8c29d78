"""The compiled march of water: one conservative state, potentials in closed form, no Newton iteration.

State M [kg] of every cell, then of the gas space (node n), then the water let in since the start (node n+1).
Activities follow from the state by table. One step solves, per stage, (C/(gamma h) + L) z = rhs in activities,
C = dM/da, L = minus the flux Jacobian: tridiagonal along the cells, bordered by the gas space. State increments
are C z, and every flux is one number, so sums of state telescope and the water balance closes to round-off.

Where no step meets more than one temperature, `spells` are None, and all that has to do with them is left out of what
is compiled: it takes twice as long with them, and is done when a journey first asks for it.

`march._model` lays the arrays out, few and fat: a compiled call passes each as seven numbers or more. Everything
compiled lives in this file: numba's cache watches the file of the function called from outside, and would miss a
change in another. None of it makes arrays, so it goes without reference counts (`_nrt`), in half the time; and only
`march_kernel` is called from outside, so only that is wrapped for Python.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from hardtack.transport.elementary import exponential
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure

# rows of cells: those from MOBILITY on are scratch
DRY, DRY_INVERSE, WITHIN, MOBILITY, K, RISE, Z, FLUX, LEAVING, LATER, LEAVING_LATER, FACE, OUT = range(13)
C, STORE, ONWARDS, BACK, TO_GAS, FROM_GAS, PIVOT, STAYS, GOES_ON, GOES_OUT, UP, BY, SOURCE, CELL_ROWS = range(
    13, 27
)
# columns of layers, rows of joints, columns of barriers, entries of now: scratch from SOLID, SHIELD, T_NOW on
(
    RHO,
    D_REF,
    SLOPE,
    X_REF,
    T_REF,
    E_ACT,
    DELTA,
    X_HALF,
    INTERVALS,
    CAP,
    SOLID,
    VAPOUR,
    RATIO,
    PORES,
    LAYER_COLUMNS,
) = range(15)
(
    HALF_1,
    HALF_2,
    NARROWS_1,
    NARROWS_2,
    SHIELD,
    COVER,
    BY_FIRST,
    BY_SECOND,
    THROUGH,
    RATE,
    EASE,
    ACTIVITY,
    FALLS,
    STEEPNESS,
    JOINT_ROWS,
) = range(15)
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
    COUNT,
    ANEW,
    OFFSET,
    STRIDE,
    MIDDLE,
    LAG,
    LENGTH,
    BREATH,
    NOW_SIZE,
) = range(21)
# columns of spells; then two for each layer, (rho D, delta psat), and two for each joint, (shield, cover)
SPAN, LEAN, T_SPELL, G_SPELL, B_SPELL, VARIES, PSAT, CENTRE_SPELL, COLDER, LEVEL, WARMER, SPELL_COLUMNS = (
    range(12)
)
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
HAIR = 1e-3  # time [s] by which a step may miss an edge of the air by rounding
SWINGS = 1e-6  # [K] below which temperature counts as constant over a step
SPELLS = 8  # at most, into which a step's air is sorted
SPELL_WIDTH = 3.0  # [K] of temperature put together in one spell
LATENT = 5300.0  # latent heat of water over its gas constant [K], for a second-order term only
QUICK = (
    1800.0  # time constant [s] of the gas space below which it counts as standing where its fluxes balance
)
RESOLVING = 86400.0  # time [s] for which every piece of air is resolved after spells failed
CROSSING_WIDTH = 1.0  # width [s] to which a crossing is bracketed

_options = {"error_model": "numpy", "fastmath": {"contract"}, "_nrt": False}
_inside = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_compiled = njit(**_options, **_inside)
_inlined = njit(**_options, **_inside, forceinline=True)
# what is called once and calls much: compiled with its caller, not before
_in_place = njit(**_options, inline="always")
_psat = _compiled(saturation_pressure)
_exp = _inlined(exponential)


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
    if t1 - edges[k1] < HAIR:
        k1 -= 1  # the step ends with a piece: where the next leg begins it may be another temperature
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
def _curve_at(j, k, weights, layers, curves):
    """Layer j's scale, its three curves around the k-th (thrice one where there is no other), their weights."""
    last = curves.shape[1] - 1
    colder, level, warmer = curves[j, max(k - 1, 0)], curves[j, k], curves[j, min(k + 1, last)]
    return layers[j, X_HALF], layers[j, INTERVALS], colder, level, warmer, weights


@_inlined
def _curve(j, layers, curves, now):
    """The curves at the temperature that `now` stands at."""
    return _curve_at(j, int(now[CENTRE]), (now[W_COLDER], now[W_LEVEL], now[W_WARMER]), layers, curves)


@_inlined
def _cubic(u, curve):
    """What is left of u beyond the node below it, and the cubic of the interval."""
    _, _, colder, level, warmer, (w0, w1, w2) = curve
    whole = min(int(u), level.shape[0] - 1)  # the last interval is the straight continuation
    k = np.uint64(whole)  # the compiler need not look whether it counts from the end
    c0, c1, c2, c3 = level[k, 0], level[k, 1], level[k, 2], level[k, 3]
    if w1 != 1.0:
        c0 = w0 * colder[k, 0] + w1 * c0 + w2 * warmer[k, 0]
        c1 = w0 * colder[k, 1] + w1 * c1 + w2 * warmer[k, 1]
        c2 = w0 * colder[k, 2] + w1 * c2 + w2 * warmer[k, 2]
        c3 = w0 * colder[k, 3] + w1 * c3 + w2 * warmer[k, 3]
    return u - whole, c0, c1, c2, c3


@_inlined
def _activity(X, curve):
    """a, da/dX and d2a/dX2 at moisture X, cubic in s = X / (X + X_half)."""
    x_half, intervals = curve[0], curve[1]
    q = 1.0 / (X + x_half)
    y, c0, c1, c2, c3 = _cubic(X * q * intervals, curve)
    u_X = intervals * x_half * q * q
    a_u = max(c1 + y * (2.0 * c2 + 3.0 * y * c3), FLATTEST)
    a_uu = 2.0 * c2 + 6.0 * y * c3 if a_u > FLATTEST else 0.0
    return c0 + y * (c1 + y * (c2 + y * c3)), a_u * u_X, (a_uu * u_X - 2.0 * q * a_u) * u_X


@_inlined
def _places(water, dry_inverse, x_half, intervals, u):
    """Where each cell stands along the curves, in intervals."""
    for i in range(water.size):
        X = water[i] * dry_inverse[i]
        u[i] = X * intervals / (X + x_half)


@_compiled
def _levels(M, j, cells, layers, spans, curves, now, a):
    """Activity of every cell of layer j, into a: what divides in a loop of its own, which becomes vectors."""
    first, last, curve = spans[j, 0], spans[j, 1], _curve(j, layers, curves, now)
    x_half, intervals = curve[0], curve[1]
    water, dry_inverse, out = M[first:last], cells[DRY_INVERSE, first:last], a[first:last]
    _places(water, dry_inverse, x_half, intervals, out)
    for i in range(water.size):
        y, c0, c1, c2, c3 = _cubic(out[i], curve)
        out[i] = c0 + y * (c1 + y * (c2 + y * c3))


@_compiled
def _along(M, j, cells, layers, spans, curves, now, a):
    """Activity of every cell of layer j, into a, and dX/da, into RISE.

    As `_activity` cell by cell, but with what divides in loops of its own, which become vectors; the look-up does not.
    """
    first, last, curve = spans[j, 0], spans[j, 1], _curve(j, layers, curves, now)
    x_half, intervals = curve[0], curve[1]
    water, dry_inverse = M[first:last], cells[DRY_INVERSE, first:last]
    rise, out = cells[RISE, first:last], a[first:last]
    _places(water, dry_inverse, x_half, intervals, rise)
    for i in range(water.size):
        y, c0, c1, c2, c3 = _cubic(rise[i], curve)
        out[i] = c0 + y * (c1 + y * (c2 + y * c3))
        rise[i] = max(c1 + y * (2.0 * c2 + 3.0 * y * c3), FLATTEST)
    per = 1.0 / (intervals * x_half)
    for i in range(water.size):
        beyond = water[i] * dry_inverse[i] + x_half
        rise[i] = per * beyond * beyond / rise[i]


@_inlined
def _gas(water, now):
    """Activity of the gas space: its share of saturation, or near 1 while water lies on the film."""
    return (1.0 - now[SHARE]) + now[SHARE] * (water / now[GAS])


@_inlined
def _end(X, mobility, vapour, j, layers, curve):
    """Beside a joint, in layer j: a, 1/kappa with kappa = rho D dX/da + delta psat, -d(1/kappa)/da, and da/dX."""
    a, da, dda = _activity(X, curve)
    slope = layers[j, SLOPE] if layers[j, SLOPE] * (X - layers[j, X_REF]) < layers[j, CAP] else 0.0
    rise, steepens = 1.0 / da, -dda / da
    bounded = min(rise, STEEPEST)
    if bounded < rise:
        steepens = 0.0
    hindrance = 1.0 / (mobility * bounded + vapour)
    return a, hindrance, mobility * (slope + steepens) * rise * bounded * hindrance**2, da


@_inlined
def _ease(joints, k, hindrance1, hindrance2, shield, cover):
    """Conductance of joint k [kg/s per unit activity], and by how much either hindrance counts in its inverse."""
    half1, half2 = joints[HALF_1, k], joints[HALF_2, k]
    if cover > 0.0:
        narrows = joints[NARROWS_1, k] * hindrance1 + joints[NARROWS_2, k] * hindrance2
        beside = 1.0 / (cover + narrows)
        shield += cover * narrows * beside
        half1 += joints[NARROWS_1, k] * (cover * beside) ** 2
        half2 += joints[NARROWS_2, k] * (cover * beside) ** 2
    G = 1.0 / (joints[HALF_1, k] * hindrance1 + joints[HALF_2, k] * hindrance2 + shield)
    return G, half1, half2


@_inlined
def _solids(M, cells, layers, spans):
    """Mobility rho D of every cell, and rho integral of D dX, into MOBILITY and K."""
    for j in range(spans.shape[0]):
        # plain numbers first: an array's element might change under the loop for all the compiler knows; and slices, for
        # an index that might be negative keeps it from making vectors
        slope, x_ref, solid = layers[j, SLOPE], layers[j, X_REF], layers[j, SOLID]
        first, last, cap = spans[j, 0], spans[j, 1], layers[j, CAP]
        mobility, potential = cells[MOBILITY, first:last], cells[K, first:last]
        water, dry_inverse = M[first:last], cells[DRY_INVERSE, first:last]
        if slope == 0.0:
            for i in range(water.size):
                mobility[i] = solid
                potential[i] = solid * (water[i] * dry_inverse[i])
        else:
            per_slope = 1.0 / slope
            for i in range(water.size):
                e = slope * (water[i] * dry_inverse[i] - x_ref)
                beyond = max(e - cap, 0.0)  # where D has reached its bound and stays
                quick = solid * _exp(e - beyond)
                mobility[i] = quick
                potential[i] = quick * (1.0 + beyond) * per_slope


@_compiled
def _fluxes(M, g, b, cells, layers, spans, joints, nodes, curves, now, flux, leaving):
    """Every flux once [kg/s]: from each cell to the next, from each to the gas space, and that of the film, returned.

    Within a layer the potential is K = integral of kappa da = rho integral of D dX + delta psat a: so the flux between
    centres is exact for any D(X). The film's is b - g a. Leaves, too, rho D of every cell and the derivatives of the
    joints' fluxes.
    """
    mobility, potential, within = cells[MOBILITY], cells[K], cells[WITHIN]
    dry_inverse, n = cells[DRY_INVERSE], cells.shape[1] - 2
    _solids(M, cells, layers, spans)
    for j in range(spans.shape[0]):
        vapour, first, last = layers[j, VAPOUR], spans[j, 0], spans[j, 1]
        if vapour > 0.0:
            _levels(M, j, cells, layers, spans, curves, now, cells[Z])
            for i in range(first, last):
                potential[i] += vapour * cells[Z, i]
    for i in range(n):  # none from the last cell: its `within` is zero
        flux[i] = (potential[i] - potential[i + 1]) * within[i]
        leaving[i] = 0.0
    for k in range(nodes.shape[0]):
        i1, j1, i2, j2 = nodes[k, 0], nodes[k, 1], nodes[k, 2], nodes[k, 3]
        a1, hindrance1, falls1, _ = _end(
            M[i1] * dry_inverse[i1],
            mobility[i1],
            layers[j1, VAPOUR],
            j1,
            layers,
            _curve(j1, layers, curves, now),
        )
        if i2 == n:  # the gas space sets no resistance of its own
            a2, hindrance2, falls2 = _gas(M[n], now), 0.0, 0.0
        else:
            a2, hindrance2, falls2, _ = _end(
                M[i2] * dry_inverse[i2],
                mobility[i2],
                layers[j2, VAPOUR],
                j2,
                layers,
                _curve(j2, layers, curves, now),
            )
        G, half1, half2 = _ease(joints, k, hindrance1, hindrance2, joints[SHIELD, k], joints[COVER, k])
        through = (a1 - a2) * G
        joints[BY_FIRST, k] = G * max(1.0 + through * half1 * falls1, LEAST)
        joints[BY_SECOND, k] = G * max(1.0 - through * half2 * falls2, LEAST)
        if i2 == n:
            leaving[i1] += through
        else:
            flux[i1] = through
    return b - g * _gas(M[n], now)


@_compiled
def _gather(air, film, t0, h, k0, spells):
    """Sort the pieces of air within [t0, t0 + h] by temperature into few spells: how many.

    Of each: its share of the step, that share's slope in time as the projection on straight lines has it, mean T, g
    and b, and how T varies within [K2].
    """
    if spells is None:
        return 0
    edges, left, right, _, _, _ = air
    t1, mid, low, high, k = t0 + h, t0 + h / 2, math.inf, -math.inf, k0
    while k < edges.size - 1 and edges[k] + HAIR < t1:
        T0, T1, t, width = left[2, k], right[2, k], edges[k], edges[k + 1] - edges[k]
        T = T0 + (T1 - T0) * ((max(t, t0) + min(t + width, t1)) / 2 - t) / width
        low, high, k = min(low, T), max(high, T), k + 1
    if not high - low > SWINGS:
        return 0
    count = min(int((high - low) / SPELL_WIDTH) + 2, spells.shape[0])
    spells[:count, :CENTRE_SPELL] = 0.0
    leverage = 0.0
    per = count / (high - low)
    for i in range(k0, k):
        t, width = edges[i], edges[i + 1] - edges[i]
        begins, ends = max(t, t0), min(t + width, t1)
        dt, middle = ends - begins, (begins + ends) / 2
        x, share = (middle - t) / width, dt / h
        warm = left[2, i] + (right[2, i] - left[2, i]) * x - low
        spread = (right[2, i] - left[2, i]) * dt / width
        spell = spells[min(int(warm * per), count - 1)]
        spell[SPAN] += share
        spell[LEAN] += share * (middle - mid)
        leverage += share * (middle - mid) ** 2
        spell[T_SPELL] += share * warm
        spell[G_SPELL] += share * (left[0, i] + (right[0, i] - left[0, i]) * x)
        spell[B_SPELL] += share * (left[1, i] + (right[1, i] - left[1, i]) * x)
        spell[VARIES] += share * (warm * warm + spread * spread / 12.0)
    kept = 0
    for q in range(count):
        share = spells[q, SPAN]
        if share > 0.0:
            warm = spells[q, T_SPELL] / share
            spells[kept, SPAN], spells[kept, LEAN] = share, spells[q, LEAN] / leverage
            spells[kept, VARIES] = max(spells[q, VARIES] / share - warm * warm, 0.0)
            spells[kept, T_SPELL] = low + warm
            spells[kept, G_SPELL] = spells[q, G_SPELL] * film / share
            spells[kept, B_SPELL] = spells[q, B_SPELL] * film / share
            kept += 1
    return kept


@_compiled
def _laws_of_spells(layers, joints, barriers, curves, spells, now):
    """Every spell's laws, its row of `spells`; and in `now`, `layers` their means."""
    if spells is None:
        return
    count, J, B = int(now[COUNT]), layers.shape[0], joints.shape[1]
    last = curves.shape[1] - 1
    mean = 0.0
    for q in range(count):
        mean += spells[q, SPAN] * spells[q, T_SPELL]
    furthest = 0.0
    for q in range(count):
        spell, T = spells[q], spells[q, T_SPELL]
        furthest = max(furthest, abs(T - mean))
        _centre(T, curves, now)
        _laws(T, layers, joints, barriers, now)
        # a law f(T) at the mean of temperatures that vary: f + f'' var / 2, f''/f = e (e - 2/T) for exp(-e T)
        half, e = spell[VARIES] / 2, LATENT / (T * T)
        damp = 1.0 + half * e * (e - 2.0 / T)
        spell[PSAT] = _psat(T) * damp
        spell[CENTRE_SPELL], spell[COLDER], spell[LEVEL], spell[WARMER] = (
            now[CENTRE],
            now[W_COLDER],
            now[W_LEVEL],
            now[W_WARMER],
        )
        for j in range(J):
            e = layers[j, E_ACT] / (GAS_CONSTANT * T * T)
            spell[SPELL_COLUMNS + 2 * j] = layers[j, SOLID] * (1.0 + half * e * (e - 2.0 / T))
            spell[SPELL_COLUMNS + 2 * j + 1] = layers[j, VAPOUR] * damp
        for k in range(B):
            spell[SPELL_COLUMNS + 2 * (J + k)] = joints[SHIELD, k]
            spell[SPELL_COLUMNS + 2 * (J + k) + 1] = joints[COVER, k]
    _centre(mean, curves, now)
    _laws(mean, layers, joints, barriers, now)
    now[T_NOW] = math.nan  # the means to come are no law at any temperature
    for j in range(J):
        solid, vapour = 0.0, 0.0
        for q in range(count):
            solid += spells[q, SPAN] * spells[q, SPELL_COLUMNS + 2 * j]
            vapour += spells[q, SPAN] * spells[q, SPELL_COLUMNS + 2 * j + 1]
        layers[j, SOLID], layers[j, VAPOUR] = solid, vapour
    # three curves that reach over all of the spells, for what is a sum over them at every cell
    now[STRIDE] = min(max(math.ceil(furthest / now[T_SPACING]), 1), last // 2) if last > 0 else 0
    now[MIDDLE] = min(max(now[CENTRE], now[STRIDE]), last - now[STRIDE])


@_compiled
def _vapour_over(M, j, whole, ahead, cells, layers, spans, curves, spells, now, potential):
    """Add to the potential of layer j the sum over the spells of delta psat a."""
    colder, level, warmer = 0.0, 0.0, 0.0
    for q in range(int(now[COUNT])):
        share = (whole * spells[q, SPAN] + ahead * spells[q, LEAN]) * spells[q, PSAT]
        x = ((spells[q, T_SPELL] - now[T_FIRST]) / now[T_SPACING] - now[MIDDLE]) / now[STRIDE]
        colder += share * x * (x - 1.0) / 2
        level += share * (1.0 - x * x)
        warmer += share * x * (x + 1.0) / 2
    k, s, delta = int(now[MIDDLE]), int(now[STRIDE]), layers[j, DELTA]
    curve = (
        layers[j, X_HALF],
        layers[j, INTERVALS],
        curves[j, k - s],
        curves[j, k],
        curves[j, k + s],
        (colder * delta, level * delta, warmer * delta),
    )
    dry_inverse = cells[DRY_INVERSE]
    for i in range(spans[j, 0], spans[j, 1]):
        potential[i] += _activity(M[i] * dry_inverse[i], curve)[0]


@_inlined
def _inner_over(M, ahead, rates, cells, layers, spans, curves, spells, now, flux, later):
    """The fluxes from cell to cell within layers `ahead` of the middle of the step and, if asked for, their rates."""
    potential, rising, within, n = cells[K], cells[Z], cells[WITHIN], cells.shape[1] - 2
    _solids(M, cells, layers, spans)
    for j in range(layers.shape[0]):
        solid, pores, solid_rate = 0.0, 0.0, 0.0
        for q in range(int(now[COUNT])):
            share = spells[q, SPAN] + ahead * spells[q, LEAN]
            solid += share * spells[q, SPELL_COLUMNS + 2 * j]
            pores += share * spells[q, SPELL_COLUMNS + 2 * j + 1]
            solid_rate += spells[q, LEAN] * spells[q, SPELL_COLUMNS + 2 * j]
        solid, solid_rate = solid / layers[j, SOLID], solid_rate / layers[j, SOLID]
        layers[j, RATIO], layers[j, PORES] = solid, pores
        first, last = spans[j, 0], spans[j, 1]
        if rates:
            for i in range(first, last):
                rising[i] = potential[i] * solid_rate
        for i in range(first, last):
            potential[i] *= solid
        if layers[j, DELTA] > 0.0:
            _vapour_over(M, j, 1.0, ahead, cells, layers, spans, curves, spells, now, potential)
            if rates:
                _vapour_over(M, j, 0.0, 1.0, cells, layers, spans, curves, spells, now, rising)
    for i in range(n):
        flux[i] = (potential[i] - potential[i + 1]) * within[i]
    if rates:
        for i in range(n):
            later[i] = (rising[i] - rising[i + 1]) * within[i]


@_inlined
def _beside(M, i, j, spell, cells, layers, curves):
    """`_end` in cell i of layer j during a spell."""
    middle, weights = int(spell[CENTRE_SPELL]), (spell[COLDER], spell[LEVEL], spell[WARMER])
    return _end(
        M[i] * cells[DRY_INVERSE, i],
        cells[MOBILITY, i] / layers[j, SOLID] * spell[SPELL_COLUMNS + 2 * j],
        spell[SPELL_COLUMNS + 2 * j + 1],
        j,
        layers,
        _curve_at(j, middle, weights, layers, curves),
    )


@_inlined
def _joints_over(M, share, spell, cells, layers, joints, nodes, curves):
    """Add one spell's part to the joints; what stands in the gas space, and what draws it there [kg/s].

    A joint's flux goes into THROUGH by its share, and into RATE by its slope. For the joints to the gas space, whose
    activity is yet to be known, they are left in EASE, ACTIVITY, FALLS and STEEPNESS.
    """
    n, first = cells.shape[1] - 2, SPELL_COLUMNS + 2 * layers.shape[0]
    draws, drawn = spell[G_SPELL], spell[B_SPELL]
    for k in range(nodes.shape[0]):
        a1, hindrance1, falls1, da1 = _beside(M, nodes[k, 0], nodes[k, 1], spell, cells, layers, curves)
        a2, hindrance2, falls2, da2 = 0.0, 0.0, 0.0, 0.0
        if nodes[k, 2] != n:
            a2, hindrance2, falls2, da2 = _beside(M, nodes[k, 2], nodes[k, 3], spell, cells, layers, curves)
        G, half1, half2 = _ease(
            joints, k, hindrance1, hindrance2, spell[first + 2 * k], spell[first + 2 * k + 1]
        )
        if nodes[k, 2] == n:
            draws += G
            drawn += G * a1
            joints[EASE, k], joints[ACTIVITY, k] = G, a1
            joints[FALLS, k], joints[STEEPNESS, k] = half1 * falls1, da1
        else:
            through = (a1 - a2) * G
            joints[THROUGH, k] += share * through
            joints[RATE, k] += spell[LEAN] * through
            joints[BY_FIRST, k] += share * G * max(1.0 + through * half1 * falls1, LEAST) * da1
            joints[BY_SECOND, k] += share * G * max(1.0 - through * half2 * falls2, LEAST) * da2
    return draws, drawn


@_inlined
def _hand_over(beyond, breath, rates, joints, nodes, flux, leaving, later, leaving_later):
    """From the joints to the cells: their fluxes and, if asked for, rates, with what the gas space stands beyond."""
    n = leaving.size - 2
    for i in range(n):
        leaving[i] = 0.0
        if rates:
            leaving_later[i] = 0.0
    for k in range(nodes.shape[0]):
        i, through, rate = nodes[k, 0], joints[THROUGH, k], joints[RATE, k]
        if nodes[k, 2] == n:
            leaving[i] += through - joints[BY_SECOND, k] * beyond
            if rates:
                leaving_later[i] += rate + joints[BY_SECOND, k] * breath
        else:
            flux[i] = through
            if rates:
                later[i] = rate


@_compiled
def _fluxes_over(
    M,
    ahead,
    rates,
    cells,
    layers,
    spans,
    joints,
    nodes,
    curves,
    spells,
    now,
    flux,
    leaving,
    later,
    leaving_later,
):
    """As `_fluxes`, but each flux is its mean over the spells of a step, the water of the cells held.

    The fluxes are those of the straight line in time, `ahead` [s] of the middle of the step; `rates` asks for its slope
    into the arrays for later, and returns that of the film's flux beside the flux. In every spell the gas space stands
    where what comes in goes out, and what its water gains by breathing. What else its water has gained since the step
    began raises the activities of all spells alike.
    """
    if spells is None:
        return 0.0, 0.0
    n = cells.shape[1] - 2
    _inner_over(M, ahead, rates, cells, layers, spans, curves, spells, now, flux, later)
    joints[BY_FIRST : RATE + 1, :] = 0.0
    film, film_rate, drawn, draws, g_mean = 0.0, 0.0, 0.0, 0.0, 0.0
    for q in range(int(now[COUNT])):
        spell, span, lean = spells[q], spells[q, SPAN], spells[q, LEAN]
        share = span + ahead * lean
        draws_now, drawn_now = _joints_over(M, share, spell, cells, layers, joints, nodes, curves)
        drawn_now -= now[BREATH]
        a = drawn_now / draws_now
        if a > 1.0:
            now[LAG] = math.inf  # water gathers on the film: no such mean holds
        drawn += span * drawn_now
        draws += span * draws_now
        g_mean += span * spell[G_SPELL]
        came = spell[B_SPELL] - spell[G_SPELL] * a
        film += share * came
        film_rate += lean * came
        for k in range(nodes.shape[0]):
            if nodes[k, 2] == n:
                G = joints[EASE, k]
                through = G * (joints[ACTIVITY, k] - a)
                joints[THROUGH, k] += share * through
                joints[RATE, k] += lean * through
                joints[BY_FIRST, k] += (
                    share * G * max(1.0 + through * joints[FALLS, k], LEAST) * joints[STEEPNESS, k]
                )
                joints[BY_SECOND, k] += span * G
    now[LAG] = max(now[LAG], now[GAS] / draws)
    stands, breath = drawn / draws - M[n] / now[GAS], now[BREATH] / now[GAS]
    if math.isnan(now[OFFSET]):
        now[OFFSET] = stands
    beyond = now[OFFSET] - stands - breath * (ahead + now[LENGTH] / 2)
    _hand_over(beyond, breath, rates, joints, nodes, flux, leaving, later, leaving_later)
    return film - g_mean * beyond, film_rate + g_mean * breath


@_compiled
def _standing(M, air, t, piece, model):
    """Activity at which the gas space stands at t, what comes in going out; the joints' conductances into EASE."""
    cells, layers, _, joints, nodes, barriers, curves, now, _ = model
    edges, left, right, _, _, _ = air
    while edges[piece + 1] + HAIR < t:
        piece += 1
    x = (t - edges[piece]) / (edges[piece + 1] - edges[piece])
    g = (left[0, piece] + (right[0, piece] - left[0, piece]) * x) * now[FILM]
    b = (left[1, piece] + (right[1, piece] - left[1, piece]) * x) * now[FILM]
    T = left[2, piece] + (right[2, piece] - left[2, piece]) * x
    n, dry_inverse = cells.shape[1] - 2, cells[DRY_INVERSE]
    _centre(T, curves, now)
    _laws(T, layers, joints, barriers, now)
    eases, drawn = 0.0, b
    for k in range(nodes.shape[0]):
        if nodes[k, 2] == n:
            i, j = nodes[k, 0], nodes[k, 1]
            X = M[i] * dry_inverse[i]
            mobility = layers[j, SOLID] * math.exp(
                min(layers[j, SLOPE] * (X - layers[j, X_REF]), layers[j, CAP])
            )
            a, hindrance, _, _ = _end(
                X, mobility, layers[j, VAPOUR], j, layers, _curve(j, layers, curves, now)
            )
            G, _, _ = _ease(joints, k, hindrance, 0.0, joints[SHIELD, k], joints[COVER, k])
            joints[EASE, k] = G
            eases += G
            drawn += G * a
    return drawn / (eases + g), eases


@_compiled
def _breath(M, air, t, h, piece, model, spells):
    """Water per time [kg/s] that the gas space takes over a step from t to stand where it will at its end."""
    if spells is None:
        return 0.0
    stands, _ = _standing(M, air, t + h, piece, model)
    return (stands * model[7][GAS] - M[M.size - 2]) / h


@_compiled
def _settle(M, air, t, piece, model, spells):
    """After a step over spells: give the gas space, from the cells that see it, what it holds at this moment.

    Returned is its activity.
    """
    if spells is None:
        return 0.0
    joints, nodes, now, n = model[3], model[4], model[7], model[0].shape[1] - 2
    a, eases = _standing(M, air, t, piece, model)
    if eases > 0.0:
        takes = a * now[GAS] - M[n]
        for k in range(nodes.shape[0]):
            if nodes[k, 2] == n:
                share = takes * (joints[EASE, k] / eases)
                M[nodes[k, 0]] -= share
                M[n] += share
    return a


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
        vapour, ratio = layers[j, VAPOUR], 1.0
        if now[COUNT] > 0.0:
            vapour, ratio = layers[j, PORES], layers[j, RATIO]
        first, last = spans[j, 0], spans[j, 1]
        _along(M, j, cells, layers, spans, curves, now, cells[Z])
        solids, moves, along = dry[first:last], mobility[first:last], kappa[first:last]
        holds, rises = capacity[first:last], rise[first:last]
        for i in range(solids.size):
            holds[i] = solids[i] * rises[i]
            along[i] = moves[i] * rises[i] * ratio + vapour
    capacity[n] = now[GAS] / now[SHARE]
    cells[TO_GAS : FROM_GAS + 1, :] = 0.0
    for i in range(n + 1):
        store[i] = capacity[i] * inv
    for i in range(n - 1):
        onwards[i] = kappa[i] * within[i]
        back[i] = kappa[i + 1] * within[i]
    for k in range(nodes.shape[0]):
        first = nodes[k, 0]
        # over spells the joints' derivatives are by the moisture, whose activity differs from spell to spell
        by_first = joints[BY_FIRST, k] * (rise[first] if now[COUNT] > 0.0 else 1.0)
        if nodes[k, 2] == n:
            to_gas[first] += by_first
            from_gas[first] += joints[BY_SECOND, k]
        else:
            onwards[first] = by_first
            back[first] = joints[BY_SECOND, k] * (rise[nodes[k, 2]] if now[COUNT] > 0.0 else 1.0)


@_inlined
def _factor(cells, g):
    """Eliminate the cells from both ends to the middle one, the gas space last; no pivoting, and no subtraction.

    Every column of the matrix sums to its store: what leaves a node enters another. Carrying that excess, not the
    diagonal, keeps pivots exact to round-off however far conductances exceed store (after Grassmann, Taksar & Heyman
    1985, Operations Research 33:1107, on Markov chains). Leaves 1/diagonal in PIVOT; the shares, one in all, of what
    comes to a cell: STAYS, GOES_ON to the next cell, GOES_OUT to the gas space (or from there through the film); and
    the multipliers of the backward sweep, UP and BY. A cell waits for the one before it: from two ends, i and j, two
    are under way at a time.
    """
    store, onwards, back, to_gas, from_gas = (
        cells[STORE], cells[ONWARDS], cells[BACK], cells[TO_GAS], cells[FROM_GAS],
    )  # fmt: skip
    pivot, stays, goes_on, goes_out, ups, bys = (
        cells[PIVOT], cells[STAYS], cells[GOES_ON], cells[GOES_OUT], cells[UP], cells[BY],
    )  # fmt: skip
    n = cells.shape[1] - 2
    middle, j, gas = n // 2, n - 1, store[n]
    excess, to, by = store[0], to_gas[0], from_gas[0]
    excess_j, to_j, by_j = (store[j], to_gas[j], from_gas[j]) if j > middle else (0.0, 0.0, 0.0)
    for i in range(middle):
        inverse = 1.0 / (excess + onwards[i] + to)
        up, down, stay = back[i] * inverse, onwards[i] * inverse, excess * inverse
        pivot[i], stays[i], goes_on[i], goes_out[i] = inverse, stay, down, to * inverse
        ups[i], bys[i] = up, by * inverse
        gas += by * stay
        excess, to, by = store[i + 1] + up * excess, to_gas[i + 1] + up * to, from_gas[i + 1] + down * by
        if j > middle:
            inverse = 1.0 / (excess_j + back[j - 1] + to_j)
            up, down, stay = onwards[j - 1] * inverse, back[j - 1] * inverse, excess_j * inverse
            pivot[j], stays[j], goes_on[j], goes_out[j] = inverse, stay, down, to_j * inverse
            ups[j], bys[j] = up, by_j * inverse
            gas += by_j * stay
            j -= 1
            # what the middle cell has of its own comes from the other side
            own = 1.0 if j > middle else 0.0
            excess_j, to_j, by_j = (
                own * store[j] + up * excess_j, own * to_gas[j] + up * to_j, own * from_gas[j] + down * by_j,
            )  # fmt: skip
    excess, to, by = excess + excess_j, to + to_j, by + by_j
    inverse = 1.0 / (excess + to)
    pivot[middle], stays[middle], goes_out[middle] = inverse, excess * inverse, to * inverse
    bys[middle] = by * inverse
    gas += by * stays[middle]
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
    middle, j = n // 2, n - 1
    gas, gas_j, source, out = sources[n], 0.0, sources[0], leaving[0]
    source_j, out_j = (sources[j], leaving[j]) if j > middle else (0.0, 0.0)
    for i in range(middle):
        z[i] = source - (flux[i] + out)
        gas += stays[i] * out + goes_out[i] * source
        source = goes_on[i] * source + (sources[i + 1] + stays[i] * flux[i])
        out = goes_on[i] * out + (leaving[i + 1] - goes_out[i] * flux[i])
        if j > middle:
            came = flux[j - 1]
            z[j] = source_j + (came - out_j)
            gas_j += stays[j] * out_j + goes_out[j] * source_j
            own = 1.0 if j - 1 > middle else 0.0
            source_j = goes_on[j] * source_j + (own * sources[j - 1] - stays[j] * came)
            out_j = goes_on[j] * out_j + (own * leaving[j - 1] + goes_out[j] * came)
            j -= 1
    source, out = source + source_j, out + out_j
    z[middle] = source - out
    gas += gas_j + (stays[middle] * out + goes_out[middle] * source)
    film_after = film * stays[n] - gas * goes_out[n]
    gas = (gas + film) * pivot[n]
    z[n] = gas
    carried = z[middle] * pivot[middle] + bys[middle] * gas
    z[middle], carried_j, gained, gained_gas = carried, carried, capacity[middle] * carried, capacity[n] * gas
    u[middle] += gained
    u[n] += gained_gas
    total, total_j = gained_gas, gained
    for k in range(1, middle + 1):
        i, j = middle - k, middle + k
        carried = (z[i] * pivot[i] + bys[i] * gas) + ups[i] * carried
        gained = capacity[i] * carried
        z[i] = carried
        u[i] += gained
        total += gained
        if j < n:
            carried_j = (z[j] * pivot[j] + bys[j] * gas) + ups[j] * carried_j
            gained = capacity[j] * carried_j
            z[j] = carried_j
            u[j] += gained
            total_j += gained
    return film_after, total + total_j


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


@_inlined
def _stage_state(s, M, A, U, rounding, out):
    """The state of stage s, into `out`; whether no cell of it is dried out beyond rounding."""
    n = M.size - 2
    for i in range(n + 1):
        out[i] = M[i]
    for j in range(s):
        if A[s, j] != 0.0:
            _add(n + 1, A[s, j], U[j], out)
    least = out[0]
    for i in range(n):
        least = min(least, out[i])
    # the gas space is linear in its water, so a stage may overshoot below zero there
    return least > -rounding


@_inlined
def _right_hand(s, h, C_stage, U, cells):
    """What stage s has of its own right-hand side: fluxes into FACE and OUT, the stages before into SOURCE.

    Returned is the part of the stages before in the film's flux.
    """
    flux, leaving, face, leaves = cells[FLUX], cells[LEAVING], cells[FACE], cells[OUT]
    source, n, inflow = cells[SOURCE], cells.shape[1] - 2, 0.0
    for i in range(n + 1):
        source[i] = 0.0
    for j in range(s):
        c = C_stage[s, j] / h
        _add(n + 1, c, U[j], source)
        inflow += c * U[j, n + 1]
    for i in range(n):
        face[i] = flux[i]
        leaves[i] = leaving[i]
    return inflow


@_inlined
def _rates(per, flux, later):
    """From two sets of fluxes to their rate of change, into the second."""
    for i in range(flux.size - 2):
        later[i] = (later[i] - flux[i]) * per


@_compiled
def _step(start, h, env, model, scheme, U, end):
    """One step of length h from `start` to `end`: its error in activity, and whether it is good.

    Either is two rows: the state, and what rounding left out of it so far.
    """
    M, out = start[0], end[0]
    cells, layers, spans, joints, nodes, barriers, curves, now, spells = model
    over = now[COUNT] > 0.0
    gamma, A, C_stage, m, e, alpha, gamma_sum, fresh, _, _ = scheme
    gamma_h = gamma * h
    flux, leaving, later, leaving_later = cells[FLUX], cells[LEAVING], cells[LATER], cells[LEAVING_LATER]
    face, leaves, n = cells[FACE], cells[OUT], cells.shape[1] - 2
    g_slope, b_slope, T_slope, film_rate = env[1], env[3], env[5], 0.0
    g0, b0, T0 = env[0] - g_slope * h / 2, env[2] - b_slope * h / 2, env[4] - T_slope * h / 2
    if over:
        g0 = env[0]
        film, film_rate = _fluxes_over(
            M, -h / 2, over, cells, layers, spans, joints, nodes, curves, spells, now,
            flux, leaving, later, leaving_later,
        )  # fmt: skip
    else:
        _laws(T0, layers, joints, barriers, now)
        film = _fluxes(M, g0, b0, cells, layers, spans, joints, nodes, curves, now, flux, leaving)
    _jacobian(M, 1.0 / gamma_h, cells, layers, spans, joints, nodes, curves, now)
    _factor(cells, g0)
    moving = over or g_slope != 0.0 or b_slope != 0.0 or T_slope != 0.0
    if moving and not over:
        # df/dt at fixed state: each flux differenced along the projected climate
        dt = 1e-4 * h
        per = 1.0 / dt
        g, b = g0 + g_slope * dt, b0 + b_slope * dt
        _laws(T0 + T_slope * dt, layers, joints, barriers, now)
        film_rate = _fluxes(M, g, b, cells, layers, spans, joints, nodes, curves, now, later, leaving_later)
        film_rate = (film_rate - film) * per
        _rates(per, flux, later)
        _rates(per, leaving, leaving_later)
    for s in range(alpha.size):
        if fresh[s]:
            if not _stage_state(s, M, A, U, now[ROUNDING], out):
                return 0.0, False
            t = alpha[s] * h
            if over:
                # no rates here; the word False would have a second copy of all this calls compiled
                film, _ = _fluxes_over(
                    out, t - h / 2, not over, cells, layers, spans, joints, nodes, curves, spells, now,
                    flux, leaving, later, leaving_later,
                )  # fmt: skip
            else:
                g, b = g0 + g_slope * t, b0 + b_slope * t
                _laws(T0 + T_slope * t, layers, joints, barriers, now)
                film = _fluxes(out, g, b, cells, layers, spans, joints, nodes, curves, now, flux, leaving)
        inflow = _right_hand(s, h, C_stage, U, cells)
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
def _prepare(air, t, h, piece, M, model, env):
    """Project the air on a step; where temperature swings within it, over its pieces sorted into spells."""
    _, layers, _, joints, _, barriers, curves, now, spells = model
    _project(air, now[FILM], t, h, piece, env)
    now[COUNT] = 0.0
    if t + h > air[0][piece + 1] + HAIR:
        now[COUNT] = _gather(air, now[FILM], t, h, piece, spells)
    if now[COUNT] > 0.0:
        now[LENGTH], now[BREATH] = h, _breath(M, air, t, h, piece, model, spells)
        _laws_of_spells(layers, joints, barriers, curves, spells, now)
        now[OFFSET], now[LAG], now[SHARE] = math.nan, 0.0, 1.0
        return
    _centre(env[4], curves, now)
    # whether water lies on the film holds for the whole step, so that its stages see no kink
    _laws(env[4] - env[5] * h / 2, layers, joints, barriers, now)


@_in_place
def _cross(crossed, watches, state, t, step, piece, air, env, model, scheme):
    """Times of the watches that meet their limit within the step from `start` to `end`, taken from t."""
    start, end, trial, U = (
        state[0:2],
        state[2:4],
        state[4:6],
        state[7 + scheme[3].size : 7 + 2 * scheme[3].size],
    )
    dry, again = model[0][DRY], False
    for k in range(crossed.size):
        first, last, X, up = watches[0][k], watches[1][k], watches[2][k], watches[3][k]
        below, above = _beyond(start[0], dry, first, last, X, up), _beyond(end[0], dry, first, last, X, up)
        if not math.isnan(crossed[k]) or (below < 0.0 and above < 0.0):
            continue
        low, high, kept = 0.0, step if below < 0.0 else 0.0, 0
        # step again from the start, by false position; an end kept twice weighs half (Illinois)
        while high - low > CROSSING_WIDTH:
            x = low + (high - low) * min(max(below / (below - above), 0.001), 0.999)
            x = min(max(x, low + 0.4 * CROSSING_WIDTH), high - 0.4 * CROSSING_WIDTH)
            _prepare(air, t, x, piece, start[0], model, env)
            good = _step(start, x, env, model, scheme, U, trial)[1]
            y, again = _beyond(trial[0], dry, first, last, X, up), True
            if not good or y >= 0.0:
                high, above, below, kept = x, y, below / 2 if kept == 1 else below, 1
            else:
                low, below, above, kept = x, y, above / 2 if kept == 2 else above, 2
        crossed[k] = t + high
    if again:
        _prepare(air, t, step, piece, start[0], model, env)


@_compiled
def _keep(o, T, M, model, kept):
    """Write output o."""
    cells, layers, spans, joints, _, barriers, curves, now, _ = model
    water, activity, inflow, temperature = kept
    n, a = cells.shape[1] - 2, activity[o]
    _centre(T, curves, now)
    _laws(T, layers, joints, barriers, now)
    for j in range(spans.shape[0]):
        _levels(M, j, cells, layers, spans, curves, now, a)
    now[SHARE] = WET if M[n] > now[GAS] else 1.0
    a[n] = _gas(M[n], now)
    for i in range(n + 1):
        water[o, i] = M[i]
        a[i] = max(a[i], 0.0)
    inflow[o], temperature[o] = M[n + 1], T


@_inlined
def _latest(crossed):
    """The last of the crossings; NaN while one is to come."""
    latest = crossed[0]
    for k in range(1, crossed.size):
        latest = crossed[k] if not crossed[k] <= latest else latest
    return latest + 0.0 * crossed.sum()


@_inlined
def _cubics(U, continuous, rows):
    """The state within a step as its start and a cubic of the share of the step gone by: the cubic's rows, if any."""
    for p in range(rows.shape[0]):
        row = rows[p]
        for i in range(row.size):
            row[i] = 0.0
        for s in range(continuous.shape[0]):
            _add(row.size, continuous[s, p], U[s], row)


@_inlined
def _inside(x, before, rows, out):
    """State at the share x of a step, into `out`."""
    first, second, third = rows[0], rows[1], rows[2]
    for i in range(out.size):
        out[i] = before[i] + x * (first[i] + x * (second[i] + x * third[i]))


@_inlined
def _until_dry(step, held, filled):
    """The step after which all that lies on the film has gone, and whether to step as if it were in the air."""
    return (step, True) if held < 2.0 else (step * (held - 1.0) / (held - filled), False)


@_inlined
def _begin(M, air, t, piece, now, env):
    """What counts as rounding, by the water there is; and the air at the start."""
    held = 0.0
    for i in range(M.size - 2):
        held += M[i]
    now[ROUNDING] = SLIGHT * held
    _project(air, now[FILM], t, 0.0, piece, env)


@njit(cache=True, nogil=True, **_options)
def march_kernel(state, times, model, air, scheme, watches, crossed, stop, tolerance, cap, env, trace, kept):
    """March from times[0] over all output times: code, outputs done, steps, attempts.

    The arguments are told in `march.follow`.
    """
    start, end, before, M, out = state[0:2], state[2:4], state[6], state[0], state[2]
    U, rows = state[7 : 7 + scheme[3].size], state[7 + 2 * scheme[3].size :]
    edges, step_limit, ends, now, n, drying = air[0], air[4], air[5], model[7], M.size - 2, False
    t, step, h, order = times[0], 0.0, FIRST, scheme[8]
    (recorded, given), continuous, began, taken = trace, scheme[9], t, 0.0
    attempts, steps, piece, resolving = 0, 0, _piece_of(edges, t, 0), t
    _begin(M, air, t, piece, now, env)
    for o in range(times.size):
        while t < times[o]:
            piece = _piece_of(edges, t, piece)
            end_of_piece = edges[piece + 1] if t < resolving else ends[piece]
            stop_at = min(times[o if continuous.shape[0] == 0 else times.size - 1], end_of_piece)
            room = stop_at - t
            step = min(h, step_limit[piece])
            step = room if step >= room * 0.999999 else min(step, 0.5 * room)
            if steps < given.size:
                step, drying = abs(given[steps]), given[steps] < 0.0
            attempts += 1
            if attempts > cap:
                return TOO_MANY, o, steps, attempts
            _prepare(air, t, step, piece, M, model, env)
            over = now[COUNT] > 0.0
            now[SHARE] = WET if M[n] > now[GAS] and not drying and not over else 1.0
            error, good = _step(start, step, env, model, scheme, U, end)
            filled = out[n] / now[GAS]
            if over and good and error <= tolerance:
                filled = _settle(out, air, t + step, piece, model, model[8])
            if over and not (now[LAG] <= QUICK and filled <= 1.0):
                resolving = t + RESOLVING  # water on the film, or a gas space slow to follow
                continue
            if now[SHARE] < 1.0 and filled < 0.5 and given.size == 0:
                # all that lies on the film goes within this step: stop when it has, or, if it is little, step as if
                # it were in the air
                h, drying = _until_dry(step, M[n] / now[GAS], filled)
                continue
            ratio = error / tolerance
            grow = 6.0 if ratio < 1e-6 else min(6.0, max(0.2, 0.9 * ratio ** (-1.0 / order)))
            good = good and (now[SHARE] < 1.0 or filled < 1.05)
            if (not good or ratio > 1.0) and given.size == 0:
                h = step * (grow if good else 0.25)
                resolving = t + RESOLVING if over and h < edges[piece + 1] - edges[piece] else resolving
                if h < SHORTEST:
                    return STUCK, o, steps, attempts
                drying = False
                continue
            _cross(crossed, watches, state, t, step, piece, air, env, model, scheme)
            began, taken = t, step
            for i in range(n + 2):
                before[i], start[0, i], start[1, i] = start[0, i], end[0, i], end[1, i]
            _cubics(U, continuous, rows)
            t = stop_at if step == room else t + step
            if steps < recorded.size:
                recorded[steps] = -step if drying else step
            steps, drying = steps + 1, False
            # a step cut short by an output or an edge of the air says nothing against the longer one
            h = step * grow if step >= 0.999 * h else max(h, step * grow)
        if t > times[o]:
            _inside((times[o] - began) / taken, before, rows, out)
        _keep(o, env[4] + env[5] * (times[o] - began - taken / 2), out if t > times[o] else M, model, kept)
        # crossings within the last step may lie beyond this output
        if stop and crossed.size > 0 and times[o] >= _latest(crossed):
            return DONE, o + 1, steps, attempts
    return DONE, times.size, steps, attempts
