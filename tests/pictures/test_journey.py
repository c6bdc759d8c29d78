"""The journey: thinned lines keep their extremes, words keep apart, the table is the statement's."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack.pictures import journey
from hardtack.pictures.courses import (
    MOST_BINS,
    binned,
    climate_courses,
    drawn_end,
    inside_course,
    leg_edges,
    leg_spans,
)
from hardtack.pictures.placing import quiet_place, spread
from hardtack.pictures.style import balanced, step_for, text_width, wrapped
from tests.pictures import invented

DAY = 86400.0
MOST_POINTS = 620


@given(
    st.lists(st.floats(0.01, 5.0), min_size=1, max_size=60),
    st.integers(1, 40),
    st.randoms(use_true_random=False),
)
@settings(max_examples=60, deadline=None)
def test_bins_keep_lowest_highest_and_the_time_average(steps, bins, random):  # type: ignore[no-untyped-def]
    times = np.concatenate([[0.0], np.cumsum(steps)])
    values = np.array([random.uniform(-1, 1) for _ in times])
    course = binned(times, values, np.linspace(0.0, times[-1], bins + 1))
    assert course.low.min() == values.min()
    assert course.high.max() == values.max()
    assert (course.low <= course.mean + 1e-9).all()
    assert (course.mean <= course.high + 1e-9).all()
    assert course.mean.mean() * times[-1] == pytest.approx(float(np.trapezoid(values, times)), abs=1e-9)


def test_three_years_of_hours_are_drawn_with_few_points_and_all_extremes() -> None:
    statement = invented.of_days(1095, None)
    assert statement.journey.legs[0].climate.times.size > 26_000
    ((temperature, humidity),) = climate_courses(statement)
    climate = statement.journey.legs[0].climate
    for course, values in ((temperature, climate.temperature), (humidity, climate.humidity)):
        assert course.times.size <= MOST_POINTS
        assert course.low.min() == pytest.approx(values.min())
        assert course.high.max() == pytest.approx(values.max())
    layer = inside_course(statement, statement.history.activity[:, 0])
    assert layer.times.size <= MOST_POINTS
    assert layer.mean[0] == statement.history.activity[0, 0]
    assert layer.mean[-1] == statement.history.activity[-1, 0]


def test_a_history_of_few_points_is_drawn_point_by_point_up_to_the_end() -> None:
    statement = invented.cracker()
    activity = statement.history.activity[:, 0]
    layer = inside_course(statement, activity)
    shown = statement.history.times < statement.end
    assert list(layer.times) == [*statement.history.times[shown], statement.end]
    assert list(layer.mean[:-1]) == list(activity[shown])
    assert layer.mean[-1] == np.interp(statement.end, statement.history.times, activity)


def test_daily_swings_are_drawn_as_they_are_while_they_can_be_read() -> None:
    """Up to two weeks the line itself swings; later a day is one bin with its mean."""
    short = climate_courses(invented.of_days(10, None))[0][0]
    assert np.ptp(short.mean) > 3.5
    long = climate_courses(invented.of_days(100, None))[0][0]
    assert np.ptp(long.mean) < 0.1
    assert (long.high - long.low).min() > 3.5


def test_bins_are_whole_days_once_daily_swings_would_smear() -> None:
    for days in (20, 143, 499, 700, 1095):
        edges = leg_edges(0.0, days * DAY, days * DAY)
        assert np.diff(edges).max() / DAY == pytest.approx(np.ceil(days / MOST_BINS), rel=0.51)
        assert edges.size <= MOST_BINS + 1


def test_legs_stay_sharp_and_end_with_the_picture() -> None:
    statement = invented.four_layers()
    spans = leg_spans(statement, drawn_end(statement))
    assert [start for start, _ in spans] == [leg.start for leg in statement.journey.legs]
    assert all(before[1] == after[0] for before, after in pairwise(spans))
    assert spans[-1][1] == drawn_end(statement) == statement.end
    for (start, stop), (temperature, _) in zip(spans, climate_courses(statement), strict=True):
        assert (temperature.times[0], temperature.times[-1]) == (start, stop)


def test_a_failure_when_packed_still_shows_the_first_day() -> None:
    assert drawn_end(invented.of_days(1095, 0.0)) == DAY
    assert drawn_end(invented.of_days(0.5, 0.0)) == DAY / 2


def test_the_table_gives_the_statements_legs() -> None:
    statement = invented.four_layers()
    rows = journey.table(statement)
    for row, leg in zip(rows, statement.legs, strict=True):
        assert (row["leg"], row["from day"], row["to day"]) == (leg.name, leg.start / DAY, leg.end / DAY)
        assert row["highest temperature [°C]"] == pytest.approx(leg.temperature[1] - 273.15)
        assert row["lowest humidity"] == leg.humidity[0]
        assert row["date filling: water activity out"] == leg.activity_out[1]
        assert row["share of life used"] == leg.share
    assert sum(leg.share for leg in statement.legs) == pytest.approx(1.0)


@given(
    st.lists(st.tuples(st.floats(-50, 750), st.floats(1, 60)), min_size=1, max_size=10),
)
@settings(max_examples=100, deadline=None)
def test_spread_words_keep_order_room_and_frame(wishes: list[tuple[float, float]]) -> None:
    wanted = sorted(wish for wish, _ in wishes)
    sizes = [size for _, size in wishes]
    placed = spread(wanted, sizes, 0.0, 700.0)
    for (a, size_a), (b, size_b) in pairwise(zip(placed, sizes, strict=True)):
        assert b - a >= (size_a + size_b) / 2 - 1e-6
    assert placed[0] - sizes[0] / 2 >= -1e-6
    assert placed[-1] + sizes[-1] / 2 <= 700 + 1e-6


def test_words_that_need_not_move_stay() -> None:
    assert spread([100.0, 300.0], [50.0, 50.0], 0.0, 700.0) == [100.0, 300.0]
    assert spread([100.0, 100.0], [50.0, 50.0], 0.0, 700.0) == [75.0, 125.0]


def test_a_limits_words_find_the_quiet_side() -> None:
    x = np.array([0.0, 500.0])
    low = (x, np.array([95.0, 95.0]))  # a curve just above the line at 100: the words go below it
    box = quiet_place(100.0, (120.0, 14.0), (500.0, 200.0), [low], [])
    assert box.top > 100
    box = quiet_place(100.0, (120.0, 14.0), (500.0, 200.0), [], [])
    assert box.top + box.height < 100


def test_lines_of_text_fit_and_lose_no_word() -> None:
    text = invented.cracker().sentence
    lines = wrapped(text, 400, 12)
    assert " ".join(lines) == text
    assert all(text_width(line, 12) <= 400 for line in lines)


def test_no_scrap_of_a_line_is_left_at_the_end() -> None:
    text = "Invented water cracker loses its snap on day 132 (10 October 2026), on the coast."
    width = text_width(text, 12) - 5
    assert wrapped(text, width, 12)[1:] == ["coast."]
    first, last = balanced(text, width, 12)
    assert f"{first} {last}" == text
    assert text_width(last, 12) >= width / 3
    assert balanced("Short.", 400, 12) == ["Short."]


@pytest.mark.parametrize(
    ("span", "step"), [(143, 20), (1095, 200), (10, 2), (1.0, 0.2), (8, 1), (0.07, 0.01)]
)
def test_steps_are_round(span: float, step: float) -> None:
    assert step_for(span, 8) == pytest.approx(step)
