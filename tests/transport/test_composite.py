"""Three layers, barriers, vapour path, gas space and film against an independent Radau solution.

Reference: the right-hand side of `tests/transport/chains.py` (plain numpy, isotherm functions, no tables), solved by
scipy's Radau IIA (Hairer & Wanner II, sect. IV.8) at a relative tolerance of 1e-9.
"""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.states import Floats, IsostericHeat, Layer, Piece, Shape
from hardtack.transport.chain import Chain, chain
from hardtack.transport.march import March, march
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, saturation_pressure
from hardtack.water.isotherm import activity
from tests.transport.chains import DAY, T25, radau, reference, sandwich

CELLS, ROOM, G = 6, 1e-4, 3e-9
HEAT = IsostericHeat(9000.0, 0.08)


def activities(piece: Piece, states: Floats, temperatures: Floats) -> Floats:
    """Activity of every cell and the gas space from the reference's states."""
    a = np.zeros_like(states)
    for row, T in enumerate(temperatures):
        for k, part in enumerate(piece.layers):
            here = slice(k * CELLS, (k + 1) * CELLS)
            a[row, here] = activity(part.isotherm, states[row, here], float(T))
        a[row, -1] = states[row, -1] / (ROOM * saturation_pressure(T) * MOLAR_MASS_WATER / (GAS_CONSTANT * T))
    return a


def start(cut: Chain, air: Surroundings) -> Floats:
    """The reference's first state: moistures, then the water of the gas space as the march starts it."""
    first = march(cut, air, air.edges[:1])
    return np.append(cut.start_moisture, first.water[0, -1])


def constant(T: float = T25) -> Surroundings:
    return surroundings([Stretch(np.array([0.0, 400 * DAY]), np.full(2, G), np.full(2, 0.7), np.full(2, T))])


def run(cut: Chain, air: Surroundings, times: Floats, tolerance: float, scheme: Scheme = RODAS4) -> March:
    return march(cut, air, times, tolerance=tolerance, scheme=scheme)


@pytest.mark.parametrize("shape", ["slab", "cylinder", "sphere"])
def test_constant_climate(shape: Shape) -> None:
    piece, T = sandwich(shape, HEAT if shape == "slab" else None), 303.15
    times = np.array([0.0, 1.0, 40.0] if shape == "slab" else [0.0, 10.0]) * DAY
    cut, air = chain([piece], ROOM, (T, T), cells_per_layer=CELLS), constant(T)
    states = radau(reference(piece, CELLS, ROOM, lambda t: (G, 0.7, T)), start(cut, air), times)
    exact = activities(piece, states, np.full(times.size, T))
    got = run(cut, air, times, 1e-8)
    assert np.abs(got.activity - exact).max() <= 1e-6
    assert np.ptp(exact[:, :-1], axis=0).min() > 0.01  # every cell has moved, so the agreement says something
    # the default tolerance and scheme, as used every day
    assert np.abs(march(cut, air, times).activity[:, :-1] - exact[:, :-1]).max() <= 2e-4


def test_error_falls_with_the_tolerance() -> None:
    piece = sandwich()
    times = np.linspace(0.0, 200.0, 11) * DAY
    cut, air = chain([piece], ROOM, (T25, T25), cells_per_layer=CELLS), constant()
    exact = run(cut, air, times, 1e-10).activity[:, :-1]
    for scheme in (RODAS3, RODAS4):
        errors = [
            np.abs(run(cut, air, times, tol, scheme).activity[:, :-1] - exact).max()
            for tol in (1e-3, 1e-5, 1e-7)
        ]
        assert errors[0] < 3e-3
        assert errors[1] < 3e-5
        assert errors[2] < 3e-7, (scheme.name, errors)


@pytest.mark.parametrize(
    ("scheme", "steps", "least"),
    [(RODAS3, 64, 2.75), (RODAS4, 16, 3.6)],
    ids=lambda x: getattr(x, "name", ""),
)
def test_order_in_time_where_nothing_is_stiff(scheme: Scheme, steps: int, least: float) -> None:
    """Two cells a layer in a large room; air, film and temperature sliding: near the classical order over three halvings."""
    piece, room, span = sandwich(heat=HEAT), 50.0, 4 * DAY
    cut = chain([piece], room, (296.0, 300.0), cells_per_layer=2)
    slide = Stretch(
        np.array([0.0, 2 * span]), np.array([1e-4, 3e-4]), np.array([0.8, 0.3]), np.array([296.0, 300.0]), 0.0
    )
    air = surroundings([slide])

    def end(steps: int, tolerance: float) -> Floats:
        times = np.r_[0.0, np.linspace(0.1 * DAY, span, steps + 1)]
        early = run(cut, air, times[:2], 1e-9).water[-1]
        return march(cut, air, times[1:], start=early, tolerance=tolerance, scheme=scheme).activity[-1]

    exact = end(2048, 1e-11)
    coarse, fine = (np.abs(end(n, 1e9) - exact).max() for n in (steps, 8 * steps))
    assert np.log2(coarse / fine) / 3 > least, (coarse, fine)


