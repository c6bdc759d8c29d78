"""Why did that complaint happen: causes weighed by re-runs over their ranges, and the one measurement that decides."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.keeping.cases import Case, follow_many
from hardtack.keeping.complaint_causes import (
    Cause,
    Variant,
    base_case,
    causes_of,
    scaled,
    with_moistures,
)
from hardtack.keeping.complaint_readings import (
    READINGS,
    Reading,
    Shown,
    film_rate_of,
    log_likelihood,
    name_of,
    reading_words,
    shown_by,
    spread_of_model,
    usual_error,
    values_of,
)
from hardtack.keeping.judged import ROOM
from hardtack.product import FilmSpec, Product
from hardtack.product.found_spec import OF_A_LAYER, SEEN, Found
from hardtack.reference import Row, lookup
from hardtack.states import Floats, Isotherm
from hardtack.units import DAY

SAMPLES = 64
"""Quasi-random points over each cause's range and the file's own spread; a power of two, as Sobol' points ask for."""
AGREES = 3.0
"""How many standard deviations a reading may lie from the best cause's best run before no cause explains it."""
LEAST_GAIN = 0.6
"""Chance of telling two causes apart below which a measurement is not worth its while (0.5 is a coin)."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One cause: its share of belief after what was found (`after`) and before, and the best of its range in words.

    `expected` are what the readings would be under it, in words, in the order of the readings.
    """

    name: str
    before: float
    after: float
    best: str
    expected: tuple[str, ...]
    range: str


@dataclass(frozen=True, slots=True)
class Telling:
    """A measurement that would tell the two leading causes apart: the chance that it names the right one of them, even
    beforehand (0.5 a coin, 1 sure), what each foresees, and its effort (1 look, 2 bench, 3 laboratory)."""

    what: str
    right: float
    first: str
    second: str
    effort: float
    how: str


