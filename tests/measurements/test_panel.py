"""Panel acceptance as interval-censored survival: worked numbers, an independent fit, and coverage."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.panel import Interval, intervals_of, panel_acceptance, panel_from
from tests.measurements.files import lines, read

DAY = 86400.0
COUNTS = ((0, 10, 2), (10, 20, 8), (20, 30, 20), (30, 40, 15), (40, 50, 5), (50, np.inf, 2))


def people(counts: tuple[tuple[float, float, int], ...]) -> list[Interval]:
    return [
        Interval(f"P{left:g}-{k}", left * DAY, right * DAY) for left, right, n in counts for k in range(n)
    ]


def test_worked_numbers_of_fifty_two_consumers() -> None:
    # worked out by another hand than this code: 52 consumers, seen at 0, 10, ... 50 days
    result = panel_acceptance(people(COUNTS), (0.1, 0.25, 0.5))
    weibull, lognormal = result.best, result.other
    assert weibull.distribution == "weibull"
    shape, scale = weibull.estimates
    assert (shape.value, scale.value) == (pytest.approx(2.904, abs=5e-4), pytest.approx(32.14, abs=5e-3))
    assert weibull.minus_log_likelihood == pytest.approx(78.15, abs=5e-3)
    assert [life.value for life in result.lives] == pytest.approx([14.81, 20.93, 28.33], abs=6e-3)
    mu, sigma = lognormal.estimates
    assert (mu.value, sigma.value) == (pytest.approx(3.2838, abs=5e-5), pytest.approx(0.4148, abs=5e-5))
    assert lognormal.minus_log_likelihood == pytest.approx(80.46, abs=5e-3)
    assert [lognormal.life(share).value for share in (0.1, 0.25, 0.5)] == pytest.approx(
        [15.68, 20.17, 26.68], abs=6e-3
    )
    for life in result.lives:
        assert life.low is not None
        assert life.high is not None
        assert life.low < life.value < life.high


def test_the_likelihood_against_scipy() -> None:
    from scipy import stats

    result = panel_acceptance(people(COUNTS))
    left = np.array([person.left for person in result.intervals]) / DAY
    right = np.array([person.right for person in result.intervals]) / DAY
    shape, scale = (estimate.value for estimate in result.best.estimates)
    p = stats.weibull_min.cdf(right, shape, scale=scale) - stats.weibull_min.cdf(left, shape, scale=scale)
    assert result.best.minus_log_likelihood == pytest.approx(-np.log(p).sum(), abs=1e-9)
    # no neighbour is likelier
    for move in ((1.001, 1), (0.999, 1), (1, 1.001), (1, 0.999)):
        q = stats.weibull_min.cdf(right, shape * move[0], scale=scale * move[1])
        q -= stats.weibull_min.cdf(left, shape * move[0], scale=scale * move[1])
        assert -np.log(q).sum() > result.best.minus_log_likelihood


def test_against_the_censored_fit_of_scipy() -> None:
    from scipy import stats

    for kind, family in (("weibull", stats.weibull_min), ("lognormal", stats.lognorm)):
        result = panel_acceptance(people(COUNTS))
        found = next(fit for fit in (result.best, result.other) if fit.distribution == kind)
        pairs = np.array([(person.left, person.right) for person in result.intervals]) / DAY
        closed, first = np.isfinite(pairs[:, 1]), pairs[:, 0] == 0
        data = stats.CensoredData(
            interval=pairs[closed & ~first], left=pairs[first, 1], right=pairs[~closed, 0]
        )
        shape, _, scale = family.fit(data, floc=0)
        ours = [estimate.value for estimate in found.estimates]
        theirs = [shape, scale] if kind == "weibull" else [np.log(scale), shape]
        assert ours == pytest.approx(theirs, rel=1e-4)  # its simplex stops there


def test_exponential_times_in_closed_form() -> None:
    # Everyone seen once, on one day t: n1 of n have rejected. With two such days the Weibull goes through both
    # observed shares exactly: ln(-ln S) is straight in ln t.
    counts = ((0, 10, 5), (10, np.inf, 15), (0, 30, 12), (30, np.inf, 8))
    result = panel_acceptance(people(counts))
    weibull = next(fit for fit in (result.best, result.other) if fit.distribution == "weibull")
    y = np.log(-np.log(np.array([15 / 20, 8 / 20])))
    shape = (y[1] - y[0]) / np.log(3)
    assert weibull.estimates[0].value == pytest.approx(shape, rel=1e-5)
    assert weibull.estimates[1].value == pytest.approx(10 * np.exp(-y[0] / shape), rel=1e-5)


def test_from_a_sheet_with_missed_days(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Person,Day 0,Day 7,Day 14,Day 21,Day 28",
            "P1,yes,yes,no,no,no",
            "P2,yes,,,no,no",
            "P3,no,no,no,no,no",
            "P4,yes,no,yes,no,no",
            "P5,yes,yes,yes,yes,yes",
            "P6,yes,yes,yes,no,",
            "P7,,,,,",
            "P8,yes,yes,yes,yes,no",
        ),
    )
    result = panel_from(table)
    found = {person.person: (person.left / DAY, person.right / DAY) for person in result.intervals}
    assert found == {
        "P1": (7, 14), "P2": (0, 21), "P4": (0, 21), "P5": (28, np.inf), "P6": (14, 21), "P8": (21, 28),
    }  # fmt: skip
    assert [(item.column, item.reason) for item in result.aside] == [("P3", "rejected the fresh product")]
    assert [item.row for item in table.rows_aside] == [8]
    assert any("changed their mind and back (P4)" in line for line in result.told)


def test_the_long_sheet_says_the_same(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        lines(
            "Person,Days,Rejected", "A,0,0", "A,7,0", "A,14,1", "B,0,0", "B,14,0", "B,21,1", "C,7,0", "C,21,0"
        ),
    )
    found = {person.person: (person.left / DAY, person.right / DAY) for person in panel_from(table).intervals}
    assert found == {"A": (7, 14), "B": (14, 21), "C": (21, np.inf)}


def test_panels_that_say_nothing() -> None:
    with pytest.raises(HardtackError, match="nobody rejected"):
        panel_acceptance(people(((50, np.inf, 20),)))
    with pytest.raises(HardtackError, match="on one day"):
        panel_acceptance(people(((7, 14, 12), (14, np.inf, 3))))
    assert intervals_of({})[0] == ()
    with pytest.raises(HardtackError, match="a share of 1"):
        panel_acceptance(people(COUNTS)).best.life(1.0)
