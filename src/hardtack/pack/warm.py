"""Packed warm: water that leaves the warm pieces, condenses on the cold film, and is taken back.

Two temperatures: the pieces', and the film's, which lies between the pieces' and the air's. The headspace holds
next to no water, so at every moment what leaves the pieces reaches the film:

    k A_p (a rho_sat(T_p) - rho) = k A_f (rho - rho_film),   rho_film = rho_sat(T_f) where water lies on the film

with the mass-transfer coefficient k of still air on both. The pieces count as one activity at their surface.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats, Isotherm
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity

STEP = 30.0
"""Seconds; the pieces cool over hours."""


@dataclass(frozen=True, slots=True)
class Condensate:
    """Water on the film over `times` [s, n]: `on_film` [kg] and the pieces' water [kg]; their sum never changes."""

    times: Floats
    on_film: Floats
    in_pieces: Floats

    @property
    def most(self) -> float:
        """The most that lies on the film at any time [kg]."""
        return float(self.on_film.max())

    @property
    def wet_until(self) -> float | None:
        """When the film is dry again [s], 0 when it never was wet, None when it still is at the end."""
        wet = np.flatnonzero(self.on_film > 0.0)
        if wet.size == 0:
            return 0.0
        last = int(wet[-1])
        return None if last == self.times.size - 1 else float(self.times[last + 1])


def condensate(
    isotherm: Isotherm,
    dry_mass: float,
    moisture: float,
    surface: float,
    film_area: float,
    coefficient: float,
    times: Floats,
    T_pieces: Floats,
    T_air: Floats,
) -> Condensate:
    """Follow the water of the pieces (`dry_mass` [kg], `moisture` [kg/kg], `surface` [m2]) and of the film.

    `coefficient` [m/s] is that of still air. Temperatures [K] are given at `times` [s]; the film is taken half way
    between pieces and air, as with equal heat transfer on its two sides.
    """
    clock = np.arange(times[0], times[-1] + STEP / 2, STEP)
    T_p = np.interp(clock, times, T_pieces)
    T_f = (T_p + np.interp(clock, times, T_air)) / 2
    full_p = np.asarray(vapour_density(saturation_pressure(T_p), T_p))
    full_f = np.asarray(vapour_density(saturation_pressure(T_f), T_f))
    # two resistances in series: k A_p and k A_f
    G = coefficient * surface * film_area / (surface + film_area)
    held, wet = dry_mass * moisture, 0.0
    pieces, film = [held], [wet]
    for k in range(clock.size - 1):
        a = float(activity(isotherm, held / dry_mass, float(T_p[k])))
        flow = G * (a * float(full_p[k]) - float(full_f[k])) * STEP
        # from a dry film nothing comes back, and from a wet one no more than lies there
        moved = max(flow, -wet)
        held -= moved
        wet += moved
        pieces.append(held)
        film.append(wet)
    return Condensate(clock, np.array(film), np.array(pieces))