@dataclass(frozen=True, slots=True)
class Complaint:
    """What explains a complaint: causes, the likeliest first, and measurements that tell the first two apart."""

    product: str
    name: str
    day: float
    sentence: str
    found: tuple[str, ...]
    causes: tuple[Weighed, ...]
    telling: tuple[Telling, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Runs:
    """Every cause's runs over its range: variants and what they show, by cause; `chances` beforehand add up to 1."""

    product: str
    rows: tuple[Row, ...]
    chances: Floats
    variants: tuple[tuple[Variant, ...], ...]
    shown: tuple[tuple[Shown, ...], ...]
    isotherms: Mapping[str, Isotherm]


def complaint(
    product: Product,
    found: Found,
    progress: Callable[[float], None] | None = None,
    samples: int = SAMPLES,
) -> Complaint:
    """Weigh what may lie behind a complaint. `progress` is told the share of the runs done.

    Raises as `keep`, and `HardtackError` for layers, legs and causes that are not there.
    """
    runs = runs_of(product, found, progress, samples)
    return weigh(runs, found, readings_of(product, found))


def readings_of(product: Product, found: Found) -> tuple[Reading, ...]:
    """The complaint's readings with their errors, the usual one where none is stated. Raises for unknown layers."""
    names = [layer.name for layer in product.layers]
    made = []
    for spec in found.found:
        what, amount = spec.what, spec.amount
        layer = ""
        if what in OF_A_LAYER:
            layer = spec.layer or (names[0] if len(names) == 1 else "")
            if layer not in names:
                said = f"a layer “{layer}”" if layer else "which of its layers was measured"
                raise HardtackError(
                    f"{what}: the product does not tell {said}", f"layers: {', '.join(names)}"
                )
        sd = amount.sd
        if sd is None and amount.low is not None and amount.high is not None:
            sd = (amount.high - amount.low) / math.sqrt(12.0)
        if what == "hole":
            sd = None if sd is None else sd / amount.value
        sd = sd or usual_error(what, amount.value)
        made.append(Reading(what, layer, amount.value, sd, spec.at.value if spec.at else ROOM))
    return tuple(made)


def runs_of(
    product: Product,
    found: Found,
    progress: Callable[[float], None] | None = None,
    samples: int = SAMPLES,
) -> Runs:
    """Follow every cause over its range and the file's own spread. Raises as `complaint`."""
    from scipy.stats import qmc

    case = base_case(product, found)
    causes = causes_of(found, case)
    spreads = spreads_of(product)
    points = qmc.Sobol(d=4, scramble=True, rng=11).random(samples)
    rate = film_rate_of(case.pack.film if case.pack else None, _tested(product))
    variants = [[variant_at(cause, row, u, case, spreads) for u in points] for row, cause in causes]
    shown = []
    for k, made in enumerate(variants):
        followed = follow_many([one.case for one in made])
        shown.append(tuple(shown_by(one, what, rate) for one, what in zip(made, followed, strict=True)))
        if progress is not None:
            progress((k + 1) / len(variants))
    rows = tuple(row for row, _ in causes)
    chances = np.array([_chance(found, row.name) for row in rows])
    return Runs(
        product.name,
        rows,
        chances / chances.sum(),
        tuple(tuple(made) for made in variants),
        tuple(shown),
        {layer.name: layer.isotherm for piece in case.pieces for layer in piece.layers},
    )


def _chance(found: Found, name: str) -> float:
    for said, amount in found.chances.items():
        if lookup("complaint causes", said).name == name:
            return amount.value
    return 1.0


def _tested(product: Product) -> float | None:
    film = product.pack.film if product.pack else None
    return film.transmission.value if isinstance(film, FilmSpec) and film.transmission else None


def spreads_of(product: Product) -> tuple[float, float]:
    """Relative standard deviations of the pack's permeance and of the moisture when packed: the file's own, else those
    of a number measured without a stated error."""
    usual = lookup("input spreads", "measured here")
    film = product.pack.film if product.pack else None
    permeance, wet = usual["permeance"], usual["moisture"]
    if isinstance(film, FilmSpec) and film.transmission and film.transmission.sd:
        permeance = film.transmission.sd / film.transmission.value
    stated = [one.moisture for one in product.layers if one.moisture and one.moisture.sd]
    if stated:
        wet = max((one.sd or 0.0) / one.value for one in stated)
    return permeance, wet


def variant_at(cause: Cause, row: Row, u: Floats, case: Case, spreads: tuple[float, float]) -> Variant:
    """A cause at two places of its range, and the file's spread at two quantiles; `u` [4] between 0 and 1."""
    from scipy.special import ndtri

    made = cause(row, float(u[0]), float(u[1]))
    pack, wet = (
        float(np.exp(sd * ndtri(q))) for sd, q in zip(spreads, np.clip(u[2:], 1e-6, 1 - 1e-6), strict=True)
    )
    spread = with_moistures(made.case, lambda layer: layer.moisture * min(wet, 1.5))
    if spread.pack is not None:
        spread = replace(spread, pack=replace(spread.pack, film=scaled(spread.pack.film, pack)))
    return replace(made, case=spread, film=made.film * pack)


def weigh(runs: Runs, found: Found, readings: Sequence[Reading]) -> Complaint:
    """Belief in each cause: its chance beforehand times the mean likelihood over its runs, all adding up to 1."""
    logs = [log_likelihood(readings, found.seen, table, runs.isotherms) for table in runs.shown]
    marginal = np.array([_log_mean(each) for each in logs])
    after = np.log(runs.chances) + marginal
    after = np.exp(after - after.max())
    after /= after.sum()
    order = sorted(range(len(logs)), key=lambda k: -after[k])
    weights = [np.exp(each - each.max()) / np.exp(each - each.max()).sum() for each in logs]
    causes = tuple(_weighed(runs, k, float(after[k]), weights[k], readings) for k in order)
    telling = _telling(runs, order, weights, readings) if len(order) > 1 else ()
    return Complaint(
        product=runs.product,
        name=found.name or "complaint",
        day=found.day.value / DAY,
        sentence=_sentence(causes, telling),
        found=(
            *(
                f"{name_of(one.what, one.layer)} {reading_words(one.what, one.layer, one.value)}"
                for one in readings
            ),
            *found.seen,
        ),
        causes=causes,
        telling=telling,
        remarks=_remarks(runs, found, readings, order[0], logs[order[0]]),
    )


def _log_mean(values: Floats) -> float:
    top = float(values.max())
    return top + math.log(float(np.mean(np.exp(values - top))))


def _weighed(runs: Runs, k: int, after: float, weights: Floats, readings: Sequence[Reading]) -> Weighed:
    expected = []
    for reading in readings:
        values = values_of(reading, runs.shown[k], runs.isotherms)
        mean = float(np.sum(weights * values)) if np.all(np.isfinite(values)) else math.nan
        mean = math.exp(mean) if reading.what == "hole" else mean
        expected.append(
            reading_words(reading.what, reading.layer, mean) if math.isfinite(mean) else "nothing"
        )
    row = runs.rows[k]
    return Weighed(
        name=row.name,
        before=float(runs.chances[k]),
        after=after,
        best=runs.variants[k][int(np.argmax(weights))].words,
        expected=tuple(expected),
        range=f"{row.conditions} ({row.provenance})",
    )


def _telling(
    runs: Runs, order: Sequence[int], weights: Sequence[Floats], readings: Sequence[Reading]
) -> tuple[Telling, ...]:
    """Every measurement not yet taken, by the chance that it names the right one of the two leading causes."""
    first, second = order[0], order[1]
    taken = {(one.what, one.layer) for one in readings}
    found = []
    for what, layer in _candidates(runs):
        if (what, layer) in taken or (what == "activity" and ("moisture", layer) in taken):
            continue
        probe = Reading(what, layer, 1.0, 0.0, ROOM)
        a, b = (values_of(probe, runs.shown[k], runs.isotherms) for k in (first, second))
        if not (np.all(np.isfinite(a)) and np.all(np.isfinite(b))):
            continue
        right = 0.5 + 0.5 * _apart(what, a, weights[first], b, weights[second])
        row = reference.lookup(READINGS, what)
        said = [
            reading_words(what, layer, math.exp(mean) if what == "hole" else mean)
            for mean in (float(weights[first] @ a), float(weights[second] @ b))
        ]
        found.append(Telling(name_of(what, layer), right, said[0], said[1], row["effort"], row.conditions))
    # of equal worth the easier one first
    return tuple(sorted(found, key=lambda one: (-round(one.right, 2), one.effort)))


def _candidates(runs: Runs) -> list[tuple[str, str]]:
    found = list(runs.shown[0][0].numbers)
    return found + [("activity", layer) for what, layer in found if what == "moisture"]


def _apart(what: str, a: Floats, wa: Floats, b: Floats, wb: Floats) -> float:
    """Total variation distance of what the two causes foresee, the reading's error in it: 0 alike, 1 apart."""

    def width(values: Floats) -> Floats:
        if what == "hole":
            return np.full_like(values, usual_error(what, 1.0))
        own = np.array([usual_error(what, value) for value in values])
        return np.asarray(np.hypot(own, spread_of_model(what, values)))

    sa, sb = width(a), width(b)
    low = min((a - 4 * sa).min(), (b - 4 * sb).min())
    high = max((a + 4 * sa).max(), (b + 4 * sb).max())
    grid = np.linspace(low, high, 2001)

    def density(values: Floats, sd: Floats, w: Floats) -> Floats:
        z = (grid[:, None] - values) / sd
        found = np.exp(-0.5 * z**2) / sd @ w
        return np.asarray(found / found.sum())

    return float(0.5 * np.abs(density(a, sa, wa) - density(b, sb, wb)).sum())


def _sentence(causes: Sequence[Weighed], telling: Sequence[Telling]) -> str:
    first = causes[0]
    said = f"The likeliest cause is {first.name} ({first.best}): {first.after:.0%} of the belief among the causes weighed"
    if len(causes) < 2:
        return f"{said}."
    second = causes[1]
    said += f"; then {second.name} ({second.best}), {second.after:.0%}."
    if telling and telling[0].right > LEAST_GAIN:
        best = telling[0]
        said += (
            f" To tell the two apart measure {best.what}: {best.first} under the first, {best.second} under the second; "
            f"it names the right one of them {best.right:.0%} of the time."
        )
    else:
        said += " No measurement known here tells these two apart."
    return said


def _remarks(
    runs: Runs, found: Found, readings: Sequence[Reading], best: int, logs: Floats
) -> tuple[str, ...]:
    said = []
    at = int(np.argmax(logs))
    for reading in readings:
        values = values_of(reading, runs.shown[best], runs.isotherms)[at : at + 1]
        value = math.log(reading.value) if reading.what == "hole" else reading.value
        sd = math.hypot(reading.sd, float(spread_of_model(reading.what, values)[0]))
        off = abs(value - float(values[0])) / sd
        if off > AGREES:
            said.append(
                f"No cause weighed explains the {name_of(reading.what, reading.layer)}: even the likeliest is {off:.0f} standard "
                "deviations off. Look for another cause, or for a slip in the reading."
            )
    silent = [word for word in found.seen if all(SEEN[word][0] not in one.come for one in runs.shown[best])]
    said += [f"“{word}” says nothing here: that failure is not judged for this product." for word in silent]
    equal = (
        "equal chances beforehand"
        if not found.chances
        else "the chances beforehand that the complaint file gives"
    )
    said.append(
        f"Shares of belief are among these causes only, each over its whole range, from {equal}; they are no proof."
    )
    return tuple(said)
