"""One step of the march of water, written a second time in numpy: many chains of one structure side by side.

The scheme, the laws and the bounds are those of `kernel.py`, told there; the last axis of every array counts the scenarios.
Nothing of the kernel is used, so that either checks the other, and so that this runs where the compiler is not installed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hardtack.states import Floats
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.rosenbrock import Scheme
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure

FLATTEST, STEEPEST, LEAST, WET = 1e-8, 1e3, 0.1, 1e-4
"""The bounds of `kernel.py`, by the same names; the tests hold the two to each other."""

Rows = list[Any]
"""One number, or one array over the scenarios, for every cell: the eliminations work on either."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Chains of one structure, stacked: fields of `Chain` with the scenarios as last axis, and what follows from them.

    `curves` [entries, 4] hold the cubics of all chains in one row; `base` [S] is where a scenario's begin. `joined` are the
    cells that meet a joint: the first of every joint, then the second of those that do not lead to the gas space.
    """

    spans: Ints
    layer_of: Ints
    first: Ints
    second: Ints
    joined: Ints
    barrier_joint: Ints
    shape: tuple[int, int, int]
    curves: Floats
    base: Ints
    dry: Floats
    within: Floats
    constants: Floats
    halves: Floats
    narrows: Floats
    barriers: Floats
    t_first: Floats
    t_spacing: Floats
    volume: Floats

    def take(self, columns: Ints) -> Lot:
        """The scenarios numbered `columns` alone."""
        varying = ("base", "dry", "within", "constants", "halves", "narrows", "barriers", "t_first", "t_spacing", "volume")  # fmt: skip
        return replace(self, **{name: getattr(self, name)[..., columns] for name in varying})

    @property
    def inner(self) -> Ints:
        """Joints between two cells."""
        return np.flatnonzero(self.second < self.dry.shape[0])


def structure(chain: Chain) -> tuple[object, ...]:
    """What two chains must share to be marched side by side."""
    return (
        chain.spans.tobytes(),
        chain.joint_nodes.tobytes(),
        chain.barrier_joint.tobytes(),
        chain.curves.shape,
    )


def lot(chains: Sequence[Chain]) -> Lot:
    """Stack chains of one structure."""
    one = chains[0]
    tables: dict[int, tuple[int, Floats]] = {}
    entries = one.curves[..., 0].size
    for chain in chains:
        tables.setdefault(id(chain.curves), (entries * len(tables), chain.curves.reshape(-1, 4)))
    n, layers = one.dry_mass.size, len(one.names)
    first, second = one.joint_nodes.T
    stacked = {
        name: np.ascontiguousarray(np.stack([getattr(chain, of) for chain in chains], axis=-1))
        for name, of in (
            ("dry", "dry_mass"),
            ("within", "within"),
            ("constants", "constants"),
            ("halves", "halves"),
            ("narrows", "narrows"),
            ("barriers", "barriers"),
        )
    }
    kelvins = [chain.temperatures for chain in chains]
    return Lot(
        spans=one.spans,
        layer_of=np.repeat(np.arange(layers), np.diff(one.spans, axis=1)[:, 0]),
        first=first,
        second=second,
        joined=np.concatenate([first, second[second < n]]),
        barrier_joint=one.barrier_joint,
        shape=(one.curves.shape[0], one.curves.shape[1], one.curves.shape[2]),
        curves=np.concatenate([table for _, table in tables.values()]),
        base=np.array([tables[id(chain.curves)][0] for chain in chains]),
        t_first=np.array([T[0] for T in kelvins]),
        t_spacing=np.array([T[1] - T[0] if T.size > 1 else np.inf for T in kelvins]),
        volume=np.array([chain.headspace for chain in chains]),
        **stacked,
    )


@dataclass(frozen=True, slots=True)
class Laws:
    """What depends on temperature only; see `laws`."""

    gas: Floats
    centre: Ints
    weights: Floats
    solid: Floats
    vapour: Floats
    shield: Floats
    cover: Floats


def centre(rows: Lot, T: Floats) -> Ints:
    """Which of the curves' temperatures, the nearest to T, is the middle of the three to interpolate among [S]."""
    last = rows.shape[1] - 1
    if last == 0:
        return np.zeros(T.size, dtype=np.int64)
    return np.clip(np.round((T - rows.t_first) / rows.t_spacing), 1, last - 1).astype(np.int64)


