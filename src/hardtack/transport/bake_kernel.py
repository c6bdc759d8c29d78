"""The compiled march of water and heat through one piece in an oven: conserved state, no Newton iteration.

State of every cell: water M [kg] and enthalpy H [J], counted from liquid water and dry solid at 0 degC. Then
T = 0 degC + H / (m cp + M cw), X = M / m, activity by table, y = a psat(T) / P, and the vapour potential
psi = -ln(1 - y) (Stefan flow), continued straight from y = 1 - eps: that stands for the bulk flow of steam under a
small over-pressure. Vapour carries hv(T) = cw (T - 0 degC) + latent heat, liquid carries cw (T - 0 degC), so latent
heat needs no source term: evaporating here and condensing there comes out of the enthalpy that the vapour carries.

As long as pores are closed, vapour condenses on the colder wall of its cell and as much liquid creeps back through the
membrane: the latent heat goes all the way, the water does not. There the heat must also pass the membranes, so the vapour
of a closed cell counts in the conductivity of its gas, and gas and walls are put together by Maxwell-Eucken; open pores
run alongside the walls. `OPENED` says how far a place has opened, by the hottest
it has been before this step.

One step solves, per stage, (C/(gamma h) + L) w = rhs in w = (moisture, temperature), 2 x 2 blocks along the cells. What
passes through each face is then taken from the solution, and the state is moved by face transfers: what leaves one cell
enters the next, whatever the solve's round-off, and the transfers of the two outer faces are the audit's inflow. Sums
are compensated (Kahan); nothing is ever put back.

Everything compiled lives in this file: numba's cache watches the file of the function called from outside.
"""

from __future__ import annotations

import math

from numba import njit

from hardtack.transport.elementary import exponential, logarithm
from hardtack.units import STEFAN_BOLTZMANN
from hardtack.water import air as humid

# rows of cells: given, then scratch
DRY, VOLUME, R_LEFT, R_RIGHT = range(4)
X, T, PSI, PSI_X, PSI_T, COND, COND_X, COND_T, VAP, VAP_X, VAP_T, LIQ, LIQ_T, HV, HV_T = range(4, 19)
S_W, S_T, OPENED, NOW, NOW_T, P, P_T, A, A_X, A_T, CELL_ROWS = range(19, 30)
# rows of faces: flux of water and heat, their rates of change, and their derivatives by X and T of either cell
W, Q, W_RATE, Q_RATE, WXL, WTL, QXL, QTL, WXR, WTR, QXR, QTR, S_WATER, S_HEAT, SUM_W, SUM_Q, FACE_ROWS = (
    range(17)
)
# material
CP, CW, SOLID_VOLUME, WATER_VOLUME, K_AIR, VAPOUR, LIQUID, E_LIQUID, X_HALF, INTERVALS, T_FIRST, T_SPACING = (
    range(12)
)
K_SOLID, K_WATER, PRESSURE, EPS, INNER_POWER, AREA_POWER, AREA, LEWIS = 12, 15, 18, 19, 20, 21, 22, 23
WET_PATH, X_WET, OPENS, PER_OPEN, CELL_GAS = 24, 25, 26, 27, 28
# air at one end; the second end's follow the first's, then the piece's volume over that of the grid
AIR, PSI_AIR, H, WALL, EMISSIVITY, H_CONTACT, CONTACT, OPEN, PER_END = range(9)
STRETCH, ENV_SIZE = 2 * PER_END, 2 * PER_END + 1
# result codes
DONE, TOO_MANY, STUCK = 0, 1, 2

ZERO = 273.15
GAS = 8.31446261815324
T_LIQUID = 298.15  # temperature of the given liquid diffusivity [K]
HOTTEST_CONDUCTIVITY = 150.0  # [degC], where the published component functions end
FLATTEST = 1e-9
FIRST, SHORTEST = 0.05, 1e-9
COLDEST, HOTTEST = 200.0, 900.0
D_T, D_X = 1e-3, 1e-6
SAME = 1e-9  # two openings no further apart are one but for rounding

_options = {"error_model": "numpy", "fastmath": {"contract"}, "_nrt": False}
_inside = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_compiled = njit(**_options, **_inside)
_inlined = njit(**_options, **_inside, forceinline=True)
_exp, _log = _inlined(exponential), _inlined(logarithm)