@pytest.mark.parametrize(
    ("scheme", "least"), [(RODAS3, 1.9), (RODAS4, 2.4)], ids=lambda x: getattr(x, "name", "")
)
def test_order_in_time_where_it_is_stiff(scheme: Scheme, least: float) -> None:
    """Steps of days over cells of minutes: Rosenbrock steps lose order then (Hairer & Wanner II, sect. IV.15), not all."""
    cut, air = chain([sandwich()], ROOM, (T25, T25), cells_per_layer=CELLS), constant()
    smooth = run(cut, air, np.array([0.0, 30.0]) * DAY, 1e-9).water[-1]

    def end(steps: int, tolerance: float) -> Floats:
        times = np.linspace(30 * DAY, 94 * DAY, steps + 1)
        return march(cut, air, times, start=smooth, tolerance=tolerance, scheme=scheme).activity[-1, :-1]

    exact = end(2000, 1e-11)
    errors = np.array([np.abs(end(steps, 1e9) - exact).max() for steps in (4, 8, 16)])
    assert np.all(np.log2(errors[:-1] / errors[1:]) > least), errors
    assert errors[0] < 5e-6


def test_temperature_moving_smoothly() -> None:
    piece = sandwich(heat=HEAT)
    times = np.arange(0.0, 1.01, 0.25) * DAY
    T = 295.0 + 9.0 * np.sin(2 * np.pi * times / (1.3 * DAY))
    g, a_out = G * np.exp(0.05 * (T - 295.0)), 0.6 - 0.2 * np.sin(2 * np.pi * times / (1.3 * DAY))
    cut = chain([piece], ROOM, (float(T.min()), float(T.max())), cells_per_layer=CELLS)
    air = surroundings([Stretch(times, g, a_out, T, 0.0)])

    def between(t: float) -> tuple[float, float, float]:
        g_t = np.interp(t, times, g)
        # g and g a_out run straight between the points
        return g_t, np.interp(t, times, g * a_out) / g_t, np.interp(t, times, T)

    exact = activities(piece, radau(reference(piece, CELLS, ROOM, between), start(cut, air), times), T)
    got = run(cut, air, times, 1e-8)
    assert np.abs(got.activity - exact).max() <= 2e-6
    assert got.temperature == pytest.approx(T, abs=1e-9)
    assert got.imbalance <= 1e-13


def test_temperature_jump_between_legs() -> None:
    piece = sandwich(heat=HEAT)
    legs = [(0.0, 1.0, G, 0.5, 285.0), (1.0, 1.2, 1000 * G, 0.8, 308.0), (1.2, 4.0, G, 0.6, 298.0)]
    cut = chain([piece], ROOM, (285.0, 308.0), cells_per_layer=CELLS)
    air = surroundings(
        [
            Stretch(np.array([t0, t1]) * DAY, np.full(2, g), np.full(2, a), np.full(2, T))
            for t0, t1, g, a, T in legs
        ]
    )
    states, water = start(cut, air), []
    for t0, t1, g, a, T in legs:
        rate = reference(piece, CELLS, ROOM, lambda t, g=g, a=a, T=T: (g, a, T))  # type: ignore[misc]
        states = radau(rate, states, np.array([t0, t1]) * DAY)[-1]
        water.append(states)
    exact = activities(piece, np.array(water), np.array([leg[4] for leg in legs]))
    # one march, its outputs only at the ends of the legs: no step may run across them by itself
    got = run(cut, air, np.array([0.0, 1.0, 1.2, 4.0]) * DAY, 1e-8)
    assert np.abs(got.activity[1:] - exact).max() <= 2e-6
    far = run(cut, air, np.array([0.0, 4.0]) * DAY, 1e-8)
    assert np.abs(far.activity[-1] - got.activity[-1]).max() <= 1e-6


def test_two_pieces_in_one_gas_space_are_one_of_double_count() -> None:
    single = sandwich()
    double = Piece(single.shape, single.parts, single.area, single.open_ends, 2 * single.count)
    times = np.linspace(0, 60, 7) * DAY
    a = march(chain([single, single], ROOM, (T25, T25)), constant(), times)
    b = march(chain([double], ROOM, (T25, T25)), constant(), times)
    n = b.activity.shape[1] - 1
    assert np.abs(a.activity[:, :n] - b.activity[:, :n]).max() < 1e-12
    assert np.abs(a.activity[:, n : 2 * n] - b.activity[:, :n]).max() < 1e-12


def test_a_shut_piece_keeps_its_water_and_evens_out() -> None:
    open_one = sandwich()
    shut = Piece(open_one.shape, open_one.parts, open_one.area, (False, False), open_one.count)
    cut = chain([shut], ROOM, (T25, T25))
    got = march(cut, constant(), np.array([0.0, 3000.0]) * DAY / 10)
    assert np.ptp(got.activity[-1, :-1]) < 1e-3
    assert got.water[-1, :-1].sum() == pytest.approx(got.water[0, :-1].sum(), rel=1e-13)
    assert isinstance(shut.parts[1], Layer)