def laws(rows: Lot, T: Floats, middle: Ints) -> Laws:
    """At T [S, K]: capacity of the gas space [kg], weights of the curves, rho D and delta psat, barriers' resistances."""
    psat = saturation_pressure(T)
    x = (T - rows.t_first) / rows.t_spacing - middle
    rho, D_ref, T_ref, E, delta = (rows.constants[:, k] for k in (0, 1, 4, 5, 6))
    shield, cover = np.zeros((rows.first.size, T.size)), np.zeros((rows.first.size, T.size))
    for (R, T_barrier, E_barrier, opens), joint in zip(rows.barriers, rows.barrier_joint, strict=True):
        R_now = R / psat * np.exp(E_barrier / GAS_CONSTANT * (1.0 / T - 1.0 / T_barrier))
        shield[joint] += np.where(opens > 0.0, 0.0, R_now)
        cover[joint] += np.where(opens > 0.0, R_now, 0.0)
    return Laws(
        gas=rows.volume * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T),
        centre=middle,
        weights=np.stack([x * (x - 1.0) / 2, 1.0 - x * x, x * (x + 1.0) / 2]),
        solid=rho * D_ref * np.exp(-(E / GAS_CONSTANT * (1.0 / T - 1.0 / T_ref))),
        vapour=delta * psat,
        shield=shield,
        cover=cover,
    )


def activity(rows: Lot, now: Laws, X: Floats, layer: Ints) -> tuple[Floats, Floats, Floats]:
    """a, da/dX and d2a/dX2 at moistures X [k, S] of the layers numbered `layer` [k]."""
    _, temperatures, nodes = rows.shape
    x_half, intervals = rows.constants[layer, 7], rows.constants[layer, 8]
    q = 1.0 / (X + x_half)
    u = X * q * intervals
    k = np.fmax(np.fmin(u, nodes - 1), 0).astype(np.int64)  # the last interval is the straight continuation
    y = u - k
    at = rows.base + (layer * (temperatures * nodes))[:, None] + k
    if temperatures == 1:
        c = rows.curves[at]
    else:
        near = [np.minimum(np.maximum(now.centre + d, 0), temperatures - 1) * nodes for d in (-1, 0, 1)]
        w = now.weights[:, None, :, None]
        c = (
            w[0] * rows.curves[at + near[0]]
            + w[1] * rows.curves[at + near[1]]
            + w[2] * rows.curves[at + near[2]]
        )
    c0, c1, c2, c3 = np.moveaxis(c, -1, 0)
    u_X = intervals * x_half * q * q
    slope = c1 + y * (2.0 * c2 + 3.0 * y * c3)
    a_u = np.maximum(slope, FLATTEST)
    a_uu = np.where(slope > FLATTEST, 2.0 * c2 + 6.0 * y * c3, 0.0)
    return c0 + y * (c1 + y * (c2 + y * c3)), a_u * u_X, (a_uu * u_X - 2.0 * q * a_u) * u_X


def gas_activity(water: Floats, now: Laws, share: Floats) -> Floats:
    """Activity of the gas space: its share of saturation, or near 1 while water lies on the film."""
    return (1.0 - share) + share * (water / now.gas)


@dataclass(frozen=True, slots=True)
class Fluxes:
    """Of one state [kg/s]: along the cells, to the gas space, of the film; rho D; the joints' derivatives."""

    along: Floats
    leaving: Floats
    film: Floats
    mobility: Floats
    by_first: Floats
    by_second: Floats