@_inlined
def _log_of_rest(y):
    """ln(1 - y) of y below 1, exact for small y, too: what 1 - y lost to rounding is put back to first order."""
    rest = 1.0 - y
    return _log(rest) + ((1.0 - rest) - y) / rest


@_compiled
def _curve(curves, k, j, y):
    """Activity and its slope in the interval j of the curve k, at place y within it."""
    c0, c1, c2, c3 = curves[k, j, 0], curves[k, j, 1], curves[k, j, 2], curves[k, j, 3]
    return c0 + y * (c1 + y * (c2 + y * c3)), c1 + y * (2.0 * c2 + 3.0 * y * c3)


@_compiled
def _activity(x, t, material, curves):
    """a, da/dX, da/dT at moisture x and temperature t [K]: cubic in moisture, straight between temperatures."""
    q = 1.0 / (x + material[X_HALF])
    u = x * q * material[INTERVALS]
    j = min(int(u), curves.shape[1] - 1)
    v = (t - material[T_FIRST]) / material[T_SPACING]
    v = min(max(v, 0.0), curves.shape[0] - 1.0)
    k = min(int(v), curves.shape[0] - 2)
    share = v - k
    cold, cold_u = _curve(curves, k, j, u - j)
    warm, warm_u = _curve(curves, k + 1, j, u - j)
    a_u = max((1.0 - share) * cold_u + share * warm_u, FLATTEST)
    inside = 0.0 < v < curves.shape[0] - 1.0
    a_t = (warm - cold) / material[T_SPACING] if inside else 0.0
    return (1.0 - share) * cold + share * warm, a_u * material[INTERVALS] * material[X_HALF] * q * q, a_t


@_inlined
def _passage(x, t, density, material):
    """At dry mass per volume `density`: conductivity [W/m/K] of the whole and of its walls, share of pores, and the vapour
    conductivity [kg/m/s per unit of psi] of a pore.

    Solid and water side by side by volume share, pores in them by Maxwell-Eucken. Where the walls are wet, vapour crosses
    them too, condensing on one side and leaving on the other, which is what carries most of the heat into a crumb.
    """
    solid, water = material[SOLID_VOLUME], x * material[WATER_VOLUME]
    share = water / (solid + water)
    porosity = min(max(1.0 - density * (solid + water), 0.02), 0.98)
    c = min(t - ZERO, HOTTEST_CONDUCTIVITY)
    ks = material[K_SOLID] + c * (material[K_SOLID + 1] + c * material[K_SOLID + 2])
    kw = material[K_WATER] + c * (material[K_WATER + 1] + c * material[K_WATER + 2])
    k, air = ks + share * (kw - ks), material[K_AIR]
    less = porosity * (k - air)
    wet = x / material[X_WET]
    wet *= wet
    wet *= wet
    path = material[VAPOUR] + (material[WET_PATH] - material[VAPOUR]) * wet / (1.0 + wet)
    whole = k * (2.0 * k + air - 2.0 * less) / (2.0 * k + air + less)
    return whole, k, porosity, path * math.sqrt(t / ZERO) * math.sqrt(math.sqrt(t / ZERO))


@_compiled
def _ramp(t, material):
    """How far pores are open at t [K]: straight over the temperatures of opening."""
    return min(max((t - material[OPENS]) * material[PER_OPEN], 0.0), 1.0)


@_inlined
def _steepness(t):
    """d ln psat / dT: `saturation_pressure`, derived."""
    inverse = 1.0 / t
    slope = (humid.C13 - humid.C8 * inverse) * inverse + humid.C10
    return slope + t * (2.0 * humid.C11 + 3.0 * humid.C12 * t)


@_compiled
def _pressures(cells, material):
    """psat(T) over the pressure, and its slope."""
    t, share, by_t, per = cells[T], cells[P], cells[P_T], 1.0 / material[PRESSURE]
    for i in range(cells.shape[1] - 1):
        k, inverse = t[i], 1.0 / t[i]
        power = humid.C8 * inverse + humid.C9 + k * (humid.C10 + k * (humid.C11 + k * humid.C12))
        share[i] = _exp(power + humid.C13 * _log(k)) * per
        by_t[i] = share[i] * _steepness(k)


