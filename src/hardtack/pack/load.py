"""The air as the load meets it: brought indoors, lagging in a pallet, damp with ice or dew on its skin."""

from __future__ import annotations

import itertools
import math

import numpy as np

from hardtack.states import Climate, Floats
from hardtack.water.air import ice_activity, saturation_pressure

STEPS_PER_LAG = 12.0
"""A lagged course is sampled this often in a lag, and every hour at least."""
HOUR = 3600.0


def indoors(climate: Climate, T_inside: float) -> Climate:
    """The same air at another temperature [K]: its vapour pressure stays, up to saturation.

    No drying and no damping by a building is counted.
    """
    inside = np.full_like(climate.temperature, T_inside)
    pressure = climate.humidity * saturation_pressure(climate.temperature)
    return Climate(climate.times, inside, np.minimum(pressure / saturation_pressure(inside), 1.0))


def lagged(climate: Climate, lag: float, T_start: float) -> Climate:
    """The climate of a load that follows the air's temperature with the time constant `lag` [s] from `T_start` [K].

    dT_load/dt = (T_air - T_load) / lag, exact on the air's straight pieces. The humidity is that of the same
    vapour at the load's temperature: 1 while the load is below the dew point and its skin is wet.
    """
    times = _fine(climate.times, lag)
    air = np.interp(times, climate.times, climate.temperature)
    pressure = np.interp(times, climate.times, climate.humidity) * saturation_pressure(air)
    load = follow(times, air, lag, T_start)
    return Climate(times, load, np.minimum(pressure / saturation_pressure(load), 1.0))


def follow(times: Floats, air: Floats, lag: float, start: float) -> Floats:
    """First-order course after `air`, straight between `times` [s], from `start`."""
    load = np.empty_like(air)
    load[0] = start
    for k in range(times.size - 1):
        dt = times[k + 1] - times[k]
        slope = (air[k + 1] - air[k]) / dt
        steady = air[k] - slope * lag
        load[k + 1] = air[k + 1] - slope * lag + (load[k] - steady) * math.exp(-dt / lag)
    return load


def _fine(times: Floats, lag: float) -> Floats:
    step = min(HOUR, lag / STEPS_PER_LAG)
    pieces = [
        np.linspace(a, b, max(1, math.ceil((b - a) / step - 1e-9)) + 1)[:-1]
        for a, b in itertools.pairwise(times)
    ]
    return np.concatenate([*pieces, times[-1:]])


def over_ice(climate: Climate) -> Climate:
    """The climate with its humidity held to the ice line: below 0 degC no surface is damper than ice.

    Weather humidities refer to liquid water at all temperatures (World Meteorological Organization, Guide to
    Instruments and Methods of Observation, WMO-No. 8, from memory), as water activity does.
    """
    cap = np.asarray(ice_activity(climate.temperature), dtype=np.float64)
    if np.all(cap >= 1.0):
        return climate
    return Climate(climate.times, climate.temperature, np.minimum(climate.humidity, cap))
