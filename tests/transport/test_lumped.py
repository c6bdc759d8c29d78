"""The lumped quadrature against closed forms and adaptive quadrature, and the march against it in the lumped limit.

Linear isotherm: ln((Xe - X0)/(Xe - X)) = t/tau, tau = m b/(K A p0), the packaging equation of Labuza and co-workers
(Labuza 1982, Shelf-Life Dating of Foods; Taoukis, El Meskine & Labuza 1988, ACS Symp. Ser. 365:243, from memory). The
day counts are that arithmetic on an invented biscuit, worked out apart from this code.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from hardtack.states import Diffusivity, Floats, Isotherm, Piece
from hardtack.transport.chain import chain
from hardtack.transport.lumped import approach
from hardtack.transport.march import Watch, march
from hardtack.transport.rosenbrock import RODAS4
from hardtack.transport.surroundings import Stretch, surroundings
from hardtack.water.isotherm import activity, moisture, slope
from tests.transport.chains import DAY, T25, gab, layer, linear

BISCUIT = gab("biscuit", 0.045, 12.0, 0.95)


def kilopascal(celsius: float) -> float:
    """Buck (1981), J. Appl. Meteorol. 20:1527, as the worked numbers take it."""
    return 0.61121 * np.exp((18.678 - celsius / 234.5) * celsius / (257.14 + celsius))


def scale(celsius: float) -> float:
    """m/g [s]: 200 g dry; 0.060 m2 of a film passing 1.00 g/m2 d at 38 degC and 90 % to dry."""
    permeance = 1.00 / (kilopascal(38.0) * 0.90)  # g/m2 d kPa
    return 200.0 / (permeance * 0.060 * kilopascal(celsius)) * DAY


@pytest.mark.parametrize(
    ("celsius", "RH", "days"), [(25, 0.60, 1016.9), (30, 0.75, 456.0), (38, 0.90, 211.6)]
)
def test_linear_isotherm(celsius: float, RH: float, days: float) -> None:
    """X = 0.002 + 0.12 a from 0.020 to 0.060 kg/kg."""
    course = approach(0.15, RH, scale(celsius), lambda a: np.full_like(a, 0.12))
    a_limit = (0.060 - 0.002) / 0.12
    got = course.time_to(a_limit)
    assert got is not None
    assert got / DAY == pytest.approx(days, abs=0.06)
    tau = scale(celsius) * 0.12
    assert got == pytest.approx(tau * np.log((RH - 0.15) / (RH - a_limit)), rel=1e-13)
    times = np.array([0.0, 1e-6, 0.3, 1.0, 5.0, 30.0]) * tau
    assert course.activity(times) == pytest.approx(RH - (RH - 0.15) * np.exp(-times / tau), abs=1e-14)


@pytest.mark.parametrize(("celsius", "RH", "days"), [(25, 0.60, 838.7), (30, 0.75, 391.7), (38, 0.90, 184.2)])
def test_gab_isotherm(celsius: float, RH: float, days: float) -> None:
    course = approach(0.15, RH, scale(celsius), slope_of(BISCUIT))
    got = course.time_to(0.45)
    assert got is not None
    assert got / DAY == pytest.approx(days, abs=0.06)


def slope_of(iso: Isotherm, T: float = T25):  # type: ignore[no-untyped-def]
    return lambda a: np.asarray(slope(iso, a, T), dtype=np.float64)


@pytest.mark.parametrize(
    ("a0", "a_out"), [(0.15, 0.6), (0.7, 0.2), (0.02, 0.93), (0.5, 0.501), (0.01, 0.5), (0.98, 0.3)]
)
def test_against_adaptive_quadrature(a0: float, a_out: float) -> None:
    """scipy's quad (QUADPACK; Piessens et al. 1983) on the untransformed integral of X'(a)/(a_out - a)."""
    course = approach(a0, a_out, 1e6, slope_of(BISCUIT))
    for share in (0.1, 0.5, 0.9, 0.999):
        a = a0 + share * (a_out - a0)
        exact, _ = quad(
            lambda x: float(slope(BISCUIT, x, T25)) / (a_out - x), a0, a, epsabs=0, epsrel=1e-12, limit=400
        )
        got = course.time_to(a)
        assert got is not None
        assert got == pytest.approx(1e6 * exact, rel=1e-11)
        assert course.activity(np.array([got]))[0] == pytest.approx(a, abs=1e-13)


def test_what_is_never_reached() -> None:
    course = approach(0.2, 0.6, 1e6, slope_of(BISCUIT))
    assert course.time_to(0.6) is None
    assert course.time_to(0.61) is None
    assert course.time_to(0.19) is None
    assert course.time_to(0.2) == 0.0
    assert course.activity(np.array([1e12]))[0] == pytest.approx(0.6, abs=1e-14)
    still = approach(0.4, 0.4, 1e6, slope_of(BISCUIT))
    assert still.time_to(0.4) is None
    assert still.activity(np.array([0.0, 1e9])) == pytest.approx([0.4, 0.4])


@pytest.mark.parametrize("iso", [BISCUIT, linear(0.12)], ids=["gab", "linear"])
def test_the_march_in_the_lumped_limit(iso: Isotherm) -> None:
    """A huge diffusivity and next to no gas space: the march must end at the quadrature's activity."""
    cut, air, course = lumped_case(iso, 0.15, 0.75)
    times: Floats = np.array([0.0, 0.1, 0.5, 1.0, 3.0]) * (0.2 / 1e-9) * 0.15
    got = march(cut, air, times, tolerance=1e-9, scheme=RODAS4)
    assert np.abs(got.activity[1:, :-1] - course.activity(times[1:])[:, None]).max() <= 1e-7


