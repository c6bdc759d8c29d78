"""Rancidity: fat takes up oxygen until it tastes of it.

An oxygen balance of the pack: what is in the headspace, what comes in through the film, what the fat takes
up. The rate of uptake goes with temperature (a factor per 10 K), with activity (slowest in a middle range,
faster when drier as when wetter) and with the oxygen left, p / (p + half).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.failures.names import RANCIDITY
from hardtack.failures.running import Warmth, first_time
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Floats, History
from hardtack.units import celsius
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE

NAME = RANCIDITY
AIR = 0.2095
"""Oxygen in dry air by volume."""
MOL_PER_M3_STP = STANDARD_PRESSURE / (GAS_CONSTANT * 273.15)
"""Gas at 0 degC and one atmosphere [mol/m3]: the cm3 of transmission tests."""
O2_PER_MEQ = 0.5e-3
"""Oxygen bound in peroxide [mol] per milliequivalent: ROOH holds one O2 and counts two equivalents."""
STEPS_PER_ROW = 40


@dataclass(frozen=True, slots=True)
class Rancidity:
    """The fat of one pack and its oxygen.

    `fat` [kg] is in `layer`. `rate` [meq/kg/s] is the rise of the peroxide value in plain air at
    `temperature` [K] and activity `a`. It starts at `start` and fails at `limit` [meq O2/kg fat]. `oxygen` is
    the share in the headspace when packed, `headspace` [m3] the gas, `ingress` [m3/s/Pa] the permeance of the
    film to oxygen times its area (0 for a can). `Q10` is the factor on the rate per 10 K; an activation `energy`
    [J/mol] stands instead of it where it is given.
    """

    layer: str
    fat: float
    rate: float
    temperature: float
    a: float
    start: float
    limit: float
    oxygen: float
    headspace: float
    ingress: float
    Q10: float
    energy: float | None = None
    provenance: Provenance = "measured here"
    source: str = ""


@dataclass(frozen=True, slots=True)
class OxygenBalance:
    """Moles per pack over the history's times [n]: what is left in the gas, came in, and was taken up."""

    left: Floats
    came_in: Floats
    taken_up: Floats


def activity_factor(a: Floats | float) -> Floats:
    """Factor on the rate by activity: 1 in the slowest range (0.2-0.4), rising on both sides of it.

    That it rises on the dry side is the reason why drier is not always better: water no longer covers the fat
    and binds its peroxides (map of Labuza; range and steepness from the shelf's rancidity rows).
    """
    slowest = lookup("rancidity", "bakery goods").values["a_slowest"]
    per_tenth = lookup("rancidity", "activity effect")["per_tenth"]
    assert slowest.low is not None  # the shelf gives a range
    assert slowest.high is not None
    a = np.asarray(a, dtype=np.float64)
    away = np.maximum(0.0, slowest.low - a) + np.maximum(0.0, a - slowest.high)
    return np.asarray(per_tenth ** (away / 0.1))


def oxygen_factor(share: Floats | float) -> Floats:
    """Factor on the rate by the share of oxygen in the gas at one atmosphere, 1 in air: a hyperbola."""
    half = lookup("rancidity", "oxygen effect")["half"]
    share = np.asarray(share, dtype=np.float64)
    return np.asarray(share / (share + half) * (AIR + half) / AIR)


