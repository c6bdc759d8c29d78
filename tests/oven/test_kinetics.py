"""Starch, setting, colour and kill step against published values and worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.errors import NotOnShelf
from hardtack.oven.colour import benchmark, colour, difference, lightness
from hardtack.oven.kill_step import lethalities, reductions
from hardtack.oven.starch import Solids, gelatinised, opening, setting, solute_rise, span
from hardtack.states import Floats

PLAIN = Solids(starch=0.75, sugar=0.0, salt=0.0)


def held(T: float, X: float, minutes: float, solids: Solids = PLAIN) -> float:
    """Share gelatinised after so long at T [degC] and X."""
    times = np.linspace(0, 60 * minutes, 601)
    shape = (times.size, 1)
    return float(gelatinised(solids, times, np.full(shape, T + 273.15), np.full(shape, X))[-1, 0])


@pytest.mark.parametrize(("T", "water"), [(60.0, 3.0), (80.0, 1.77), (100.0, 0.54)])
def test_what_temperature_and_water_allow_is_reached_in_a_minute_or_two(T: float, water: float) -> None:
    # J. Food Eng. 53:39 (2002): wheat starch reaches its terminal extent within 1 or 2 min, 60 to 100 degC, 0.54 to 3.0 g/g
    extent = held(T, 0.75 * water, 60.0)
    assert held(T, 0.75 * water, 2.0) > 0.95 * extent
    assert held(T, 0.75 * water, 0.5) < 0.95 * extent


def test_starch_that_is_heated_gelatinises_where_it_was_seen_to() -> None:
    # Ghiasi, Hoseney and Varriano-Marston 1982: birefringence is lost within about 7 K in much water, while it is heated (here
    # at 10 K/min, common in differential scanning calorimetry, from memory): a slow rate beside that would delay it twice
    times = np.linspace(0.0, 600.0, 6001)
    T = (273.15 + 30.0 + times / 6.0)[:, None]
    alpha = gelatinised(Solids(1.0, 0.0, 0.0), times, T, np.full_like(T, 2.0))[:, 0]
    low, high = (T[int(np.argmax(alpha >= share)), 0] for share in (0.05, 0.95))
    assert 7.0 <= high - low <= 20.0


def test_width_of_gelatinisation_with_water() -> None:
    # Differential scanning calorimetry: about 7 K wide at water to starch 2:1, about 30 K at little water
    onset, end = span(np.array([2.0, 1.0, 0.3]))
    assert end[0] - onset[0] == pytest.approx(7.0, abs=0.5)
    assert end[1] - onset[1] == pytest.approx(30.0, abs=1.0)
    assert end[2] > end[1] > end[0]


def test_sugar_and_salt_raise_it() -> None:
    # 50 % sucrose in the water phase brings the peak to 80 to 85 degC from about 61 (from memory): 19 to 24 K
    half = solute_rise(Solids(0.5, 0.5, 0.0), np.array([0.5]))[0]
    assert 19.0 <= half <= 24.0
    # bread: 2 % salt on flour at 60 % water is 3 % of the water phase; both raise at bread levels (DSC, direction)
    bread = solute_rise(Solids(0.75, 0.0, 0.022), np.array([0.7]))[0]
    assert 1.0 < bread < 8.0
    assert held(75.0, 0.7, 3.0, Solids(0.75, 0.2, 0.02)) < held(75.0, 0.7, 3.0) - 0.05


def test_dry_starch_stays_raw() -> None:
    # Baltsavias et al. 1999: short-dough biscuits gelatinise only slightly
    assert held(160.0, 0.02, 5.0) < 0.15
    assert held(95.0, 1.5, 5.0) > 0.97


def test_setting_and_opening_go_forward_only() -> None:
    T = np.array([300.0, 345.0, 370.0, 320.0])[:, None]
    X = np.full((4, 1), 0.7)
    walls = setting(PLAIN, T, X)[:, 0]
    # bakery chart: gluten coagulates from 60-70 to 70-80 degC; all expansion stops at about 90 degC
    assert walls[0] == 0.0
    assert 0.1 < walls[1] < 0.5
    assert walls[2] == walls[3] == 1.0
    assert opening(PLAIN, T, X)[-1, 0] == 1.0  # Zhang et al. 2025: pores open at 71 to 81 degC


def test_dry_walls_set_late() -> None:
    # gluten films of low moisture set only above 108 to 116 degC
    T = np.full((1, 1), 108.0 + 273.15)
    assert setting(PLAIN, T, np.full((1, 1), 0.02))[0, 0] < 0.5
    assert setting(PLAIN, T, np.full((1, 1), 0.4))[0, 0] == 1.0


@pytest.mark.parametrize(
    ("T", "after"),
    [
        (140.0, (4.8, 9.2, 16.8)),
        (165.0, (12.8, 22.5, 35.3)),
        (210.0, (39.9, 49.2, 51.8)),
    ],
)
def test_colour_difference_of_crust(T: float, after: tuple[float, float, float]) -> None:
    # Zanoni, Peri and Bruno 1995: k = 42000 exp(-64151/RT), dE to 52; after 5, 10 and 20 min, by hand
    times = np.array([0.0, 300.0, 600.0, 1200.0])
    dE = difference(times, np.full(4, T + 273.15))
    assert dE[1:] == pytest.approx(after, abs=0.06)


@pytest.mark.parametrize(("T", "L"), [(120.0, 82.9), (150.0, 75.1), (180.0, 51.9)])
def test_lightness_of_crust(T: float, L: float) -> None:
    # Purlis and Salvadori 2009 (constants from memory), 10 min at activity 0.5, by hand
    times = np.array([0.0, 600.0])
    assert lightness(times, np.full(2, T + 273.15), np.full(2, 0.5))[-1] == pytest.approx(L, abs=0.06)


def test_the_trades_rule_and_the_kinetics_disagree_and_both_are_told() -> None:
    """Fact of the trade, no source: a well-browned crust has passed about 150 degC / 300 degF."""
    times = np.linspace(0, 1200, 11)
    told = colour(times, np.full(11, 413.15), np.full(11, 0.5))
    assert not told.browned
    assert told.difference[-1] > 15.0  # yet by the kinetics 20 min at 140 degC brown it visibly


def test_acrylamide_benchmarks() -> None:
    # Regulation (EU) 2017/2158, Annex IV
    assert benchmark("cracker")["level"] == 400
    assert benchmark("crispbread")["level"] == 350
    assert benchmark("bread")["level"] == 50
    assert benchmark(None)["level"] == 300


def test_lethality_worked_by_hand() -> None:
    # D 3.14 min at 61 degC, z 6.58 K (Channaiah et al. 2016): 6.28 min at 61 degC are two tenfold reductions;
    # 6.58 K hotter, a tenth of the time does as much
    times = np.array([0.0, 376.8])
    assert reductions(times, np.full(2, 334.15), 188.4, 334.15, 6.58)[-1] == pytest.approx(2.0)
    assert reductions(times / 10, np.full(2, 340.73), 188.4, 334.15, 6.58)[-1] == pytest.approx(2.0)


def test_lethality_of_a_ramp() -> None:
    # a straight rise from far below: the integral of 10^((T - T_ref)/z) dt / D is z / (D rate ln 10) at T_ref
    times = np.linspace(0.0, 600.0, 6001)
    T = 334.15 - 60.0 + 0.1 * times
    expected = 6.58 / (188.4 * 0.1 * np.log(10.0))
    assert reductions(times, T, 188.4, 334.15, 6.58)[-1] == pytest.approx(expected, rel=1e-4)


def test_the_coldest_place_counts_and_nothing_above_what_was_tested() -> None:
    times = np.linspace(0, 600, 61)
    T: Floats = np.stack([np.full(61, 325.0), np.full(61, 360.0)], axis=1)
    cold = lethalities(times, T, np.full((61, 2), 0.95), "bread", None)[0]
    assert cold.held == cold.literal  # 52 degC: below what was tested
    hot = lethalities(times, T[:, 1:], np.full((61, 1), 0.95), "bread", None)[0]
    assert hot.held == pytest.approx(600 / 188.4, rel=1e-6)
    assert hot.literal > 1e3 * hot.held
    with pytest.raises(NotOnShelf):
        lethalities(times, T, T, "bread", "no such row")
