"""Coefficients of the linearly implicit, L-stable, stiffly accurate steps.

In the notation of Hairer & Wanner, Solving Ordinary Differential Equations II (2nd ed. 1996), sect. IV.7:

    (1/(h gamma) I - J) U_i = f(t + alpha_i h, y + sum_j a_ij U_j) + sum_j c_ij U_j / h + gamma_i h df/dt
    y_new = y + sum_i m_i U_i,   error = sum_i e_i U_i

RODAS3: Sandu, Verwer, Blom, Spee, Carmichael & Potra, Atmospheric Environment 31 (1997) 3459-3472.
RODAS4: Hairer & Wanner, the same book (the method RODAS).
Every digit of both was seen as printed in FATODE (Zhang & Sandu, SIAM J. Sci. Comput. 36 (2014) C504-C523), file
FWD/ROS/ROS_f90_Integrator.F90, subroutines Rodas3 and Rodas4 of its public repository; the paper and the book
themselves were not opened. `tests/transport/test_rosenbrock.py` holds them to the order conditions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hardtack.states import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Scheme:
    """One Rosenbrock scheme: `a`, `c` [stages, stages] strictly lower; `m`, `e`, `alpha`, `gamma_sum`."""

    name: str
    gamma: float
    a: Floats
    c: Floats
    m: Floats
    e: Floats
    alpha: Floats
    gamma_sum: Floats
    order: int
    """Order used for the step control: that of the embedded solution plus one."""
    continuous: Floats
    """Weights [stages, 3] of the U_i at x, x2, x3 for the state at the share x of a step; empty [0, 3] where there are none."""
    strictness: float = 1.0
    """Share of the tolerance that its steps are held to."""

    @property
    def fresh(self) -> NDArray[np.bool_]:
        """Whether a stage needs new fluxes: not where it stands at the same time and state as the one before.

        The first never does: the step has them already, for its Jacobian."""
        same = (np.diff(self.alpha) == 0.0) & np.all(np.diff(self.a, axis=0) == 0.0, axis=1)
        fresh: NDArray[np.bool_] = np.r_[False, ~same]
        return fresh  # the fluxes at the start of the step are there already


def _lower(stages: int, *rows: tuple[float, ...]) -> Floats:
    matrix = np.zeros((stages, stages))
    for i, row in enumerate(rows, start=1):
        matrix[i, : len(row)] = row
    return matrix


RODAS3 = Scheme(
    name="RODAS3",
    gamma=0.5,
    a=_lower(4, (0.0,), (2.0, 0.0), (2.0, 0.0, 1.0)),
    c=_lower(4, (4.0,), (1.0, -1.0), (1.0, -1.0, -8.0 / 3.0)),
    m=np.array([2.0, 0.0, 1.0, 1.0]),
    e=np.array([0.0, 0.0, 0.0, 1.0]),
    alpha=np.array([0.0, 0.0, 1.0, 1.0]),
    gamma_sum=np.array([0.5, 1.5, 0.0, 0.0]),
    order=3,
    continuous=np.zeros((0, 3)),
)

_A5 = (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950)
RODAS4 = Scheme(
    name="RODAS4",
    gamma=0.25,
    a=_lower(
        6,
        (1.544,),
        (0.9466785280815826, 0.2557011698983284),
        (3.314825187068521, 2.896124015972201, 0.9986419139977817),
        _A5,
        (*_A5, 1.0),
    ),
    c=_lower(
        6,
        (-5.6688,),
        (-2.430093356833875, -0.2063599157091915),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160),
        (8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054),
    ),
    m=np.array([*_A5, 1.0, 1.0]),
    e=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]),
    alpha=np.array([0.0, 0.386, 0.21, 0.63, 1.0, 1.0]),
    gamma_sum=np.array([0.25, -0.1043, 0.1035, -0.03620000000000023, 0.0, 0.0]),
    order=4,
    continuous=np.zeros((0, 3)),
)

# y(x) = y0 + x (y1 - y0) + x (1 - x) (d2 + x d3), d2 and d3 sums over the U_i: of third order (the book's CONTRO; from memory)
_D2 = (10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823, 1.025137723295662, 0.0)
_D3 = (-0.6762803392801253, 6.087714651680015, 16.43084320892478, 24.76722511418386, -6.594389125716872, 0.0)
RODAS4_CONTINUOUS = replace(
    RODAS4,
    name="RODAS4 with continuous output",
    strictness=0.3,
    continuous=np.array([(m + d2, d3 - d2, -d3) for m, d2, d3 in zip(RODAS4.m, _D2, _D3, strict=True)]),
)
"""Takes steps as long as the tolerance allows and reads outputs off inside them: for air that stands still. No output shortens
its steps, so they are held to less: then days come out as near as with stops at every output (measured on the examples)."""
