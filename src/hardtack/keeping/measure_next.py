"""What to measure next: which number makes the date unsure, and by how much each real measurement would firm it up."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.certainty import CONFIDENCE, SEED, SHARE, check_wanted
from hardtack.keeping.doubt import Doubt, Unsure
from hardtack.keeping.laws import Law
from hardtack.keeping.many_dates import moments
from hardtack.keeping.nested import FEW_STATES, Nest, normals, packs_for, quantile, shaped
from hardtack.keeping.study import Study, study_of
from hardtack.keeping.variance import VarianceShare, variance_shares
from hardtack.product import Product
from hardtack.reference import Row, rows
from hardtack.sourced import Provenance, Spread
from hardtack.states import Floats
from hardtack.units import DAY

TOPIC = "measurement efforts"
STATES = 64
"""States of not knowing a measurement is weighed over."""
POINTS = 128
"""Of each of the two base samples of the variance shares."""
EARLIEST = 3600.0
"""A moment of failure counts as no sooner than this [s] where its logarithm is taken."""
NEGLIGIBLE = 0.005
"""Total share of the variance below which a measurement is not tried: it cannot firm the date up."""
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Measurement:
    """A real measurement and what it would do: `day` [days] is the stated day once it is made, `gain` how much later
    that is, `per_effort` the gain by day of hands' work. None where the day lies beyond the journey."""

    name: str
    of: tuple[str, ...]
    how: str
    error: str
    effort: float
    wait: float
    day: float | None
    gain: float | None
    per_effort: float | None
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class UnsureShare:
    """One unsure number, or several tied together, and its shares of the variance of the log of the date."""

    name: str
    told: str
    spread: Spread
    first: float
    total: float
    first_error: float
    total_error: float


@dataclass(frozen=True, slots=True)
class Next:
    """What to measure next: `measurements` by the days they would firm the date up, `shares` by total share.

    `day` is the stated day before any of them, None beyond the journey.
    """

    product: str
    share: float
    confidence: float
    day: float | None
    median: float | None
    end: float
    capped: float
    measurements: tuple[Measurement, ...]
    shares: tuple[UnsureShare, ...]
    samples: int
    seed: int
    told: tuple[str, ...]
    version: str

    @property
    def by_effort(self) -> tuple[Measurement, ...]:
        """The measurements by what a day of work gives, the most first."""
        return tuple(sorted(self.measurements, key=lambda one: -(one.per_effort or 0.0)))

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        from hardtack.keeping.next_words import sentence

        return sentence(self)


def measure_next(
    product: Product,
    share: float = SHARE,
    confidence: float = CONFIDENCE,
    *,
    seed: int = SEED,
    progress: Progress = lambda _: None,
    threads: int | None = None,
) -> Next:
    """Rank real measurements by the days they would firm up the stated day, and give the shares of the variance.

    The variance is that of the logarithm of the date: a sample that does not fail counts at the journey's end, one packed
    failed at an hour. A measurement draws the spreads it is for together, 1/sd2 = 1/sd2 + 1/error2, about the middle, and
    the same samples are followed again. Raises as `certainty`.
    """
    from hardtack.keeping.next_words import told
    from hardtack.version import VERSION

    check_wanted(share, confidence)
    study = study_of(product)
    groups = study.doubt.groups
    points = min(POINTS, 32) if study.inside else POINTS
    asked = (len(groups) + 2) * points
    parts = variance_shares(
        lambda u: _logs(study, u, lambda count: progress(0.5 * count / asked), threads), groups, len(study.doubt.listed),
        points, seed,
    )  # fmt: skip
    before = _nest(study, study.doubt, seed, share, threads)
    worth = {
        place for group, part in zip(groups, parts, strict=True) if part.total > NEGLIGIBLE for place in group
    }
    tries = _tries(study)
    found = []
    for n, one in enumerate(tries):
        after = _nest(study, one.doubt, seed, share, threads) if worth & set(one.places) else before
        found.append(_weighed(one, before, after, share, confidence))
        progress(0.5 + 0.5 * (n + 1) / len(tries))
    flat = before.times[~np.isnan(before.times)]
    day, median = before.on_day(share, confidence), quantile(flat, 0.5)
    capped = float(np.mean(np.isinf(flat)))
    return Next(
        product=product.name,
        share=share,
        confidence=confidence,
        day=_days(day),
        median=_days(median),
        end=study.end / DAY,
        capped=capped,
        measurements=tuple(sorted(found, key=lambda one: -(one.gain or 0.0))),
        shares=_shares(study, groups, parts),
        samples=asked + before.times.size * (1 + len(tries)),
        seed=seed,
        told=told(capped),
        version=VERSION,
    )


def _days(time: float) -> float | None:
    return time / DAY if math.isfinite(time) else None


def _logs(study: Study, u: Floats, done: Callable[[int], None], threads: int | None) -> Floats:
    """The log of the date at points of the unit cube, capped at the journey's end and at an hour."""
    from scipy.special import ndtri

    values = study.doubt.values(np.asarray(ndtri(np.clip(u, 1e-9, 1.0 - 1e-9))))
    first = moments(study, values, done, threads).first
    middle = float(np.nanmedian(np.minimum(first, study.end)))
    return np.asarray(np.log(np.clip(np.where(np.isnan(first), middle, first), EARLIEST, study.end)))


