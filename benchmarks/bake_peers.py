"""Half an hour in the oven, 40 cells of water and heat, against general solvers on the same equations.

State for the peers: moisture [kg/kg] and enthalpy over 1e5 J/kg of every cell, one after the other, so that the Jacobian is
a band of three to either side. The compiled right-hand side is the oven's own fluxes; the numpy one is written anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import peers
from equal_error import Point, Run, sweep
from peers import Rate

from hardtack.states import Floats, Isotherm
from hardtack.transport import bake_kernel as kernel
from hardtack.transport import bake_march as bake
from hardtack.transport.bake_march import BakeMaterial, BakePiece, EndAir, Spell, bake_march
from hardtack.transport.bake_table import bake_table
from hardtack.transport.grid import cells, graded_faces
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme
from hardtack.water.air import latent_heat, saturation_pressure

CELLS, UNIT = 40, 1e5
TIMES = np.linspace(0.0, 1800.0, 31)
GAB = Isotherm("crumb-like", "gab", MappingProxyType({"Xm": 0.07, "C": 15.0, "K": 0.93}))
PIECE = BakePiece("slab", 0.03, 0.01, 0.1, 0.8, 300.0)
SHUT = EndAir(300.0, 0.0, 0.0, 300.0, 0.0, 300.0, 0.0, 0.0)
OVEN = EndAir(493.15, 10e3, 20.0, 493.15, 0.9, 300.0, 0.0, 1.0)


@cache
def material() -> BakeMaterial:
    """Invented dough."""
    return BakeMaterial(
        bake_table(GAB), 1600.0, 4190.0, 1450.0, 990.0, (0.25, 1e-3, -3e-6), (0.571, 1.76e-3, -6.7e-6), 0.027, 2.2e-5, 0.1,
        1.0, 0.2, 1e-10, 20e3,
    )  # fmt: skip


def own(tolerance: float, scheme: Scheme) -> Floats:
    """Temperatures and moistures [times, 2, cells] of the march."""
    spells = (Spell(1800.0, (SHUT, OVEN), (SHUT, OVEN)),)
    run = bake_march(PIECE, material(), spells, TIMES, cells_across=CELLS, tolerance=tolerance, scheme=scheme)
    return np.stack([run.temperature, run.moisture], axis=1)


@dataclass(frozen=True, slots=True)
class Dough:
    """Constants, curves, air, and the grid's rows as the kernel takes them."""

    constants: Floats
    curves: Floats
    env: Floats
    grid: Floats


def dough() -> Dough:
    """The same piece in plain arrays."""
    m = material()
    faces = graded_faces(0.0, PIECE.thickness, CELLS, first=True, last=True)
    cut = cells("slab", faces, PIECE.area, PIECE.thickness)
    grid = np.zeros((kernel.CELL_ROWS, CELLS + 1))
    dry = PIECE.dry_mass * cut.volume / cut.volume.sum()
    grid[0, :-1], grid[1, :-1], grid[2, :-1], grid[3, :-1] = dry, cut.volume, cut.r_minus, cut.r_plus
    _, left, _ = bake._air((Spell(1800.0, (SHUT, OVEN), (SHUT, OVEN)),), bake.STANDARD_PRESSURE, TIMES)
    return Dough(
        bake._constants(m, PIECE, bake.EPS, bake.STANDARD_PRESSURE),
        m.table.curves,
        np.ascontiguousarray(left[:, 0]),
        grid,
    )


def first_state(d: Dough) -> Floats:
    """Even moisture and temperature."""
    y = np.empty(2 * CELLS)
    heat = d.constants[kernel.CP] + PIECE.moisture * d.constants[kernel.CW]
    y[0::2], y[1::2] = PIECE.moisture, heat * (PIECE.temperature - kernel.ZERO) / UNIT
    return y


def in_kelvin(y: Floats, d: Dough) -> Floats:
    """Temperatures and moistures [times, 2, cells] of states [times, 2 cells]."""
    X, H = y[:, 0::2], y[:, 1::2] * UNIT
    return np.stack([kernel.ZERO + H / (d.constants[kernel.CP] + X * d.constants[kernel.CW]), X], axis=1)


def compiled_rate(d: Dough) -> Rate:
    """f(t, y, out) from the compiled oven's own fluxes."""
    from numba import njit

    fill, fluxes, W, Q = kernel._fill, kernel._fluxes, kernel.W, kernel.Q
    n, stretch = CELLS, kernel.STRETCH
    M, E, faces, grid = np.zeros(n), np.zeros(n), np.zeros((kernel.FACE_ROWS, n + 1)), d.grid.copy()

    @njit(error_model="numpy", fastmath={"contract"})
    def work(y, out, M, E, grid, faces, env, constants, curves):  # type: ignore[no-untyped-def]
        for i in range(n):
            M[i] = grid[0, i] * y[2 * i]
            E[i] = grid[0, i] * y[2 * i + 1] * UNIT
        fill(M, E, env[stretch], grid, constants, curves)
        fluxes(grid, faces, env, constants, False)
        for i in range(n):
            out[2 * i] = (faces[W, i] - faces[W, i + 1]) / grid[0, i]
            out[2 * i + 1] = (faces[Q, i] - faces[Q, i + 1]) / (grid[0, i] * UNIT)

    arrays = (M, E, grid, faces, d.env, d.constants, d.curves)

    def rate(_t: float, y: Floats, out: Floats) -> None:
        work(y, out, *arrays)

    return rate


