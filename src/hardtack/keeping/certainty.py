"""How sure a date is: the day to which a share of packs keeps, with a confidence, from quasi-random samples."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.doubt import Unsure
from hardtack.keeping.many_dates import Moments, courses, moments
from hardtack.keeping.nested import FEW_STATES, STATES, Nest, normals, packs_for, quantile, shaped
from hardtack.keeping.study import Study, study_of
from hardtack.product import Product
from hardtack.sourced import Spread
from hardtack.states import Floats
from hardtack.units import DAY

SHARE, CONFIDENCE, SEED = 0.90, 0.80, 2024
FEWEST, MOST = 4, 16
"""Scrambles."""
GOOD_ENOUGH = 0.02
"""Standard error of the day, as a share of it, at which sampling stops."""
SOON = DAY / 2
"""Nor need it be smaller than this [s]."""
DRAWN = 128
"""Samples whose whole course is kept for the bands."""
TOO_MANY_LOST = 0.2
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class FirstFailure:
    """A failure, and the share of samples in which it comes first. `name` is empty for "none within the journey"."""

    name: str
    layer: str
    share: float


@dataclass(frozen=True, slots=True)
class Doubted:
    """One unsure number, for showing: what it is, how far it spreads, what the spread is, and where it comes from."""

    name: str
    told: str
    spread: Spread
    why: str


@dataclass(frozen=True, slots=True)
class Band:
    """A course with its samples' spread: `plain` as the file has it, and quantiles at 10, 50 and 90 % [times]."""

    name: str
    plain: Floats
    low: Floats
    median: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Certainty:
    """How sure the date is. Days are from packing.

    `day` is the answer: with `confidence`, at least `share` of the packs are still good then; None where that lies
    beyond the journey (`end`). `day_error` is its standard error from the sampling alone. `plain` is the date as the
    file has it, `median`, `low` and `high` the middle and the 10 and 90 % of all samples (None beyond the journey).
    `capped` is the share of samples that do not fail within the journey, `lost` of those that could not be followed.

    `good_days` with `good_low`, `good_median`, `good_high` is the share of packs still good over the days: what is sure
    with the confidence, the middle, and the other end alike. `bands` are the layers' activities over `band_days`,
    `life` the share of life the first failure of the plain answer has used. `dates` are all samples' days, sorted, the
    capped ones as inf.
    """

    product: str
    share: float
    confidence: float
    day: float | None
    day_error: float
    plain: float | None
    plain_failure: str
    median: float | None
    low: float | None
    high: float | None
    capped: float
    lost: float
    first: tuple[FirstFailure, ...]
    unsure: tuple[Doubted, ...]
    samples: int
    scrambles: int
    states: int
    packs: int
    seed: int
    end: float
    packed_on: str
    good_days: Floats
    good_low: Floats
    good_median: Floats
    good_high: Floats
    band_days: Floats
    bands: tuple[Band, ...]
    life: Band
    dates: Floats
    told: tuple[str, ...]
    version: str

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        from hardtack.keeping.certainty_words import sentence

        return sentence(self)

    def date(self, day: float | None) -> str:
        """The date of a day, where the product has its day of packing; else empty."""
        if day is None or not self.packed_on:
            return ""
        return (datetime.date.fromisoformat(self.packed_on) + datetime.timedelta(days=day)).isoformat()


