"""Accelerated rancidity: one step over all temperatures, and the cautions that go with it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.rancidity import Transition, fit_rancidity, rancidity_from
from tests.measurements.files import lines, read

DAY = 86400.0
R = 8.314462618


def data(order: str, noise: float, seed: int = 0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    t = np.tile(np.array([0, 7, 14, 28, 42, 56.0]), 3)
    T = np.repeat([293.15, 313.15, 333.15], 6)
    k = 0.05 * np.exp(-8e4 / R * (1 / T - 1 / 313.15))
    y = 1 + k * t if order == "straight" else 0.5 * np.exp(0.3 * k * t)
    return t * DAY, y * (1 + noise * np.random.default_rng(seed).normal(size=t.size)), T


@pytest.mark.parametrize("order", ["straight", "exponential"])
def test_energy_and_order_come_back(order: str) -> None:
    found = fit_rancidity(*data(order, 0.01))
    assert found.order == order
    assert found.fit["energy"].value == pytest.approx(8e4, rel=0.03)


def test_life_at_the_stores_temperature_by_hand() -> None:
    found = fit_rancidity(*data("straight", 0.0))
    k = 0.05 * np.exp(-8e4 / R * (1 / 293.15 - 1 / 313.15))
    life = found.life(10.0, 293.15)
    assert life.value == pytest.approx(9 / k, rel=1e-6)
    assert found.rate_at(293.15).value == pytest.approx(k, rel=1e-6)


def test_transitions_and_extrapolation_are_told() -> None:
    found = fit_rancidity(*data("straight", 0.01), transitions=[Transition("melting of the fat", 308.15)])
    assert any("melting of the fat at 35 °C" in line for line in found.told)
    assert any("extrapolated" in line for line in found.cautions(278.15))
    far = fit_rancidity(*data("straight", 0.01), transitions=[Transition("glass transition", 373.15)])
    assert far.cautions(293.15) == ()


def test_from_a_file(tmp_path: Path) -> None:
    t, y, T = data("straight", 0.01)
    rows = [f"{a / DAY:g},{c - 273.15:.1f},{b:.3f}" for a, b, c in zip(t, y, T, strict=True)]
    found, aside = rancidity_from(read(tmp_path, lines("Days,Temp (C),Peroxide value", *rows, "56,20,n.d.")))
    assert [item.row for item in aside] == [20]
    assert found.fit["energy"].value == pytest.approx(8e4, rel=0.05)


def test_what_tells_nothing() -> None:
    t, y, T = data("straight", 0.01)
    with pytest.raises(HardtackError, match="one temperature"):
        fit_rancidity(t[:6], y[:6], T[:6])
    with pytest.raises(HardtackError, match="does not rise"):
        fit_rancidity(t, 10 - t / t.max(), T)
    with pytest.raises(HardtackError, match="starts at"):
        fit_rancidity(t, y, T).life(0.5, 293.15)
