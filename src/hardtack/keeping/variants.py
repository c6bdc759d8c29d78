"""One batch of samples of a study: each one's chain, air, limits and factors, from the values of what is unsure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.cases import Case, case_of
from hardtack.keeping.doubt import Unsure
from hardtack.keeping.follow import verdicts
from hardtack.keeping.inputs import with_amounts
from hardtack.keeping.judged import Judged
from hardtack.keeping.moved_isotherms import MovedIsotherms, between, blended
from hardtack.keeping.study import Study, chain_of, film_moved, until
from hardtack.keeping.unsure import barriers_met
from hardtack.piece.materials import ROOM
from hardtack.sourced import Sourced
from hardtack.states import Climate, Floats, Isotherm, Journey, Leg, Pack
from hardtack.transport.chain import Chain
from hardtack.transport.many import Draws
from hardtack.transport.march import Watch
from hardtack.water.isotherm import activity_limit, moisture

DRIEST = 1e-3
"""Lowest activity of a limit or a start that a sample may draw."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Samples ready to march: chains, packs and journeys of each, factors and limits of all.

    `judged` are each sample's failures, in the order of the study's. `limits` [samples, watches, kg/kg]. `fit` tells
    samples whose product could be built from those that could not. `paces` [samples, failures].
    """

    chains: tuple[Chain, ...]
    packs: tuple[Pack | None, ...]
    journeys: tuple[Journey, ...]
    cases: tuple[Case, ...]
    judged: tuple[tuple[Judged | None, ...], ...]
    draws: Draws
    watches: tuple[Watch, ...]
    watched: tuple[int, ...]
    paces: Floats
    fit: np.ndarray


def batch_of(study: Study, values: Floats, horizon: float) -> Batch:
    """The samples of a study with these values [samples, numbers], as far as `horizon` [s]."""
    count = values.shape[0]
    cases, fit = _cases(study, values)
    judged = tuple(_judged(study, case) for case in cases)
    coordinates = {m.place: m.coordinates(values[:, m.place]) for m in study.curves}
    watched = tuple(k for k, one in enumerate(study.judged) if one.limit is not None)
    limits = np.stack(
        [_limits(study, k, values, coordinates, cases, judged) for k in watched] or [np.zeros(count)], axis=1
    )
    draws = replace(
        _factors(study, values, coordinates), limits={n: limits[:, n] for n in range(len(watched))}
    )
    watches = tuple(Watch(study.judged[k].layer, 1.0, study.judged[k].rising) for k in watched)
    packs, journeys = _airs(study, values, cases, horizon)
    return Batch(
        _chains(study, coordinates, cases, count), packs, journeys, cases, judged, draws, watches, watched,
        _paces(study, values), fit,
    )  # fmt: skip


def _of(study: Study, acts: str) -> list[tuple[int, Unsure]]:
    return [(k, one) for k, one in enumerate(study.doubt.listed) if one.acts == acts]


def _cases(study: Study, values: Floats) -> tuple[tuple[Case, ...], np.ndarray]:
    """The product as every sample has it: the study's own, or built anew where a plain number of the file varies."""
    fit = np.ones(values.shape[0], dtype=np.bool_)
    if not study.numbers:
        return (study.case,) * values.shape[0], fit
    listed = study.doubt.listed
    cases = []
    for s, row in enumerate(values):
        amounts = {}
        for k in study.numbers:
            path = listed[k].path
            assert path is not None  # a plain number has its place in the file
            amounts[path] = Sourced(float(row[k]), "", "assumed")
        try:
            cases.append(case_of(with_amounts(study.product, amounts)))
        except HardtackError:
            cases.append(study.case)
            fit[s] = False
    return tuple(cases), fit


def _judged(study: Study, case: Case) -> tuple[Judged | None, ...]:
    """The sample's failures in the study's order; None where one is not judged for it."""
    if case is study.case:
        return study.judged
    found = {
        (one.name, one.layer): one
        for one in verdicts(case.product, case.pieces, case.pack, case.journey)
        if isinstance(one, Judged)
    }
    return tuple(found.get((one.name, one.layer)) for one in study.judged)