def fluxes(rows: Lot, now: Laws, share: Floats, M: Floats, g: Floats, b: Floats) -> Fluxes:
    """Every flux once, of the water M [n+1 or more, S]."""
    n, layer = rows.dry.shape[0], rows.layer_of
    slope, x_ref, cap = rows.constants[layer, 2], rows.constants[layer, 3], rows.constants[layer, 9]
    solid, vapour = now.solid[layer], now.vapour[layer]
    X = M[:n] / rows.dry
    e = slope * (X - x_ref)
    beyond = np.maximum(e - cap, 0.0)
    bent = slope != 0.0
    mobility = np.where(bent, solid * np.exp(e - beyond), solid)
    potential = np.where(bent, mobility * (1.0 + beyond) / np.where(bent, slope, 1.0), solid * X)
    if vapour.any():
        potential = potential + vapour * activity(rows, now, X, layer)[0]
    along = np.zeros_like(X)
    along[:-1] = (potential[:-1] - potential[1:]) * rows.within[:-1]
    leaving = np.zeros_like(X)
    through, by_first, by_second = _through_joints(rows, now, share, M, X, mobility)
    inner = rows.inner
    along[rows.first[inner]] = through[inner]
    to_gas = np.flatnonzero(rows.second == n)
    np.add.at(leaving, rows.first[to_gas], through[to_gas])
    return Fluxes(along, leaving, b - g * gas_activity(M[n], now, share), mobility, by_first, by_second)


def _through_joints(
    rows: Lot, now: Laws, share: Floats, M: Floats, X: Floats, mobility: Floats
) -> tuple[Floats, Floats, Floats]:
    """Flux of every joint [joints, S], and what it grows by with the first activity and falls by with the second."""
    at, joints = rows.joined, rows.first.size
    layer, inner = rows.layer_of[at], rows.inner
    X, mobility = X[at], mobility[at]
    a, da, dda = activity(rows, now, X, layer)
    slope, x_ref, cap = rows.constants[layer, 2], rows.constants[layer, 3], rows.constants[layer, 9]
    slope = np.where(slope * (X - x_ref) < cap, slope, 0.0)
    rise = 1.0 / da
    bounded = np.minimum(rise, STEEPEST)
    steepens = np.where(bounded < rise, 0.0, -dda / da)
    hinders = 1.0 / (mobility * bounded + now.vapour[layer])
    bends = mobility * (slope + steepens) * rise * bounded * hinders**2
    a2 = np.broadcast_to(gas_activity(M[rows.dry.shape[0]], now, share), (joints, X.shape[1])).copy()
    hinders2, bends2 = np.zeros_like(a2), np.zeros_like(a2)  # the gas space sets no resistance of its own
    a2[inner], hinders2[inner], bends2[inner] = a[joints:], hinders[joints:], bends[joints:]
    hinders1 = hinders[:joints]
    narrows = rows.narrows[:, 0] * hinders1 + rows.narrows[:, 1] * hinders2
    covered = now.cover > 0.0
    beside = np.where(covered, 1.0 / np.where(covered, now.cover + narrows, 1.0), 0.0)
    half1 = rows.halves[:, 0] + rows.narrows[:, 0] * (now.cover * beside) ** 2
    half2 = rows.halves[:, 1] + rows.narrows[:, 1] * (now.cover * beside) ** 2
    shield = now.shield + now.cover * narrows * beside
    G = 1.0 / (rows.halves[:, 0] * hinders1 + rows.halves[:, 1] * hinders2 + shield)
    through = (a[:joints] - a2) * G
    by_first = G * np.maximum(1.0 + through * half1 * bends[:joints], LEAST)
    by_second = G * np.maximum(1.0 - through * half2 * bends2, LEAST)
    return through, by_first, by_second


@dataclass(frozen=True, slots=True)
class Matrix:
    """C/(gamma h) + L, and its factors as `kernel._factor` tells them, row by row."""

    capacity: Floats
    onwards: Floats
    back: Floats
    to_gas: Floats
    from_gas: Floats
    g: Floats
    factors: tuple[Rows, ...]


def _split(array: Floats) -> Rows:
    """Row by row: of one scenario plain numbers, on which Python is faster than numpy."""
    return array[:, 0].tolist() if array.shape[1] == 1 else list(array)


