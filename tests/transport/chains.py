"""Invented chains to test on, and their right-hand side written a second time in plain numpy.

The second writing shares the cell edges with the package (both must cut alike) and nothing else: volumes and
resistances come from the textbook integrals of dx / area, activities straight from the isotherm's own functions,
not from tables, and scipy's Radau carries it through time.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Isotherm, Layer, Piece
from hardtack.transport.grid import graded_faces
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure
from hardtack.water.isotherm import activity_and_slope

DAY = 86400.0
T25 = 298.15


def gab(name: str, Xm: float, C: float, K: float, heat: IsostericHeat | None = None) -> Isotherm:
    return Isotherm(name, "gab", {"Xm": Xm, "C": C, "K": K}, heat=heat)


def linear(slope: float) -> Isotherm:
    """X = slope a, as a measured table of points on one line."""
    return Isotherm("line", "table", points=tuple((a, a * slope) for a in (0.0, 0.25, 0.5, 0.75, 0.99)))


def layer(
    name: str, thickness: float, dry_mass: float, moisture: float, iso: Isotherm, D: Diffusivity
) -> Layer:
    return Layer(name, thickness, dry_mass, moisture, iso, D)


def sandwich(shape: str = "slab", heat: IsostericHeat | None = None) -> Piece:
    """Three layers, barriers before, between and after them, one vapour path, one D(X); ends open where allowed."""
    return Piece(
        shape=shape,  # type: ignore[arg-type]
        parts=(
            Barrier("glaze", 0.1e-3, 4e-9, T25, 20e3),
            Layer(
                "crumb",
                4e-3,
                9e-3,
                0.11,
                gab("crumb", 0.07, 9.0, 0.97, heat),
                Diffusivity(3e-11, 6.0, 0.1, T25, 30e3),
            ),
            Barrier("fat", 0.5e-3, 1.5e-9, 293.15, 45e3),
            Barrier("paper", 0.1e-3, 8e-9, T25, 10e3),
            Layer(
                "cream",
                2e-3,
                4e-3,
                0.06,
                gab("cream", 0.03, 5.0, 0.99, heat),
                Diffusivity(1e-11, 0.0, 0.0, T25, 25e3),
            ),
            Layer(
                "shell",
                3e-3,
                5e-3,
                0.03,
                gab("shell", 0.05, 14.0, 0.92, heat),
                Diffusivity(2e-11),
                vapour_permeability=4e-12,
            ),
            Barrier("coating", 0.05e-3, 3e-9, T25, 35e3),
        ),
        area=2.5e-3,
        open_ends=(shape == "slab", True),
        count=6,
    )


def reference(
    piece: Piece, per_layer: int, headspace: float, air: Callable[[float], tuple[float, float, float]]
) -> Callable[[float, Floats], Floats]:
    """d(X of every cell, water of the gas space)/dt with `air(t)` = (g, a_out, T); columns are separate states."""
    layers = piece.layers
    edges = _edges(piece, per_layer)
    R, power = edges[-1], {"slab": 0, "cylinder": 1, "sphere": 2}[piece.shape]

    def through(r1: float, r2: float) -> float:
        """Integral of dx / area."""
        if power == 0:
            return (r2 - r1) / piece.area
        if power == 1:
            return float(np.log(r2 / r1)) / (piece.area / R)
        return (1 / r1 - 1 / r2) / (piece.area / R**2)

    volume = piece.area / R**power * np.diff(edges ** (power + 1)) / (power + 1)
    n = volume.size
    dry = np.concatenate(
        [
            part.dry_mass
            * volume[k * per_layer : (k + 1) * per_layer]
            / volume[k * per_layer : (k + 1) * per_layer].sum()
            for k, part in enumerate(layers)
        ]
    )
    middle = (edges[1:] + edges[:-1]) / 2
    films: dict[int, list[Barrier]] = {}
    seen = 0
    for part in piece.parts:
        if isinstance(part, Barrier):
            films.setdefault(seen, []).append(part)
        else:
            seen += 1

    def shield(k: int, T: float, psat: float) -> float:
        """Barriers before layer k, in series, at their own laws [s/kg per unit activity]."""
        area = piece.area * (edges[k * per_layer] / R) ** power
        return sum(
            np.exp(b.E / GAS_CONSTANT * (1 / T - 1 / b.T_ref)) / (b.permeance * area * psat)
            for b in films.get(k, [])
        )

    before = np.array(
        [through(edges[i], middle[i]) if edges[i] > 0 or power == 0 else np.inf for i in range(n)]
    )[:, None]
    after = np.array([through(middle[i], edges[i + 1]) for i in range(n)])[:, None]

    def rate(t: float, y: Floats) -> Floats:
        y = y.reshape(n + 1, -1)
        g, a_out, T = air(t)
        psat = float(saturation_pressure(T))
        a_gas = y[n] / (headspace * psat * MOLAR_MASS_WATER / (GAS_CONSTANT * T))
        a, kappa, potential = np.zeros_like(y[:n]), np.zeros_like(y[:n]), np.zeros_like(y[:n])
        for k, part in enumerate(layers):
            here = slice(k * per_layer, (k + 1) * per_layer)
            D, X = part.diffusivity, y[here]
            rho = part.dry_mass / volume[here].sum()
            D_T = D.D_ref * np.exp(-D.E / GAS_CONSTANT * (1 / T - 1 / D.T_ref))
            spread = np.exp(D.slope * (X - D.X_ref))
            a[here], rise = activity_and_slope(part.isotherm, X, T)
            kappa[here] = rho * D_T * spread / rise + part.vapour_permeability * psat
            solid = D_T * (spread / D.slope if D.slope else X)
            potential[here] = rho * solid + part.vapour_permeability * psat * a[here]
        F = np.zeros((n + 1, y.shape[1]))
        F[1:n] = (potential[:-1] - potential[1:]) / (after[:-1] + before[1:])
        for k in range(1, len(layers)):
            i = k * per_layer
            F[i] = (a[i - 1] - a[i]) / (
                after[i - 1] / kappa[i - 1] + before[i] / kappa[i] + shield(k, T, psat)
            )
        if piece.open_ends[0]:
            F[0] = (a_gas - a[0]) / (before[0] / kappa[0] + shield(0, T, psat))
        if piece.open_ends[1]:
            F[n] = (a[n - 1] - a_gas) / (after[n - 1] / kappa[n - 1] + shield(len(layers), T, psat))
        gas = piece.count * (F[n] - F[0]) + g * (a_out - a_gas)
        return np.vstack([(F[:-1] - F[1:]) / dry[:, None], gas])

    return rate


def _edges(piece: Piece, per_layer: int) -> Floats:
    edges = [np.zeros(1)]
    last = len(piece.layers) - 1
    for k, part in enumerate(piece.layers):
        first_end, last_end = k > 0 or piece.open_ends[0], k < last or piece.open_ends[1]
        edges.append(
            graded_faces(edges[-1][-1], part.thickness, per_layer, first=first_end, last=last_end)[1:]
        )
    return np.concatenate(edges)


def radau(rate: Callable[[float, Floats], Floats], y0: Floats, times: Floats, rtol: float = 1e-9) -> Floats:
    """States at `times`, [times, nodes]; restarted at every time, so that kinks of the air may lie there."""
    states = [y0]
    for t0, t1 in itertools.pairwise(times):
        run = solve_ivp(
            rate, (t0, t1), states[-1], method="Radau", rtol=rtol, atol=rtol * y0, vectorized=True
        )
        assert run.success
        states.append(run.y[:, -1])
    return np.array(states)


def plain_python(code: str) -> subprocess.CompletedProcess[str]:
    """Run code in a process of its own where the kernel is not compiled."""
    root = Path(__file__).resolve().parents[2]
    path = os.pathsep.join([str(root), str(root / "src"), os.environ.get("PYTHONPATH", "")])
    return subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": path},
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