def numpy_rate(d: Dough) -> Rate:
    """f(t, y, out) in vectorised numpy: the first end shut, the second in the oven's air."""
    c, curves, env = d.constants, d.curves, d.env[kernel.PER_END :]
    dry, volume, before, after = (d.grid[k, :-1] for k in range(4))
    cw, P, eps = c[kernel.CW], c[kernel.PRESSURE], c[kernel.EPS]
    density, r = dry / volume, after[-1]
    ends = np.zeros((2, CELLS + 1))

    def activity(x: Floats, T: Floats) -> Floats:
        u = x / (x + c[kernel.X_HALF]) * c[kernel.INTERVALS]
        j = np.minimum(u.astype(np.int64), curves.shape[1] - 1)
        v = np.clip((T - c[kernel.T_FIRST]) / c[kernel.T_SPACING], 0.0, curves.shape[0] - 1.0)
        k = np.minimum(v.astype(np.int64), curves.shape[0] - 2)
        s, y = (v - k)[:, None], u - j
        q = (1.0 - s) * curves[k, j] + s * curves[k + 1, j]
        return np.asarray(q[:, 0] + y * (q[:, 1] + y * (q[:, 2] + y * q[:, 3])))

    def series(half: Floats) -> Floats:
        return 1.0 / (after[:-1] / half[:-1] + before[1:] / half[1:])

    def surface(T: float, psi: float, k: float, vapour: float) -> tuple[float, float]:
        air, psi_air, h, wall, emissivity, h_contact, contact, share = env[: kernel.PER_END]
        inside, at, radiant = k / r, T, 0.0
        for _ in range(3):
            radiant = emissivity * kernel.STEFAN_BOLTZMANN * (at * at + wall * wall) * (at + wall)
            warmth = h * air + radiant * wall + h_contact * contact
            at = (inside * T + c[kernel.AREA] * warmth) / (
                inside + c[kernel.AREA] * (h + radiant + h_contact)
            )
        heat = h * (at - air) + radiant * (at - wall) + h_contact * (at - contact)
        outside = c[kernel.AREA] * share * h * c[kernel.LEWIS]
        return (psi - psi_air) / (r / vapour + 1.0 / outside), c[kernel.AREA] * heat

    def rate(_t: float, y: Floats, out: Floats) -> None:
        x, C = y[0::2], y[1::2] * UNIT / (c[kernel.CP] + y[0::2] * cw)
        T = kernel.ZERO + C
        p = activity(x, T) * saturation_pressure(T) / P
        psi = np.where(
            p < 1.0 - eps, -np.log1p(-np.minimum(p, 1.0 - eps)), -np.log(eps) + (p - 1.0 + eps) / eps
        )
        solid, water = c[kernel.SOLID_VOLUME], x * c[kernel.WATER_VOLUME]
        porosity = np.clip(1.0 - density * (solid + water), 0.02, 0.98)
        warm = np.minimum(C, kernel.HOTTEST_CONDUCTIVITY)
        ks, kw = (c[j] + warm * (c[j + 1] + warm * c[j + 2]) for j in (kernel.K_SOLID, kernel.K_WATER))
        k = ks + water / (solid + water) * (kw - ks)
        less = porosity * (k - c[kernel.K_AIR])
        k = k * (2.0 * k + c[kernel.K_AIR] - 2.0 * less) / (2.0 * k + c[kernel.K_AIR] + less)
        wet = (x / c[kernel.X_WET]) ** 4
        vapour = c[kernel.VAPOUR] + (c[kernel.WET_PATH] - c[kernel.VAPOUR]) * wet / (1.0 + wet)
        vapour = vapour * porosity * (T / kernel.ZERO) ** 0.75
        liquid = (
            density
            * c[kernel.LIQUID]
            * np.exp(-c[kernel.E_LIQUID] / kernel.GAS * (1.0 / T - 1.0 / kernel.T_LIQUID))
        )
        hv = cw * C + latent_heat(T)
        wv, wl = series(vapour) * (psi[:-1] - psi[1:]), series(liquid) * (x[:-1] - x[1:])
        ends[0, 1:-1] = wv + wl
        ends[1, 1:-1] = (
            series(k) * (T[:-1] - T[1:]) + (hv[:-1] + hv[1:]) / 2 * wv + cw * (C[:-1] + C[1:]) / 2 * wl
        )
        out_water, out_heat = surface(T[-1], psi[-1], k[-1], vapour[-1])
        ends[0, -1], ends[1, -1] = out_water, out_heat + hv[-1] * out_water
        out[0::2] = (ends[0, :-1] - ends[0, 1:]) / dry
        out[1::2] = (ends[1, :-1] - ends[1, 1:]) / (dry * UNIT)

    return rate


def half_hour(repeats: int) -> list[Point]:
    """The march and its peers; the error is the largest in temperature [K], over all cells and minutes."""
    d = dough()
    y0, exact = first_state(d), own(1e-6, RODAS4)
    runs: dict[str, tuple[Run, Sequence[float]]] = {
        f"march, {scheme.name}": (lambda tol, scheme=scheme: own(tol, scheme), (5.0, 2.0, 1.0, 0.2))
        for scheme in (RODAS3, RODAS4)
    }
    for kind, f in (("numpy", numpy_rate(d)), ("compiled", compiled_rate(d))):
        runs[f"LSODA {kind}"] = (
            lambda tol, f=f: in_kelvin(peers.lsoda(f, y0, TIMES, tol, width=3), d),
            (1e-3, 1e-4),
        )
        if peers.has_cvode():
            runs[f"CVODE {kind}"] = (
                lambda tol, f=f: in_kelvin(peers.cvode(f, y0, TIMES, tol, width=3), d),
                (1e-4, 1e-5),
            )
        runs[f"BDF {kind}, sparsity given"] = (
            lambda tol, f=f: in_kelvin(peers.bdf(f, y0, TIMES, tol, 3), d),
            (1e-3, 1e-4),
        )
    return sweep(runs, lambda got: float(np.abs(got - exact)[:, 0].max()), repeats)
