"""What the stated error of an isotherm computed from a formula does to the date."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from hardtack.dough import moved_in_activity
from hardtack.keeping.cases import Case, follow_many
from hardtack.keeping.sentences import span
from hardtack.keeping.statement import IsothermError
from hardtack.piece import pieces_with
from hardtack.product import LayerSpec, Product
from hardtack.states import Journey, Layer, Pack, Piece
from hardtack.water.isotherm import activity


def isotherm_errors(
    product: Product, pieces: Sequence[Piece], pack: Pack | None, journey: Journey
) -> tuple[IsothermError, ...]:
    """For every formula in use: the date with its isotherm moved up and down by its stated error in activity.

    Layers of one formula move together. Where moisture and activity of a layer were both given, its curve
    keeps to that pair and moves away from it only. Raises as `keep`.
    """
    formulas: dict[str, list[LayerSpec]] = {}
    for part in product.layers:
        if part.formula is not None:
            formulas.setdefault(part.formula, []).append(part)
    layers = {layer.name: layer for piece in pieces for layer in piece.layers}
    errors = [_stated(layers[specs[0].name]) for specs in formulas.values()]
    moved = [
        Case(product, _moved(product, layers, specs, by), pack, journey)
        for specs, rms in zip(formulas.values(), errors, strict=True)
        for by in (rms, -rms)
    ]
    times = [followed.first_time for followed in follow_many(moved)]
    found = []
    for k, (name, specs) in enumerate(formulas.items()):
        soonest, latest = sorted(
            times[2 * k : 2 * k + 2], key=lambda time: math.inf if time is None else time
        )
        found.append(IsothermError(name, tuple(spec.name for spec in specs), errors[k], soonest, latest))
    return tuple(found)


def _stated(layer: Layer) -> float:
    """Error in activity of an isotherm from a formula; every one of them states it."""
    assert layer.isotherm.activity_sd is not None
    return layer.isotherm.activity_sd


def _moved(
    product: Product, layers: Mapping[str, Layer], specs: Sequence[LayerSpec], by: float
) -> tuple[Piece, ...]:
    """The pieces with the isotherms of one formula's layers moved in activity."""
    isotherms = {name: layer.isotherm for name, layer in layers.items()}
    for spec in specs:
        isotherms[spec.name] = moved_in_activity(isotherms[spec.name], by, _known(spec, layers[spec.name]))
    return pieces_with(product, isotherms)[0]


def _known(spec: LayerSpec, layer: Layer) -> tuple[float, ...]:
    """The activity, at the isotherm's own temperature, of a pair that was given."""
    if spec.moisture is None or spec.activity is None:
        return ()
    return (float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature)),)


def error_sentence(error: IsothermError, journey_end: float) -> str:
    """The error and what it does, in words. `journey_end` [s] is how far the journey was followed."""
    layers = " and the ".join(error.layers)
    head = (
        f"The isotherm of the {layers} is computed from the formula “{error.formula}”, good to about "
        f"±{error.rms:.2g} in activity; that alone "
    )
    if error.soonest is None:
        return f"{head}brings no failure within the {span(journey_end)} followed."
    if error.latest is None:
        return f"{head}moves the date from {span(error.soonest)} to beyond the {span(journey_end)} followed."
    return f"{head}moves the date from {span(error.soonest)} to {span(error.latest)}."
