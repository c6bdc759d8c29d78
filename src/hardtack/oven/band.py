"""The band under the pieces: heated by the oven, cooled by the dough, and it runs round.

A thin steel band or mesh is no store of heat without end. Its heat balance per area,
C dT/dt = h (T_air - T) + eps sigma (T_wall^4 - T^4) - h_c (T - T_bottom),
is stepped exactly between times with radiation linearised. What is not preheated enters as it left.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats
from hardtack.transport.bake_march import EndAir
from hardtack.units import STEFAN_BOLTZMANN

BOILING = 373.15
"""Bottom of the piece [K] before a course is known: wet dough on a hot band boils there."""
ROUNDS = 30
"""How often a band that is not preheated runs round before its course repeats itself (to well below 0.1 K)."""


@dataclass(frozen=True, slots=True)
class Band:
    """What the band meets: `times` [s], the air, walls and coefficients at them (as `EndAir` of the end it touches), and
    its temperature [K] where the file holds it, NaN where it is left to the oven. `holds` is its heat per area [J/m2/K]. `enters`
    is its temperature [K] when preheated.
    """

    times: Floats
    ends: tuple[EndAir, ...]
    held: Floats
    holds: float
    enters: float | None = None

    def course(self, bottom: Callable[[Floats], Floats] | None = None) -> Floats:
        """Temperature of the band [K] at `times`, under a piece whose bottom goes as `bottom`."""
        under = np.full_like(self.times, BOILING) if bottom is None else bottom(self.times)
        if self.enters is not None:
            return self._once(self.enters, under)
        course = self._once(BOILING, under)
        for _ in range(ROUNDS):
            course = self._once(float(course[-1]), under)
        return course

    def _once(self, start: float, under: Floats) -> Floats:
        course = np.empty_like(self.times)
        T = start
        for k, held in enumerate(self.held):
            if k > 0:
                T = self._step(T, k, float(under[k] + under[k - 1]) / 2)
            course[k] = T = float(held) if np.isfinite(held) else T
        return course

    def _step(self, T: float, k: int, under: float) -> float:
        end = self.ends[k]
        radiant = end.emissivity * STEFAN_BOLTZMANN * (T * T + end.wall * end.wall) * (T + end.wall)
        gains = end.h + radiant + end.h_contact
        rest = (end.h * end.air + radiant * end.wall + end.h_contact * under) / gains
        return rest + (T - rest) * float(np.exp(-gains * (self.times[k] - self.times[k - 1]) / self.holds))
