"""Oxygen and carbon dioxide in the headspace: what was packed, what comes through film and leaks, what is used.

Plain balances, one a gas, at one atmosphere and with nitrogen for the rest:

    dn/dt = G (p_air - p) - use,   p = n R T / V

G [mol/s/Pa] by the film's permeance (per volume at 0 degC and one atmosphere, as transmission tests count it), its
whole-pack factor, leaks by diffusion, and the air exchanged while a pack stands open. The film's rise with
temperature is taken by the activation energy of gas permeation; below, above and in damp air films differ widely,
so a measured transmission near the conditions of use is worth more.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.pack.leaks import (
    CARBON_DIOXIDE_DIFFUSIVITY,
    OXYGEN_DIFFUSIVITY,
    diffusivity_in_air,
    hole_factor,
)
from hardtack.states import Film, Floats, Journey, Leg, Pack
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE

Gas = Literal["oxygen", "carbon dioxide"]
IN_AIR = {"oxygen": 0.2095, "carbon dioxide": 0.0004}
"""Shares of dry air by volume."""
E_GAS = 43e3
"""Activation energy of gas permeation, LDPE's [J/mol] (from memory; PP 48, PET 32)."""
T_GAS = 296.15
"""Temperature at which films are tested for gases [K]: 23 degC, ASTM D3985 (from memory)."""
MOL_PER_M3_STP = STANDARD_PRESSURE / (GAS_CONSTANT * 273.15)
STEPS_PER_ROW = 24


@dataclass(frozen=True, slots=True)
class GasCourse:
    """One gas over `times` [s, n]: its `share` in the headspace, moles that came in and were used since packing."""

    times: Floats
    share: Floats
    came_in: Floats
    used: Floats


def gas_permeance(film: Film, gas: Gas, T: float) -> float:
    """Permeance of the film to a gas [m3(STP)/m2/s/Pa] at T [K].

    Raises `HardtackError` when neither the file nor the shelf knows it.
    """
    known = film.oxygen if gas == "oxygen" else film.carbon_dioxide
    if known is None:
        raise HardtackError(
            f"nothing says how much {gas} the film {film.name} lets through",
            f"give the film by its test, with '{gas}: 1500 cm3/m2/day/atm'",
        )
    return known * float(np.exp(-E_GAS / GAS_CONSTANT * (1.0 / T - 1.0 / T_GAS)))


def gas_conductance(pack: Pack, leg: Leg, gas: Gas, T: float) -> float:
    """Moles of a gas into the pack per second and pascal of its partial pressure, in one leg at T [K]."""
    opened = leg.opened
    factor = pack.whole_pack_factor
    if opened is not None and opened.reclosed is not None:
        factor = opened.reclosed
    film = pack.area * factor * gas_permeance(pack.film, gas, T) * MOL_PER_M3_STP
    D = OXYGEN_DIFFUSIVITY if gas == "oxygen" else CARBON_DIOXIDE_DIFFUSIVITY
    holes = sum(hole_factor(leak) for leak in pack.leaks) * float(diffusivity_in_air(D, T))
    open_air = 0.0 if opened is None else pack.headspace * opened.air_changes * opened.share
    return film + (holes + open_air) / (GAS_CONSTANT * T)


def oxygen_ingress(pack: Pack, permeance: float, T: float) -> float:
    """Oxygen through the whole sealed pack [m3(STP)/s/Pa], for a film of this permeance: seals and holes with it."""
    holes = sum(hole_factor(leak) for leak in pack.leaks) * float(diffusivity_in_air(OXYGEN_DIFFUSIVITY, T))
    return pack.area * pack.whole_pack_factor * permeance + holes / (GAS_CONSTANT * T) / MOL_PER_M3_STP


def mean_share(pack: Pack, journey: Journey, gas: Gas, over: float) -> float:
    """Mean share of a gas in the headspace over the first `over` [s] of the journey, nothing of it used."""
    end = min(over, journey.legs[-1].end)
    course = gas_course(pack, journey, gas, np.linspace(0.0, end, 61))
    return float(np.trapezoid(course.share, course.times) / end)


def gas_course(
    pack: Pack,
    journey: Journey,
    gas: Gas,
    times: Floats,
    use: Callable[[float, float, float], float] = lambda t, T, share: 0.0,
) -> GasCourse:
    """Follow one gas over `times` [s]. `use(t, T, share)` [mol/s] is what the pieces take up (or give off, below 0).

    Steps are exact in the film and explicit in the use, with the use never above what is there. At packing +
    came in = left + used, to round-off. In an unpacked leg the gas is that of air.
    """
    share = pack.oxygen if gas == "oxygen" else pack.carbon_dioxide
    T = _temperature(journey, float(times[0]))
    n = share * STANDARD_PRESSURE * pack.headspace / (GAS_CONSTANT * T)
    outside = IN_AIR[gas] * STANDARD_PRESSURE
    shares, came_in, used = [share], [0.0], [0.0]
    for k in range(times.size - 1):
        leg = _leg_at(journey, float(times[k + 1]))
        dt = float(times[k + 1] - times[k]) / STEPS_PER_ROW
        into = taken = 0.0
        for j in range(STEPS_PER_ROW):
            t = float(times[k]) + (j + 0.5) * dt
            T = _temperature(journey, t)
            per_pressure = pack.headspace / (GAS_CONSTANT * T)
            now = min(max(use(t, T, share), -1.0), n / dt)
            before = n - now * dt
            if leg.film_coefficient is not None:
                n = outside * per_pressure
            else:
                G = gas_conductance(pack, leg, gas, T)
                rest = outside * per_pressure
                n = rest + (before - rest) * math.exp(-dt * G / per_pressure)
            into += n - before
            taken += now * dt
            share = n / per_pressure / STANDARD_PRESSURE
        shares.append(share)
        came_in.append(came_in[-1] + into)
        used.append(used[-1] + taken)
    return GasCourse(times, np.array(shares), np.array(came_in), np.array(used))


def _leg_at(journey: Journey, t: float) -> Leg:
    """The leg that closes at or after t; a leg's end belongs to it."""
    return next((leg for leg in journey.legs if t <= leg.end), journey.legs[-1])


def _temperature(journey: Journey, t: float) -> float:
    climate = _leg_at(journey, t).climate
    return float(np.interp(t, climate.times, climate.temperature))
