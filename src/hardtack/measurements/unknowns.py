"""What is not known of a product, how far it may be off, and what each of it does to the date and to a trial."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.judged import Judged
from hardtack.measurements.design import Knowledge
from hardtack.measurements.model import (
    Air,
    Model,
    first_limit_met,
    first_to_fail,
    moisture_courses,
    moved,
    pair_given,
    standing,
    with_layer,
)
from hardtack.pack import pack_of
from hardtack.piece import piece_of
from hardtack.reference import lookup
from hardtack.sourced import Provenance, Sourced, Used
from hardtack.states import Floats, Isotherm, Journey
from hardtack.water.isotherm import activity, activity_limit, moisture

KNOTS = tuple(round(0.1 * k, 1) for k in range(1, 10))
"""Activities at which the isotherm's error is carried, straight between them."""
_GRID = np.concatenate([np.arange(0.01, 0.1, 0.01), np.arange(0.1, 0.951, 0.025)])
_STEP = 0.5
"""Moves for slopes, in standard deviations: wide enough for the date's own round-off."""
_WIDEST = 0.08
SPREADS = "input spreads"
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Unknown:
    """One unknown: its name, one standard deviation before the plan, and where that comes from.

    `layers` are the places of the layers it is of, moved together: none for pack and limit.
    """

    name: str
    sd: float
    why: str
    layers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Unknowns:
    """All unknowns of a product, their covariance, and the slope of the date [days] on each.

    `failure` fails first, on day `days`. `bend` is what the date changes by when an unknown is moved one standard
    deviation up and down, summed: zero where it is linear. `kinds` are the layers that count as unsure, alike ones
    together.
    """

    model: Model
    listed: tuple[Unknown, ...]
    covariance: Floats
    days: float
    slope: Floats
    bend: Floats
    base: Model
    failure: Judged
    kinds: tuple[tuple[int, ...], ...]

    def place(self, name: str, layers: tuple[int, ...] = ()) -> int:
        """Where an unknown stands in the list."""
        return [(unknown.name, unknown.layers) for unknown in self.listed].index((name, layers))

    def seen(self, layers: tuple[int, ...] = (), **values: float) -> Floats:
        """A combination of unknowns by name (underscores for blanks), of these layers or of none."""
        h = np.zeros(len(self.listed))
        for name, value in values.items():
            h[self.place(name.replace("_", " "), layers)] = value
        return h

    def at_activity(self, layers: tuple[int, ...], a: float) -> Floats:
        """What a moisture of these layers read at activity `a` sees: the isotherm's error there."""
        h = np.zeros(len(self.listed))
        first = self.place(_knot(KNOTS[0]), layers)
        h[first : first + len(KNOTS)] = _weights(a)
        return h

    def label(self, layers: tuple[int, ...]) -> str:
        """The layers by name, empty where the piece has only one."""
        parts = self.model.piece.layers
        return " and ".join(parts[k].name for k in layers) if len(parts) > 1 else ""

    def knowledge(self) -> Knowledge:
        """What is known before anything of the plan is measured."""
        return Knowledge(np.asarray(np.linalg.inv(self.covariance), dtype=np.float64), self.slope)


def _knot(a: float) -> str:
    return f"isotherm at {a:.1f}"


def _weights(a: float) -> Floats:
    return np.array([np.interp(a, KNOTS, np.eye(len(KNOTS))[k]) for k in range(len(KNOTS))])


def unknowns_of(model: Model, progress: Progress = lambda _: None, only: str = "") -> Unknowns:
    """The unknowns of a product with their spreads: its own ± where it states them, the shelf's by provenance.

    Every layer counts as unsure, layers alike in isotherm and moisture together; with `only`, that layer alone.
    Raises `HardtackError` when no limit of texture is met within the journey: then there is no date to narrow.
    """
    kinds = tuple(
        kind for kind in _kinds(model) if not only or only in [model.piece.layers[k].name for k in kind]
    )
    base = _tabled(model, kinds)
    found = first_to_fail(base)
    if found is None:
        raise HardtackError(
            f"{model.product.name} does not fail within its journey, so there is no date to narrow",
            "let the last leg run 'until it fails'",
        )
    failure, days = found
    listed = _listed(model, failure, kinds)
    slope, bend = np.zeros(len(listed)), np.zeros(len(listed))
    for k, unknown in enumerate(listed):
        step = _step(unknown)
        ends = [first_limit_met(*_moved_by(base, unknown, sign * step)) for sign in (1, -1)]
        # where one side no longer fails, the other one tells the slope
        high, low = (days if end is None else end for end in ends)
        width = 2 * step if None not in ends else step
        slope[k] = (high - low) / width
        bend[k] = (high + low - 2 * days) * (unknown.sd / step) ** 2
        progress((k + 1) / len(listed))
    covariance = _covariance(model, listed, kinds)
    return Unknowns(model, listed, covariance, days, slope, bend, base, failure, kinds)


