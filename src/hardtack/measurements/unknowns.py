"""What is not known of a product, how far it may be off, and what each of it does to the date and to a trial."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.design import Knowledge
from hardtack.measurements.model import (
    Air,
    Model,
    first_limit,
    first_limit_met,
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
from hardtack.states import Floats, Isotherm
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
    """One unknown: its name, one standard deviation before the plan, and where that comes from."""

    name: str
    sd: float
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Unknowns:
    """All unknowns of a product, their covariance, and the slope of the date [days] on each."""

    model: Model
    listed: tuple[Unknown, ...]
    covariance: Floats
    days: float
    slope: Floats
    base: Model
    pair: bool

    def place(self, name: str) -> int:
        """Where an unknown stands in the list."""
        return [unknown.name for unknown in self.listed].index(name)

    def seen(self, **values: float) -> Floats:
        """A combination of unknowns by name (underscores for blanks)."""
        h = np.zeros(len(self.listed))
        for name, value in values.items():
            h[self.place(name.replace("_", " "))] = value
        return h

    def at_activity(self, a: float) -> Floats:
        """What a moisture read at activity `a` sees: the isotherm's error there."""
        h = np.zeros(len(self.listed))
        h[self.place(_knot(KNOTS[0])) : self.place(_knot(KNOTS[-1])) + 1] = _weights(a)
        return h

    def knowledge(self) -> Knowledge:
        """What is known before anything of the plan is measured."""
        return Knowledge(np.asarray(np.linalg.inv(self.covariance), dtype=np.float64), self.slope)


def _knot(a: float) -> str:
    return f"isotherm at {a:.1f}"


def _weights(a: float) -> Floats:
    return np.array([np.interp(a, KNOTS, np.eye(len(KNOTS))[k]) for k in range(len(KNOTS))])


def unknowns_of(model: Model, progress: Progress = lambda _: None) -> Unknowns:
    """The unknowns of a product with their spreads: its own ± where it states them, the shelf's by provenance.

    Raises `HardtackError` when nothing fails within the journey: then there is no date to narrow.
    """
    listed = _listed(model)
    base = _tabled(model)
    days = first_limit_met(base)
    if days is None:
        raise HardtackError(
            f"{model.product.name} does not fail within its journey, so there is no date to narrow",
            "let the last leg run 'until it fails'",
        )
    slope = np.zeros(len(listed))
    for k, unknown in enumerate(listed):
        step = _step(unknown)
        ends = [first_limit_met(*_moved_by(base, unknown.name, sign * step)) for sign in (1, -1)]
        # where one side no longer fails, the other one tells the slope
        high, low = (days if end is None else end for end in ends)
        width = 2 * step if None not in ends else step
        slope[k] = (high - low) / width
        progress((k + 1) / len(listed))
    return Unknowns(model, listed, _covariance(model, listed), days, slope, base, pair_given(model))


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
            np.log(moisture_courses(_moved_by(unknowns.base, unknown.name, sign * step)[0], times, journey))
            for sign in (1, -1)
        ]
        columns.append((ends[0] - ends[1]) / (2 * step))
    return np.stack(columns, axis=2)


def _step(unknown: Unknown) -> float:
    return (
        _STEP * unknown.sd if unknown.name in ("limit", "film energy") else min(_STEP * unknown.sd, _WIDEST)
    )


def _moved_by(base: Model, name: str, step: float) -> tuple[Model, float]:
    """The model with one unknown moved, and the shift of its limit."""
    layer = base.piece.layers[base.layer]
    if name == "limit":
        return base, step
    if name in ("permeance", "diffusivity"):
        return moved(base, {name: float(np.exp(step))}), 0.0
    if name == "film energy":
        film = replace(base.pack.film, E=base.pack.film.E + step)
        return replace(base, pack=replace(base.pack, film=film)), 0.0
    if name == "moisture packed":
        return with_layer(base, replace(layer, moisture=layer.moisture * float(np.exp(step)))), 0.0
    k = [_knot(a) for a in KNOTS].index(name)
    bump = np.array([_weights(float(a))[k] for a, _ in layer.isotherm.points])
    points = tuple(
        (a, X * float(np.exp(step * b))) for (a, X), b in zip(layer.isotherm.points, bump, strict=True)
    )
    return with_layer(base, replace(layer, isotherm=replace(layer.isotherm, points=points))), 0.0


