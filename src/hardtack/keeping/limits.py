"""Which limits the product is judged by: the user's own, else the reference shelf's for its kind."""

from __future__ import annotations

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf
from hardtack.failures.texture import Softening, TextureLimit
from hardtack.product import Product
from hardtack.product.schema import CrispnessLimit, DryingLimit
from hardtack.sourced import Sourced, Used
from hardtack.states import Piece
from hardtack.units import ZERO_CELSIUS

ROOM = ZERO_CELSIUS + 25.0


def crispness_limit(product: Product, piece: Piece) -> tuple[TextureLimit | None, tuple[Used, ...]]:
    """The crispness limit. None when the file states only another limit and the shelf knows none.

    Raises `HardtackError` when nothing at all says when the product has failed.
    """
    spec = product.limits.crispness if product.limits else None
    if spec is not None:
        return _given(spec)
    for layer in piece.layers:
        for word in (product.kind, layer.isotherm.name, layer.name):
            try:
                row = reference.crispness_limit(word or "")
            except NotOnShelf:
                continue
            limit = TextureLimit(
                layer=layer.name,
                temperature=row["temperature"],
                activity=row["limit"],
                provenance=row.provenance,
                source=row.source.citation,
            )
            what = f"crispness limit of {layer.name} ({row.name}: {row.conditions})"
            return limit, (Used(what, row.values["limit"], False),)
    if product.limits and product.limits.drying_out:
        return None, ()
    raise HardtackError(
        "nothing says when this product has failed",
        "add limits, such as 'crispness: {layer: cracker, activity: 0.43, at: 25 degC}', or a 'kind' the shelf knows: "
        + ", ".join(row.name for row in reference.rows("crispness limits")),
    )


def _given(spec: CrispnessLimit) -> tuple[TextureLimit, tuple[Used, ...]]:
    T = spec.at.value if spec.at else ROOM
    softening = None
    used: list[Used] = []
    if spec.midpoint is not None and spec.steepness is not None and spec.failing_loss is not None:
        softening = Softening(spec.midpoint.value, spec.steepness.value, spec.failing_loss.value)
        used += [
            Used(f"{word} of crispness of {spec.layer}", amount, True)
            for word, amount in (
                ("midpoint", spec.midpoint),
                ("steepness", spec.steepness),
                ("failing loss", spec.failing_loss),
            )
        ]
    known = spec.activity or spec.moisture or spec.midpoint
    assert known is not None  # the product file has one of the three
    if spec.activity is not None or spec.moisture is not None:
        used.append(Used(f"crispness limit of {spec.layer}", known, True))
    limit = TextureLimit(
        layer=spec.layer,
        temperature=T,
        activity=spec.activity.value if spec.activity else None,
        moisture=spec.moisture.value if spec.moisture else None,
        softening=softening,
        provenance=known.provenance,
        source=known.source,
    )
    return limit, (*used, *_at(spec.at, T, f"crispness limit of {spec.layer}", spec.moisture is None))


def drying_limit(product: Product) -> tuple[TextureLimit | None, tuple[Used, ...]]:
    """The drying-out limit when the file states one."""
    spec: DryingLimit | None = product.limits.drying_out if product.limits else None
    if spec is None:
        return None, ()
    T = spec.at.value if spec.at else ROOM
    known = spec.moisture or spec.activity
    assert known is not None  # the product file has one of the two
    limit = TextureLimit(
        layer=spec.layer,
        temperature=T,
        activity=spec.activity.value if spec.activity else None,
        moisture=spec.moisture.value if spec.moisture else None,
        provenance=known.provenance,
        source=known.source,
    )
    what = f"drying-out limit of {spec.layer}"
    return limit, (Used(what, known, True), *_at(spec.at, T, what, spec.moisture is None))


def _at(given: Sourced | None, T: float, what: str, matters: bool) -> tuple[Used, ...]:
    if given is not None or not matters:
        return ()
    return (
        Used(f"temperature of the {what}", Sourced(T, "K", "assumed", "not stated", written="25 °C"), False),
    )
