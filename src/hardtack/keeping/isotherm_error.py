"""What the stated error of an isotherm computed from a formula does to the date."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hardtack.dough import moved_in_activity
from hardtack.keeping.follow import follow
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
    return tuple(_error(product, pieces, pack, journey, specs) for specs in formulas.values())


def _error(
    product: Product,
    pieces: Sequence[Piece],
    pack: Pack | None,
    journey: Journey,
    specs: Sequence[LayerSpec],
) -> IsothermError:
    layers = {layer.name: layer for piece in pieces for layer in piece.layers}
    rms = layers[specs[0].name].isotherm.activity_sd
    assert rms is not None  # every isotherm from a formula states it
    times = []
    for by in (rms, -rms):
        isotherms = {name: layer.isotherm for name, layer in layers.items()}
        for spec in specs:
            isotherms[spec.name] = moved_in_activity(
                isotherms[spec.name], by, _known(spec, layers[spec.name])
            )
        other, _, _ = pieces_with(product, isotherms)
        times.append(follow(product, other, pack, journey).first_time)
    soonest, latest = sorted(times, key=lambda time: math.inf if time is None else time)
    return IsothermError(specs[0].formula or "", tuple(spec.name for spec in specs), rms, soonest, latest)


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
