"""Films: from a supplier's transmission rate at test conditions to what crosses a whole pack in a climate."""

from __future__ import annotations

from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.pack.leaks import leak_conductance
from hardtack.states import Film, Floats, Pack
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, Real, saturation_pressure

SWEEPS = 60
"""Sweeps of the interlayer humidities; each moves them by what is wrong in the series, most converge in ten."""


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
    """Permeance at T [K] by Arrhenius: P(T) = P_ref exp(-E/R (1/T - 1/T_ref)), of the dry film; plies in series."""
    if film.plies:
        return _series([permeance_at(ply, T) for ply in film.plies])
    heat: Real = np.exp(-film.E / GAS_CONSTANT * (1.0 / T - 1.0 / film.T_ref))
    return film.permeance * heat


def _series(permeances: list[Real]) -> Real:
    """1/P = sum 1/P_i."""
    resistance = 1.0 / permeances[0]
    for permeance in permeances[1:]:
        resistance = resistance + 1.0 / permeance
    return 1.0 / resistance


def minds_humidity(film: Film) -> bool:
    """Whether the film's permeance depends on the humidities on its sides."""
    return bool(film.humidity) or any(minds_humidity(ply) for ply in film.plies)


def humidity_factor(film: Film, a_mean: Floats) -> Floats:
    """Factor on the permeance at the mean activity across the film, level beyond its points."""
    if not film.humidity:
        return np.ones_like(a_mean)
    a, factor = zip(*film.humidity, strict=True)
    return np.asarray(np.exp(np.interp(a_mean, a, np.log(factor))))


def permeance_between(film: Film, T: Floats, a_in: Floats, a_out: Floats) -> Floats:
    """Permeance [kg/m2/s/Pa] of the film between two activities; all of one shape.

    A laminate's plies are resistances in series, 1/P = sum 1/P_i, and every one of them is at the mean activity
    of its own two faces: the activities at the joints are those at which the same water passes each ply (found
    by sweeps; with plies that do not mind humidity they are exact at once).
    """
    T, a_in, a_out = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (T, a_in, a_out)))
    if not film.plies:
        return np.asarray(permeance_at(film, T) * humidity_factor(film, (a_in + a_out) / 2))
    n = len(film.plies)
    share = (np.arange(n + 1) / n).reshape(-1, *([1] * T.ndim))
    joints = a_in + (a_out - a_in) * share
    resistances = np.zeros((n, *T.shape))
    for _ in range(SWEEPS):
        for k, ply in enumerate(film.plies):
            resistances[k] = 1.0 / permeance_between(ply, T, joints[k], joints[k + 1])
        upto = np.concatenate([np.zeros((1, *T.shape)), np.cumsum(resistances, axis=0)])
        better = a_in + (a_out - a_in) * upto / upto[-1]
        moved = float(np.max(np.abs(better - joints)))
        joints = joints + 0.7 * (better - joints)  # damped: a ply that opens would overshoot
        if moved < 1e-9:
            break
    return np.asarray(1.0 / resistances.sum(axis=0))


def laminate(name: str, plies: tuple[Film, ...]) -> Film:
    """The films one on another, from the inside to the outside; gases by resistances in series as well.

    A ply whose gas permeance is not known counts as no barrier to that gas.
    """
    T = plies[0].T_ref
    permeance = 1.0 / sum(1.0 / float(permeance_at(ply, T)) for ply in plies)
    # the temperature law of the whole is the plies' own, taken ply by ply; E serves where one number must do
    other = 1.0 / sum(1.0 / float(permeance_at(ply, T + 10.0)) for ply in plies)
    E = float(GAS_CONSTANT * np.log(other / permeance) / (1.0 / T - 1.0 / (T + 10.0)))
    return Film(
        name,
        permeance,
        T,
        E,
        plies=plies,
        oxygen=_in_series([ply.oxygen for ply in plies]),
        carbon_dioxide=_in_series([ply.carbon_dioxide for ply in plies]),
    )


def _in_series(permeances: list[float | None]) -> float | None:
    known = [1.0 / permeance for permeance in permeances if permeance is not None]
    return 1.0 / sum(known) if known else None


def pack_conductance(pack: Pack, T: Real, a_in: Real | None = None, a_out: Real | None = None) -> Real:
    """Water through the whole pack per unit activity difference [kg/s]: (A x factor x P + leaks) p_sat(T).

    `a_in` and `a_out` are the activities on both sides of the film; without them it counts as dry.
    """
    dry = a_in is None or a_out is None
    film = permeance_at(pack.film, T) if dry else _between(pack.film, T, a_in, a_out)
    total = pack.area * pack.whole_pack_factor * film * saturation_pressure(T)
    for leak in pack.leaks:
        total = total + leak_conductance(leak, T)
    return total


def _between(film: Film, T: Any, a_in: Any, a_out: Any) -> Any:
    return permeance_between(film, np.asarray(T), np.asarray(a_in), np.asarray(a_out))


def bare_conductance(exposed_area: float, film_coefficient: float, T: Real) -> Real:
    """Water to bare pieces through the air around them per unit activity difference [kg/s].

    `film_coefficient` [m/s] acts on vapour density: g = h A p_sat M / (R T).
    """
    return film_coefficient * exposed_area * saturation_pressure(T) * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
