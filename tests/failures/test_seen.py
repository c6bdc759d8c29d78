"""A panel's day and a marker's rise, carried over a history, against what adds up by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.failures import acceptance, marker
from hardtack.failures.rancidity import activity_factor
from hardtack.failures.running import Warmth
from hardtack.units import DAY, ZERO_CELSIUS
from tests.failures.histories import history

T25 = ZERO_CELSIUS + 25.0
DAYS = np.arange(0.0, 201.0)


def panel(Q10: float | None = None) -> acceptance.Acceptance:
    return acceptance.Acceptance(
        "crumb", 60.0 * DAY, 0.5, T25, 0.5, None if Q10 is None else Warmth(T25, Q10)
    )


def test_at_the_panels_temperature_it_is_the_panels_day() -> None:
    made = acceptance.course(history(DAYS, 25.0), panel())
    assert made.time == pytest.approx(60.0 * DAY, rel=1e-12)
    assert made.limit == "50% of a panel reject it, as after 60 days at 25 °C and 50% humidity"


def test_elsewhere_it_takes_a_factor_or_is_refused() -> None:
    assert acceptance.course(history(DAYS, 27.9), panel()).time == pytest.approx(60.0 * DAY)
    with pytest.raises(HardtackError, match="the journey stands at 35 °C"):
        acceptance.course(history(DAYS, 35.0), panel())
    with pytest.raises(HardtackError, match="runs from 24 to 35 °C"):
        acceptance.course(history(DAYS, np.linspace(24.0, 35.0, DAYS.size)), panel())
    assert acceptance.course(history(DAYS, 35.0), panel(2.0)).time == pytest.approx(30.0 * DAY, rel=1e-12)


def test_a_warm_month_counts_twice_and_the_rest_once() -> None:
    """30 days at 35 degC by a factor of 2 are 60 of the 60 days less what follows: by hand, 10 + 25 x 2 = 60."""
    degC = np.where((DAYS > 10.0), 35.0, 25.0)
    made = acceptance.course(history(DAYS, degC), panel(2.0))
    assert made.time == pytest.approx(35.0 * DAY, rel=1e-12)


@pytest.mark.parametrize(
    ("rise", "rate", "life"), [("straight", 0.05, 34.0), ("exponential", 0.05, math.log(2.0 / 0.3) / 0.05)]
)
def test_a_marker_reaches_its_limit_by_hand(rise: marker.Rise, rate: float, life: float) -> None:
    spec = marker.Marker("crumb", "hexanal", rise, rate / DAY, 0.3, 2.0, None, Warmth(T25, 2.5))
    assert marker.course(history(DAYS, 25.0), spec).time == pytest.approx(life * DAY, rel=1e-12)
    assert marker.course(history(DAYS, 35.0), spec).time == pytest.approx(life / 2.5 * DAY, rel=1e-12)


def test_activity_counts_as_for_fat_where_the_test_had_one() -> None:
    spec = marker.Marker("crumb", "hexanal", "straight", 0.05 / DAY, 0.3, 2.0, 0.3, Warmth(T25, 2.5))
    dry = marker.course(history(DAYS, 25.0, 0.05), spec)
    assert dry.time == pytest.approx(34.0 / float(activity_factor(0.05)) * DAY, rel=1e-9)


@pytest.mark.parametrize(("start", "limit"), [(2.0, 2.0), (0.0, 2.0), (-1.0, 2.0)])
def test_an_impossible_rise_is_refused(start: float, limit: float) -> None:
    spec = marker.Marker("crumb", "hexanal", "exponential", 0.05 / DAY, start, limit, None, Warmth(T25, 2.5))
    with pytest.raises(HardtackError, match="limit above the start"):
        marker.course(history(DAYS, 25.0), spec)


def test_the_factor_of_an_energy() -> None:
    """Arrhenius by hand: 60 kJ/mol from 25 to 35 degC, exp(60000/8.314462618 (1/298.15 - 1/308.15)) = 2.194."""
    assert float(Warmth(T25, energy=60e3)(T25 + 10.0)) == pytest.approx(2.194, abs=1e-3)
    assert float(Warmth(T25, 2.5)(T25 - 10.0)) == pytest.approx(0.4, rel=1e-12)