def _isotherm(case: Case, layer: str) -> Isotherm:
    return next(part.isotherm for piece in case.pieces for part in piece.layers if part.name == layer)


def _moved(study: Study, layer: str) -> tuple[MovedIsotherms, int] | None:
    """The unsure curve a layer has, and which of its layers it is."""
    for moved in study.curves:
        if layer in moved.layers:
            return moved, moved.layers.index(layer)
    return None


def _on_isotherm(
    study: Study, layer: str, a: Floats, T: float, coordinates: dict[int, Floats], cases: Sequence[Case]
) -> Floats:
    """Moisture [samples, kg/kg] at each sample's activity on its own isotherm."""
    curve = _moved(study, layer)
    if study.numbers:
        found = np.empty_like(a)
        for s, case in enumerate(cases):
            iso = _isotherm(case, layer)
            found[s] = moisture(iso, float(np.clip(a[s], DRIEST, activity_limit(iso, T) - 1e-6)), T)
        if curve is None:
            return found
        own = _on_levels(study.layers[layer].isotherm, a, T)
    if curve is None:
        return _on_levels(study.layers[layer].isotherm, a, T)
    moved, place = curve
    levels = np.stack([_on_levels(level[place], a, T) for level in moved.levels])
    on_curve = between(levels, coordinates[moved.place])
    return on_curve if not study.numbers else found * on_curve / own


def _on_levels(iso: Isotherm, a: Floats, T: float) -> Floats:
    return np.asarray(moisture(iso, np.clip(a, DRIEST, activity_limit(iso, T) - 1e-6), T))


def _limits(
    study: Study,
    k: int,
    values: Floats,
    coordinates: dict[int, Floats],
    cases: Sequence[Case],
    judged: Sequence[tuple[Judged | None, ...]],
) -> Floats:
    """The moisture each sample fails at."""
    one = study.judged[k]
    limit = one.limit
    assert limit is not None
    unsure = next(
        ((n, u) for n, u in _of(study, "limit") if u.of[0] == one.name and one.layer in u.of[1:]), None
    )
    by = values[:, unsure[0]] if unsure is not None else None
    factor = _scale(study, one.layer, values)
    own = [found[k] for found in judged]
    stated = [one.limit if one is not None and one.limit is not None else limit for one in own]
    if limit.moisture is not None:
        held = np.array([one.moisture or limit.moisture for one in stated])
        return held * (by if by is not None else 1.0)
    a = np.array([one.activity_at_failure for one in stated])
    if by is not None:
        a = a + by
    return factor * _on_isotherm(study, one.layer, a, limit.temperature, coordinates, cases)


def _scale(study: Study, layer: str, values: Floats) -> Floats:
    """The factor on all moistures of a layer's isotherm."""
    factor = np.ones(values.shape[0])
    for k in study.scaled:
        if layer in study.doubt.listed[k].of:
            factor = factor * values[:, k]
    spec = study.specs[layer]
    if spec.moisture is not None and spec.activity is not None:
        # a pair measured with this error in its moisture: the isotherm runs through the pair
        for k, one in _of(study, "moisture"):
            if layer in one.of and one.spread == "not known":
                factor = factor * values[:, k]
    return factor


def _factors(study: Study, values: Floats, coordinates: dict[int, Floats]) -> Draws:
    count = values.shape[0]
    names = list(study.layers)
    scale = {name: _scale(study, name, values) for name in names}
    start = {name: np.ones(count) for name in names}
    dry = {name: np.ones(count) for name in names}
    passes = {name: np.ones(count) for name in names}
    for k, one in enumerate(study.doubt.listed):
        room = {"moisture": start, "mass": dry, "diffusivity": passes}.get(one.acts)
        for name in one.of if room is not None else ():
            assert room is not None
            room[name] = room[name] * values[:, k]
    if not study.numbers:
        for name in names:
            start[name] = start[name] * _by_activity(study, name, values, coordinates, scale[name])
    film = None if study.own_air else _film(study, values)
    return Draws(
        film=np.ones(count) if film is None else film,
        diffusivity=passes,
        isotherm={name: factor for name, factor in scale.items() if np.any(factor != 1.0)},
        moisture=start,
        dry_mass=dry,
        barriers=_barriers(study, values),
    )


