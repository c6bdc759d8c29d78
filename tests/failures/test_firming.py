"""Firming of crumb."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.failures import firming
from hardtack.failures.firming import Effect, Firming
from hardtack.reference import lookup
from hardtack.units import DAY, ZERO_CELSIUS
from tests.failures.histories import history

T21 = ZERO_CELSIUS + 21.0
LOAF = Firming("crumb", 0.25 / DAY, T21, limit_share=0.7)


@pytest.mark.parametrize(
    ("n", "k", "days", "extents"),
    [
        (1.0, 0.25, [1, 2, 3, 5, 7, 10], [0.221, 0.393, 0.528, 0.713, 0.826, 0.918]),
        (0.8, 0.25, [1, 2, 3, 5, 7, 10], [0.221, 0.353, 0.452, 0.596, 0.694, 0.793]),
        (1.5, 0.10, [1, 2, 3, 5, 7, 10], [0.095, 0.246, 0.405, 0.673, 0.843, 0.958]),
    ],
)
def test_avrami_at_one_temperature(n: float, k: float, days: list[float], extents: list[float]) -> None:
    """1 - exp(-k t^n), arithmetic of the equation (form: Cornford, Axford & Elton 1964, with n = 1)."""
    spec = replace(LOAF, rate=k ** (1 / n) / DAY, n=n)
    way = firming.extent(history([0, *days], 21), spec)
    assert way[1:] == pytest.approx(extents, abs=6e-4)


def test_half_time_is_the_published_arithmetic() -> None:
    """ln 2 / 0.25 = 2.77 days."""
    course = firming.course(history(np.linspace(0, 10, 1001), 21), replace(LOAF, limit_share=0.5))
    assert course.time == pytest.approx(2.7726 * DAY, rel=1e-3)


def test_bread_firms_faster_the_colder_down_to_freezing() -> None:
    """Cornford et al. 1964: k falls with rising temperature from 30 to 90 degF (-1 to 32 degC)."""
    T = np.linspace(-1.1, 32.2, 60) + ZERO_CELSIUS
    assert np.all(np.diff(firming.rate_at(T)) < 0)


def test_the_refrigerator_is_worse_than_the_shop() -> None:
    """Retrogradation fastest of -18, 4 and 25 degC at 4 degC (Aguirre et al. 2011); nothing of note at -18
    degC."""
    at = {t: firming.course(history([0, 2], t), LOAF).share[-1] for t in (-18, 4, 25)}
    assert at[4] > at[25] > at[-18] == 0.0


def test_times_at_four_temperatures_are_those_published() -> None:
    """USDA, as quoted: fresh 10 h at 32 degF, 2 days at 70 degF, nearly 4 days at 100 degF, without end at
    140 degF."""
    rate = [float(firming.rate_at((f - 32) / 1.8 + ZERO_CELSIUS)) for f in (32, 70, 100, 140)]
    assert rate[0] / rate[1] == pytest.approx(48 / 10)
    assert rate[1] / rate[2] == pytest.approx(3.8 / 2)
    assert rate[3] == pytest.approx(0.0, abs=1e-20)


def test_the_end_firmness_is_the_same_at_all_temperatures() -> None:
    """Cornford et al. 1964: the same limiting modulus at every temperature above freezing."""
    assert [firming.extent(history([0, 400], t), LOAF)[-1] for t in (0, 21, 32)] == pytest.approx([1, 1, 1])


@settings(max_examples=60, deadline=None)
@given(st.floats(4.0, 59.0), st.floats(0.0, 30.0))
def test_colder_never_slows_firming_down_to_4_degrees(warm: float, colder_by: float) -> None:
    cold = max(4.0, warm - colder_by)
    assert firming.rate_at(cold + ZERO_CELSIUS) >= firming.rate_at(warm + ZERO_CELSIUS)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-25.0, 59.0), min_size=2, max_size=12))
def test_the_share_never_falls_without_re_warming(degC: list[float]) -> None:
    course = firming.course(history(np.arange(len(degC)), degC), LOAF)
    assert np.all(np.diff(course.share) >= 0)


def test_re_warming_refreshes_to_the_stated_share_and_the_clock_runs_on() -> None:
    course = firming.course(history([0, 3, 3.02, 6], [21, 21, 65, 21]), replace(LOAF, kept=0.2))
    way = course.share * 0.7
    assert way[2] == pytest.approx(0.2)
    assert way[3] == pytest.approx(1 - 0.8 * np.exp(-0.25 * 2.98), abs=1e-9)
    assert any("re-warmed" in line for line in course.told)


def test_warming_a_fresh_loaf_does_not_age_it() -> None:
    way = firming.extent(history([0, 0.1, 0.12], [21, 21, 65]), LOAF)
    assert way[2] == way[1] < LOAF.kept


def test_a_factor_on_the_rate_and_one_on_the_end_are_two_things() -> None:
    """The shelf's monoglyceride slows (0.5-0.7), its maltogenic amylase lowers the end (0.4-0.6)."""
    base = Firming("crumb", 0.25 / DAY, T21, limit=14.0, fresh=5.0, final=25.0)
    slow = lookup("firming", "monoglyceride")["rate_factor"]
    low = lookup("firming", "maltogenic amylase")["firmness_factor"]
    plain, slowed, lowered = (
        firming.course(history(np.linspace(0, 60, 601), 21), replace(base, effects=effects))
        for effects in (
            (),
            (Effect("monoglyceride", "rate", slow, "from memory"),),
            (Effect("maltogenic amylase", "final firmness", low, "from memory"),),
        )
    )
    assert plain.time is not None
    assert slowed.time == pytest.approx(plain.time / slow, rel=1e-3)
    assert lowered.time is None  # 25 N x 0.5 = 12.5 N lies below 14 N
    assert any("below the limit" in line for line in lowered.told)


def test_a_positive_arrhenius_energy_is_refused() -> None:
    with pytest.raises(HardtackError, match="faster when colder"):
        firming.course(history([0, 1], 21), replace(LOAF, energy=60e3))
    cold, warm = (firming.rate_at(t + ZERO_CELSIUS, -30e3) for t in (4, 25))
    assert cold > warm


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"effects": (Effect("SSL", "rate", 0.0, "assumed"),)}, "above zero"),
        ({"effects": (Effect("SSL", "rate", -0.5, "assumed"),)}, "above zero"),
        ({"effects": (Effect("amylase", "final firmness", 0.5, "assumed"),)}, "as firmness in N"),
        ({"limit_share": None}, "one limit"),
        ({"limit_share": 1.2}, "between 0 and 1"),
        ({"limit_share": None, "limit": 5.0, "fresh": 6.0, "final": 20.0}, "above the fresh"),
        ({"rate": 0.0}, "above zero"),
        ({"kept": 1.0}, "share from 0"),
        ({"temperature": 250.0}, "nothing firms"),
    ],
)
def test_what_cannot_be_is_refused(change: dict[str, object], complaint: str) -> None:
    with pytest.raises(HardtackError, match=complaint):
        firming.course(history([0, 1], 21), replace(LOAF, **change))  # type: ignore[arg-type]


def test_it_says_which_stale_it_is() -> None:
    course = firming.course(history([0, 1, 2], [21, 2, 2]), LOAF)
    assert "No water need be lost" in course.meaning
    assert "drying out" in course.meaning
    assert any("2.0 days" in line for line in course.told)
