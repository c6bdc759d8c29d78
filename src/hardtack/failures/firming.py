"""Firming: the crumb sets again and grows firm, without losing any water.

Theta = exp(-(integral k dt)^n) is the share of the way still to go (Avrami with the time reduced by the rate;
n = 1 for bread: Cornford, Axford and Elton 1964, Cereal Chem. 41:216). k here is the Avrami constant to the
power 1/n, so that it is a rate [1/s] and adds up over a changing temperature.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.failures.names import FIRMING
from hardtack.failures.running import first_time
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Floats, History
from hardtack.units import DAY, celsius
from hardtack.water.air import GAS_CONSTANT

NAME = FIRMING
POINTS = ("32 degF", "70 degF", "100 degF")
"""The rows of the shelf's firming temperatures between which ln k is straight."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What an ingredient does: a `factor` above zero on the rate or on the final firmness, never on both."""

    name: str
    on: Literal["rate", "final firmness"]
    factor: float
    provenance: Provenance
    source: str = ""


@dataclass(frozen=True, slots=True)
class Firming:
    """How one crumb firms.

    `rate` [1/s] holds at `temperature` [K], with Avrami exponent `n`. Either `limit_share` (share of the way
    to the final firmness), or `limit` with `fresh` and `final`, all firmness [N] by one method. `kept` is the
    share of the way still there after re-warming through the melting of starch crystals. `energy` [J/mol] is
    an apparent Arrhenius energy to use instead of the shelf's temperatures; it must be negative.
    """

    layer: str
    rate: float
    temperature: float
    n: float = 1.0
    limit_share: float | None = None
    limit: float | None = None
    fresh: float | None = None
    final: float | None = None
    effects: tuple[Effect, ...] = ()
    kept: float = 0.15
    energy: float | None = None
    provenance: Provenance = "assumed"
    source: str = ""


@cache
def _ends() -> tuple[float, float, float, float]:
    """Temperatures [K]: frozen (no firming), cold end of the rise, warm end of the fall, melting (none)."""
    held = [
        lookup("firming temperatures", name)["temperature"]
        for name in ("frozen", "cold end", POINTS[-1], "melting")
    ]
    return held[0], held[1], held[2], held[3]


@cache
def _points() -> tuple[tuple[float, ...], tuple[float, ...]]:
    rows = [lookup("firming temperatures", name) for name in POINTS]
    return tuple(row["temperature"] for row in rows), tuple(-float(np.log(row["keeps"])) for row in rows)


def rate_at(T: Floats | float, energy: float | None = None) -> Floats:
    """Rate of firming at T [K], up to a constant: faster when colder, nothing when frozen or above melting.

    ln k is straight between the published points (or follows the apparent `energy` [J/mol]), then falls
    straight to zero at the frozen crumb's glass transition and at melting. Raises `HardtackError` for an
    energy that is not negative: firming is no reaction that warmth speeds.
    """
    if energy is not None and not energy < 0:
        raise HardtackError(
            f"an Arrhenius energy of {energy / 1e3:g} kJ/mol for firming",
            "bread firms faster when colder, down to about 4 degC: give a negative energy, or leave it out",
        )
    frozen, cold, warm, melting = _ends()
    inner = np.clip(np.asarray(T, dtype=np.float64), cold, warm)
    if energy is None:
        at, ln_k = _points()
        first = (ln_k[1] - ln_k[0]) / (at[1] - at[0])
        core = np.exp(np.where(inner < at[0], ln_k[0] + first * (inner - at[0]), np.interp(inner, at, ln_k)))
    else:
        core = np.exp(-energy / GAS_CONSTANT * (1.0 / inner - 1.0 / at_room()))
    freezing = np.clip((T - frozen) / (cold - frozen), 0.0, 1.0)
    fading = np.clip((melting - T) / (melting - warm), 0.0, 1.0)
    return np.asarray(core * freezing * fading)


def at_room() -> float:
    """The middle point of the shelf's firming temperatures [K], about 21 degC."""
    return lookup("firming temperatures", POINTS[1])["temperature"]


def relative_rate(T: Floats | float, reference: float, energy: float | None = None) -> Floats:
    """Rate at T over the rate at `reference` [K]. Raises as `rate_at`, and when nothing firms there."""
    base = float(rate_at(reference, energy))
    if base <= 0.0:
        raise HardtackError(
            f"nothing firms at {celsius(reference):.0f} degC, so no rate can have been measured there",
            "state the temperature of the firming rate, such as 21 degC",
        )
    return rate_at(T, energy) / base


def extent(history: History, spec: Firming) -> Floats:
    """Share of the way to final firmness [n], 1 - exp(-(integral k dt)^n), put back by every re-warming."""
    return np.asarray(-np.expm1(-(reduced_time(history, spec) ** spec.n)))


def reduced_time(history: History, spec: Firming) -> Floats:
    """The integral of k dt [n], put back by every re-warming. Straight between the rows, as k is level there."""
    k = (
        spec.rate
        * _factor(spec, "rate")
        * relative_rate(history.temperature[1:], spec.temperature, spec.energy)
    )
    steps = k * np.diff(history.times)
    melting = _ends()[3]
    left = (-np.log1p(-spec.kept)) ** (1.0 / spec.n)
    reduced = np.zeros(history.times.size)
    for j, step in enumerate(steps):
        so_far = reduced[j] + step
        reduced[j + 1] = min(so_far, left) if history.temperature[j + 1] >= melting else so_far
    return reduced