def certainty(
    product: Product,
    share: float = SHARE,
    confidence: float = CONFIDENCE,
    *,
    seed: int = SEED,
    samples: int = 8192,
    progress: Progress = lambda _: None,
    threads: int | None = None,
) -> Certainty:
    """The day to which `share` of the packs keeps, with `confidence`, and all that belongs to it.

    Scrambled Sobol' samples, not knowing and the spread from pack to pack nested in one another, scramble by scramble until
    the day's standard error over the scrambles is below 2 % of it (or half a day), or `samples` are used up. The same
    seed gives the same bits, whatever `threads`. Raises as `keep`, and `HardtackError` for a share or confidence that
    is none, or when more than a fifth of the samples cannot be followed.
    """
    check_wanted(share, confidence)
    if samples < 2 * STATES * packs_for(share):
        raise HardtackError(
            f"{samples} samples tell no standard error", f"allow {2 * STATES * packs_for(share)} or more"
        )
    study = study_of(product)
    size = states_of(study) * packs_for(share)
    most = FEWEST if study.inside else min(MOST, samples // size)
    found, done = sampled(study, share, confidence, seed, most, progress, threads)
    nest = shaped([one.first for one in done], states_of(study), packs_for(share))
    lost = float(np.mean(np.isnan(nest.times)))
    if lost > TOO_MANY_LOST:
        raise HardtackError(
            f"{lost:.0%} of the samples cannot be followed: their numbers lie where the product cannot be built",
            "narrow the spreads the product file states, or give their values in a list",
        )
    return _answer(study, nest, done, share, confidence, seed, lost, found, threads)


def check_wanted(share: float, confidence: float) -> None:
    """Raise `HardtackError` for a share or a confidence that samples cannot tell."""
    for name, value in (("share of packs", share), ("confidence", confidence)):
        if not 0.5 <= value <= 0.98:
            raise HardtackError(
                f"a {name} of {value:g}",
                "give it from 0.5 to 0.98, such as 0.9: beyond that the ends of assumed spreads decide",
            )


def states_of(study: Study) -> int:
    """States of not knowing of one scramble: few where every sample takes passes."""
    return FEW_STATES if study.inside else STATES


def sampled(
    study: Study,
    share: float,
    confidence: float,
    seed: int,
    most: int,
    progress: Progress,
    threads: int | None,
) -> tuple[list[Floats], list[Moments]]:
    """Scramble by scramble until the day is sure enough: each one's values, and when its samples fail."""
    values: list[Floats] = []
    done: list[Moments] = []
    for scramble in range(most):
        values.append(
            study.doubt.values(normals(study.doubt, seed, scramble, states_of(study), packs_for(share)))
        )
        size = values[-1].shape[0]

        def step(count: int, past: int = scramble, size: int = size) -> None:
            progress(min(0.95, (past + count / size) / most))

        done.append(moments(study, values[-1], step, threads))
        if scramble + 1 >= min(FEWEST, most):
            nest = shaped([one.first for one in done], states_of(study), packs_for(share))
            day, error = nest.on_day(share, confidence), nest.error(share, confidence)
            if error <= max(GOOD_ENOUGH * day, SOON) if math.isfinite(day) else error == 0.0:
                break
    return values, done


def _answer(
    study: Study,
    nest: Nest,
    done: Sequence[Moments],
    share: float,
    confidence: float,
    seed: int,
    lost: float,
    values: Sequence[Floats],
    threads: int | None,
) -> Certainty:
    from hardtack.keeping.certainty_words import told
    from hardtack.version import VERSION

    flat = np.sort(nest.times[~np.isnan(nest.times)])
    low, median, high = (_day(quantile(flat, p)) for p in (0.1, 0.5, 0.9))
    plain = study.followed.first_time
    last = _last_shown(study, flat)
    at = np.linspace(0.0, last, 201)
    good = nest.good(at)
    every = np.concatenate([one[:: packs_for(share)] for one in values])[:DRAWN]
    bands, life, times = _bands(study, every, last, threads)
    first = study.followed.judged[0][1]
    capped = float(np.mean(np.isinf(flat)))
    return Certainty(
        product=study.product.name,
        share=share,
        confidence=confidence,
        day=_day(nest.on_day(share, confidence)),
        day_error=nest.error(share, confidence) / DAY,
        plain=None if plain is None else plain / DAY,
        plain_failure=f"{first.name} of the {first.layer}",
        median=median,
        low=low,
        high=high,
        capped=capped,
        lost=lost,
        first=_first(study, done),
        unsure=tuple(_doubted(one) for one in study.doubt.listed),
        samples=int(nest.times.size),
        scrambles=nest.times.shape[0],
        states=nest.times.shape[1],
        packs=nest.times.shape[2],
        seed=seed,
        end=study.end / DAY,
        packed_on=study.case.journey.packed_on,
        good_days=at / DAY,
        good_low=np.quantile(good, 1.0 - confidence, axis=0),
        good_median=np.median(good, axis=0),
        good_high=np.quantile(good, confidence, axis=0),
        band_days=times / DAY,
        bands=bands,
        life=life,
        dates=flat / DAY,
        told=told(study, capped, lost),
        version=VERSION,
    )


def _day(time: float) -> float | None:
    return time / DAY if math.isfinite(time) else None


def _doubted(one: Unsure) -> Doubted:
    return Doubted(one.name, one.told, one.spread, one.why)


def _last_shown(study: Study, flat: Floats) -> float:
    """How far pictures go [s]: a little beyond nine tenths of the samples."""
    far = quantile(flat, 0.95)
    return study.end if not math.isfinite(far) else min(study.end, 1.05 * max(far, 3600.0))


def _first(study: Study, done: Sequence[Moments]) -> tuple[FirstFailure, ...]:
    """Which failure comes first in what share of the samples, the most frequent first."""
    which = np.concatenate([one.which[~one.lost] for one in done])
    found = [
        FirstFailure(one.name, one.layer, float(np.mean(which == k))) for k, one in enumerate(study.judged)
    ]
    found.append(FirstFailure("", "", float(np.mean(which == -1))))
    return tuple(sorted((one for one in found if one.share > 0), key=lambda one: -one.share))


def _bands(
    study: Study, every: Floats, last: float, threads: int | None
) -> tuple[tuple[Band, ...], Band, Floats]:
    """The layers' activities and the share of life used, with their spread over some of the samples."""
    times = np.linspace(0.0, last, 61)
    names = tuple(study.layers)
    drawn = courses(study, np.concatenate([_plain(study), every]), times, 0, threads)
    held = ~np.isnan(drawn.activity[1:, 0, 0])
    layers = [
        _band(name, drawn.activity[0, :, k], drawn.activity[1:][held][:, :, k])
        for k, name in enumerate(names)
    ]
    first = study.followed.judged[0][1]
    life = _band(f"{first.name} of the {first.layer}", drawn.life[0], drawn.life[1:][held])
    return tuple(layers), life, times


def _plain(study: Study) -> Floats:
    """The values as the file has them."""
    return np.array([[one.law.centre for one in study.doubt.listed]])


def _band(name: str, plain: Floats, samples: Floats) -> Band:
    low, median, high = np.nanquantile(samples, (0.1, 0.5, 0.9), axis=0)
    return Band(name, plain, low, median, high)
