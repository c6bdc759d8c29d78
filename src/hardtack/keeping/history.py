"""Run the water through the journey: by quadrature when the film limits, by the march when it does not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hardtack.pack.desiccant import desiccant_piece
from hardtack.states import Crossing, FailureCourse, Floats, History, Isotherm, Journey, Leg, Pack, Piece
from hardtack.transport.lumped import Approach, approach
from hardtack.transport.resistance import inside_resistance
from hardtack.transport.surroundings import Stretch, surroundings
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity, moisture, slope

LUMPED_FROM = 30.0
"""Film over inside resistance from which one activity for the whole piece is good to about one part in a
hundred of the way (the mean lags the surface by that ratio); below it the march is run."""
ROWS = (
    "moisture",
    "activity",
    "headspace",
    "temperature",
    "humidity",
    "water_gained",
    "profile",
    "desiccant",
    "held",
)
"""What a history holds at each of its times, besides the leg."""
MEANS = ("temperature", "humidity")
"""The rows that hold a mean over the interval before, not a state."""
STILL_AIR_GAP = 1e-3
"""Air counted as lying on bare pieces [m] when there is no pack; it holds next to no water."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Water in every cell and in the headspace [cells+1, kg] at `time` [s]."""

    time: float
    water: Floats


def resistance_ratio(pieces: Sequence[Piece], stretches: Sequence[Stretch]) -> float:
    """Least ratio of film (or outside air) resistance to inside resistance over the legs and pieces, as packed."""
    return min(
        1.0
        / (
            float(np.max(leg.g))
            * inside_resistance(piece, tuple(layer.moisture for layer in piece.layers), float(np.mean(leg.T)))
        )
        for piece in pieces
        for leg in stretches
    )


def history_of(
    pieces: Sequence[Piece],
    pack: Pack | None,
    journey: Journey,
    stretches: Sequence[Stretch],
    watches: Sequence[tuple[str, float, bool]],
    standing: Standing | None = None,
) -> History:
    """The history over the journey, or from `standing` on, where its first leg begins. `watches` are (layer, moisture [kg/kg], rising) to look out for.

    Lumped when there is one piece of one layer, every leg's air is constant, and the film resists at least 30 times
    more than the inside. Raises `BalanceError` when the march's water balance fails.
    """
    ratio = resistance_ratio(pieces, stretches)
    steady = all(stretch.step_limit == math.inf for stretch in stretches)
    headspace = headspace_of(pieces, pack)
    dry_air = pack is not None and pack.desiccant is not None
    if (
        len(pieces) == 1
        and len(pieces[0].parts) == 1
        and steady
        and ratio >= LUMPED_FROM
        and not dry_air
        and not standing
    ):
        return _lumped(pieces[0], headspace, journey, stretches, watches, ratio)
    return _marched(pieces, pack, headspace, journey, stretches, watches, ratio, standing)


def output_times(legs: Sequence[Leg]) -> Floats:
    """Times at which the history is kept: leg ends, then day by day (finer in short legs, in steady air, and in
    the first day of an open end).

    Where the temperature swings by the day only whole days are kept, so that "the day's temperature" is a mean.
    """
    times = [np.array([legs[0].start])]
    for leg in legs:
        span = leg.end - leg.start
        swings = np.ptp(leg.climate.temperature) > 1e-9 and span > 2 * DAY
        whole_days = leg.start + np.append(np.arange(1, math.ceil(span / DAY - 1e-9)) * DAY, span)
        times.append(whole_days)
        if not swings:
            times.append(leg.start + np.linspace(0.0, span, 49)[1:])
        if leg.open_ended and not swings:
            times.append(leg.start + np.geomspace(600.0, min(span, DAY), 60))
    merged = np.unique(np.concatenate(times))
    kept: Floats = merged[np.concatenate([[True], np.diff(merged) > 1.0])]
    return kept


