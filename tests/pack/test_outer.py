"""Outer packs: airs in series, the water their board stores, and that nothing is lost on the way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.pack.links import outer_conductance
from hardtack.pack.outer import board_table, leg_times
from hardtack.states import Film, Floats, OuterPack
from hardtack.transport.nested import ACTIVITY, Nested, Node, nested, water_held
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density

T_ROOM = 298.15
FULL = float(vapour_density(saturation_pressure(T_ROOM), T_ROOM))
AIR = np.zeros_like(ACTIVITY)


def carton(**changes: object) -> OuterPack:
    values: dict[str, Any] = {"name": "carton", "holds": 10.0, "air": 0.02, "air_changes": 2 / DAY}
    return OuterPack(**{**values, **changes})


def level(times: Floats, value: float) -> Floats:
    return np.full_like(times, value)


def node(outer: OuterPack, times: Floats, swing: Floats | float = 0.0) -> Node:
    T = T_ROOM + np.asarray(swing) * np.ones_like(times)
    g = outer_conductance(outer, T, level(times, 0.5), level(times, 0.5))
    room = outer.air * np.asarray(vapour_density(saturation_pressure(T), T))
    return Node(board_table(outer), room, g, outer.holds)


def sink(times: Floats, g: float, a: float) -> Node:
    """Contents that stay at activity a whatever they take up: so many kilograms of water per activity."""
    return Node(1e9 * ACTIVITY, level(times, 0.0), level(times, g))


def run(
    outers: list[OuterPack], days: float, around: float, g: float, within: float, start: list[float]
) -> Nested:
    times = leg_times(0.0, days * DAY)
    nodes = [sink(times, g, within), *(node(outer, times) for outer in outers)]
    held = [float(water_held(n, level(times, a))[0]) for n, a in zip(nodes, [within, *start], strict=True)]
    return nested(times, nodes, level(times, around), held, np.zeros((len(nodes), times.size)))


def test_at_rest_the_airs_divide_the_drive_as_resistances_in_series_do() -> None:
    """a between: (g_out a_around + N g_in a_within) / (g_out + N g_in), by hand."""
    g_out, g_in = 0.02 * 2 / DAY * FULL, 3e-11
    air = run([carton()], 60, 0.8, g_in, 0.2, [0.5])
    expected = (g_out * 0.8 + 10 * g_in * 0.2) / (g_out + 10 * g_in)
    assert air.activity[1, -1] == pytest.approx(expected, abs=1e-6)


def test_two_in_series_and_a_film() -> None:
    film = Film("hood", 3e-11, T_ROOM)
    hood = OuterPack("hood", 5.0, 0.2, film, 4.0)
    g_in = 3e-11
    air = run([carton(), hood], 200, 0.9, g_in, 0.1, [0.5, 0.5])
    g1 = 0.02 * 2 / DAY * FULL
    g2 = 4.0 * 3e-11 * float(saturation_pressure(T_ROOM))
    # packs, cartons and hood in series between 0.1 and 0.9, for one hood of 5 cartons of 10 packs
    resistances = np.array([1 / (50 * g_in), 1 / (5 * g1), 1 / g2])
    steps = 0.1 + 0.8 * np.cumsum(resistances) / resistances.sum()
    assert air.activity[1, -1] == pytest.approx(steps[0], abs=1e-5)
    assert air.activity[2, -1] == pytest.approx(steps[1], abs=1e-5)


def test_the_airs_follow_as_the_equations_say() -> None:
    """Contents, carton and hood against scipy's integrator: implicit steps err by half when they are half as long."""
    g = np.array([3e-11, 0.02 * 2 / DAY * FULL, 0.3 * 1 / DAY * FULL])
    stores = np.array([4e-5, 0.02 * FULL, 0.3 * FULL])
    holds, start = np.array([1.0, 10.0, 6.0]), np.array([0.2, 0.3, 0.4])

    def rates(t: float, a: Floats) -> Floats:
        came = g * (np.append(a[1:], 0.8) - a)
        return np.asarray((came - holds * np.append(0.0, came[:-1])) / stores)

    seen = np.linspace(0.0, 20 * DAY, 481)
    exact = solve_ivp(rates, (0.0, 20 * DAY), start, t_eval=seen, rtol=1e-10, atol=1e-13).y
    found = []
    for finer in (1, 2):
        times = np.linspace(0.0, 20 * DAY, 480 * finer + 1)
        nodes = [
            Node(stores[0] * ACTIVITY, level(times, 0.0), level(times, g[0])),
            Node(AIR, level(times, stores[1]), level(times, g[1]), holds[1]),
            Node(AIR, level(times, stores[2]), level(times, g[2]), holds[2]),
        ]
        air = nested(times, nodes, level(times, 0.8), list(stores * start), np.zeros((3, times.size)))
        found.append(air.activity[:, ::finer])
    coarse, fine = (float(np.max(np.abs(a - exact))) for a in found)
    assert coarse / fine == pytest.approx(2.0, rel=0.1)
    # what is left when the first order is taken out is of the second: small against the first
    assert float(np.max(np.abs(2 * found[1] - found[0] - exact))) < 0.1 * fine