def matrix(
    rows: Lot, now: Laws, share: Floats, M: Floats, seen: Fluxes, inverse: Floats, g: Floats
) -> Matrix:
    """At the state whose fluxes were `seen`; `inverse` is 1/(gamma h) [S]."""
    n = rows.dry.shape[0]
    rise = 1.0 / activity(rows, now, M[:n] / rows.dry, rows.layer_of)[1]
    capacity = np.concatenate([rows.dry * rise, (now.gas / share)[None]])
    kappa = seen.mobility * rise + now.vapour[rows.layer_of]
    onwards, back = np.zeros_like(kappa), np.zeros_like(kappa)
    onwards[:-1], back[:-1] = kappa[:-1] * rows.within[:-1], kappa[1:] * rows.within[:-1]
    to_gas, from_gas = np.zeros_like(kappa), np.zeros_like(kappa)
    inner, outer = rows.inner, np.flatnonzero(rows.second == n)
    onwards[rows.first[inner]], back[rows.first[inner]] = seen.by_first[inner], seen.by_second[inner]
    np.add.at(to_gas, rows.first[outer], seen.by_first[outer])
    np.add.at(from_gas, rows.first[outer], seen.by_second[outer])
    parts = [_split(part) for part in (capacity * inverse, onwards, back, to_gas, from_gas, g[None])]
    return Matrix(capacity, onwards, back, to_gas, from_gas, g, _factor(*parts))


def _factor(
    store: Rows, onwards: Rows, back: Rows, to_gas: Rows, from_gas: Rows, film: Rows
) -> tuple[Rows, ...]:
    """Eliminate along the cells, the gas space last, as `kernel._factor`: without a subtraction."""
    n, g = len(onwards), film[0]
    pivot, stays, goes_on, goes_out, ups, bys = factors = tuple[Rows, ...]([] for _ in range(6))
    excess, to, by, gas = store[0], to_gas[0], from_gas[0], store[n]
    for i in range(n):
        inverse = 1.0 / (excess + onwards[i] + to)
        up, down, stay = back[i] * inverse, onwards[i] * inverse, excess * inverse
        pivot.append(inverse)
        stays.append(stay)
        goes_on.append(down)
        goes_out.append(to * inverse)
        ups.append(up)
        bys.append(by * inverse)
        gas = gas + by * stay
        if i + 1 < n:
            excess, to, by = store[i + 1] + up * excess, to_gas[i + 1] + up * to, from_gas[i + 1] + down * by
    last = 1.0 / (gas + g)
    pivot.append(last)
    stays.append(gas * last)
    goes_out.append(g * last)
    return factors


