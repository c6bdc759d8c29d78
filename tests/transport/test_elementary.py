"""Exponential and logarithm of the kernels beside the C library's, and the oven's laws beside those of humid air."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit

from hardtack.transport import bake_kernel
from hardtack.transport.elementary import FAR, exponential, logarithm
from hardtack.water.air import latent_heat, saturation_pressure

ULP = 2.0**-52


@given(st.floats(-FAR, FAR))
def test_the_exponential(x: float) -> None:
    with np.errstate(over="ignore"):
        assert abs(exponential(x) / math.exp(x) - 1.0) <= 2 * ULP


def test_an_exponential_out_of_reach_stays_a_number() -> None:
    with np.errstate(over="ignore"):
        assert 0.0 < exponential(-1e300) < 1e-303
        assert 1e303 < exponential(math.inf) < math.inf


@given(st.floats(2.3e-308, 1.7e308))
def test_the_logarithm(x: float) -> None:
    assert abs(logarithm(x) - math.log(x)) <= 2 * ULP * max(abs(math.log(x)), 0.5)


@settings(deadline=None)  # the first call compiles
@given(st.floats(0.0, 0.9999))
def test_the_logarithm_of_the_rest(y: float) -> None:
    assert math.isclose(_rest(y), math.log1p(-y), rel_tol=4 * ULP, abs_tol=0.0)


@njit
def _rest(y):  # type: ignore[no-untyped-def]
    return bake_kernel._log_of_rest(y)


@njit(error_model="numpy")
def _laws(cells, material):  # type: ignore[no-untyped-def]
    bake_kernel._pressures(cells, material)
    bake_kernel._heats(cells, material)


def test_pressure_and_heat_of_vapour_are_those_of_humid_air_and_so_are_their_slopes() -> None:
    T = np.linspace(250.0, 590.0, 100)
    cells = np.zeros((bake_kernel.CELL_ROWS, T.size + 1))
    cells[bake_kernel.T, :-1] = T
    material = np.zeros(28)
    material[bake_kernel.PRESSURE], material[bake_kernel.CW] = 101325.0, 4190.0
    _laws(cells, material)
    rows = cells[:, :-1]
    dT = 1e-4
    heat = 4190.0 * (T - 273.15) + latent_heat(T)
    np.testing.assert_allclose(rows[bake_kernel.P], saturation_pressure(T) / 101325.0, rtol=1e-13)
    np.testing.assert_allclose(rows[bake_kernel.HV], heat, rtol=1e-13)
    rise = (saturation_pressure(T + dT) - saturation_pressure(T - dT)) / (2 * dT) / 101325.0
    np.testing.assert_allclose(rows[bake_kernel.P_T], rise, rtol=1e-7)
    fall = 4190.0 + (latent_heat(T + dT) - latent_heat(T - dT)) / (2 * dT)
    np.testing.assert_allclose(rows[bake_kernel.HV_T], fall, rtol=1e-6)