def _by_activity(
    study: Study, name: str, values: Floats, coordinates: dict[int, Floats], scale: Floats
) -> Floats:
    """Where only the activity of a layer is given, its moisture goes with the isotherm and with the activity's error."""
    spec, layer = study.specs[name], study.layers[name]
    if spec.moisture is not None or spec.activity is None:
        return np.ones(values.shape[0])
    a = np.full(values.shape[0], spec.activity.value)
    for k, one in _of(study, "activity"):
        if name in one.of:
            a = a + values[:, k]
    T = spec.activity_at.value if spec.activity_at else ROOM
    return scale * _on_isotherm(study, name, a, T, coordinates, ()) / layer.moisture


def _film(study: Study, values: Floats) -> Floats:
    factor = np.ones(values.shape[0])
    for k, _ in _of(study, "permeance"):
        factor = factor * values[:, k]
    return factor


def _barriers(study: Study, values: Floats) -> dict[int, Floats]:
    order = [barrier.name for piece in study.case.pieces for barrier in barriers_met(piece)]
    found: dict[int, Floats] = {}
    for k, one in _of(study, "barrier"):
        for number, name in enumerate(order):
            if name in one.of:
                found[number] = values[:, k]
    return found


def _chains(
    study: Study, coordinates: dict[int, Floats], cases: Sequence[Case], count: int
) -> tuple[Chain, ...]:
    if study.numbers:
        bases = [
            study.base if case is study.case else chain_of(case.pieces, case.pack, study.temperatures)
            for case in cases
        ]
    else:
        bases = [study.base] * count
    if not study.curves:
        return tuple(bases)
    rows = [
        (tuple(study.base.names.index(name) for name in moved.layers), coordinates[moved.place])
        for moved in study.curves
    ]
    return tuple(
        blended(base, list(study.levels), [(layers, float(c[s])) for layers, c in rows])
        for s, base in enumerate(bases)
    )


def _airs(
    study: Study, values: Floats, cases: Sequence[Case], horizon: float
) -> tuple[tuple[Pack | None, ...], tuple[Journey, ...]]:
    """Each sample's pack and journey; the factors on the film stand in the pack, for unpacked legs have none."""
    cut = until(study.case.journey, horizon)
    if not study.own_air:
        return (study.case.pack,), (cut,)
    film = _film(study, values)
    energy = sum((values[:, k] for k, _ in _of(study, "energy")), np.zeros(values.shape[0]))
    warm, damp = _by_leg(study, "temperature", values), _by_leg(study, "humidity", values)
    packs, journeys = [], []
    for s, case in enumerate(cases):
        pack = case.pack
        if pack is not None:
            pack = replace(
                pack,
                whole_pack_factor=pack.whole_pack_factor * float(film[s]),
                film=film_moved(pack.film, float(energy[s])),
            )
        journey = cut if case is study.case else until(case.journey, horizon)
        legs = tuple(
            _in_air(leg, float(warm[s, n]), float(damp[s, n]), float(film[s]))
            for n, leg in enumerate(journey.legs)
        )
        packs.append(pack)
        journeys.append(replace(journey, legs=legs))
    return tuple(packs), tuple(journeys)


def _by_leg(study: Study, acts: str, values: Floats) -> Floats:
    names = [leg.name for leg in study.case.journey.legs]
    found = np.zeros((values.shape[0], len(names)))
    for k, one in _of(study, acts):
        found[:, names.index(one.of[0])] = values[:, k]
    return found


def _in_air(leg: Leg, warmer: float, damper: float, film: float) -> Leg:
    climate = leg.climate
    air = Climate(climate.times, climate.temperature + warmer, np.clip(climate.humidity + damper, 0.0, 1.0))
    opened = leg.opened
    if opened is not None and opened.reclosed is not None:
        opened = replace(opened, reclosed=opened.reclosed * film)
    return replace(leg, climate=air, opened=opened)


def _paces(study: Study, values: Floats) -> Floats:
    found = np.ones((values.shape[0], len(study.judged)))
    for k, one in _of(study, "pace"):
        for j, judged in enumerate(study.judged):
            if (judged.name, judged.layer) == one.of:
                found[:, j] = values[:, k]
    return found