def _kinds(model: Model) -> tuple[tuple[int, ...], ...]:
    """Places of the layers, those alike in isotherm, moisture and diffusivity together."""
    found: list[list[int]] = []
    layers = model.piece.layers
    for k, layer in enumerate(layers):
        for kind in found:
            like = layers[kind[0]]
            if (like.isotherm, like.moisture, like.diffusivity) == (
                layer.isotherm, layer.moisture, layer.diffusivity
            ):  # fmt: skip
                kind.append(k)
                break
        else:
            found.append([k])
    return tuple(map(tuple, found))


def trial_slopes(unknowns: Unknowns, air: Air | None, times: Floats) -> Floats:
    """d ln(moisture) of every layer at times [s] in an air (the journey's without one), on every unknown.

    Shape [times, layers, unknowns].
    """
    journey = None if air is None else standing(air, float(times.max()))
    columns = []
    for unknown in unknowns.listed:
        step = _step(unknown)
        if unknown.name == "limit":
            columns.append(np.zeros((times.size, len(unknowns.base.piece.layers))))
            continue
        ends = [
            np.log(moisture_courses(_moved_by(unknowns.base, unknown, sign * step)[0], times, journey))
            for sign in (1, -1)
        ]
        columns.append((ends[0] - ends[1]) / (2 * step))
    return np.stack(columns, axis=2)


def _step(unknown: Unknown) -> float:
    return (
        _STEP * unknown.sd if unknown.name in ("limit", "film energy") else min(_STEP * unknown.sd, _WIDEST)
    )


def _moved_by(base: Model, unknown: Unknown, step: float) -> tuple[Model, float]:
    """The model with one unknown moved, and the shift of its limits."""
    if unknown.name == "limit":
        return base, step
    if unknown.name == "permeance":
        return moved(base, {"permeance": float(np.exp(step))}), 0.0
    if unknown.name == "film energy":
        film = replace(base.pack.film, E=base.pack.film.E + step)
        return replace(base, pack=replace(base.pack, film=film)), 0.0
    model = base
    for k in unknown.layers:
        model = _layer_moved(replace(model, layer=k), unknown.name, step)
    return replace(model, layer=base.layer), 0.0


def _layer_moved(model: Model, name: str, step: float) -> Model:
    layer = model.piece.layers[model.layer]
    if name == "diffusivity":
        return moved(model, {name: float(np.exp(step))})
    if name == "moisture packed":
        return with_layer(model, replace(layer, moisture=layer.moisture * float(np.exp(step))))
    k = [_knot(a) for a in KNOTS].index(name)
    bump = np.array([_weights(float(a))[k] for a, _ in layer.isotherm.points])
    points = tuple(
        (a, X * float(np.exp(step * b))) for (a, X), b in zip(layer.isotherm.points, bump, strict=True)
    )
    return with_layer(model, replace(layer, isotherm=replace(layer.isotherm, points=points)))


def _tabled(model: Model, kinds: tuple[tuple[int, ...], ...]) -> Model:
    """The model with the isotherms of these layers as tables, which can be moved at one activity alone."""
    for k in (k for kind in kinds for k in kind):
        layer = model.piece.layers[k]
        model = with_layer(
            replace(model, layer=k), replace(layer, isotherm=_table(layer.isotherm, model.journey))
        )
    return model


def _table(iso: Isotherm, journey: Journey) -> Isotherm:
    T = iso.reference_temperature
    if iso.enthalpies:  # a law of the constants that a table does not have: taken where the journey begins
        T = float(np.mean(journey.legs[0].climate.temperature))
    a = _GRID[activity_limit(iso, T) - 1e-3 > _GRID]
    points = tuple((float(x), float(moisture(iso, float(x), T))) for x in a)
    return Isotherm(
        iso.name, "table", points=points, reference_temperature=T, heat=iso.heat, activity_range=iso.activity_range,
        branch=iso.branch, provenance=iso.provenance, source=iso.source,
    )  # fmt: skip


