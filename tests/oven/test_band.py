"""The band under the pieces: its own heat balance against a general solver, and what follows from it in a bake."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import hardtack
from hardtack.oven.baking import bake
from hardtack.oven.band import BOILING, Band
from hardtack.product import Product, loads
from hardtack.transport.bake_march import EndAir
from tests.house.tree import ROOT

HOT = EndAir(503.15, 8000.0, 8.0, 523.15, 0.9, 300.0, 60.0, 1.0)
FREE = np.full(81, np.nan)
STEEL = 7850.0 * 490.0  # heat of carbon steel [J/m3/K], from memory


def test_a_band_follows_its_heat_balance() -> None:
    # C dT/dt = h (T_air - T) + eps sigma (T_wall^4 - T^4) - h_c (T - T_bottom), solved anew by LSODA
    times = np.linspace(0.0, 240.0, 81)
    band = Band(times, (HOT,) * 81, FREE, 0.9e-3 * STEEL, 460.0)

    def rate(_: float, T: np.ndarray) -> np.ndarray:
        heat = 8.0 * (503.15 - T) + 0.9 * 5.670374419e-8 * (523.15**4 - T**4) - 60.0 * (T - BOILING)
        return np.asarray(heat / (STEEL * 0.9e-3))

    wanted = solve_ivp(rate, (0.0, 240.0), [460.0], "LSODA", times, rtol=1e-9, atol=1e-9).y[0]
    assert np.allclose(band.course(), wanted, atol=0.2)


def test_a_band_that_is_not_preheated_enters_as_it_left() -> None:
    times = np.linspace(0.0, 240.0, 81)
    course = Band(times, (HOT,) * 81, FREE, 0.9e-3 * STEEL).course(lambda at: 350.0 + at / 4)
    assert course[0] == pytest.approx(course[-1], abs=0.05)
    # between the dough's bottom and the oven
    assert 350.0 < course.min() < course.max() < 523.15


def test_what_the_file_holds_is_held() -> None:
    held = np.where(np.arange(81) < 40, 480.0, np.nan)
    course = Band(np.linspace(0.0, 240.0, 81), (HOT,) * 81, held, 0.9e-3 * STEEL).course()
    assert np.all(course[:40] == 480.0)
    assert course[-1] < 470.0


def changed(old: str, new: str) -> Product:
    return loads((ROOT / "examples" / "bake-cracker.yaml").read_text("utf-8").replace(old, new))


def test_a_preheated_band_dries_more() -> None:
    plain = bake(hardtack.load(ROOT / "examples" / "bake-cracker.yaml")).exit_moisture
    cold = bake(changed("band enters: 190 degC", "band enters: 120 degC")).exit_moisture
    light = bake(changed("lying on: wire mesh", "lying on: none")).exit_moisture
    assert cold > plain
    assert light != pytest.approx(plain, rel=1e-3)


def test_a_heavy_band_keeps_its_heat() -> None:
    """Davidson, Biscuit Baking Technology: heavy mesh is preheated to give its heat rapidly to the dough."""
    times = np.linspace(0.0, 240.0, 81)
    thin, thick = (
        Band(times, (HOT,) * 81, FREE, steel * STEEL, 500.0).course() for steel in (0.9e-3, 2.5e-3)
    )
    assert np.all(thick[1:] > thin[1:])
