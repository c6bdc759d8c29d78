"""An exact solution with D(X), a curved isotherm and moving air, and the orders at which the march comes to it.

u = exp(s X) turns X_t = (D0 exp(s X) X_x)_x into u_t = D0 u u_xx, which u = (F + lam x^2 / 2) / (1 - D0 lam t) solves, with
no flux at x = 0 (separation of variables; worked out here). The air is then made to fit: the film brings just the water
that this takes at the open face, and what the gas space takes up.
"""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.states import Diffusivity, Floats, Layer, Piece
from hardtack.transport.chain import Chain, chain
from hardtack.transport.march import march
from hardtack.transport.rosenbrock import RODAS4
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity
from tests.transport.chains import DAY, T25, gab

L, AREA, RHO, D0, S, G = 4e-3, 1e-2, 500.0, 2e-11, 9.0, 4e-8
ROOM, END = 1e-5, 2.0 * DAY
ISO = gab("curved", 0.06, 9.0, 0.93)
U0 = np.exp(S * 0.03)  # at the closed face, at the start
LAM = 2.0 * (np.exp(S * 0.06) - U0) / L**2


def moisture_at(x: Floats, t: Floats) -> Floats:
    """X of the exact solution."""
    exact: Floats = np.log((U0 + LAM * x**2 / 2) / (1.0 - D0 * LAM * t)) / S
    return exact


def mean(t: float) -> float:
    """Mean moisture, by Gauss-Legendre."""
    x, w = np.polynomial.legendre.leggauss(30)
    return float(moisture_at((x + 1) * L / 2, np.full(30, t)) @ w / 2)


def fitted_air(pieces: int, limit: float = 0.0) -> Surroundings:
    """Film and outside air that bring what the solution takes up, straight between `pieces` + 1 points."""
    t = np.linspace(0.0, END, pieces + 1)
    shrinks = 1.0 - D0 * LAM * t
    taken = RHO * AREA * D0 / S * LAM * L / shrinks
    a = np.asarray(activity(ISO, moisture_at(np.full(t.size, L), t), T25))
    dt = 1e-3 * END
    later, before = (
        np.asarray(activity(ISO, moisture_at(np.full(t.size, L), t + sign * dt), T25)) for sign in (1, -1)
    )
    gas = ROOM * float(vapour_density(float(saturation_pressure(T25)), T25))
    b = taken + gas * (later - before) / (2 * dt) + G * a
    assert np.all(b / G < 1.0)
    return surroundings([Stretch(t, np.full(t.size, G), b / G, np.full(t.size, T25), limit)])


def ready(cells: int) -> tuple[Chain, Floats]:
    """The chain, and its first water: cell means of the exact solution, and the gas space at the face's activity."""
    layer = Layer("solid", L, RHO * AREA * L, 0.04, ISO, Diffusivity(D0, S, 0.0))
    cut = chain([Piece("slab", (layer,), AREA, (False, True))], ROOM, (T25, T25), cells_per_layer=cells)
    edges = np.append(0.0, np.cumsum(cut.dry_mass)) / (RHO * AREA)
    x, w = np.polynomial.legendre.leggauss(4)
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    X = moisture_at(middle[:, None] + half[:, None] * x, np.zeros((1, 1))) @ w / 2
    gas = ROOM * float(vapour_density(float(saturation_pressure(T25)), T25))
    a = float(activity(ISO, float(moisture_at(np.array(L), np.array(0.0))), T25))
    return cut, np.append(cut.dry_mass * X, gas * a)


def error_of(
    cells: int, *, pieces: int = 400, limit: float = 0.0, steps: int = 1, tolerance: float = 1e-9
) -> float:
    """Largest error of the cells' moistures at the end."""
    cut, water = ready(cells)
    times = np.linspace(0.0, END, steps + 1)
    run = march(cut, fitted_air(pieces, limit), times, start=water, tolerance=tolerance, scheme=RODAS4)
    edges = np.append(0.0, np.cumsum(cut.dry_mass)) / (RHO * AREA)
    x, w = np.polynomial.legendre.leggauss(4)
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    exact = moisture_at(middle[:, None] + half[:, None] * x, np.full((1, 1), END)) @ w / 2
    return float(np.abs(run.water[-1, :-1] / cut.dry_mass - exact).max())


def test_the_solution_itself() -> None:
    """By differences: it satisfies the equation, has no flux at the closed face, and keeps what the face brings."""
    x, t, dx, dt = np.linspace(0.2, 0.9, 8) * L, np.full(8, 0.4 * END), 1e-6, 10.0
    X = moisture_at
    flux = lambda at: D0 * np.exp(S * X(at, t)) * (X(at + dx, t) - X(at - dx, t)) / (2 * dx)  # noqa: E731
    assert (X(x, t + dt) - X(x, t - dt)) / (2 * dt) == pytest.approx(
        (flux(x + dx) - flux(x - dx)) / (2 * dx), rel=1e-3
    )
    times = np.linspace(0, END, 2001)
    came = np.trapezoid(D0 / S * LAM * L / (1.0 - D0 * LAM * times), times)
    assert (mean(END) - mean(0.0)) * L == pytest.approx(came, rel=1e-6)
    assert mean(END) - mean(0.0) > 0.01


def test_second_order_in_space() -> None:
    errors = np.array([error_of(n) for n in (10, 20, 40, 80)])
    orders = np.log2(errors[:-1] / errors[1:])
    assert np.all(orders[1:] > 1.9), (orders, errors)
    assert errors[1] < 1e-4


def test_order_in_time_in_moving_air() -> None:
    """Long steps over short pieces of air, which the projection makes straight: at least second order."""
    fine = error_of(20, steps=400)
    cut, water = ready(20)
    ends = [
        march(cut, fitted_air(400, np.inf), np.linspace(0, END, n + 1), start=water, tolerance=1e9, scheme=RODAS4).water[-1, :-1] / cut.dry_mass
        for n in (8, 16, 32, 400)
    ]  # fmt: skip
    errors = np.array([np.abs(end - ends[-1]).max() for end in ends[:-1]])
    orders = np.log2(errors[:-1] / errors[1:])
    assert np.all(orders > 1.9), (orders, errors)
    assert fine < 1e-4
