"""What the stated error of an isotherm computed from a formula does to the date."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hardtack.dough import moved_in_activity
from hardtack.keeping.follow import follow
from hardtack.keeping.sentences import span
from hardtack.keeping.statement import IsothermError
from hardtack.piece import piece_with
from hardtack.product import LayerSpec, Product
from hardtack.states import Journey, Pack, Piece


def isotherm_errors(
    product: Product, piece: Piece, pack: Pack | None, journey: Journey
) -> tuple[IsothermError, ...]:
    """For every formula in use: the date with its isotherm moved up and down by its stated error in activity.

    Layers of one formula move together. A layer whose moisture and activity were both given keeps to that pair,
    so only the shape of its curve moves. Raises as `keep`.
    """
    formulas: dict[str, list[str]] = {}
    for part in product.piece.layers:
        if isinstance(part, LayerSpec) and part.formula is not None:
            formulas.setdefault(part.formula, []).append(part.name)
    return tuple(_error(product, piece, pack, journey, formula, layers) for formula, layers in formulas.items())


def _error(
    product: Product, piece: Piece, pack: Pack | None, journey: Journey, formula: str, layers: Sequence[str]
) -> IsothermError:
    isotherms = {layer.name: layer.isotherm for layer in piece.layers}
    rms = isotherms[layers[0]].activity_sd
    assert rms is not None  # every isotherm from a formula states it
    times = []
    for by in (rms, -rms):
        moved = {name: moved_in_activity(iso, by) if name in layers else iso for name, iso in isotherms.items()}
        other, _, _ = piece_with(product, moved)
        times.append(follow(product, other, pack, journey).first_time)
    soonest, latest = sorted(times, key=lambda time: math.inf if time is None else time)
    return IsothermError(formula, tuple(layers), rms, soonest, latest)


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
