"""The air as the load meets it, years by months and hours, opened packs."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack.pack.climate_year import year_by_hours, year_by_months
from hardtack.pack.leaks import exchange_conductance
from hardtack.pack.links import leg_conductance
from hardtack.pack.load import follow, indoors, lagged, over_ice
from hardtack.product.weather import WeatherRecord
from hardtack.states import Climate, Film, Leg, Opened, Pack
from hardtack.units import DAY
from hardtack.water.air import ice_activity, saturation_pressure, vapour_density

HOUR = 3600.0


def test_a_load_follows_the_air_as_a_first_order_lag_does() -> None:
    """Against scipy's integrator on dT/dt = (air - T)/lag with a daily swing."""
    times = np.arange(0.0, 4 * DAY + 1, HOUR)
    air = 300.0 + 8.0 * np.cos(2 * np.pi * times / DAY)
    lag = 9 * HOUR
    exact = solve_ivp(
        lambda t, T: (np.interp(t, times, air) - T) / lag,
        (0.0, times[-1]),
        [310.0],
        t_eval=times,
        rtol=1e-9,
        atol=1e-9,
        max_step=HOUR / 2,
    )
    np.testing.assert_allclose(follow(times, air, lag, 310.0), exact.y[0], atol=2e-4)


def test_a_lag_cuts_the_swing_by_the_known_factor() -> None:
    """A first-order lag leaves 1/sqrt(1 + (2 pi lag / period)^2) of a swing (any text on dynamics)."""
    times = np.arange(0.0, 60 * DAY + 1, HOUR / 4)
    air = 300.0 + 10.0 * np.cos(2 * np.pi * times / DAY)
    load = follow(times, air, 12 * HOUR, 300.0)[-96 * 2 :]
    assert np.ptp(load) / 2 == pytest.approx(10.0 / np.sqrt(1 + np.pi**2), rel=1e-3)


def test_a_cold_load_in_warm_air_has_a_wet_skin_until_it_passes_the_dew_point() -> None:
    climate = Climate(np.array([0.0, 2 * DAY]), np.full(2, 303.15), np.full(2, 0.7))
    load = lagged(climate, 6 * HOUR, 278.15)
    assert load.humidity[0] == 1.0
    dew = 0.7 * saturation_pressure(303.15)
    wet = saturation_pressure(load.temperature) < dew
    assert np.all(load.humidity[wet] == 1.0)
    assert np.all(load.humidity[~wet] < 1.0)
    assert load.humidity[-1] == pytest.approx(0.7, abs=0.01)


def test_air_brought_indoors_keeps_its_vapour() -> None:
    """0 degC and 90 % brought to 21 degC: 0.9 x 611.2 / 2487 Pa = 22 % (saturation pressures of the steam tables)."""
    inside = indoors(Climate(np.array([0.0, 1.0]), np.full(2, 273.15), np.full(2, 0.9)), 294.15)
    assert inside.humidity[0] == pytest.approx(0.9 * 611.2 / 2487, rel=2e-3)
    assert np.all(inside.temperature == 294.15)


def test_no_surface_is_damper_than_ice() -> None:
    """At -18 degC ice stands at activity 0.84 (p_ice 125 / p_water 149 Pa)."""
    frozen = over_ice(Climate(np.array([0.0, 1.0]), np.full(2, 255.15), np.array([0.6, 0.95])))
    assert frozen.humidity[0] == 0.6
    assert frozen.humidity[1] == pytest.approx(0.84, abs=0.005)
    assert frozen.humidity[1] == pytest.approx(float(ice_activity(255.15)))


def test_a_year_by_months_has_its_months() -> None:
    T = np.array([2, 3, 6, 10, 14, 17, 19, 19, 15, 11, 6, 3]) + 273.15
    RH = np.linspace(0.6, 0.8, 12)
    climate = year_by_months(0.0, 365.25 * DAY, 0.0, T, RH, 4.0, -0.1, 14 * HOUR)
    clock = climate.times / DAY
    for month, (first, last) in enumerate([(0, 31), (31, 59), (59, 90), (90, 120)]):
        inside = (clock >= first) & (clock < last)
        assert climate.temperature[inside].mean() == pytest.approx(T[month], abs=0.6)
    day = climate.temperature[24 * 180 : 24 * 181]
    assert day.argmax() == 14
    assert np.ptp(day) == pytest.approx(8.0, abs=0.1)


def test_a_leg_begins_on_its_day_of_the_year_and_goes_round_it() -> None:
    record = WeatherRecord("x", "y", np.arange(8760.0), np.full(8760, 0.5), 0)
    leg = year_by_hours(10 * DAY, 400 * DAY, 300 * DAY, record)
    assert leg.times[0] == 10 * DAY
    assert leg.temperature[0] == pytest.approx(310 * 24 - 1)  # the hour that ends then
    assert leg.temperature[55 * 24] == pytest.approx(365 * 24 - 1, abs=1e-6)
    assert leg.temperature[56 * 24] == pytest.approx(23, abs=1e-6)


def opened_leg(**values: float) -> Leg:
    climate = Climate(np.array([0.0, DAY]), np.full(2, 298.15), np.full(2, 0.6))
    return Leg("home", 0.0, DAY, climate, opened=Opened(**values))


def test_minutes_of_exposure_count_as_their_share_of_the_day() -> None:
    """Five minutes at 30 changes an hour turn the headspace over 2.5 times a day."""
    pack = Pack(Film("tight", 1e-30, 298.15), 0.06, 1e-3)
    T = np.array([298.15])
    g = leg_conductance(pack, opened_leg(share=5 / 1440, air_changes=30 / HOUR), T, T * 0, T * 0 + 0.6)
    a_day = 2.5 * 1e-3 * float(vapour_density(saturation_pressure(298.15), 298.15))
    assert float(g[0]) * DAY == pytest.approx(a_day, rel=1e-9)
    assert exchange_conductance(1e-3, 2.5 / DAY, 298.15) * DAY == pytest.approx(a_day, rel=1e-12)


def test_closing_it_badly_and_half_the_pieces_double_and_more() -> None:
    pack = Pack(Film("film", 2e-12, 298.15), 0.06, 1e-3, 1.3)
    T = np.array([298.15])
    sealed = leg_conductance(
        pack, Leg("s", 0.0, DAY, opened_leg(share=0.0, air_changes=0.0).climate), T, T * 0, T * 0
    )
    clipped = leg_conductance(pack, opened_leg(share=0.0, air_changes=0.0, reclosed=5.2), T, T * 0, T * 0)
    halved = leg_conductance(pack, opened_leg(share=0.0, air_changes=0.0, left=0.5), T, T * 0, T * 0)
    assert clipped / sealed == pytest.approx(4.0, rel=1e-12)
    assert halved / sealed == pytest.approx(2.0, rel=1e-12)
