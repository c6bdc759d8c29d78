"""The moments of failure of many samples of one product: marched in batches, judged as `follow` judges one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures import firming
from hardtack.failures.names import FIRMING
from hardtack.failures.running import first_time
from hardtack.failures.texture import rising_share
from hardtack.keeping.history import air_between, leg_of, output_times
from hardtack.keeping.judged import Judged
from hardtack.keeping.settle import settled
from hardtack.keeping.study import Study, until
from hardtack.keeping.variants import Batch, batch_of
from hardtack.pack.stretches import stretches_of
from hardtack.states import Crossing, Floats, History
from hardtack.transport.many import Kept, Many, march_many
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.units import DAY

CHUNK = 64
"""Samples in memory at a time."""
Done = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Moments:
    """When samples fail: `times` [samples, failures, s], inf where a failure does not come within the journey.

    `lost` [samples] are true where a sample could not be followed (a product that cannot be built of its numbers).
    """

    times: Floats
    lost: np.ndarray

    @property
    def first(self) -> Floats:
        """The first failure of each sample [s]; inf for none, NaN for a lost one."""
        return np.where(self.lost, np.nan, self.times.min(axis=1))

    @property
    def which(self) -> np.ndarray:
        """Which failure comes first in each sample, -1 for none and for a lost one."""
        found = np.where(np.isfinite(self.times.min(axis=1)), self.times.argmin(axis=1), -1)
        return np.where(self.lost, -1, found)


def moments(study: Study, values: Floats, done: Done = lambda _: None, threads: int | None = None) -> Moments:
    """When each sample fails, from the values of what is unsure [samples, numbers].

    Samples are followed first as far as most need, and to the journey's end where that is too short. Each sample's
    bits depend on its own values only.
    """
    count = values.shape[0]
    times = np.full((count, len(study.judged)), np.inf)
    lost = np.zeros(count, dtype=np.bool_)
    horizons = list(dict.fromkeys((study.first_horizon, study.end)))
    left = np.arange(count)
    for n, horizon in enumerate(horizons):
        for start in range(0, left.size, CHUNK):
            rows = left[start : start + CHUNK]
            times[rows], lost[rows] = _followed(study, values[rows], horizon, threads)
            if n == 0:
                done(int(min(start + CHUNK, left.size)))
        left = left[~np.isfinite(times[left].min(axis=1)) & ~lost[left]]
    return Moments(times, lost)


def _others(study: Study) -> list[int]:
    """The failures that are judged from a history."""
    return [k for k, one in enumerate(study.judged) if one.limit is None]


def _followed(study: Study, values: Floats, horizon: float, threads: int | None) -> tuple[Floats, np.ndarray]:
    batch = batch_of(study, values, horizon)
    others = _others(study)
    kept: tuple[Kept, ...] = ("moisture", "headspace", "inflow", "temperature", "activity") if others else ()
    at = output_times(until(study.case.journey, horizon).legs) if others else np.array([0.0, horizon])
    many, stretches = _marched(study, batch, at, kept, threads, stop=not others)
    found = np.full((values.shape[0], len(study.judged)), np.inf)
    for n, k in enumerate(batch.watched):
        crossed = many.crossings[:, n]
        found[:, k] = np.where(np.isnan(crossed), np.inf, crossed)
    lost = ~batch.fit
    lost[many.failed] = True
    if others:
        for s in np.flatnonzero(~lost):
            history = history_of_sample(
                study, batch, many, stretches[s if len(stretches) > 1 else 0], at, int(s)
            )
            for k in others:
                found[s, k] = _moment(batch.judged[s][k], history, float(batch.paces[s, k]))
    return found, lost


def _marched(
    study: Study, batch: Batch, at: Floats, kept: Sequence[Kept], threads: int | None, *, stop: bool
) -> tuple[Many, list[list[Stretch]]]:
    """March the batch; a pack that depends on the air inside it is settled first."""
    if study.inside:
        stretches = [_settled_stretches(batch, s) for s in range(len(batch.journeys))]
    else:
        stretches = [_stretches(batch, s) for s in range(len(batch.journeys))]
    return _run(batch, stretches, at, kept, threads, stop), stretches


def _settled_stretches(batch: Batch, s: int) -> list[Stretch]:
    """The stretches of a pack that depends on the air inside it, settled with the pieces as the file has them: what
    differs in a sample's pieces acts on that air in the second place only."""
    return list(settled(batch.cases[s].pieces, batch.packs[s], batch.journeys[s], ()).stretches)