def _solve(
    m: Matrix, along: Floats, leaving: Floats, source: Floats, film: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Rise z of activity [n+1, S], water C z, the film's flux, and the sum of C z."""
    pivot, stays, goes_on, goes_out, ups, bys = m.factors
    flux, out_of, sources, capacity = _split(along), _split(leaving), _split(source), _split(m.capacity)
    n = len(flux)
    through: Any = film.item() if film.size == 1 else film
    gas, coming, out = sources[n], sources[0], out_of[0]
    rests: Rows = []
    z: Rows = [0.0] * (n + 1)
    gains: Rows = [0.0] * (n + 1)
    for i in range(n):
        rests.append(coming - (flux[i] + out))
        gas = gas + (stays[i] * out + goes_out[i] * coming)
        if i + 1 < n:
            coming = goes_on[i] * coming + (sources[i + 1] + stays[i] * flux[i])
            out = goes_on[i] * out + (out_of[i + 1] - goes_out[i] * flux[i])
    film_after = through * stays[n] - gas * goes_out[n]
    gas = (gas + through) * pivot[n]
    total = capacity[n] * gas
    z[n], gains[n], carried = gas, total, 0.0 * gas
    for i in range(n - 1, -1, -1):
        carried = (rests[i] * pivot[i] + bys[i] * gas) + ups[i] * carried
        z[i], gains[i] = carried, capacity[i] * carried
        total = total + gains[i]
    S = along.shape[1]
    return (
        np.array(z, dtype=np.float64).reshape(n + 1, S),
        np.array(gains, dtype=np.float64).reshape(n + 1, S),
        np.atleast_1d(film_after),
        np.atleast_1d(total),
    )


def _stage(
    m: Matrix, along: Floats, leaving: Floats, source: Floats, film: Floats, inflow: Floats, gamma_h: Floats, rounding: Floats
) -> Floats:  # fmt: skip
    """Water every node gains, then that through the film [n+2, S]; solved again for what the first time leaves over."""
    z, gained, through, total = _solve(m, along, leaving, source, film)
    off = ~(np.abs(total - (through + inflow) * gamma_h) <= rounding)
    if off.any():
        n = along.shape[0]
        along = along + m.onwards * z[:n] - m.back * np.vstack([z[1:n], z[n - 1 : n] * 0.0])
        leaving = leaving + m.to_gas * z[:n] - m.from_gas * z[n]
        _, more, again, _ = _solve(m, along, leaving, source - gained / gamma_h, film - m.g * z[n])
        gained = np.where(off, gained + more, gained)
        through = np.where(off, again, through)
    return np.vstack([gained, (through + inflow) * gamma_h])


def step(
    rows: Lot, scheme: Scheme, start: Floats, h: Floats, env: Floats, middle: Ints, share: Floats, rounding: Floats
) -> tuple[Floats, Floats, Floats, Floats]:  # fmt: skip
    """One step of length h [S] from `start` [2, n+2, S]: error [S] (NaN where it is not good), end, fill of the gas, stages.

    `env` [6, S]: mean and slope over the step of g, of b = g a_out, and of T.
    """
    M, n, gamma_h = start[0], rows.dry.shape[0], scheme.gamma * h
    g_slope, b_slope, T_slope = env[1], env[3], env[5]
    g0, b0, T0 = env[0] - g_slope * h / 2, env[2] - b_slope * h / 2, env[4] - T_slope * h / 2
    now = laws(rows, T0, middle)
    seen = fluxes(rows, now, share, M, g0, b0)
    m = matrix(rows, now, share, M, seen, 1.0 / gamma_h, g0)
    moving = (g_slope != 0.0) | (b_slope != 0.0) | (T_slope != 0.0)
    dt = 1e-4 * h
    if moving.any():
        later = fluxes(
            rows, laws(rows, T0 + T_slope * dt, middle), share, M, g0 + g_slope * dt, b0 + b_slope * dt
        )
        rates = [(x - y) * (moving / dt) for x, y in ((later.along, seen.along), (later.leaving, seen.leaving), (later.film, seen.film))]  # fmt: skip
    U: list[Floats] = []
    good = np.ones(h.size, dtype=np.bool_)
    for s in range(scheme.alpha.size):
        if scheme.fresh[s]:
            at = M[: n + 1].copy()
            for j in range(s):
                if scheme.a[s, j] != 0.0:
                    at += scheme.a[s, j] * U[j][: n + 1]
            good &= at[:n].min(axis=0) > -rounding
            at = np.where(good, at, M[: n + 1])  # what is lost already is carried on from where it was sound
            t = scheme.alpha[s] * h
            now = laws(rows, T0 + T_slope * t, middle) if T_slope.any() else now
            seen = fluxes(rows, now, share, at, g0 + g_slope * t, b0 + b_slope * t)
        source, inflow = np.zeros((n + 1, h.size)), np.zeros(h.size)
        for j in range(s):
            c = scheme.c[s, j] / h
            source += c * U[j][: n + 1]
            inflow += c * U[j][n + 1]
        along, leaving, film = seen.along, seen.leaving, seen.film
        if moving.any() and scheme.gamma_sum[s] != 0.0:
            ahead = scheme.gamma_sum[s] * h
            along, leaving, film = (
                along + ahead * rates[0],
                leaving + ahead * rates[1],
                film + ahead * rates[2],
            )
        U.append(_stage(m, along, leaving, source, film, inflow, gamma_h, rounding))
    error, end = _close(rows, scheme, start, U, m.capacity)
    good &= end[0, : n + 1].min(axis=0) > -rounding
    return np.where(good, error, np.nan), end, end[0, n] / now.gas, np.stack(U)


def _close(
    rows: Lot, scheme: Scheme, start: Floats, U: list[Floats], capacity: Floats
) -> tuple[Floats, Floats]:
    """Error of the step in activity, the worst layer's [S], and the new state with what rounding leaves out of it."""
    left, wrong = start[1].copy(), np.zeros_like(start[1])
    for weight, off, u in zip(scheme.m, scheme.e, U, strict=True):
        if weight != 0.0:
            left += weight * u
        if off != 0.0:
            wrong += off * u
    after = start[0] + left
    error = np.zeros(after.shape[1])
    for i, j in rows.spans:
        error = np.maximum(error, np.abs(wrong[i:j]).sum(axis=0) / capacity[i:j].sum(axis=0))
    return error, np.stack([after, left - (after - start[0])])