def oxygen_balance(history: History, spec: Rancidity) -> OxygenBalance:
    """Step the oxygen of the pack through the history, implicitly in the pressure, so that it never runs
    below zero.

    left + taken up = at the start + came in, to round-off. Gas pressure stays one atmosphere by filling with
    nitrogen, as in a soft pack.
    """
    _check(spec)
    half = lookup("rancidity", "oxygen effect")["half"] * STANDARD_PRESSURE
    a = history.activity[:, history.layers.index(spec.layer)]
    T_all = history.temperature
    p = spec.oxygen * STANDARD_PRESSURE
    n = p * spec.headspace / (GAS_CONSTANT * float(T_all[0]))
    left, came_in, taken_up = [n], [0.0], [0.0]
    air = AIR * STANDARD_PRESSURE
    warmer = Warmth(spec.temperature, spec.Q10, spec.energy)
    wet = activity_factor((a[:-1] + a[1:]) / 2.0) / activity_factor(spec.a)
    for j in range(1, history.times.size):
        T = float(T_all[j])
        per_pressure = spec.headspace / (GAS_CONSTANT * T)
        top = spec.fat * spec.rate * O2_PER_MEQ * float(warmer(T)) * float(wet[j - 1]) * (air + half) / air
        conductance = spec.ingress * MOL_PER_M3_STP
        dt = float(history.times[j] - history.times[j - 1]) / STEPS_PER_ROW
        # n1 = n + dt (G (p_air - p1) - R p1/(p1 + half)), n1 = C p1: a quadratic in p1
        passes, takes = dt * conductance, dt * top
        from_air = passes * AIR * STANDARD_PRESSURE
        A = per_pressure + passes
        A_half = A * half
        into, out_of = 0.0, 0.0
        for _ in range(STEPS_PER_ROW):
            B = A_half + takes - n - from_air
            C = -(n + from_air) * half
            root = math.sqrt(B * B - 4.0 * A * C)
            p = (root - B) / (2.0 * A) if B < 0.0 else -2.0 * C / (B + root)
            into += passes * (air - p)
            out_of += takes * p / (p + half)
            n = per_pressure * p
        left.append(n)
        came_in.append(came_in[-1] + into)
        taken_up.append(taken_up[-1] + out_of)
    return OxygenBalance(np.array(left), np.array(came_in), np.array(taken_up))


def course(history: History, spec: Rancidity) -> FailureCourse:
    """Share of life used: of the rise in peroxide value from the start to the limit. Raises for a spec that
    cannot be."""
    balance = oxygen_balance(history, spec)
    allowed = (spec.limit - spec.start) * spec.fat * O2_PER_MEQ
    share = balance.taken_up / allowed
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=f"fat of {spec.layer} at a peroxide value of {spec.limit:g} meq oxygen per kg fat",
        meaning=f"the fat of the {spec.layer} has oxidised until it tastes rancid",
        valid=(
            "away from the melting range of the fat, in the dark, with peroxides as the measure (they "
            "break down late on, "
            "so a falling peroxide value does not mean fresh); antioxidants and metals are in the measured "
            "rate only"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen=(
            "peroxide value and a panel's verdict every two weeks at two temperatures in this pack, and "
            "the oxygen of the "
            "headspace with it"
        ),
        told=_told(history, spec, balance, allowed),
    )


def _told(history: History, spec: Rancidity, balance: OxygenBalance, allowed: float) -> tuple[str, ...]:
    told = []
    slowest = lookup("rancidity", "bakery goods").values["a_slowest"]
    low = slowest.low or 0.0
    driest = float(history.activity[:, history.layers.index(spec.layer)].min())
    if driest < low - 0.005:  # not for what would print as the edge itself
        told.append(
            f"the {spec.layer} is as dry as activity {driest:.2f}, below about {low:.1f}, where fat "
            "oxidises faster again: "
            "drying it further buys crispness and costs flavour"
        )
    first = float(balance.left[0])
    if first < allowed:
        told.append(
            f"oxygen packed with it makes up {first / allowed:.0%} of what the limit takes; the rest comes "
            "through the film"
        )
    else:
        told.append(
            f"oxygen packed with it is {first / allowed:.2g} times what the limit takes: the film cannot "
            "save it, flushing can"
        )
    if spec.oxygen < 0.01:
        told.append(
            "with so little oxygen a moist part may let anaerobes grow: where any layer is above activity "
            "0.90, an expert "
            "in food safety must look at it"
        )
    return tuple(told)


def _check(spec: Rancidity) -> None:
    problems = []
    if not (spec.fat > 0 and spec.rate > 0 and spec.headspace > 0 and spec.ingress >= 0 and spec.Q10 > 0):
        problems.append(
            Problem(
                f"rancidity: fat {spec.fat:g} kg, rate {spec.rate:g} meq/kg/s, headspace {spec.headspace:g} "
                "m3, "
                f"ingress {spec.ingress:g} m3/s/Pa, Q10 {spec.Q10:g}",
                "all are above zero (ingress may be zero)",
            )
        )
    if not 0.0 <= spec.oxygen <= 1.0:
        problems.append(
            Problem(f"a headspace with {spec.oxygen:g} oxygen", "give a share from 0 to 1; air is 0.21")
        )
    if not 0.0 <= spec.start < spec.limit:
        problems.append(
            Problem(
                f"a peroxide value of {spec.start:g} when packed and a limit of {spec.limit:g} meq/kg",
                f"the limit lies above the start; the rate was to hold at {celsius(spec.temperature):.0f} °C",
            )
        )
    if problems:
        raise HardtackError(problems)