def _stretches(batch: Batch, s: int) -> list[Stretch]:
    """Where humidity swings in a steady temperature, steps span a day, not six hours: layer means within 1e-4 in
    activity, far below what samples differ by, in half the time."""
    found = stretches_of(batch.journeys[s], batch.packs[s], batch.cases[s].pieces)
    return [
        replace(one, step_limit=DAY) if 0.0 < one.step_limit < DAY and not np.ptp(one.T) else one
        for one in found
    ]


def _run(
    batch: Batch,
    stretches: Sequence[list[Stretch]],
    at: Floats,
    kept: Sequence[Kept],
    threads: int | None,
    stop: bool,
) -> Many:
    airs: list[Surroundings] = [surroundings(one) for one in stretches]
    count = len(batch.chains)
    alike = all(one is batch.chains[0] for one in batch.chains)
    return march_many(
        batch.chains[:1] if alike else batch.chains,
        airs,
        at,
        chain_of=None if alike else np.arange(count),
        air_of=None if len(airs) == 1 else np.arange(count),
        draws=batch.draws,
        watches=batch.watches,
        keep=kept,
        stop_when_all_crossed=stop and bool(batch.watches),
        threads=threads,
    )


def history_of_sample(
    study: Study, batch: Batch, many: Many, stretches: Sequence[Stretch], at: Floats, s: int
) -> History:
    """The history of one sample, as far as its failures look at it."""
    assert many.moisture is not None  # all of them were asked for
    assert many.headspace is not None
    assert many.inflow is not None
    assert many.activity is not None
    at = at if many.headspace.shape[1] == at.size else np.unique(np.r_[at, np.linspace(at[0], at[-1], 49)])
    layers = [layer for piece in batch.cases[s].pieces for layer in piece.layers]
    n = len(layers)
    own = int(batch.chains[s].spans[n - 1, 1])
    X = many.moisture[s][:, :n]
    T, RH = air_between(stretches, at)
    a = np.stack([_activities(batch, s, k, X[:, k], T) for k in range(n)], axis=1)
    return History(
        layers=tuple(layer.name for layer in layers),
        times=at,
        moisture=X,
        activity=a,
        headspace=many.headspace[s],
        temperature=T,
        humidity=RH,
        leg=leg_of(batch.journeys[s if len(batch.journeys) > 1 else 0].legs, at),
        crossings=tuple(
            Crossing(w.layer, float(batch.draws.limits[k][s]), w.rising, None if math.isnan(t) else float(t))
            for k, (w, t) in enumerate(zip(batch.watches, many.crossings[s], strict=True))
        ),
        method="transport",
        resistance_ratio=study.followed.history.resistance_ratio,
        imbalance=float(many.imbalance[s]),
        water_gained=many.inflow[s],
        profile_positions=batch.chains[s].centres[:own],
        profile=many.activity[s][:, :own],
        profile_layer=np.repeat(np.arange(n), np.diff(batch.chains[s].spans[:n], axis=1)[:, 0]),
    )