@_compiled
def _heats(cells, material):
    """What a kilogram of vapour carries, and its slope: that of water and `latent_heat`, derived."""
    t, carries, by_t, cw = cells[T], cells[HV], cells[HV_T], material[CW]
    for i in range(cells.shape[1] - 1):
        share = t[i] / humid.CRITICAL_TEMPERATURE
        rest, power = _log_of_rest(share), humid.L1 + share * (humid.L2 + share * humid.L3)
        latent = humid.L0 * _exp(power * rest)
        by_share = (humid.L2 + 2.0 * humid.L3 * share) * rest - power / (1.0 - share)
        carries[i] = cw * (t[i] - ZERO) + latent
        by_t[i] = cw + latent * by_share / humid.CRITICAL_TEMPERATURE


@_compiled
def _liquids(density, cells, material):
    """Conductivity for liquid water, and its slope."""
    t, conducts, by_t = cells[T], cells[LIQ], cells[LIQ_T]
    at, energy = density * material[LIQUID], material[E_LIQUID] / GAS
    for i in range(cells.shape[1] - 1):
        inverse = 1.0 / t[i]
        conducts[i] = at * _exp(energy * (1.0 / T_LIQUID - inverse))
        by_t[i] = conducts[i] * energy * inverse * inverse


@_compiled
def _conductivity(dx, dt, density, cells, material, out):
    """Conductivity for heat of every cell, `dx` wetter and `dt` warmer than it is."""
    x, t = cells[X], cells[T]
    for i in range(cells.shape[1] - 1):
        out[i] = _passage(x[i] + dx, t[i] + dt, density, material)[0]


@_compiled
def _vapour_path(dx, dt, density, cells, material, out):
    """Conductivity for vapour, likewise: of open pores, which run alongside the walls."""
    x, t = cells[X], cells[T]
    for i in range(cells.shape[1] - 1):
        _, _, porosity, pore = _passage(x[i] + dx, t[i] + dt, density, material)
        out[i] = porosity * pore


@_compiled
def _shut(dx, dt, density, cells, material, out):
    """The same where pores are not all open.

    In a closed one the vapour adds k_v = latent heat x conductivity x dpsi/dT to the gas of its cell; what that adds to
    the whole by Maxwell-Eucken is, k the walls' and D(g) = (2 + phi) k + (1 - phi) g, phi k_v 9 k^2 / (D(g) D(g + k_v)).
    """
    gas, cw = material[K_AIR], material[CW]
    for i in range(cells.shape[1] - 1):
        t = cells[T, i] + dt
        opened = max(cells[OPENED, i], _ramp(t, material))
        if opened >= 1.0:
            continue
        _, walls, porosity, pore = _passage(cells[X, i] + dx, t, density, material)
        a = cells[A, i] + cells[A_X, i] * dx + cells[A_T, i] * dt
        p = cells[P, i] + cells[P_T, i] * dt
        latent = cells[HV, i] - cw * (cells[T, i] - ZERO) + (cells[HV_T, i] - cw) * dt
        cell = material[CELL_GAS] * pore
        carried = latent * cell * a * p * _steepness(t) / max(1.0 - a * p, material[EPS])
        less, more = (2.0 + porosity) * walls, 1.0 - porosity
        part = 9.0 * walls * walls / ((less + more * gas) * (less + more * (gas + carried)))
        out[i] = porosity * (opened * pore + (1.0 - opened) * part * cell)


@_compiled
def _less(d, row, base, cells):
    """From values at a little more to slopes: row = (row - base) / d."""
    above, here = cells[row], cells[base]
    for i in range(cells.shape[1] - 1):
        above[i] = (above[i] - here[i]) / d


@_compiled
def _potentials(cells, material):
    """psi by a psat(T) / P."""
    psi, a, p, eps = cells[PSI], cells[A], cells[P], material[EPS]
    limit, at_limit = 1.0 - eps, -math.log(eps)
    for i in range(cells.shape[1] - 1):
        y = a[i] * p[i]
        bounded = min(y, limit)
        psi[i] = (y - bounded) / eps + (at_limit if y > limit else -_log_of_rest(bounded))