def test_board_holds_the_air_back_for_weeks() -> None:
    board = reference.isotherm("corrugated board")
    bare = run([carton()], 20, 0.85, 1e-12, 0.3, [0.4])
    boxed = run([carton(board=0.35, isotherm=board)], 20, 0.85, 1e-12, 0.3, [0.4])
    assert bare.activity[1, 24 * 4] > 0.84
    assert boxed.activity[1, 24 * 4] < 0.5


@pytest.mark.parametrize("board", [0.0, 0.4])
def test_what_is_held_in_all_came_in_from_outside(board: float) -> None:
    """Read off the tables at every time, against what came in and was taken out: to round-off."""
    times = leg_times(0.0, 30 * DAY)
    swing = np.cos(2 * np.pi * times / DAY)
    nodes = [
        node(carton(board=board, isotherm=reference.isotherm("corrugated board")), times, 2 * swing),
        node(carton(name="hood", air=0.5, holds=4.0), times, 2 * swing),
    ]
    taken = np.zeros((2, times.size))
    taken[0, 1:] = 2e-8 * (1.1 + swing[1:])
    start = [float(water_held(n, level(times, a))[0]) for n, a in zip(nodes, (0.4, 0.5), strict=True)]
    air = nested(times, nodes, 0.7 - 0.2 * swing, start, taken)
    held = 4 * water_held(nodes[0], air.activity[0]) + water_held(nodes[1], air.activity[1])
    out = 4 * 10 * np.cumsum(taken[0])
    off = held - held[0] - (air.came[1] - out)
    assert np.max(np.abs(off)) <= 1e-12 * held[0]
    assert np.ptp(air.activity[0]) > 0.01


def test_air_that_cools_past_saturation_stands_at_one_and_gives_the_water_back() -> None:
    """A closed carton without board: what its air cannot hold lies in it, and is vapour again when it warms."""
    times = leg_times(0.0, 2 * DAY)
    closed = carton(air_changes=0.0)
    swing = np.where((times > 0.5 * DAY) & (times < 1.5 * DAY), -20.0, 0.0)
    tight = node(closed, times, swing)
    start = float(water_held(tight, level(times, 0.7))[0])
    air = nested(times, [tight], level(times, 0.5), [start], np.zeros((1, times.size)))
    assert air.activity[0].max() == pytest.approx(1.0, abs=2e-4)
    assert air.activity[0, -1] == pytest.approx(0.7, abs=1e-12)
    assert air.held[0] == pytest.approx(start, rel=1e-15)


def test_an_outer_pack_without_air_or_passage_is_refused() -> None:
    times = leg_times(0.0, DAY)
    nothing = Node(AIR, level(times, 0.0), level(times, 0.0))
    with pytest.raises(HardtackError, match="could not be followed"):
        nested(times, [nothing], level(times, 0.5), [0.0], np.zeros((1, times.size)))