def lumped_case(iso: Isotherm, a0: float, a_out: float):  # type: ignore[no-untyped-def]
    """Chain, air and lumped course of one well mixed layer: 0.2 kg dry behind a film of 1e-9 kg/s."""
    X0, g = float(moisture(iso, a0, T25)), 1e-9
    piece = Piece("slab", (layer("all", 5e-3, 0.02, X0, iso, Diffusivity(1e-5)),), 5e-3, (False, True), 10)
    cut = chain([piece], 1e-9, (T25, T25), cells_per_layer=5)
    air = surroundings([Stretch(np.array([0.0, 1e12]), np.full(2, g), np.full(2, a_out), np.full(2, T25))])
    return cut, air, approach(a0, a_out, 0.2 / g, slope_of(iso))


@pytest.mark.parametrize(("a0", "a_out", "a_limit"), [(0.15, 0.75, 0.45), (0.7, 0.2, 0.35)])
def test_crossings_against_the_lumped_answer(a0: float, a_out: float, a_limit: float) -> None:
    """Rising and falling, located inside steps of months; other watches: passed at the start, and never met."""
    cut, air, course = lumped_case(BISCUIT, a0, a_out)
    rising = a_out > a0
    X = [
        float(moisture(BISCUIT, a, T25))
        for a in (a_limit, a0 - 0.01 * (a_out - a0), a_out + 0.02 * (a_out - a0))
    ]
    assert activity(BISCUIT, X[0], T25) == pytest.approx(a_limit)
    watches = [Watch("all", x, rising) for x in X]
    exact = course.time_to(a_limit)
    assert exact is not None
    got = march(cut, air, np.array([0.0, 4.0 * exact]), watches=watches, tolerance=1e-8, scheme=RODAS4)
    assert got.crossings[0] == pytest.approx(exact, rel=2e-6)
    assert got.crossings[1] == 0.0
    assert np.isnan(got.crossings[2])
    assert got.steps < 200
    usual = march(cut, air, np.array([0.0, 4.0 * exact]), watches=watches)
    assert usual.crossings[0] == pytest.approx(exact, rel=3e-4)
