"""The march's own equations as general solvers want them: dX/dt of every cell, banded, from numpy or compiled.

One piece, the last end open, one chain: then the gas space follows the last cell and the Jacobian is tridiagonal. State:
moisture of every cell, and the water of the gas space over `unit` [kg], which brings it to the same size. The isotherms
are the same cubics; what differs is the solver.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.states import Floats
from hardtack.transport.chain import Chain
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure

Rate = Callable[[float, Floats, Floats], None]
Bands = Callable[[float, Floats], Floats]
Air = Callable[[float], tuple[float, float]]
"""Conductance g [kg/s] and inflow g a_out [kg/s] at a time [s]."""


@dataclass(frozen=True, slots=True)
class Problem:
    """What a right-hand side needs at one temperature, in plain arrays."""

    dry: Floats
    within: Floats
    solid: Floats
    slope: Floats
    x_ref: Floats
    layer: Any
    x_half: Floats
    intervals: Floats
    curves: Floats
    joints: Floats
    capacity: float
    unit: float


def problem(chain: Chain, T: float) -> Problem:
    """The chain at T [K]. Its layers have no vapour path of their own, and T is a temperature of its curves."""
    at = int(np.argmin(np.abs(chain.temperatures - T)))
    c = chain.constants
    layer = np.repeat(np.arange(len(chain.names)), np.diff(chain.spans, axis=1)[:, 0])
    psat = float(saturation_pressure(T))
    shield = np.zeros(chain.halves.shape[0])
    for joint, (resistance, T_ref, E, _) in zip(chain.barrier_joint, chain.barriers, strict=True):
        shield[joint] += resistance / psat * np.exp(E / GAS_CONSTANT * (1.0 / T - 1.0 / T_ref))
    D = c[:, 0] * c[:, 1] * np.exp(-c[:, 5] / GAS_CONSTANT * (1.0 / T - 1.0 / c[:, 4]))
    capacity = chain.headspace * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
    return Problem(
        dry=chain.dry_mass,
        within=chain.within,
        solid=D[layer],
        slope=c[layer, 2],
        x_ref=c[layer, 3],
        layer=layer,
        x_half=c[layer, 7],
        intervals=c[layer, 8],
        curves=np.ascontiguousarray(chain.curves[:, at]),
        joints=np.column_stack([chain.joint_nodes[:, 0], chain.halves, shield]),
        capacity=capacity,
        unit=capacity,
    )


def numpy_rate(p: Problem, air: Air) -> Callable[[float, Floats, Floats], None]:
    """f(t, y, out) in vectorised numpy."""
    n = p.dry.size
    first = p.joints[:, 0].astype(np.int64)
    inner, last = first[:-1], first[-1]
    bent, safe = p.slope != 0.0, np.where(p.slope != 0.0, p.slope, 1.0)
    flux = np.zeros(n + 1)

    def rate(t: float, y: Floats, out: Floats) -> None:
        X = y[:n]
        grown = np.exp(p.slope * (X - p.x_ref))
        mobility = p.solid * grown
        K = np.where(bent, mobility / safe, p.solid * X)
        flux[1:n] = (K[:-1] - K[1:]) * p.within[:-1]
        nodes = np.concatenate([inner, inner + 1, [last]])
        q = 1.0 / (X[nodes] + p.x_half[nodes])
        u = X[nodes] * q * p.intervals[nodes]
        k = np.minimum(u.astype(np.int64), p.curves.shape[1] - 1)
        v = u - k
        c = p.curves[p.layer[nodes], k]
        a = c[:, 0] + v * (c[:, 1] + v * (c[:, 2] + v * c[:, 3]))
        da = (c[:, 1] + v * (2 * c[:, 2] + 3 * v * c[:, 3])) * p.intervals[nodes] * p.x_half[nodes] * q * q
        h = da / mobility[nodes]
        m = inner.size
        R = p.joints[:-1, 1] * h[:m] + p.joints[:-1, 2] * h[m : 2 * m] + p.joints[:-1, 3]
        flux[inner + 1] = (a[:m] - a[m : 2 * m]) / R
        a_gas = y[n] * p.unit / p.capacity
        flux[n] = (a[-1] - a_gas) / (p.joints[-1, 1] * h[-1] + p.joints[-1, 3])
        g, b = air(t)
        out[:n] = (flux[:n] - flux[1:]) / p.dry
        out[n] = (flux[n] + b - g * a_gas) / p.unit

    return rate


def compiled_rate(p: Problem, edges: Floats, g: Floats, b: Floats) -> Callable[[float, Floats, Floats], None]:
    """f(t, y, out) compiled, with the air straight between its `edges`."""
    from numba import njit

    dry, within, solid, slope, x_ref = p.dry, p.within, p.solid, p.slope, p.x_ref
    layer, x_half, intervals, curves, joints = p.layer, p.x_half, p.intervals, p.curves, p.joints
    capacity, unit, n = p.capacity, p.unit, p.dry.size
    flux, K, mobility = np.zeros(n + 1), np.zeros(n), np.zeros(n)
    width = edges[1] - edges[0]

    @njit(error_model="numpy", fastmath={"contract"})
    def end(X, i, mobility, x_half, intervals, curves, layer):  # type: ignore[no-untyped-def]
        q = 1.0 / (X + x_half[i])
        u = X * q * intervals[i]
        k = min(int(u), curves.shape[1] - 1)
        v = u - k
        c = curves[layer[i], k]
        a = c[0] + v * (c[1] + v * (c[2] + v * c[3]))
        da = (c[1] + v * (2.0 * c[2] + 3.0 * v * c[3])) * intervals[i] * x_half[i] * q * q
        return a, da / mobility

    @njit(error_model="numpy", fastmath={"contract"})
    def work(t, y, out, flux, K, mobility, dry, within, solid, slope, x_ref, layer, x_half, intervals, curves, joints, edges, g, b):  # type: ignore[no-untyped-def]  # fmt: skip
        for i in range(n):
            if slope[i] == 0.0:
                mobility[i] = solid[i]
                K[i] = solid[i] * y[i]
            else:
                mobility[i] = solid[i] * np.exp(slope[i] * (y[i] - x_ref[i]))
                K[i] = mobility[i] / slope[i]
        for i in range(n - 1):
            flux[i + 1] = (K[i] - K[i + 1]) * within[i]
        a_gas = y[n] * unit / capacity
        last = joints.shape[0] - 1
        for k in range(last + 1):
            i = int(joints[k, 0])
            a1, h1 = end(y[i], i, mobility[i], x_half, intervals, curves, layer)
            a2, h2 = a_gas, 0.0
            if k < last:
                a2, h2 = end(y[i + 1], i + 1, mobility[i + 1], x_half, intervals, curves, layer)
            flux[i + 1] = (a1 - a2) / (joints[k, 1] * h1 + joints[k, 2] * h2 + joints[k, 3])
        for i in range(n):
            out[i] = (flux[i] - flux[i + 1]) / dry[i]
        k = min(max(int((t - edges[0]) / width), 0), edges.size - 2)
        w = (t - edges[k]) / width
        out[n] = (flux[n] + b[k] + w * (b[k + 1] - b[k]) - (g[k] + w * (g[k + 1] - g[k])) * a_gas) / unit

    arrays = (flux, K, mobility, dry, within, solid, slope, x_ref, layer, x_half, intervals, curves, joints, edges, g, b)  # fmt: skip

    def rate(t: float, y: Floats, out: Floats) -> None:
        work(t, y, out, *arrays)

    return rate


def numpy_bands(p: Problem, air: Air) -> Bands:
    """The exact Jacobian as its three bands [3, n+1], in vectorised numpy: bands[1 + i - j, j] = df_i/dy_j."""
    n = p.dry.size
    first = p.joints[:, 0].astype(np.int64)
    inner, last = first[:-1], first[-1]
    nodes = np.concatenate([inner, inner + 1, [last]])
    m = inner.size
    scale = np.append(p.dry, p.unit)
    onwards, back, bands = np.zeros(n + 1), np.zeros(n + 1), np.zeros((3, n + 1))

    def jacobian(t: float, y: Floats) -> Floats:
        X = y[:n]
        mobility = p.solid * np.exp(p.slope * (X - p.x_ref))
        onwards[: n - 1] = mobility[:-1] * p.within[:-1]  # of the flux to the next node, by either of the two
        back[: n - 1] = mobility[1:] * p.within[:-1]
        q = 1.0 / (X[nodes] + p.x_half[nodes])
        u = X[nodes] * q * p.intervals[nodes]
        k = np.minimum(u.astype(np.int64), p.curves.shape[1] - 1)
        v, u_X = u - k, p.intervals[nodes] * p.x_half[nodes] * q * q
        c = p.curves[p.layer[nodes], k]
        a = c[:, 0] + v * (c[:, 1] + v * (c[:, 2] + v * c[:, 3]))
        a_u = c[:, 1] + v * (2 * c[:, 2] + 3 * v * c[:, 3])
        da, dda = a_u * u_X, ((2 * c[:, 2] + 6 * v * c[:, 3]) * u_X - 2 * q * a_u) * u_X
        h = da / mobility[nodes]
        falls = (dda / da - p.slope[nodes]) * h
        G = 1.0 / (p.joints[:-1, 1] * h[:m] + p.joints[:-1, 2] * h[m : 2 * m] + p.joints[:-1, 3])
        through = (a[:m] - a[m : 2 * m]) * G
        onwards[inner] = G * (da[:m] - through * p.joints[:-1, 1] * falls[:m])
        back[inner] = G * (da[m : 2 * m] + through * p.joints[:-1, 2] * falls[m : 2 * m])
        G_gas = 1.0 / (p.joints[-1, 1] * h[-1] + p.joints[-1, 3])
        per_gas = p.unit / p.capacity
        onwards[n - 1] = G_gas * (da[-1] - (a[-1] - y[n] * per_gas) * G_gas * p.joints[-1, 1] * falls[-1])
        back[n - 1] = G_gas * per_gas
        g, _ = air(t)
        bands[1] = -onwards
        bands[1, n] = -g * per_gas
        bands[1, 1:] -= back[:n]
        bands[1] /= scale
        bands[2, :n] = onwards[:n] / scale[1:]
        bands[0, 1:] = back[:n] / scale[:-1]
        return bands

    return jacobian


def compiled_bands(p: Problem, edges: Floats, g: Floats) -> Bands:
    """The same, compiled."""
    from numba import njit

    dry, within, solid, slope, x_ref = p.dry, p.within, p.solid, p.slope, p.x_ref
    layer, x_half, intervals, curves, joints = p.layer, p.x_half, p.intervals, p.curves, p.joints
    unit, n = p.unit, p.dry.size
    onwards, back, mobility, bands = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n), np.zeros((3, n + 1))
    width, per_gas = edges[1] - edges[0], p.unit / p.capacity

    @njit(error_model="numpy", fastmath={"contract"})
    def end(X, i, mobility, slope, x_half, intervals, curves, layer):  # type: ignore[no-untyped-def]
        q = 1.0 / (X + x_half[i])
        u = X * q * intervals[i]
        k = min(int(u), curves.shape[1] - 1)
        v, u_X, c = u - k, intervals[i] * x_half[i] * q * q, curves[layer[i], k]
        a_u = c[1] + v * (2.0 * c[2] + 3.0 * v * c[3])
        da, dda = a_u * u_X, ((2.0 * c[2] + 6.0 * v * c[3]) * u_X - 2.0 * q * a_u) * u_X
        h = da / mobility
        return c[0] + v * (c[1] + v * (c[2] + v * c[3])), da, h, (dda / da - slope) * h

    @njit(error_model="numpy", fastmath={"contract"})
    def work(t, y, onwards, back, mobility, bands, dry, within, solid, slope, x_ref, layer, x_half, intervals, curves, joints, edges, g):  # type: ignore[no-untyped-def]  # fmt: skip
        for i in range(n):
            mobility[i] = solid[i] * np.exp(slope[i] * (y[i] - x_ref[i])) if slope[i] != 0.0 else solid[i]
        for i in range(n - 1):
            onwards[i], back[i] = mobility[i] * within[i], mobility[i + 1] * within[i]
        last = joints.shape[0] - 1
        for k in range(last + 1):
            i = int(joints[k, 0])
            a1, da1, h1, falls1 = end(y[i], i, mobility[i], slope[i], x_half, intervals, curves, layer)
            a2, da2, h2, falls2 = y[n] * per_gas, per_gas, 0.0, 0.0
            if k < last:
                a2, da2, h2, falls2 = end(
                    y[i + 1], i + 1, mobility[i + 1], slope[i + 1], x_half, intervals, curves, layer
                )
            G = 1.0 / (joints[k, 1] * h1 + joints[k, 2] * h2 + joints[k, 3])
            through = (a1 - a2) * G
            onwards[i] = G * (da1 - through * joints[k, 1] * falls1)
            back[i] = G * (da2 + through * joints[k, 2] * falls2)
        k = min(max(int((t - edges[0]) / width), 0), edges.size - 2)
        g_now = g[k] + (t - edges[k]) / width * (g[k + 1] - g[k])
        for i in range(n + 1):
            size = dry[i] if i < n else unit
            out = onwards[i] if i < n else g_now * per_gas
            bands[1, i] = -(out + (back[i - 1] if i > 0 else 0.0)) / size
            if i < n:
                bands[2, i] = onwards[i] / (dry[i + 1] if i + 1 < n else unit)
                bands[0, i + 1] = back[i] / size

    arrays = (onwards, back, mobility, bands, dry, within, solid, slope, x_ref, layer, x_half, intervals, curves, joints, edges, g)  # fmt: skip

    def jacobian(t: float, y: Floats) -> Floats:
        work(t, y, *arrays)
        return bands

    return jacobian


def lsoda(
    rate: Rate, y0: Floats, times: Floats, tol: float, max_step: float = 0.0, bands: Bands | None = None, width: int = 1
) -> Floats:  # fmt: skip
    """LSODA (ODEPACK), banded, by the direct call that leaves its loop in Fortran; it differences without `bands`."""
    from scipy.integrate import odeint

    def f(t: float, y: Floats) -> Floats:
        out = np.empty_like(y)
        rate(t, y, out)
        return out

    absolute = tol * np.abs(y0)
    return np.asarray(odeint(f, y0, times, Dfun=bands, ml=width, mu=width, rtol=tol, atol=absolute, hmax=max_step, tfirst=True, mxstep=10**6))  # fmt: skip


def has_cvode() -> bool:
    """Whether scikit-sundae is installed; the project does not need it."""
    return importlib.util.find_spec("sksundae") is not None


def cvode(
    rate: Rate, y0: Floats, times: Floats, tol: float, max_step: float = 0.0, bands: Bands | None = None, width: int = 1
) -> Floats:  # fmt: skip
    """CVODE (SUNDIALS) BDF, banded, from its own wrapper; it differences without `bands`."""
    from sksundae.cvode import CVODE

    at = np.arange(y0.size)

    def filled(t: float, y: Floats, _yp: Floats, J: Floats) -> None:
        b = bands(t, y)  # type: ignore[misc]
        J[at, at] = b[1]
        J[at[1:], at[:-1]] = b[2, :-1]
        J[at[:-1], at[1:]] = b[0, 1:]

    given = {} if bands is None else {"jacfn": filled}
    solver = CVODE(
        rate, rtol=tol, atol=tol * np.abs(y0), linsolver="band", lband=width, uband=width, max_step=max_step,
        max_num_steps=10**6, **given,
    )  # fmt: skip
    return np.asarray(solver.solve(times, y0).y)


def bdf(
    rate: Rate, y0: Floats, times: Floats, tol: float, width: int = 1, absolute: Floats | None = None
) -> Floats:
    """BDF of scipy, told which entries of its Jacobian are not nought."""
    from scipy.integrate import solve_ivp
    from scipy.sparse import diags

    def f(t: float, y: Floats) -> Floats:
        out = np.empty_like(y)
        rate(t, y, out)
        return out

    n = y0.size
    pattern = diags([np.ones(n - abs(k)) for k in range(-width, width + 1)], list(range(-width, width + 1)))
    atol = tol * np.abs(y0) if absolute is None else absolute
    run = solve_ivp(f, times[[0, -1]], y0, "BDF", times, rtol=tol, atol=atol, jac_sparsity=pattern)
    return np.asarray(run.y.T)