@_compiled
def _states(M, E, cells, material):
    """Moisture and temperature of every cell. False: no state."""
    n, dry, x, t, cp, cw = M.size, cells[DRY], cells[X], cells[T], material[CP], material[CW]
    for i in range(n):
        x[i] = M[i] / dry[i]
        t[i] = ZERO + E[i] / (dry[i] * cp + M[i] * cw)
    sound = True
    for i in range(n):
        sound = sound and x[i] > 0.0 and COLDEST < t[i] < HOTTEST
    return sound


@_compiled
def _fill(M, E, stretch, cells, material, curves):
    """Potentials and conductivities of every cell at state M, E. False: no state.

    One thing at a time for all cells: such loops become vectors.
    """
    if not _states(M, E, cells, material):
        return False
    for i in range(M.size):
        cells[A, i], cells[A_X, i], cells[A_T, i] = _activity(cells[X, i], cells[T, i], material, curves)
        cells[NOW, i] = max(cells[OPENED, i], _ramp(cells[T, i], material))
    density = cells[DRY, 0] / (cells[VOLUME, 0] * stretch)  # the same in all cells
    _pressures(cells, material)
    _potentials(cells, material)
    _conductivity(0.0, 0.0, density, cells, material, cells[COND])
    _liquids(density, cells, material)
    _heats(cells, material)
    _vapour_path(0.0, 0.0, density, cells, material, cells[VAP])
    _shut(0.0, 0.0, density, cells, material, cells[VAP])
    return True


@_compiled
def _slopes(stretch, cells, material):
    """By moisture and temperature, the derivatives of what `_fill` left."""
    density = cells[DRY, 0] / (cells[VOLUME, 0] * stretch)
    _conductivity(D_X, 0.0, density, cells, material, cells[COND_X])
    _conductivity(0.0, D_T, density, cells, material, cells[COND_T])
    _vapour_path(D_X, 0.0, density, cells, material, cells[VAP_X])
    _vapour_path(0.0, D_T, density, cells, material, cells[VAP_T])
    _shut(D_X, 0.0, density, cells, material, cells[VAP_X])
    _shut(0.0, D_T, density, cells, material, cells[VAP_T])
    _less(D_X, COND_X, COND, cells)
    _less(D_T, COND_T, COND, cells)
    _less(D_X, VAP_X, VAP, cells)
    _less(D_T, VAP_T, VAP, cells)
    for i in range(cells.shape[1] - 1):
        a, p = cells[A, i], cells[P, i]
        psi_y = 1.0 / max(1.0 - a * p, material[EPS])
        cells[PSI_X, i], cells[PSI_T, i] = (
            psi_y * cells[A_X, i] * p,
            psi_y * (a * cells[P_T, i] + cells[A_T, i] * p),
        )
        # a place as hot as it has ever been is taken to get hotter, and opens with it
        opened = _ramp(cells[T, i], material)
        cells[NOW_T, i] = material[PER_OPEN] if max(cells[OPENED, i] - SAME, 0.0) < opened < 1.0 else 0.0


@_compiled
def _surface(t, psi, k, vapour, hv, r, area, e, env, material):
    """Water and heat going out at end e of a cell with half resistance r [1/m]; the temperature of its surface."""
    o = e * PER_END
    inside, radiant, surface = k / r, 0.0, t
    h, wall, contact = env[o + H], env[o + WALL], env[o + H_CONTACT]
    for _ in range(3):
        radiant = (
            env[o + EMISSIVITY] * STEFAN_BOLTZMANN * (surface * surface + wall * wall) * (surface + wall)
        )
        warmth = h * env[o + AIR] + radiant * wall + contact * env[o + CONTACT]
        surface = (inside * t + area * warmth) / (inside + area * (h + radiant + contact))
    heat = h * (surface - env[o + AIR]) + radiant * (surface - wall) + contact * (surface - env[o + CONTACT])
    outside = area * env[o + OPEN] * h * material[LEWIS]
    water = 0.0
    if outside > 0.0:
        water = (psi - env[o + PSI_AIR]) / (r / vapour + 1.0 / outside)
    return water, area * heat + hv * water, surface


@_compiled
def _scales(env, material):
    """What the piece's growth makes of its inner conductances and of its outer area."""
    s = env[STRETCH]
    return s ** material[INNER_POWER], material[AREA] * s ** material[AREA_POWER]


