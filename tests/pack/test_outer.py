"""Outer packs: airs in series, the water their board stores, and that nothing is lost on the way."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack import reference
from hardtack.pack.outer import leg_times, outer_air
from hardtack.states import Film, Floats, OuterPack
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density

T_ROOM = 298.15
FULL = float(vapour_density(saturation_pressure(T_ROOM), T_ROOM))


def carton(**changes: object) -> OuterPack:
    values: dict[str, object] = {"name": "carton", "holds": 10.0, "air": 0.02, "air_changes": 2 / DAY}
    return OuterPack(**{**values, **changes})  # type: ignore[arg-type]


def level(times: Floats, value: float) -> Floats:
    return np.full_like(times, value)


def run(outers: list[OuterPack], days: float, around: float, g: float, within: float, start: list[float]):  # type: ignore[no-untyped-def]
    times = leg_times(0.0, days * DAY)
    return outer_air(
        outers,
        times,
        level(times, T_ROOM),
        level(times, around),
        level(times, g),
        level(times, within),
        start,
    )


def test_at_rest_the_airs_divide_the_drive_as_resistances_in_series_do() -> None:
    """a between: (g_out a_around + N g_in a_within) / (g_out + N g_in), by hand."""
    g_out, g_in = 0.02 * 2 / DAY * FULL, 3e-11
    air = run([carton()], 60, 0.8, g_in, 0.2, [0.5])
    expected = (g_out * 0.8 + 10 * g_in * 0.2) / (g_out + 10 * g_in)
    assert air.activity[0, -1] == pytest.approx(expected, abs=1e-6)


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
    assert air.activity[0, -1] == pytest.approx(steps[0], abs=1e-5)
    assert air.activity[1, -1] == pytest.approx(steps[1], abs=1e-5)


def test_the_air_follows_as_the_equation_says() -> None:
    """Against scipy's integrator, without board; implicit steps of an hour are first order."""
    g_out, g_in, C = 0.02 * 2 / DAY * FULL, 3e-11, 0.02 * FULL
    air = run([carton()], 6, 0.8, g_in, 0.2, [0.3])
    exact = solve_ivp(
        lambda t, a: (g_out * (0.8 - a) + 10 * g_in * (0.2 - a)) / C,
        (0.0, 6 * DAY),
        [0.3],
        t_eval=air.times,
        rtol=1e-9,
        atol=1e-12,
    )
    np.testing.assert_allclose(air.activity[0], exact.y[0], atol=8e-3)


def test_board_holds_the_air_back_for_weeks() -> None:
    board = reference.isotherm("corrugated board")
    bare = run([carton()], 20, 0.85, 1e-12, 0.3, [0.4])
    boxed = run([carton(board=0.35, isotherm=board)], 20, 0.85, 1e-12, 0.3, [0.4])
    assert bare.activity[0, 24 * 4] > 0.84
    assert boxed.activity[0, 24 * 4] < 0.5
    assert 0.35 * (0.13 - 0.065) > boxed.stored[0] > 0.0


@pytest.mark.parametrize("board", [0.0, 0.4])
def test_what_is_stored_came_in_and_was_not_handed_on(board: float) -> None:
    times = leg_times(0.0, 30 * DAY)
    swing = np.cos(2 * np.pi * times / DAY)
    outers = [
        carton(board=board, isotherm=reference.isotherm("corrugated board")),
        carton(name="hood", air=0.5),
    ]
    air = outer_air(
        outers,
        times,
        298.15 + 8 * swing,
        0.7 - 0.2 * swing,
        level(times, 2e-11),
        level(times, 0.2),
        [0.4, 0.5],
    )
    scale = np.maximum(np.abs(air.came_in), np.abs(air.stored))
    assert np.all(np.abs(air.stored - air.came_in + air.handed_on) <= 1e-12 * (scale + board))
    # what the hood hands on is what its cartons took in, for as many of them
    assert air.handed_on[1] == pytest.approx(10 * air.came_in[0], rel=1e-7)
