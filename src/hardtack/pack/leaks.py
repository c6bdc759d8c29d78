"""Leaks: water and gas by diffusion through still air in a hole or a channel, and with air that is exchanged.

A hole of diameter d and depth L passes Q = D A dc / (L + pi d / 4), A = pi d2 / 4: the resistance of the hole
itself and, at each mouth, that of a disc in a half space, 1/(2 D d) (Weber's disc, as in the theory of stomata:
Brown & Escombe 1900, Phil. Trans. R. Soc. B 193:223, from memory). Pressure differences are left out: a soft pack
has none to speak of, and a stiff one that breathes is told by its air changes.
"""

from __future__ import annotations

import math

from hardtack.states import Leak
from hardtack.water.air import Real, saturation_pressure, vapour_density

VAPOUR_DIFFUSIVITY = 2.5e-5
"""Water vapour in air at 25 degC [m2/s] (Massman 1998, Atmos. Environ. 32:1111, from memory)."""
OXYGEN_DIFFUSIVITY = 2.1e-5
CARBON_DIOXIDE_DIFFUSIVITY = 1.6e-5
"""Oxygen and carbon dioxide in air at 25 degC [m2/s] (the same, from memory)."""
ROOM = 298.15
POWER = 1.81
"""Diffusivities in air rise as T to this power (the same, from memory)."""


def hole_factor(leak: Leak) -> float:
    """What a diffusivity is to be multiplied by to give a flow per difference of concentration [m]: A / (L + pi d/4)."""
    area = math.pi / 4 * leak.diameter**2
    return leak.count * area / (leak.depth + math.pi / 4 * leak.diameter)


def diffusivity_in_air(at_room: float, T: Real) -> Real:
    """Diffusivity of a gas in air at T [K] and one atmosphere [m2/s]."""
    rise: Real = (T / ROOM) ** POWER
    return at_room * rise


def leak_conductance(leak: Leak, T: Real) -> Real:
    """Water through the holes per unit activity difference [kg/s]."""
    D = diffusivity_in_air(VAPOUR_DIFFUSIVITY, T)
    return hole_factor(leak) * D * vapour_density(saturation_pressure(T), T)


def exchange_conductance(volume: float, air_changes: float, T: Real) -> Real:
    """Water carried by `volume` [m3] of air changed `air_changes` [1/s] times, per unit activity difference [kg/s]."""
    return volume * air_changes * vapour_density(saturation_pressure(T), T)