@_compiled
def _fluxes(cells, faces, env, material, slopes):
    """Flux of water and heat through every face, towards the last end, from what `_fill` left."""
    n = cells.shape[1] - 1
    inner, area = _scales(env, material)
    cw = material[CW]
    for f in range(1, n):
        a, b = f - 1, f
        ra, rb = cells[R_RIGHT, a] / inner, cells[R_LEFT, b] / inner
        heat = 1.0 / (ra / cells[COND, a] + rb / cells[COND, b])
        vapour = 1.0 / (ra / cells[VAP, a] + rb / cells[VAP, b])
        liquid = 1.0 / (ra / cells[LIQ, a] + rb / cells[LIQ, b])
        dt, dpsi, dx = cells[T, a] - cells[T, b], cells[PSI, a] - cells[PSI, b], cells[X, a] - cells[X, b]
        wv, wl = vapour * dpsi, liquid * dx
        hv = 0.5 * (cells[HV, a] + cells[HV, b])
        hl = cw * (0.5 * (cells[T, a] + cells[T, b]) - ZERO)
        goes = 0.5 * (cells[NOW, a] + cells[NOW, b])
        hv -= (1.0 - goes) * hl  # what creeps back is liquid of the same temperature
        faces[W, f], faces[Q, f] = goes * wv + wl, heat * dt + hv * wv + hl * wl
        if slopes:
            for side in range(2):
                i, r, sign = (a, ra, 1.0) if side == 0 else (b, rb, -1.0)
                by_k = heat * heat * r / (cells[COND, i] * cells[COND, i]) * dt
                by_vapour = vapour * vapour * r / (cells[VAP, i] * cells[VAP, i]) * dpsi
                by_liquid = liquid * liquid * r / (cells[LIQ, i] * cells[LIQ, i]) * dx
                wv_x = sign * vapour * cells[PSI_X, i] + by_vapour * cells[VAP_X, i]
                wv_t = sign * vapour * cells[PSI_T, i] + by_vapour * cells[VAP_T, i]
                wl_x, wl_t = sign * liquid, by_liquid * cells[LIQ_T, i]
                o = WXL if side == 0 else WXR
                by_opening = 0.5 * cells[NOW_T, i] * wv
                faces[o, f], faces[o + 1, f] = goes * wv_x + wl_x, goes * wv_t + by_opening + wl_t
                faces[o + 2, f] = by_k * cells[COND_X, i] + hv * wv_x + hl * wl_x
                faces[o + 3, f] = (
                    sign * heat + by_k * cells[COND_T, i] + hv * wv_t
                    + 0.5 * (cells[HV_T, i] - (1.0 - goes) * cw) * wv + hl * (wl_t + by_opening) + 0.5 * cw * wl
                )  # fmt: skip
    for e in range(2):
        i, f, sign = (0, 0, -1.0) if e == 0 else (n - 1, n, 1.0)
        r = (cells[R_LEFT, i] if e == 0 else cells[R_RIGHT, i]) / inner
        if not r < math.inf:  # the centre of a round piece
            faces[:, f] = 0.0
            continue
        t, psi, k, vapour, hv = cells[T, i], cells[PSI, i], cells[COND, i], cells[VAP, i], cells[HV, i]
        water, heat, _ = _surface(t, psi, k, vapour, hv, r, area, e, env, material)
        faces[W, f], faces[Q, f] = sign * water, sign * heat
        if slopes:
            o = WXR if e == 0 else WXL
            d = 1e-5 * (cells[X, i] + 1e-3)
            water_x, heat_x, _ = _surface(
                t, psi + d * cells[PSI_X, i], k + d * cells[COND_X, i], vapour + d * cells[VAP_X, i], hv, r, area, e,
                env, material,
            )  # fmt: skip
            water_t, heat_t, _ = _surface(
                t + D_T, psi + D_T * cells[PSI_T, i], k + D_T * cells[COND_T, i], vapour + D_T * cells[VAP_T, i],
                hv + D_T * cells[HV_T, i], r, area, e, env, material,
            )  # fmt: skip
            faces[o, f], faces[o + 1, f] = sign * (water_x - water) / d, sign * (water_t - water) / D_T
            faces[o + 2, f], faces[o + 3, f] = sign * (heat_x - heat) / d, sign * (heat_t - heat) / D_T
            other = WXL if e == 0 else WXR
            faces[other : other + 4, f] = 0.0


