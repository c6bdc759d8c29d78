"""Oxygen and carbon dioxide in the headspace, desiccants, and packing warm."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.pack.desiccant import capacity_between, desiccant_isotherm
from hardtack.pack.gas import T_GAS, gas_conductance, gas_course
from hardtack.pack.warm import condensate
from hardtack.states import Climate, Desiccant, Film, Journey, Leg, Opened, Pack
from hardtack.units import DAY, parse_quantity
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE, saturation_pressure, vapour_density
from hardtack.water.isotherm import activity, moisture


def journey(days: float, T: float = T_GAS, **leg: object) -> Journey:
    climate = Climate(np.array([0.0, days * DAY]), np.full(2, T), np.full(2, 0.5))
    return Journey((Leg("store", 0.0, days * DAY, climate, **leg),))  # type: ignore[arg-type]


OTR = parse_quantity("1500 cm3/m2/day/atm", "gas permeance").value
FLUSHED = Pack(
    Film("OPP", 1e-12, 298.15, oxygen=OTR, carbon_dioxide=4 * OTR),
    0.06,
    3e-4,
    oxygen=0.005,
    carbon_dioxide=0.6,
)
TIMES = np.linspace(0.0, 60 * DAY, 61)


def test_the_first_day_s_oxygen_by_hand() -> None:
    """1500 cm3/m2/day/atm over 0.06 m2 against 0.2045 atm: 18.4 cm3 a day at the start, so 6 % of 300 mL."""
    course = gas_course(FLUSHED, journey(60), "oxygen", TIMES)
    cm3 = float(course.came_in[1]) * GAS_CONSTANT * 273.15 / STANDARD_PRESSURE * 1e6
    assert cm3 == pytest.approx(1500 * 0.06 * 0.2045, rel=0.16)  # less, as the drive falls within the day


@pytest.mark.parametrize(
    ("gas", "start", "air"), [("oxygen", 0.005, 0.2095), ("carbon dioxide", 0.6, 0.0004)]
)
def test_a_gas_creeps_to_that_of_air_by_one_exponential(gas: str, start: float, air: float) -> None:
    course = gas_course(FLUSHED, journey(60), gas, TIMES)  # type: ignore[arg-type]
    G = gas_conductance(FLUSHED, journey(60).legs[0], gas, T_GAS)  # type: ignore[arg-type]
    tau = 3e-4 / (GAS_CONSTANT * T_GAS) / G
    np.testing.assert_allclose(course.share, air + (start - air) * np.exp(-TIMES / tau), atol=1e-9)


def test_what_was_there_and_came_in_is_left_or_used() -> None:
    """And the course is that of scipy's integrator with use in proportion to the oxygen left."""
    use = 2e-10
    course = gas_course(FLUSHED, journey(60), "oxygen", TIMES, lambda t, T, share: use * share / 0.2)
    per_share = STANDARD_PRESSURE * 3e-4 / (GAS_CONSTANT * T_GAS)
    left = course.share * per_share
    np.testing.assert_allclose(left, left[0] + course.came_in - course.used, rtol=0, atol=1e-12 * left.max())
    G = gas_conductance(FLUSHED, journey(60).legs[0], "oxygen", T_GAS) * STANDARD_PRESSURE
    exact = solve_ivp(
        lambda t, s: (G * (0.2095 - s) - use * s / 0.2) / per_share,
        (0, TIMES[-1]),
        [0.005],
        t_eval=TIMES,
        rtol=1e-9,
    )
    np.testing.assert_allclose(course.share, exact.y[0], atol=3e-3)


def test_an_opened_pack_has_the_air_of_the_room() -> None:
    used = journey(60, opened=Opened(5 / 1440, 30 / 3600))
    assert gas_course(FLUSHED, used, "oxygen", TIMES).share[5] > 0.2
    bare = journey(60, film_coefficient=3e-3)
    assert gas_course(FLUSHED, bare, "carbon dioxide", TIMES).share[-1] == pytest.approx(0.0004)


def test_a_film_of_unknown_gas_permeance_is_asked_for() -> None:
    with pytest.raises(HardtackError, match="how much oxygen the film nameless"):
        gas_course(Pack(Film("nameless", 1e-12, 298.15), 0.06, 3e-4), journey(60), "oxygen", TIMES)