def _activities(batch: Batch, s: int, k: int, X: Floats, T: Floats) -> Floats:
    """Activity of layer `k` at moistures X and temperatures T, off the curves the sample marched on."""
    chain = batch.chains[s]
    x_half, intervals = chain.constants[k, 7:9]
    scale = batch.draws.isotherm.get(chain.names[k])
    u = X / (X + x_half * (1.0 if scale is None else scale[s])) * intervals
    i = np.minimum(u.astype(np.int64), chain.curves.shape[2] - 1)
    y = (u - i)[:, None] ** np.arange(4)
    by_temperature = np.einsum("tnc,nc->tn", chain.curves[k][:, i, :], y)
    if chain.temperatures.size == 1:
        return np.asarray(by_temperature[0])
    step = chain.temperatures[1] - chain.temperatures[0]
    w = np.clip((T - chain.temperatures[0]) / step, 0.0, chain.temperatures.size - 1.0)
    j = np.minimum(w.astype(np.int64), chain.temperatures.size - 2)
    n = np.arange(X.size)
    found: Floats = by_temperature[j, n] * (1.0 - w + j) + by_temperature[j + 1, n] * (w - j)
    return found


def _moment(one: Judged | None, history: History, pace: float) -> float:
    """When a failure that adds up comes [s], its pace times `pace`; inf when it does not, or is not judged here."""
    if one is None:
        return math.inf
    try:
        if one.name == FIRMING and isinstance(
            one.course, partial
        ):  # its share is no straight sum of its rate
            spec = one.course.keywords["spec"]
            time = firming.course(history, spec=replace(spec, rate=spec.rate * pace)).time
            return math.inf if time is None else time
        course = one.course(history)
    except HardtackError:
        if not one.bounded:
            raise
        return math.inf
    time = first_time(history.times, course.share * pace)
    if time is None and course.time is not None:  # a share that stands still once it is seen
        time = course.time / pace if course.time / pace <= history.times[-1] else None
    return math.inf if time is None else time


@dataclass(frozen=True, slots=True)
class Courses:
    """What happens in samples over `times` [s]: `activity` [samples, times, layers], and `life` [samples, times], the
    share of life that one failure has used."""

    times: Floats
    activity: Floats
    life: Floats


def courses(study: Study, values: Floats, times: Floats, k: int, threads: int | None = None) -> Courses:
    """Activities of the layers and the share of life used by failure `k` over `times`; samples lost are NaN."""
    kept: tuple[Kept, ...] = ("moisture", "headspace", "inflow", "temperature", "activity")
    layers = len(study.layers)
    a = np.full((values.shape[0], times.size, layers), np.nan)
    life = np.full((values.shape[0], times.size), np.nan)
    for start in range(0, values.shape[0], CHUNK):
        part = values[start : start + CHUNK]
        batch = batch_of(study, part, float(times[-1]))
        many, stretches = _marched(study, batch, times, kept, threads, stop=False)
        assert many.headspace is not None  # it was asked for
        at = (
            times
            if many.headspace.shape[1] == times.size
            else np.unique(np.r_[times, np.linspace(times[0], times[-1], 49)])
        )
        rows = np.searchsorted(at, times)
        for s in range(part.shape[0]):
            if batch.fit[s] and s not in many.failed:
                history = history_of_sample(
                    study, batch, many, stretches[s if len(stretches) > 1 else 0], times, s
                )
                a[start + s] = history.activity[rows]
                life[start + s] = _share_of_life(batch, k, history, s)[rows]
    return Courses(times, a, life)


def _share_of_life(batch: Batch, k: int, history: History, s: int) -> Floats:
    """The share of life one failure has used over a sample's history; NaN where it is not judged."""
    one = batch.judged[s][k]
    if one is None:
        return np.full(history.times.size, np.nan)
    if one.limit is not None:
        X = history.moisture[:, history.layers.index(one.layer)]
        return rising_share(X, float(batch.draws.limits[batch.watched.index(k)][s]))
    try:
        return np.asarray(one.course(history).share * batch.paces[s, k])
    except HardtackError:
        return np.full(history.times.size, np.nan)
