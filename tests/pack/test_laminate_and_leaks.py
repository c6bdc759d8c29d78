"""Films in series, films that open in damp air, holes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from hardtack.pack.film import laminate, pack_conductance, permeance_at, permeance_between
from hardtack.pack.leaks import hole_factor, leak_conductance
from hardtack.states import Film, Leak, Pack
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density

ROOM = 298.15
PLAIN = Film("plain", 3e-12, ROOM, 30e3)
TIGHT = Film("tight", 1e-12, ROOM, 50e3)
PAPER = Film("paper", 2e-12, ROOM, humidity=((0.0, 1.0), (0.5, 3.0), (1.0, 30.0)))


def at(film: Film, a_in: float, a_out: float, T: float = ROOM) -> float:
    return float(permeance_between(film, np.array(T), np.array(a_in), np.array(a_out)))


def test_plies_are_resistances_in_series() -> None:
    """1/P = 1/P1 + 1/P2 (series law of permeances, common to ASTM E96 terminology): 3 and 1 give 0.75."""
    whole = laminate("two", (PLAIN, TIGHT))
    assert whole.permeance == pytest.approx(0.75e-12, rel=1e-12)
    assert at(whole, 0.1, 0.8) == pytest.approx(0.75e-12, rel=1e-9)


def test_each_ply_keeps_its_own_temperature_law() -> None:
    whole = laminate("two", (PLAIN, TIGHT))
    cold = 278.15
    expected = 1 / (1 / float(permeance_at(PLAIN, cold)) + 1 / float(permeance_at(TIGHT, cold)))
    assert float(permeance_at(whole, cold)) == pytest.approx(expected, rel=1e-12)
    assert at(whole, 0.2, 0.6, cold) == pytest.approx(expected, rel=1e-9)


def test_a_damp_film_is_taken_at_the_mean_activity_across_it() -> None:
    assert at(PAPER, 0.2, 0.8) == pytest.approx(2e-12 * 3.0, rel=1e-12)
    assert at(PAPER, 1.0, 1.0) == pytest.approx(2e-12 * 30.0, rel=1e-12)


@pytest.mark.parametrize(("a_in", "a_out"), [(0.1, 0.9), (0.9, 0.1), (0.3, 0.31), (0.0, 1.0)])
def test_the_interlayer_humidity_lets_the_same_water_through_every_ply(a_in: float, a_out: float) -> None:
    """Against a root finder of another library (scipy's brentq) on the one joint."""
    whole = laminate("paper and film", (PAPER, PLAIN))

    def mismatch(joint: float) -> float:
        return at(PAPER, a_in, joint) * (joint - a_in) - at(PLAIN, joint, a_out) * (a_out - joint)

    joint = brentq(mismatch, min(a_in, a_out), max(a_in, a_out), xtol=1e-14)
    flow = at(PLAIN, joint, a_out) * (a_out - joint)
    assert at(whole, a_in, a_out) * (a_out - a_in) == pytest.approx(flow, rel=1e-6)


def test_the_damp_side_matters_which_way_round_the_laminate_lies() -> None:
    """Paper outside in damp air is open, inside behind film it is tight."""
    outside, inside = laminate("o", (PLAIN, PAPER)), laminate("i", (PAPER, PLAIN))
    assert at(outside, 0.1, 0.9) > 1.05 * at(inside, 0.1, 0.9)


@pytest.mark.parametrize(
    ("micrometres", "milligrams"),
    [(20, 0.111), (50, 0.512), (100, 1.42), (200, 3.53), (500, 10.3), (1000, 21.9)],
)
def test_water_through_one_hole(micrometres: float, milligrams: float) -> None:
    """Hand-worked Q = D A dc/(L + pi d/4), L 50 um, 0.45 in activity at 25 degC, D 2.6e-5 m2/s (we take 2.5e-5)."""
    leak = Leak(micrometres * 1e-6, 50e-6)
    dc = 0.45 * float(vapour_density(saturation_pressure(ROOM), ROOM))
    assert hole_factor(leak) * 2.6e-5 * dc * DAY * 1e6 == pytest.approx(milligrams, rel=0.01)
    assert float(leak_conductance(leak, ROOM)) == pytest.approx(
        hole_factor(leak) * 2.5e-5 * dc / 0.45, rel=1e-12
    )


def test_a_long_channel_is_a_pipe_and_a_wide_hole_a_disc() -> None:
    """The two known ends: D A/L (Fick) and 2 D d for an infinitely thin disc both sides open give D d (Weber)."""
    long, thin = Leak(1e-4, 10e-3), Leak(1e-3, 1e-9)
    assert hole_factor(long) == pytest.approx(np.pi / 4 * 1e-8 / 10e-3, rel=0.01)
    assert hole_factor(thin) == pytest.approx(1e-3, rel=1e-5)


def test_leaks_pass_beside_the_film() -> None:
    leak = Leak(1e-4, 5e-5, 3.0)
    whole, sound = Pack(PLAIN, 0.06, 2e-4, 1.3, (leak,)), Pack(PLAIN, 0.06, 2e-4, 1.3)
    beside = float(pack_conductance(whole, ROOM)) - float(pack_conductance(sound, ROOM))
    assert beside == pytest.approx(3 * float(leak_conductance(Leak(1e-4, 5e-5), ROOM)), rel=1e-9)
