"""The schemes' coefficients against the order conditions.

Hairer & Wanner, Solving Ordinary Differential Equations II (2nd ed. 1996), sect. IV.7: table 7.1 (order conditions of
Rosenbrock methods, in beta_ij = alpha_ij + gamma_ij), eq. 7.24-7.26 (transformed coefficients), IV.7 "Stiffly accurate".
"""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.states import Floats
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme

BOTH = pytest.mark.parametrize("scheme", [RODAS3, RODAS4], ids=lambda scheme: scheme.name)


def classical(scheme: Scheme, m: Floats) -> tuple[Floats, Floats, Floats]:
    """alpha_ij, beta_ij, b_i from a, c, m: with G = (gamma_ij), C = diag(1/gamma) - G^-1, a = alpha G^-1, m = b G^-1."""
    G = np.linalg.inv(np.eye(m.size) / scheme.gamma - scheme.c)
    alpha = scheme.a @ G
    return alpha, alpha + G, m @ G


def conditions(alpha: Floats, beta: Floats, b: Floats) -> dict[str, tuple[float, float, int]]:
    """Sum, value and order of each condition; beta carries gamma on its diagonal, as in the untransformed table."""
    al, be = alpha.sum(axis=1), beta.sum(axis=1)
    return {
        "t": (b.sum(), 1.0, 1),
        "[t]": (b @ be, 1 / 2, 2),
        "[t,t]": (b @ al**2, 1 / 3, 3),
        "[[t]]": (b @ beta @ be, 1 / 6, 3),
        "[t,t,t]": (b @ al**3, 1 / 4, 4),
        "[t,[t]]": (b @ (al * (alpha @ be)), 1 / 8, 4),
        "[[t,t]]": (b @ beta @ al**2, 1 / 12, 4),
        "[[[t]]]": (b @ beta @ beta @ be, 1 / 24, 4),
    }


def met(scheme: Scheme, m: Floats) -> int:
    """The order to which all conditions hold."""
    sums = conditions(*classical(scheme, m)).values()
    wrong = [order for value, wanted, order in sums if abs(value - wanted) > 1e-13 * 100]
    return min(wrong, default=5) - 1


@BOTH
def test_order_and_embedded_order(scheme: Scheme) -> None:
    assert met(scheme, scheme.m) == scheme.order
    assert met(scheme, scheme.m - scheme.e) == scheme.order - 1


@BOTH
def test_times_of_the_stages(scheme: Scheme) -> None:
    alpha, beta, _ = classical(scheme, scheme.m)
    assert alpha.sum(axis=1) == pytest.approx(scheme.alpha, abs=1e-13)
    assert (beta - alpha).sum(axis=1) == pytest.approx(scheme.gamma_sum, abs=1e-13)


@BOTH
def test_stiffly_accurate_and_l_stable(scheme: Scheme) -> None:
    _, beta, b = classical(scheme, scheme.m)
    assert b == pytest.approx(beta[-1], abs=1e-13)  # b_i = beta_si, hence R(inf) = 0
    _, _, embedded = classical(scheme, scheme.m - scheme.e)
    assert embedded[:-1] == pytest.approx(
        beta[-2, :-1], abs=1e-13
    )  # the embedded one is stiffly accurate, too
    eye, one = np.eye(b.size), np.ones(b.size)

    def R(z: complex) -> complex:
        return complex(1 + z * b @ np.linalg.solve(eye - z * beta, one))

    assert abs(R(-1e12)) < 1e-9
    # A-stable: |R| <= 1 on the imaginary axis, and all poles, 1/gamma, lie to its right
    assert (
        max(abs(R(1j * y)) for y in np.concatenate([np.linspace(0, 60, 1201), np.geomspace(60, 1e6, 60)]))
        <= 1 + 1e-12
    )
    assert R(-0.1) == pytest.approx(np.exp(-0.1), abs=2 * 0.1 ** (scheme.order + 1))


def test_fresh_stages() -> None:
    # seen in the listing the module names: stage 2 of RODAS3 re-uses the fluxes of stage 1, no other does
    assert RODAS3.fresh.tolist() == [False, False, True, True]
    assert RODAS4.fresh.tolist() == [False, True, True, True, True, True]


def test_order_measured_on_a_nonlinear_equation_with_time() -> None:
    """y' = -5 (y - cos t) - sin t + 3 (y^2 - cos^2 t), y(0) = 1: y = cos t; the steps are written out here."""
    for scheme in (RODAS3, RODAS4):
        errors = [abs(_plain_march(scheme, steps) - np.cos(2.0)) for steps in (100, 200, 400)]
        orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
        assert orders == pytest.approx(scheme.order, abs=0.25), (scheme.name, errors)


def _plain_march(scheme: Scheme, steps: int) -> float:
    def f(t: float, y: float) -> float:
        return -5 * (y - np.cos(t)) - np.sin(t) + 3 * (y**2 - np.cos(t) ** 2)

    h, y = 2.0 / steps, 1.0
    for n in range(steps):
        t = n * h
        f_y, f_t = -5 + 6 * y, -5 * np.sin(t) - np.cos(t) + 6 * np.cos(t) * np.sin(t)
        U = np.zeros(scheme.m.size)
        for i in range(U.size):
            rhs = (
                f(t + scheme.alpha[i] * h, y + scheme.a[i] @ U)
                + scheme.c[i] @ U / h
                + scheme.gamma_sum[i] * h * f_t
            )
            U[i] = rhs / (1 / (h * scheme.gamma) - f_y)
        y += scheme.m @ U
    return float(y)