@_compiled
def _factor(cells, faces, inv, blocks, material):
    """Factor the block tridiagonal matrix C/(gamma h) - df/dw, inv = 1/(gamma h).

    `blocks` [n, 8]: the inverse of each pivot block and the product pivot^-1 times the block above the diagonal.
    """
    n = cells.shape[1] - 1
    p0 = p1 = p2 = p3 = 0.0
    for i in range(n):
        dry, x, t = cells[DRY, i], cells[X, i], cells[T, i]
        # C, then the derivatives of the fluxes out at the right face less those in at the left
        d0 = dry * inv + faces[WXL, i + 1] - faces[WXR, i]
        d1 = faces[WTL, i + 1] - faces[WTR, i]
        d2 = dry * material[CW] * (t - ZERO) * inv + faces[QXL, i + 1] - faces[QXR, i]
        d3 = dry * (material[CP] + x * material[CW]) * inv + faces[QTL, i + 1] - faces[QTR, i]
        if i > 0:
            # below the diagonal stands -(derivatives at the left face by the left cell)
            a0, a1, a2, a3 = faces[WXL, i], faces[WTL, i], faces[QXL, i], faces[QTL, i]
            d0 += a0 * p0 + a1 * p2
            d1 += a0 * p1 + a1 * p3
            d2 += a2 * p0 + a3 * p2
            d3 += a2 * p1 + a3 * p3
        det = d0 * d3 - d1 * d2
        i0, i1, i2, i3 = d3 / det, -d1 / det, -d2 / det, d0 / det
        blocks[i, 0], blocks[i, 1], blocks[i, 2], blocks[i, 3] = i0, i1, i2, i3
        if i < n - 1:
            b0, b1, b2, b3 = faces[WXR, i + 1], faces[WTR, i + 1], faces[QXR, i + 1], faces[QTR, i + 1]
            p0, p1 = i0 * b0 + i1 * b2, i0 * b1 + i1 * b3
            p2, p3 = i2 * b0 + i3 * b2, i2 * b1 + i3 * b3
            blocks[i, 4], blocks[i, 5], blocks[i, 6], blocks[i, 7] = p0, p1, p2, p3


@_compiled
def _solve(cells, faces, blocks):
    """w (rows S_W, S_T of cells) from the stage's right-hand sides in the face rows S_WATER, S_HEAT."""
    n = cells.shape[1] - 1
    z0 = z1 = 0.0
    for i in range(n):
        r0 = faces[S_WATER, i] - faces[S_WATER, i + 1]
        r1 = faces[S_HEAT, i] - faces[S_HEAT, i + 1]
        if i > 0:
            r0 += faces[WXL, i] * z0 + faces[WTL, i] * z1
            r1 += faces[QXL, i] * z0 + faces[QTL, i] * z1
        z0 = blocks[i, 0] * r0 + blocks[i, 1] * r1
        z1 = blocks[i, 2] * r0 + blocks[i, 3] * r1
        cells[S_W, i], cells[S_T, i] = z0, z1
    for i in range(n - 2, -1, -1):
        z0, z1 = cells[S_W, i + 1], cells[S_T, i + 1]
        cells[S_W, i] -= blocks[i, 4] * z0 + blocks[i, 5] * z1
        cells[S_T, i] -= blocks[i, 6] * z0 + blocks[i, 7] * z1


@_compiled
def _at(air, k, t, env):
    """The air of piece k at time t, straight between its ends."""
    edges, left, right = air
    share = (t - edges[k]) / (edges[k + 1] - edges[k])
    for j in range(ENV_SIZE):
        env[j] = left[j, k] + share * (right[j, k] - left[j, k])


@_compiled
def _trend(state, t, dt, piece, air, env, cells, faces, material, curves):
    """df/dt at fixed state, each flux differenced along the air's course, so that it, too, telescopes."""
    for f in range(faces.shape[1]):
        faces[W_RATE, f], faces[Q_RATE, f] = faces[W, f], faces[Q, f]
    _at(air, piece, t + dt, env)
    _fill(state[0], state[1], env[STRETCH], cells, material, curves)
    _fluxes(cells, faces, env, material, False)
    for f in range(faces.shape[1]):
        w, q = faces[W, f], faces[Q, f]
        faces[W, f], faces[Q, f] = faces[W_RATE, f], faces[Q_RATE, f]
        faces[W_RATE, f], faces[Q_RATE, f] = (w - faces[W, f]) / dt, (q - faces[Q, f]) / dt