def _nest(study: Study, doubt: Doubt, seed: int, share: float, threads: int | None) -> Nest:
    """One wide scramble; the numbers of every doubt at the same normals, so that differences are theirs."""
    outer, inner = FEW_STATES if study.inside else STATES, packs_for(share)
    z = normals(study.doubt, seed, 0, outer, inner)
    return shaped([moments(study, doubt.values(z), threads=threads).first], outer, inner)


@dataclass(frozen=True, slots=True)
class _Try:
    """A measurement of some of what is unsure, and what would be unsure still."""

    row: Row
    places: tuple[int, ...]
    of: tuple[str, ...]
    error: str
    doubt: Doubt


def _tries(study: Study) -> list[_Try]:
    """Every measurement of the shelf with what it is for here: by layer, leg or failure, film and seals together."""
    listed = study.doubt.listed
    found: list[_Try] = []
    for row in rows(TOPIC):
        wanted = ("film", "seals") if row.form == "pack" else (row.form,)
        here = [
            k
            for k, one in enumerate(listed)
            if one.measured_by in wanted and one.spread == "not known" and one.law.spread > 0
        ]
        for places in _together(study.doubt, here, row.form):
            laws, said = _narrowed(study, row, places)
            of = tuple(dict.fromkeys(listed[k].name for k in places))
            found.append(_Try(row, places, of, said, study.doubt.narrowed(laws)))
    return found


def _together(doubt: Doubt, places: Sequence[int], form: str) -> list[tuple[int, ...]]:
    """What one measurement tells at once: tied constants, a leg's temperature and humidity, all of a pack's passage."""
    if form == "pack":
        return [tuple(places)] if len(places) > 1 else []
    tied = {place: ties.places for ties in doubt.ties for place in ties.places}
    by: dict[object, list[int]] = {}
    for k in places:
        key: object = doubt.listed[k].of if form == "climate" else tied.get(k, k)
        by.setdefault(key, []).append(k)
    return [tuple(group) for group in by.values()]


def _narrowed(study: Study, row: Row, places: Sequence[int]) -> tuple[dict[int, Law], str]:
    """The laws once the measurement is made, and its error in words."""
    listed = study.doubt.listed
    whole = math.sqrt(sum(listed[k].law.relative ** 2 for k in places)) if len(places) > 1 else 0.0
    laws: dict[int, Law] = {}
    said: list[str] = []
    for k in places:
        one = listed[k]
        error, words = _error(study, row, one)
        if len(places) > 1 and row.form in ("pack", "isotherm"):
            # one error for all of them together: each is drawn in by as much as their joint spread is
            joint = error / math.hypot(error, whole)
            laws[k] = one.law.narrowed(one.law.spread * joint / math.sqrt(max(1.0 - joint**2, 1e-12)))
        else:
            laws[k] = one.law.narrowed(error)
        said.append(words)
    return laws, ", ".join(dict.fromkeys(said))


def _error(study: Study, row: Row, one: Unsure) -> tuple[float, str]:
    """The error of the result in the unit of the number's law, and in words."""
    has = row.values
    if one.acts in ("temperature", "humidity"):
        error = row[one.acts]
        return error, f"± {error:.2g} K" if one.acts == "temperature" else f"± {100 * error:.2g} %RH"
    if one.acts == "activity" or (one.acts == "limit" and one.law.centre == 0.0):
        return row["activity"], f"± {row['activity']:.2g} in activity"
    if (
        one.acts == "isotherm" and one.law.centre == 0.0
    ):  # from a formula: in standard deviations of its activity
        sd = study.layers[one.of[0]].isotherm.activity_sd or 1.0
        return row["activity"] / sd, f"± {row['activity']:.2g} in activity"
    if one.acts == "moisture" and "error" not in has:  # read as an activity, of a moisture that goes with it
        given = study.specs[one.of[0]].activity
        a = given.value if given is not None else 0.5
        return row["activity"] / max(a, 0.05), f"± {row['activity']:.2g} in activity"
    error = row["error"]
    words = f"± {100 * error:.2g} %"
    if one.acts == "energy":
        film = study.case.pack.film.E if study.case.pack is not None else 0.0
        return error * (abs(film) or 3e4), words
    if one.acts == "number" and one.law.kind != "log-normal":
        return error * abs(one.law.centre or 1.0), words
    return error, words


def _weighed(one: _Try, before: Nest, after: Nest, share: float, confidence: float) -> Measurement:
    was, then = before.on_day(share, confidence), after.on_day(share, confidence)
    gain = (then - was) / DAY if math.isfinite(was) and math.isfinite(then) else None
    effort = one.row["effort"] / DAY
    return Measurement(
        name=one.row.name,
        of=one.of,
        how=one.row.conditions,
        error=one.error,
        effort=effort,
        wait=one.row["wait"] / DAY,
        day=_days(then),
        gain=gain,
        per_effort=None if gain is None else gain / effort,
        provenance=one.row.provenance,
    )


def _shares(
    study: Study, groups: Sequence[tuple[int, ...]], parts: Sequence[VarianceShare]
) -> tuple[UnsureShare, ...]:
    found = []
    for group, part in zip(groups, parts, strict=True):
        several = [study.doubt.listed[k] for k in group]
        name = several[0].name if len(several) == 1 else ", ".join(one.name for one in several)
        told = several[0].told if len(several) == 1 else "tied together"
        found.append(
            UnsureShare(
                name, told, several[0].spread, part.first, part.total, part.first_error, part.total_error
            )
        )
    return tuple(sorted(found, key=lambda one: -one.total))
