"""Films: from a supplier's transmission rate at test conditions to what crosses a whole pack in a climate."""

from __future__ import annotations

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Film, Pack
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, Real, saturation_pressure


def permeance_from_rate(rate: float, T_test: float, humidity_out: float, humidity_in: float) -> float:
    """Permeance [kg/m2/s/Pa] = transmission rate / (p_sat(T_test) (RH_out - RH_in)).

    `rate` [kg/m2/s]; humidities are fractions. A rate means nothing without all three conditions (the scope
    of ASTM F1249 asks for them). Raises `HardtackError` when both sides have the same humidity.
    """
    drive = abs(humidity_out - humidity_in)
    if drive < 1e-6:
        raise HardtackError(
            "the film's test has the same humidity on both sides",
            "give the humidity on each side of the test",
        )
    return float(rate / (saturation_pressure(T_test) * drive))


def permeance_at(film: Film, T: Real) -> Real:
    """Permeance at T [K] by Arrhenius: P(T) = P_ref exp(-E/R (1/T - 1/T_ref))."""
    heat: Real = np.exp(-film.E / GAS_CONSTANT * (1.0 / T - 1.0 / film.T_ref))
    return film.permeance * heat


def pack_conductance(pack: Pack, T: Real) -> Real:
    """Water through the whole pack per unit activity difference [kg/s]: A x factor x P(T) x p_sat(T)."""
    return pack.area * pack.whole_pack_factor * permeance_at(pack.film, T) * saturation_pressure(T)


def bare_conductance(exposed_area: float, film_coefficient: float, T: Real) -> Real:
    """Water to bare pieces through the air around them per unit activity difference [kg/s].

    `film_coefficient` [m/s] acts on vapour density: g = h A p_sat M / (R T).
    """
    return film_coefficient * exposed_area * saturation_pressure(T) * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