@_compiled
def _stage(s, h, moving, cells, faces, blocks, passed, scheme):
    """Solve stage s from the fluxes at hand; leaves what passes each face in `passed`."""
    gamma, C_stage, gamma_sum, n = scheme[0], scheme[2], scheme[6], cells.shape[1] - 1
    for f in range(n + 1):
        w, q = faces[W, f], faces[Q, f]
        for j in range(s):
            w += C_stage[s, j] / h * passed[j, 0, f]
            q += C_stage[s, j] / h * passed[j, 1, f]
        if moving and gamma_sum[s] != 0.0:
            w += gamma_sum[s] * h * faces[W_RATE, f]
            q += gamma_sum[s] * h * faces[Q_RATE, f]
        faces[S_WATER, f], faces[S_HEAT, f] = w, q
    _solve(cells, faces, blocks)
    for f in range(n + 1):
        w, q = faces[S_WATER, f], faces[S_HEAT, f]
        if f > 0:
            x, y = cells[S_W, f - 1], cells[S_T, f - 1]
            w += faces[WXL, f] * x + faces[WTL, f] * y
            q += faces[QXL, f] * x + faces[QTL, f] * y
        if f < n:
            x, y = cells[S_W, f], cells[S_T, f]
            w += faces[WXR, f] * x + faces[WTR, f] * y
            q += faces[QXR, f] * x + faces[QTR, f] * y
        passed[s, 0, f], passed[s, 1, f] = gamma * h * w, gamma * h * q


@_compiled
def _step(state, t, h, piece, moving, air, work, material, curves, scheme):
    """One step of h from t: its error in temperature [K] and in moisture, and whether it is good.

    Leaves what passed each face, of water and of heat, in the face rows SUM_W and SUM_Q.
    """
    gamma, A, _, m, e, alpha, _, fresh, _ = scheme
    cells, faces, blocks, passed, trial, env = work
    M, E, n = state[0], state[1], cells.shape[1] - 1
    _at(air, piece, t, env)
    if not _fill(M, E, env[STRETCH], cells, material, curves):
        return 0.0, 0.0, False
    _slopes(env[STRETCH], cells, material)
    _fluxes(cells, faces, env, material, True)
    _factor(cells, faces, 1.0 / (gamma * h), blocks, material)
    if moving:
        _trend(state, t, 1e-4 * h, piece, air, env, cells, faces, material, curves)
    error_w, error_t = 0.0, 0.0
    for s in range(m.size):
        if fresh[s]:
            for i in range(n):
                trial[0, i], trial[1, i] = M[i], E[i]
                for j in range(s):
                    trial[0, i] += A[s, j] * (passed[j, 0, i] - passed[j, 0, i + 1])
                    trial[1, i] += A[s, j] * (passed[j, 1, i] - passed[j, 1, i + 1])
            _at(air, piece, t + alpha[s] * h, env)
            if not _fill(trial[0], trial[1], env[STRETCH], cells, material, curves):
                return 0.0, 0.0, False
            _fluxes(cells, faces, env, material, False)
        _stage(s, h, moving, cells, faces, blocks, passed, scheme)
        if e[s] != 0.0:
            # in both schemes the last stage itself is the error
            for i in range(n):
                error_w = max(error_w, abs(e[s] * cells[S_W, i]))
                error_t = max(error_t, abs(e[s] * cells[S_T, i]))
    faces[SUM_W, :], faces[SUM_Q, :] = 0.0, 0.0
    for s in range(m.size):
        for f in range(n + 1):
            faces[SUM_W, f] += m[s] * passed[s, 0, f]
            faces[SUM_Q, f] += m[s] * passed[s, 1, f]
    for i in range(n):
        water = M[i] + (faces[SUM_W, i] - faces[SUM_W, i + 1])
        heat = E[i] + (faces[SUM_Q, i] - faces[SUM_Q, i + 1])
        t_new = ZERO + heat / (cells[DRY, i] * material[CP] + water * material[CW])
        if not (water > 0.0 and COLDEST < t_new < HOTTEST):
            return 0.0, 0.0, False
    # written so that what is not a number is not good
    return error_t, error_w, error_t >= 0.0 and error_w >= 0.0