def _listed(model: Model, failure: Judged, kinds: tuple[tuple[int, ...], ...]) -> tuple[Unknown, ...]:
    _, used, _ = piece_of(model.product)
    _, pack_used = pack_of(model.product)
    rates = _amounts(pack_used, "transmission rate of", "permeance of", "whole-pack factor", "film area")
    rates = [amount for amount in rates if amount.unit != "m2" or amount.sd or amount.low is not None]
    parts = [_relative(amount, "permeance") for amount in rates]
    energies = _amounts(pack_used, "activation energy of permeance")
    found = [
        Unknown(
            "permeance",
            float(np.sqrt(sum(sd**2 for sd, _ in parts))) or 0.05,
            _joined(why for _, why in parts),
        ),
        _energy(model, energies),
        Unknown("limit", *_limit(model, failure)),
    ]
    for kind in kinds:
        found += _of_layer(model, kind, used)
    return tuple(found)


def _of_layer(model: Model, kind: tuple[int, ...], used: Iterable[Used]) -> list[Unknown]:
    """What is not known of one layer, or of several alike: moisture when packed, diffusivity, isotherm."""
    layer = model.piece.layers[kind[0]]
    heads = [f"moisture of {layer.name}", f"moisture, {layer.name}"]
    moistures = _amounts(used, *heads, *(["moisture"] if len(model.piece.layers) == 1 else []))
    D = _amounts(used, f"diffusivity of {layer.name}")
    known: Provenance = D[0].provenance if D else "assumed"
    sd = lookup(SPREADS, layer.isotherm.provenance)["isotherm"]
    packed = _relative(moistures[0], "moisture") if moistures else (0.05, "assumed")
    return [
        Unknown("moisture packed", *packed, kind),
        Unknown("diffusivity", lookup(SPREADS, known)["diffusivity"], f"{known}, by the shelf", kind),
        *(Unknown(_knot(a), sd, f"{layer.isotherm.provenance}, by the shelf", kind) for a in KNOTS),
    ]


def _energy(model: Model, energies: list[Sourced]) -> Unknown:
    E = model.pack.film.E
    if not energies:
        return Unknown("film energy", 0.3 * abs(E) or 5e3, "assumed")
    sd, why = _relative(energies[0], "energy")
    return Unknown("film energy", sd * abs(E) or 5e3, why)


def _limit(model: Model, failure: Judged) -> tuple[float, str]:
    limits = model.product.limits
    spec = getattr(limits, failure.name.replace(" ", "_"), None)
    for key in ("activity", "midpoint"):
        amount = getattr(spec, key, None)
        if isinstance(amount, Sourced) and _own(amount):
            return _own(amount), "its own ±"
    assert failure.limit is not None  # what is met is a limit of texture
    known = failure.limit.provenance
    return lookup(SPREADS, known)["limit"], f"{known}, by the shelf"


def _amounts(used: Iterable[Used], *heads: str) -> list[Sourced]:
    return [number.amount for number in used if number.what.startswith(heads)]


def _own(amount: Sourced) -> float:
    """The spread an amount states: its sd, or that of an even range."""
    if amount.sd:
        return amount.sd
    if amount.low is not None and amount.high is not None:
        return (amount.high - amount.low) / float(np.sqrt(12))
    return 0.0


def _relative(amount: Sourced, what: str) -> tuple[float, str]:
    own = _own(amount)
    if own and amount.value:
        return own / abs(amount.value), "its own ±"
    return lookup(SPREADS, amount.provenance)[what], f"{amount.provenance}, by the shelf"


def _joined(words: Iterable[str]) -> str:
    return " and ".join(dict.fromkeys(words)) or "assumed"


def _covariance(model: Model, listed: tuple[Unknown, ...], kinds: tuple[tuple[int, ...], ...]) -> Floats:
    """Errors of an isotherm hang together over a span of activity; a measured pair of its layer pins them."""
    sds = np.array([unknown.sd for unknown in listed])
    length = lookup("measurement spreads", "isotherm error")["length"]
    s = lookup("measurement spreads", "jar over a salt")["relative"]
    names = [(unknown.name, unknown.layers) for unknown in listed]
    a = np.array(KNOTS)
    block = np.exp(-0.5 * ((a[:, None] - a[None, :]) / length) ** 2) + 1e-6 * np.eye(a.size)
    correlation = np.eye(len(listed))
    firsts = [names.index((_knot(KNOTS[0]), kind)) for kind in kinds]
    for first in firsts:
        correlation[first : first + a.size, first : first + a.size] = block
    covariance = np.asarray(correlation * np.outer(sds, sds))
    for kind, first in zip(kinds, firsts, strict=True):
        if not pair_given(replace(model, layer=kind[0])):
            continue
        layer = model.piece.layers[kind[0]]
        h = np.zeros(len(listed))
        at = float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature))
        h[first : first + a.size] = _weights(at)
        h[names.index(("moisture packed", kind))] = -1.0
        seen = covariance @ h
        covariance = np.asarray(covariance - np.outer(seen, seen) / (float(h @ seen) + s**2))
    return covariance