def test_desiccant_capacities() -> None:
    """Ten grams of silica from 10 to 40 %: 1.5 g (hand-worked from the points 0.07 and 0.22)."""
    silica = Desiccant("silica gel", 0.010, 0.03, desiccant_isotherm("silica gel"))
    assert 1e3 * capacity_between(silica, 0.10, 0.40) == pytest.approx(1.5, rel=1e-6)
    sieve = desiccant_isotherm("molecular sieve 4A")
    assert float(moisture(sieve, 0.1, 298.15)) == pytest.approx(0.18)


@pytest.mark.parametrize("name", ["silica gel", "clay", "molecular sieve 4A"])
def test_every_desiccant_has_a_moisture_as_supplied(name: str) -> None:
    assert reference.lookup("desiccants", reference.lookup("desiccants", name).see)["residual"] > 0


def test_warm_bread_wets_a_cold_film_and_takes_the_water_back() -> None:
    """A moist crumb at 40 degC in a 20 degC room; the sum of the water never moves."""
    bread = reference.isotherm("bread crumb")
    times = np.linspace(0.0, 2 * DAY, 400)
    T = 293.15 + 20.0 * np.exp(-times / 5400.0)
    X = float(moisture(bread, 0.85, 293.15))
    wet = condensate(bread, 0.3, X, 0.12, 0.15, 3e-3, times, T, np.full_like(times, 293.15))
    assert wet.most > 1e-4
    total = wet.on_film + wet.in_pieces
    np.testing.assert_allclose(total, total[0], rtol=1e-12)
    assert wet.wet_until is not None
    assert 3600.0 < wet.wet_until < 2 * DAY


def test_condensation_from_a_piece_that_gives_and_takes_against_an_integrator() -> None:
    """The same balance by scipy, until the film is dry again: its most, when that is, and when all is back in the pieces.

    A crumb at 0.75 dries by a few per cent on the way: its activity moves, and with it the flow.
    """
    bread = reference.isotherm("bread crumb")
    end, k, surface, area = 2 * DAY, 3e-3, 0.12, 0.15
    times = np.linspace(0.0, end, 4000)
    T = 293.15 + 25.0 * np.exp(-times / 5400.0)
    X, dry = float(moisture(bread, 0.75, 293.15)), 0.3
    found = condensate(bread, dry, X, surface, area, k, times, T, np.full_like(times, 293.15))
    G = k * surface * area / (surface + area)

    def flow(t: float, wet: np.ndarray) -> list[float]:
        T_p = 293.15 + 25.0 * float(np.exp(-t / 5400.0))
        T_f = (T_p + 293.15) / 2
        a = float(activity(bread, X - wet[0] / dry, T_p))
        full_p, full_f = (float(vapour_density(saturation_pressure(x), x)) for x in (T_p, T_f))
        return [G * (a * full_p - full_f)]

    def dry_again(t: float, wet: np.ndarray) -> float:
        return float(wet[0]) if t > 60.0 else 1.0

    dry_again.terminal, dry_again.direction = True, -1.0  # type: ignore[attr-defined]
    exact = solve_ivp(flow, (0.0, end), [0.0], events=dry_again, rtol=1e-8, atol=1e-12, max_step=60.0)
    peak = int(np.argmax(exact.y[0]))
    assert found.most == pytest.approx(exact.y[0, peak], rel=5e-3)
    assert found.times[found.wettest] == pytest.approx(exact.t[peak], abs=120.0)
    assert found.wet_until == pytest.approx(exact.t_events[0][0], abs=120.0)
    assert found.imbalance <= 1e-12
    assert found.T_pieces[found.wettest] > found.T_film[found.wettest] > 293.15


def test_a_dry_biscuit_wets_nothing() -> None:
    biscuit = reference.isotherm("biscuit")
    times = np.linspace(0.0, DAY, 100)
    T = 293.15 + 20.0 * np.exp(-times / 5400.0)
    X = float(moisture(biscuit, 0.2, 293.15))
    dry = condensate(biscuit, 0.2, X, 0.1, 0.07, 3e-3, times, T, np.full_like(times, 293.15))
    assert dry.most == 0.0
    assert dry.wet_until == 0.0
