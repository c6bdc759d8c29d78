"""Packed warm: water that leaves the warm pieces, condenses on the cold film, and is taken back.

Two temperatures: the pieces', and the film's, which lies between the pieces' and the air's. The headspace holds
next to no water, so at every moment what leaves the pieces reaches the film:

    k A_p (a rho_sat(T_p) - rho) = k A_f (rho - rho_film),   rho_film = rho_sat(T_f) where water lies on the film

with the mass-transfer coefficient k of still air on both. The pieces count as one activity at their surface.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats, Isotherm
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity

STEP = 30.0
"""Seconds; the pieces cool over hours."""
MOISTURES, DRIEST = 400, 0.2
"""Points of the table of activities, and the share of its water a piece may keep at least: far below what cooling takes."""


@dataclass(frozen=True, slots=True)
class Condensate:
    """Water on the film over `times` [s, n]: `on_film` [kg] and the pieces' water [kg]; their sum never changes.

    `T_pieces` and `T_film` [n, K] are the product's temperature and the wall's.
    """

    times: Floats
    on_film: Floats
    in_pieces: Floats
    T_pieces: Floats
    T_film: Floats

    @property
    def imbalance(self) -> float:
        """Largest error of film and pieces together, as they stand, relative to the pieces' first water."""
        whole = self.on_film + self.in_pieces
        return float(np.abs(whole - whole[0]).max() / whole[0])

    @property
    def wettest(self) -> int:
        """The moment at which most lies on the film."""
        return int(np.argmax(self.on_film))

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
    # at every half step, so that a step can look at its middle (midpoint rule)
    clock = np.arange(times[0], times[-1] + STEP / 4, STEP / 2)
    T_p = np.interp(clock, times, T_pieces)
    T_f = (T_p + np.interp(clock, times, T_air)) / 2
    full_p = np.asarray(vapour_density(saturation_pressure(T_p), T_p))
    full_f = np.asarray(vapour_density(saturation_pressure(T_f), T_f))
    # two resistances in series: k A_p and k A_f
    G = coefficient * surface * film_area / (surface + film_area)

    seen = _activities(isotherm, moisture, float(T_p.min()), float(T_p.max()))

    def flow(k: int, held: float) -> float:
        return G * (seen(held / dry_mass, float(T_p[k])) * float(full_p[k]) - float(full_f[k]))

    held, wet = dry_mass * moisture, 0.0
    pieces, film = [held], [wet]
    for k in range(0, clock.size - 2, 2):
        half = max(flow(k, held) * STEP / 2, -wet)
        # from a dry film nothing comes back, and from a wet one no more than lies there
        moved = max(flow(k + 1, held - half) * STEP, -wet)
        held -= moved
        wet += moved
        pieces.append(held)
        film.append(wet)
    whole = slice(0, 2 * len(film) - 1, 2)
    return Condensate(clock[whole], np.array(film), np.array(pieces), T_p[whole], T_f[whole])


def _activities(isotherm: Isotherm, X: float, T_low: float, T_high: float) -> Callable[[float, float], float]:
    """Activity at moisture up to X [kg/kg] and T [K] between the two, off a table: straight between its points."""
    moist = np.linspace(DRIEST * X, X, MOISTURES)
    T = np.linspace(T_low, T_high, max(2, int(np.ceil(T_high - T_low)) + 1))
    table = np.stack([np.asarray(activity(isotherm, moist, float(kelvin))) for kelvin in T])
    per_X, per_T = (MOISTURES - 1) / (X - moist[0]), (T.size - 1) / max(T_high - T_low, 1e-9)

    def seen(at: float, kelvin: float) -> float:
        x = min(max((at - moist[0]) * per_X, 0.0), MOISTURES - 1.0)
        y = min(max((kelvin - T_low) * per_T, 0.0), T.size - 1.0)
        i, j = min(int(x), MOISTURES - 2), min(int(y), T.size - 2)
        x, y = x - i, y - j
        lower = table[j, i] * (1 - x) + table[j, i + 1] * x
        return float(lower * (1 - y) + (table[j + 1, i] * (1 - x) + table[j + 1, i + 1] * x) * y)

    return seen
