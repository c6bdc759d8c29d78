"""Order in space against Crank's series.

Source: Crank, The Mathematics of Diffusion (2nd ed. 1975): plane sheet eq. 4.18, cylinder eq. 5.23, sphere eq. 6.20,
uptake with a surface held at constant concentration.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import jn_zeros

from hardtack.states import Diffusivity, Piece, Shape
from hardtack.transport.chain import chain
from hardtack.transport.march import march
from hardtack.transport.rosenbrock import RODAS4
from hardtack.transport.surroundings import Stretch, surroundings
from tests.transport.chains import T25, layer, linear

D, RADIUS = 1e-10, 5e-3


def uptake(shape: Shape, Fo: float) -> float:
    """M(t) / M(inf), Fo = D t / RADIUS^2."""
    k = np.arange(400)
    if shape == "slab":
        odd = (2 * k + 1) * np.pi
        return float(1 - np.sum(8 / odd**2 * np.exp(-(odd**2) * Fo / 4)))
    if shape == "cylinder":
        zeros = jn_zeros(0, 400)
        return float(1 - np.sum(4 / zeros**2 * np.exp(-(zeros**2) * Fo)))
    return float(1 - np.sum(6 / ((k + 1) * np.pi) ** 2 * np.exp(-(((k + 1) * np.pi) ** 2) * Fo)))


def marched(shape: Shape, cells: int, Fo: float) -> float:
    X0, X1 = 0.02, 0.07
    piece = Piece(
        shape, (layer("solid", RADIUS, 5e-3, X0, linear(0.1), Diffusivity(D)),), 1e-2, (False, True)
    )
    cut = chain([piece], 1e-9, (T25, T25), cells_per_layer=cells)
    t = Fo * RADIUS**2 / D
    # air of constant state that reaches the surface: 1 kg/s per unit activity against about 1e-7 inside
    air = surroundings([Stretch(np.array([0.0, t]), np.full(2, 1.0), np.full(2, X1 / 0.1), np.full(2, T25))])
    run = march(cut, air, np.array([0.0, t]), tolerance=1e-9, scheme=RODAS4)
    return float((run.layer_moisture(cut)[-1, 0] - X0) / (X1 - X0))


@pytest.mark.parametrize("shape", ["slab", "cylinder", "sphere"])
def test_second_order_in_space(shape: Shape) -> None:
    exact = uptake(shape, 0.05)
    errors = np.array([abs(marched(shape, n, 0.05) - exact) for n in (10, 20, 40, 80)])
    orders = np.log2(errors[:-1] / errors[1:])
    assert np.all((orders >= 1.95) & (orders <= 2.05)), (orders, errors)
    assert errors[1] < 2e-3  # 20 cells, the default


def test_the_series_itself() -> None:
    # Crank 1975, sect. 4.3.2: half of the final uptake of a plane sheet at D t / l^2 = 0.049 for thickness l
    assert uptake("slab", 4 * 0.04919) == pytest.approx(0.5, abs=2e-4)