def air_between(stretches: Sequence[Stretch], times: Floats) -> tuple[Floats, Floats]:
    """Mean temperature [K] and humidity of the air over the interval before each time."""
    clock = np.concatenate([stretch.times for stretch in stretches])
    # legs meet at one time with two states; a hair apart keeps both
    clock = clock + np.concatenate(
        [
            np.where(np.arange(stretch.times.size) == 0, 1e-6 * (k > 0), 0.0)
            for k, stretch in enumerate(stretches)
        ]
    )
    slot = np.clip(np.searchsorted(clock, times, side="right") - 1, 0, clock.size - 2)
    dt, width = times - clock[slot], np.diff(clock)
    means = []
    for values in ([stretch.T for stretch in stretches], [stretch.a_out for stretch in stretches]):
        joined = np.concatenate(values)
        integral = np.r_[0.0, np.cumsum(width * (joined[1:] + joined[:-1]) / 2)]
        # straight between the points, so the integral is a parabola in each piece
        rise = (joined[slot + 1] - joined[slot]) / width[slot]
        upto = integral[slot] + joined[slot] * dt + rise * dt**2 / 2
        means.append(np.r_[joined[0], np.diff(upto) / np.diff(times)])
    return means[0], means[1]


def leg_of(legs: Sequence[Leg], times: Floats) -> NDArray[np.int64]:
    """Index of the leg each time closes in (a leg's end belongs to it)."""
    ends = np.array([leg.end for leg in legs])
    return np.minimum(np.searchsorted(ends, times, side="left"), len(legs) - 1).astype(np.int64)


def with_moment(history: History, time: float) -> History:
    """The history with a row at `time` [s], so that the moment of failure can be shown as it was.

    States are taken straight between the neighbouring rows, but for a layer watched there, whose moisture is
    the limit it met. Temperature and humidity are the means over the interval before a row: both halves of
    the interval keep its mean.
    """
    n = int(np.searchsorted(history.times, time))
    if n == history.times.size or history.times[n] == time or n == 0:
        return history
    w = (time - history.times[n - 1]) / (history.times[n] - history.times[n - 1])
    rows: dict[str, Any] = {"times": np.insert(history.times, n, time)}
    for name in ROWS:
        values = getattr(history, name)
        now = values[n] if name in MEANS else values[n - 1] * (1 - w) + values[n] * w
        rows[name] = np.insert(values, n, now, axis=0)
    rows["leg"] = np.insert(history.leg, n, history.leg[n])
    for crossing in history.crossings:
        if crossing.time == time:
            rows["moisture"][n, history.layers.index(crossing.layer)] = crossing.moisture
    return replace(history, **rows)


def at_rows(course: FailureCourse, times: Floats, history: History) -> FailureCourse:
    """A course computed over `times` [s], as it stands at the rows of a history cut and with a moment put in."""
    share = np.interp(history.times, times, course.share)
    if course.time is not None:
        share[history.times == course.time] = 1.0
    return replace(course, share=share)


def water_moved(pieces: Sequence[Piece], history: History) -> Floats:
    """Water each layer has gained since packing [n, layers, kg per pack]."""
    dry = np.array([layer.dry_mass * piece.count for piece in pieces for layer in piece.layers])
    return np.asarray((history.moisture - history.moisture[0]) * dry)


def until(history: History, time: float) -> History:
    """The history up to the first row at or after `time` [s]."""
    n = int(np.searchsorted(history.times, time)) + 1
    cut = {name: getattr(history, name)[:n] for name in ("times", "leg", *ROWS)}
    return replace(history, **cut)


