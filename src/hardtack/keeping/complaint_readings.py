"""What each variant of a complaint would show on the bench, and how likely what was found is then."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.complaint_causes import Variant, mean_air
from hardtack.keeping.follow import Followed
from hardtack.pack.film import permeance_at
from hardtack.product.found_spec import OF_A_LAYER, SEEN
from hardtack.reference import lookup
from hardtack.states import Floats, Isotherm
from hardtack.units import DAY, ZERO_CELSIUS, wet_basis
from hardtack.water.air import saturation_pressure
from hardtack.water.isotherm import activity

READINGS = "complaint readings"
NO_HOLE = 1e-6
"""Width [m] that stands for no hole at all."""
TEST = (ZERO_CELSIUS + 38.0, 0.90)
COMPUTED = ("activity", "moisture", "pack gained", "headspace oxygen")
"""Readings the march computes; of the others the model has nothing to be wrong about."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing measured: `what`, of which `layer` ("" of the pack), `value` in SI with `sd`; an activity at `T` [K]."""

    what: str
    layer: str
    value: float
    sd: float
    T: float


@dataclass(frozen=True, slots=True)
class Shown:
    """What one variant shows at its age: numbers by (what, layer), and how far each failure has come by name.

    Of a failure, below 1 is its share of life used; above, 1 and the share of the age since it came.
    """

    numbers: Mapping[tuple[str, str], float]
    come: Mapping[str, float]


def shown_by(variant: Variant, followed: Followed, film_rate: float | None) -> Shown:
    """Everything a variant shows. `film_rate` [kg/m2/s] is the file's film by its test."""
    history, case = followed.history, variant.case
    numbers: dict[tuple[str, str], float] = {
        ("age", ""): variant.age,
        ("pieces", ""): float(sum(piece.count for piece in case.pieces)),
        ("mean temperature", ""): mean_air(case, variant.age)[0],
        ("mean humidity", ""): mean_air(case, variant.age)[1],
    }
    packed = {layer.name: layer.moisture for piece in case.pieces for layer in piece.layers}
    for k, name in enumerate(history.layers):
        numbers["moisture", name] = float(history.moisture[-1, k])
        numbers["moisture when packed", name] = packed[name]
    if case.pack is not None:
        numbers["pack gained", ""] = float(history.water_gained[-1])
        numbers["hole", ""] = max(variant.hole, NO_HOLE)
        numbers["whole-pack factor", ""] = case.pack.whole_pack_factor
        if film_rate is not None:
            numbers["film transmission", ""] = film_rate * variant.film
        if case.pack.oxygen < 0.2:
            from hardtack.pack.gas import gas_course

            course = gas_course(case.pack, case.journey, "oxygen", np.linspace(0.0, variant.age, 41))
            numbers["headspace oxygen", ""] = float(course.share[-1])
    come: dict[str, float] = {}
    for _, course_of in followed.judged:
        share = float(course_of.share[-1])
        if course_of.time is not None:
            share = 1.0 + (variant.age - course_of.time) / variant.age
        come[course_of.name] = max(share, come.get(course_of.name, 0.0))
    return Shown(numbers, come)


def film_rate_of(case_film: object, given: float | None) -> float | None:
    """The file's film by its own test [kg/m2/s], else at 38 degC and 90 % against 0 %."""
    if given is not None or case_film is None:
        return given
    T, wet = TEST
    return float(permeance_at(case_film, T) * saturation_pressure(T)) * wet  # type: ignore[arg-type]


def values_of(reading: Reading, table: Sequence[Shown], isotherms: Mapping[str, Isotherm]) -> Floats:
    """What each variant shows of one reading [variants]; not a number where it shows nothing of the kind."""
    what = "moisture" if reading.what == "activity" else reading.what
    found = np.array([one.numbers.get((what, reading.layer), math.nan) for one in table])
    if reading.what == "activity":
        found = np.array([float(activity(isotherms[reading.layer], X, reading.T)) for X in found])
    return np.log(found) if reading.what == "hole" else found


def log_likelihood(
    readings: Sequence[Reading],
    seen: Sequence[str],
    table: Sequence[Shown],
    isotherms: Mapping[str, Isotherm],
) -> Floats:
    """ln of the chance of what was found under each variant [variants]: normal errors, words by a logistic step."""
    total = np.zeros(len(table))
    for reading in readings:
        expected = values_of(reading, table, isotherms)
        value = math.log(reading.value) if reading.what == "hole" else reading.value
        sd = np.hypot(reading.sd, spread_of_model(reading.what, expected))
        z = (value - expected) / sd
        total += np.where(np.isfinite(z), -0.5 * z**2 - np.log(sd), -1e3)
    bite = lookup(READINGS, "seen")["bite"]
    for word in seen:
        failure, has_come = SEEN[word]
        sign = 1.0 if has_come else -1.0
        score = np.array([one.come.get(failure, math.nan) for one in table])
        judged = np.isfinite(score)
        chance = -np.logaddexp(0.0, -sign * (np.where(judged, score, 1.0) - 1.0) / bite)
        total += np.where(judged, chance, 0.0)
    return total


def spread_of_model(what: str, expected: Floats) -> Floats:
    """What the computation itself may be off, one standard deviation, for what it computes."""
    row = lookup(READINGS, "model")
    if what not in COMPUTED:
        return np.zeros_like(expected)
    if what == "activity":
        return np.full_like(expected, row["absolute"])
    return np.asarray(row["relative"] * np.abs(expected))


def usual_error(what: str, value: float) -> float:
    """One standard deviation of a reading whose error is not stated; of a hole, of its logarithm."""
    row = lookup(READINGS, what)
    absolute = row["absolute"] if "absolute" in row.values else 0.0
    relative = row["relative"] if "relative" in row.values else 0.0
    if what == "hole":
        return math.hypot(relative, 0.3)
    return math.hypot(absolute, relative * abs(value))


def reading_words(what: str, layer: str, value: float) -> str:
    """A reading as people write it."""
    said = {
        "moisture": lambda: f"{100 * wet_basis(value):.1f} %wb",
        "moisture when packed": lambda: f"{100 * wet_basis(value):.1f} %wb",
        "activity": lambda: f"{value:.2f}",
        "pack gained": lambda: f"{1e3 * value:.2g} g",
        "hole": lambda: "no hole" if value < 2 * NO_HOLE else f"{1e3 * value:.2g} mm",
        "film transmission": lambda: f"{value * DAY * 1e3:.2g} g/m2/day",
        "whole-pack factor": lambda: f"{value:.2g}",
        "mean temperature": lambda: f"{value - ZERO_CELSIUS:.0f} °C",
        "mean humidity": lambda: f"{100 * value:.0f} %",
        "pieces": lambda: f"{value:.0f}",
        "age": lambda: f"{value / DAY:.0f} days",
        "headspace oxygen": lambda: f"{100 * value:.1f} %",
    }
    return said[what]()


def name_of(what: str, layer: str) -> str:
    """A reading's name with its layer."""
    return f"{what} of the {layer}" if what in OF_A_LAYER else what