def course(history: History, spec: Firming) -> FailureCourse:
    """Share of life used: of the way in firmness from fresh to the limit. It falls when re-warming refreshes.

    Raises `HardtackError` when the spec contradicts itself or a factor or energy cannot be.
    """
    _check(spec)
    way = extent(history, spec)
    at = _limit_share(spec)
    share = way / at
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=_moment(history, spec, at),
        limit=_limit_words(spec, at),
        meaning=(
            f"the {spec.layer} has gone stale by firming: its starch has set again. No water need be lost, "
            "and it is "
            "not the other stale, drying out"
        ),
        valid=(
            "rate and final firmness are two things: a factor on one leaves the other alone. The rate "
            "rises as it gets "
            "colder down to about 0 °C, fades below the freezing range and vanishes near 60 °C"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen=(
            f"firmness of the {spec.layer} on days 0, 1, 2, 4, 7 at two temperatures, 10 slices each, one "
            "method"
        ),
        told=_told(history, spec, at),
    )


def _moment(history: History, spec: Firming, at: float) -> float | None:
    """When the limit is met [s]: in reduced time, which runs straight between rows where the share is curved."""
    if at >= 1.0:
        return None
    limit = float(-np.log1p(-at)) ** (1.0 / spec.n)
    return first_time(history.times, reduced_time(history, spec) / limit)


def _factor(spec: Firming, on: str) -> float:
    return float(np.prod([effect.factor for effect in spec.effects if effect.on == on]))


def _limit_share(spec: Firming) -> float:
    """The limit as a share of the way; above 1 when the crumb never gets that firm."""
    if spec.limit_share is not None:
        return spec.limit_share
    assert spec.limit is not None  # checked, as the next two
    assert spec.fresh is not None
    assert spec.final is not None
    final = spec.final * _factor(spec, "final firmness")
    if final <= spec.fresh:
        return float("inf")
    return (spec.limit - spec.fresh) / (final - spec.fresh)


def _check(spec: Firming) -> None:
    problems = [
        Problem(
            f"{effect.name}: a factor of {effect.factor:g} on the {effect.on} of firming",
            "a factor is above zero: 0.6 slows to six tenths, 1 does nothing",
        )
        for effect in spec.effects
        if not effect.factor > 0
    ]
    firmness = (spec.limit, spec.fresh, spec.final)
    if (spec.limit_share is None) == (spec.limit is None):
        problems.append(
            Problem("firming needs one limit", "give a firmness in N, or a share of the way, not both")
        )
    elif spec.limit is not None and (spec.fresh is None or spec.final is None or not spec.fresh < spec.limit):
        problems.append(
            Problem(
                f"firmness fresh, limit, final: {firmness}",
                "give all three in N, the limit above the fresh firmness",
            )
        )
    if spec.limit_share is not None and not 0.0 < spec.limit_share < 1.0:
        problems.append(Problem(f"a limit of {spec.limit_share:g} of the way", "it lies between 0 and 1"))
    if spec.limit_share is not None and any(effect.on == "final firmness" for effect in spec.effects):
        problems.append(
            Problem(
                "an effect on the final firmness with a limit as a share of it",
                "give the limit as firmness in N",
            )
        )
    if not (spec.rate > 0 and spec.n > 0 and 0.0 <= spec.kept < 1.0):
        problems.append(
            Problem(
                f"firming rate {spec.rate:g} 1/s, exponent {spec.n:g}, kept on re-warming {spec.kept:g}",
                "rate and exponent are above zero; what is kept is a share from 0 to below 1",
            )
        )
    if problems:
        raise HardtackError(problems)


def _limit_words(spec: Firming, at: float) -> str:
    if spec.limit is None:
        return f"{spec.layer} {at:.0%} of the way to its final firmness"
    return f"{spec.layer} at {spec.limit:g} N (fresh {spec.fresh:g} N)"


def _told(history: History, spec: Firming, at: float) -> tuple[str, ...]:
    told = []
    frozen, cold, _, melting = _ends()
    T = history.temperature
    fast = (cold < T) & (T < 283.15)
    days_cold = float(np.diff(history.times)[fast[1:]].sum()) / DAY
    if days_cold > 0:
        told.append(
            f"{days_cold:.1f} days lie between the freezing point and 10 °C, where firming is fastest"
        )
    if T.min() < cold:
        told.append(
            f"frozen part of the way (down to {celsius(float(T.min())):.0f} °C): below about "
            f"{celsius(frozen):.0f} °C "
            "nothing firms, but freezing and thawing pass through the fastest range"
        )
    if T.max() >= melting:
        told.append(f"re-warmed above {celsius(melting):.0f} °C: taken back to {spec.kept:.0%} of the way")
    if at > 1.0:
        told.append("the final firmness lies below the limit: firming alone does not end this life")
    return tuple(told)
