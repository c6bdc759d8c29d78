"""Climates and legs on one clock."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.pack import journey_of, stretches_of
from hardtack.pack.climate import Course, Swing, climate_of_courses
from hardtack.product import loads
from hardtack.units import DAY

PRODUCT = """
hardtack: 1
name: test cracker
kind: cracker
origin: invented
packed on: 2026-03-01
piece:
  shape: slab
  thickness: 5 mm
  length: 50 mm
  width: 50 mm
  mass: 8 g
  count: 10
  layers:
    - name: cracker
      moisture: 3 %wb
pack:
  film: OPP 30 um
  area: 0.05 m2
  headspace: 100 mL
journey:
"""


def test_a_daily_swing_peaks_at_its_hour_and_keeps_its_mean() -> None:
    course = Course(300.0, (Swing(7.0, 14 * 3600.0, DAY),))
    climate = climate_of_courses(0.0, 10 * DAY, 0.0, course, Course(0.6))
    assert climate.times.size == 241
    assert climate.times[climate.temperature[:24].argmax()] == 14 * 3600.0
    assert np.ptp(climate.temperature) == pytest.approx(14.0, rel=1e-3)
    assert climate.temperature[:-1].mean() == pytest.approx(300.0, abs=1e-9)


def test_a_constant_climate_is_two_points() -> None:
    assert climate_of_courses(0.0, 50 * DAY, 0.0, Course(295.0), Course(0.5)).times.tolist() == [
        0.0,
        50 * DAY,
    ]


def test_humidity_never_leaves_nought_to_one() -> None:
    climate = climate_of_courses(0.0, 2 * DAY, 0.0, Course(300.0), Course(0.9, (Swing(0.3, 0.0, DAY),)))
    assert climate.humidity.max() == 1.0


def test_a_yearly_swing_is_set_by_the_packing_day() -> None:
    legs = """
  - leg: store
    lasts: 365 days
    temperature: {mean: 20 degC, yearly swing: 8 K, warmest on: 07-20}
    humidity: 60 %
"""
    journey, _ = journey_of(loads(PRODUCT + legs))
    climate = journey.legs[0].climate
    warmest = climate.times[climate.temperature.argmax()] / DAY
    # from 1 March to 20 July are 141 days
    assert warmest == pytest.approx(141, abs=1.0)


def test_an_open_end_is_followed_for_three_years_at_most() -> None:
    journey, _ = journey_of(
        loads(
            PRODUCT
            + "  - {leg: store, lasts: 30 days, climate: zone II}\n  - {leg: shop, lasts: until it fails, climate: zone II}\n"
        )
    )
    assert journey.legs[1].start == 30 * DAY
    assert journey.legs[1].end == pytest.approx(3 * 365.25 * DAY)
    assert journey.legs[1].open_ended


def test_an_unpacked_leg_conducts_thousands_of_times_more() -> None:
    product = loads(
        PRODUCT
        + "  - {leg: sealed, lasts: 3 days, climate: zone II}\n"
        + "  - {leg: open, lasts: 3 hours, climate: zone II, unpacked: true}\n"
    )
    from hardtack.pack import pack_of
    from hardtack.piece import piece_of

    journey, used = journey_of(product)
    sealed, open_air = stretches_of(journey, pack_of(product)[0], [piece_of(product)[0]])
    assert open_air.g[0] > 1000 * sealed.g[0]
    assert any("outside film coefficient" in item.what and not item.given for item in used)