@_compiled
def _add(value, lost, change):
    """Kahan's compensated sum: value + change, and what rounding took off it."""
    y = change - lost
    total = value + y
    return total, (total - value) - y


@_compiled
def _move(state, faces, inflow):
    """Take the step: every cell by what passed its faces, the inflow by what passed the two ends."""
    n = state.shape[1]
    for c in range(2):
        row = SUM_W + c
        for i in range(n):
            change = faces[row, i] - faces[row, i + 1]
            state[c, i], state[2 + c, i] = _add(state[c, i], state[2 + c, i], change)
        inflow[c, 0], inflow[c, 2] = _add(inflow[c, 0], inflow[c, 2], faces[row, 0])
        inflow[c, 1], inflow[c, 3] = _add(inflow[c, 1], inflow[c, 3], -faces[row, n])


@_compiled
def _open(state, cells, material):
    """Keep how far every place has opened after a step: pores do not close again."""
    for i in range(state.shape[1]):
        t = ZERO + state[1, i] / (cells[DRY, i] * material[CP] + state[0, i] * material[CW])
        cells[OPENED, i] = max(cells[OPENED, i], _ramp(t, material))


@_compiled
def _keep(o, state, env, cells, material, curves, inflow, kept):
    """Write output o: moisture, temperature, activity of every cell, temperature of the two surfaces, inflow."""
    moisture, temperature, activity, surface, entered = kept
    n = state.shape[1]
    _fill(state[0], state[1], env[STRETCH], cells, material, curves)
    inner, area = _scales(env, material)
    for i in range(n):
        moisture[o, i], temperature[o, i], activity[o, i] = cells[X, i], cells[T, i], cells[A, i]
    for e in range(2):
        i = 0 if e == 0 else n - 1
        r = (cells[R_LEFT, i] if e == 0 else cells[R_RIGHT, i]) / inner
        surface[o, e] = cells[T, i]
        if r < math.inf:
            _, _, surface[o, e] = _surface(
                cells[T, i],
                cells[PSI, i],
                cells[COND, i],
                cells[VAP, i],
                cells[HV, i],
                r,
                area,
                e,
                env,
                material,
            )
        entered[o, 0, e], entered[o, 1, e] = inflow[0, e], inflow[1, e]


@njit(cache=True, **_options)
def bake_kernel(state, times, inflow, work, material, curves, air, scheme, limits, cap, kept):
    """March from times[0] over all output times: code, outputs done, steps, attempts.

    The arguments are told in `bake_march._run`. `limits` are the errors allowed in temperature [K] and moisture.
    """
    edges, left, right = air
    cells, faces, env = work[0], work[1], work[5]
    t, h, order, steps, attempts, piece = times[0], FIRST, scheme[8], 0, 0, 0
    _at(air, 0, t, env)
    _open(state, cells, material)
    for o in range(times.size):
        while t < times[o]:
            while piece < edges.size - 2 and t >= edges[piece + 1]:
                piece += 1
                for j in range(ENV_SIZE):
                    if left[j, piece] != right[j, piece - 1]:
                        h = min(h, FIRST)  # the air jumps
            stop_at = min(times[o], edges[piece + 1])
            room = stop_at - t
            step = room if h >= room * 0.999999 else min(h, 0.5 * room)
            attempts += 1
            if attempts > cap:
                return TOO_MANY, o, steps, attempts
            moving = False
            for j in range(ENV_SIZE):
                moving = moving or left[j, piece] != right[j, piece]
            error_t, error_w, good = _step(state, t, step, piece, moving, air, work, material, curves, scheme)
            ratio = max(error_t / limits[0], error_w / limits[1])
            grow = 5.0 if ratio < 1e-6 else min(5.0, max(0.2, 0.9 * ratio ** (-1.0 / order)))
            if not good or ratio > 1.0:
                h = step * (grow if good else 0.25)
                if h < SHORTEST:
                    return STUCK, o, steps, attempts
                continue
            _move(state, faces, inflow)
            _open(state, cells, material)
            steps += 1
            t = stop_at if step == room else t + step
            h = step * grow if step >= 0.999 * h else max(h, step * grow)
        _at(air, piece, t, env)
        _keep(o, state, env, cells, material, curves, inflow, kept)
    return DONE, times.size, steps, attempts