def _tabled(model: Model) -> Model:
    """The model with its layer's isotherm as a table, which can be moved at one activity alone."""
    layer = model.piece.layers[model.layer]
    iso = layer.isotherm
    T = iso.reference_temperature
    if iso.enthalpies:  # a law of the constants that a table does not have: taken where the journey begins
        T = float(np.mean(model.journey.legs[0].climate.temperature))
    a = _GRID[activity_limit(iso, T) - 1e-3 > _GRID]
    points = tuple((float(x), float(moisture(iso, float(x), T))) for x in a)
    table = Isotherm(
        iso.name, "table", points=points, reference_temperature=T, heat=iso.heat, activity_range=iso.activity_range,
        branch=iso.branch, provenance=iso.provenance, source=iso.source,
    )  # fmt: skip
    return with_layer(model, replace(layer, isotherm=table))


def _listed(model: Model) -> tuple[Unknown, ...]:
    _, used, _ = piece_of(model.product)
    _, pack_used = pack_of(model.product)
    layer = model.piece.layers[model.layer]
    limit = first_limit(model)
    rates = _amounts(pack_used, "transmission rate of", "permeance of", "whole-pack factor", "film area")
    rates = [amount for amount in rates if amount.unit != "m2" or amount.sd or amount.low is not None]
    parts = [_relative(amount, "permeance") for amount in rates]
    energies = _amounts(pack_used, "activation energy of permeance")
    moistures = _amounts(used, f"moisture of {layer.name}", f"moisture, {layer.name}", "moisture")
    found = [
        Unknown(
            "permeance",
            float(np.sqrt(sum(sd**2 for sd, _ in parts))) or 0.05,
            _joined(why for _, why in parts),
        ),
        _energy(model, energies),
        Unknown("limit", *_limit(model, limit.provenance)),
        Unknown(
            "moisture packed", *(_relative(moistures[0], "moisture") if moistures else (0.05, "assumed"))
        ),
    ]
    D = _amounts(used, f"diffusivity of {layer.name}")
    known: Provenance = D[0].provenance if D else "assumed"
    found.append(Unknown("diffusivity", lookup(SPREADS, known)["diffusivity"], f"{known}, by the shelf"))
    sd = lookup(SPREADS, layer.isotherm.provenance)["isotherm"]
    found += [Unknown(_knot(a), sd, f"{layer.isotherm.provenance}, by the shelf") for a in KNOTS]
    return tuple(found)


def _energy(model: Model, energies: list[Sourced]) -> Unknown:
    E = model.pack.film.E
    if not energies:
        return Unknown("film energy", 0.3 * abs(E) or 5e3, "assumed")
    sd, why = _relative(energies[0], "energy")
    return Unknown("film energy", sd * abs(E) or 5e3, why)


def _limit(model: Model, known: Provenance) -> tuple[float, str]:
    limits = model.product.limits
    spec = limits.crispness if limits is not None else None
    if spec is not None:
        for amount in (spec.activity, spec.midpoint):
            if amount is not None and _own(amount):
                return _own(amount), "its own ±"
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


def _covariance(model: Model, listed: tuple[Unknown, ...]) -> Floats:
    """Errors of the isotherm hang together over a span of activity; a measured pair of the layer pins them."""
    sds = np.array([unknown.sd for unknown in listed])
    length = lookup("measurement spreads", "isotherm error")["length"]
    names = [unknown.name for unknown in listed]
    first = names.index(_knot(KNOTS[0]))
    correlation = np.eye(len(listed))
    a = np.array(KNOTS)
    block = np.exp(-0.5 * ((a[:, None] - a[None, :]) / length) ** 2) + 1e-6 * np.eye(a.size)
    correlation[first:, first:] = block
    covariance = np.asarray(correlation * np.outer(sds, sds))
    if not pair_given(model):
        return covariance
    layer = model.piece.layers[model.layer]
    at = float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature))
    h = np.zeros(len(listed))
    h[first:] = _weights(at)
    h[names.index("moisture packed")] = -1.0
    s = lookup("measurement spreads", "jar over a salt")["relative"]
    seen = covariance @ h
    return np.asarray(covariance - np.outer(seen, seen) / (float(h @ seen) + s**2))