def _lumped(
    piece: Piece,
    headspace: float,
    journey: Journey,
    stretches: Sequence[Stretch],
    watches: Sequence[tuple[str, float, bool]],
    ratio: float,
) -> History:
    layer = piece.layers[0]
    dry = layer.dry_mass * piece.count
    times = output_times(journey.legs)
    leg_at = leg_of(journey.legs, times)
    a = np.empty_like(times)
    X = np.empty_like(times)
    crossed: list[float | None] = [0.0 if _met(layer.moisture, w) else None for w in watches]
    X_now = layer.moisture
    for k, (leg, stretch) in enumerate(zip(journey.legs, stretches, strict=True)):
        T = float(stretch.T[0])
        course = _approach(layer.isotherm, X_now, stretch, dry, headspace)
        here = leg_at == k
        a[here] = course.activity(times[here] - leg.start)
        X[here] = moisture(layer.isotherm, a[here], T)
        for j, (_, X_limit, _) in enumerate(watches):
            if crossed[j] is None:
                reached = course.time_to(float(activity(layer.isotherm, X_limit, T)))
                if reached is not None and leg.start + reached <= leg.end:
                    crossed[j] = leg.start + reached
        a_end = float(course.activity(np.array([leg.end - leg.start]))[0])
        X_now = float(moisture(layer.isotherm, a_end, T))
    X[0] = layer.moisture
    T_air, RH = air_between(stretches, times)
    return History(
        layers=(layer.name,),
        times=times,
        moisture=X[:, None],
        activity=a[:, None],
        headspace=a,
        temperature=T_air,
        humidity=RH,
        leg=leg_at,
        crossings=tuple(Crossing(w[0], w[1], w[2], t) for w, t in zip(watches, crossed, strict=True)),
        method="lumped",
        resistance_ratio=ratio,
        imbalance=0.0,
        water_gained=dry * (X - layer.moisture),
        profile=np.zeros((times.size, 0)),
        desiccant=np.zeros((times.size, 0)),
        held=dry * X,
    )


def _met(X: float, watch: tuple[str, float, bool]) -> bool:
    return watch[1] <= X if watch[2] else watch[1] >= X


def _approach(iso: Isotherm, X: float, stretch: Stretch, dry: float, headspace: float) -> Approach:
    """The piece and the gas space of one activity: the vapour of the gas space adds a little to the slope."""
    T = float(stretch.T[0])
    vapour = headspace * float(vapour_density(float(saturation_pressure(T)), T)) / dry
    return approach(
        float(activity(iso, X, T)),
        float(stretch.a_out[0]),
        dry / float(stretch.g[0]),
        lambda a: np.asarray(slope(iso, a, T), dtype=np.float64) + vapour,
    )


def headspace_of(pieces: Sequence[Piece], pack: Pack | None) -> float:
    """Gas about the pieces [m3]."""
    if pack is not None and pack.headspace > 0:
        return pack.headspace
    return sum(piece.area * piece.count for piece in pieces) * STILL_AIR_GAP


def _marched(
    pieces: Sequence[Piece],
    pack: Pack | None,
    headspace: float,
    journey: Journey,
    stretches: Sequence[Stretch],
    watches: Sequence[tuple[str, float, bool]],
    ratio: float,
    standing: Standing | None,
) -> History:
    from hardtack.transport.chain import chain
    from hardtack.transport.march import Watch, march

    T_all = np.concatenate([stretch.T for stretch in stretches])
    within = list(pieces)
    if pack is not None and pack.desiccant is not None:
        within.append(desiccant_piece(pack.desiccant))
    cells = chain(within, headspace, (float(T_all.min()), float(T_all.max())))
    times = output_times(journey.legs)
    run = march(
        cells,
        surroundings(stretches),
        times,
        watches=[Watch(layer, X, rising) for layer, X, rising in watches],
        start=None if standing is None else standing.water,
    )
    layers = [layer for piece in pieces for layer in piece.layers]
    n = len(layers)
    own = int(cells.spans[n - 1, 1])
    held = run.layer_moisture(cells)
    X = held[:, :n]
    T_air, RH = air_between(stretches, run.times)
    a = np.stack(
        [np.asarray(activity(layer.isotherm, X[:, k], T_air)) for k, layer in enumerate(layers)], axis=1
    )
    return History(
        layers=cells.names[:n],
        times=run.times,
        moisture=X,
        activity=a,
        headspace=run.activity[:, -1],
        temperature=T_air,
        humidity=RH,
        leg=leg_of(journey.legs, run.times),
        crossings=tuple(
            Crossing(w[0], w[1], w[2], None if math.isnan(t) else float(t))
            for w, t in zip(watches, run.crossings, strict=True)
        ),
        method="transport",
        resistance_ratio=ratio,
        imbalance=run.imbalance,
        water_gained=run.inflow,
        profile_positions=cells.centres[:own],
        profile=run.activity[:, :own],
        profile_layer=np.repeat(np.arange(n), np.diff(cells.spans[:n], axis=1)[:, 0]),
        desiccant=held[:, n:],
        held=run.water.sum(axis=1),
        last_water=run.water[-1],
    )
