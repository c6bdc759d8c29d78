"""Which limits of texture a product is judged by: the user's own, else the reference shelf's for its layers."""

from __future__ import annotations

from collections.abc import Callable

from hardtack import reference
from hardtack.errors import NotOnShelf
from hardtack.failures import crispness, crust, drying_out, sogginess
from hardtack.failures.texture import Softening, TextureLimit
from hardtack.keeping.judged import ROOM, Judged, NotJudged, Verdict, all_layers, words_of
from hardtack.product import CrispnessLimit, Product, WaterLimit
from hardtack.reference import Row
from hardtack.sourced import Sourced, Used
from hardtack.states import FailureCourse, History, Isotherm, Layer, Piece
from hardtack.water.isotherm import activity

CRUST_ROW = "bread crust"
"""The shelf's crispness limit that is one of crust: its layer drinks from the inside of its own piece."""

COURSES: dict[str, Callable[[History, TextureLimit, Isotherm], FailureCourse]] = {
    crispness.NAME: crispness.course,
    crust.NAME: crust.course,
    sogginess.NAME: sogginess.course,
    drying_out.NAME: drying_out.course,
}


def texture_failures(product: Product, pieces: tuple[Piece, ...]) -> tuple[Verdict, ...]:
    """Crispness, crust, sogginess and drying out: judged by a limit, or not judged."""
    layers = {layer.name: layer for layer in all_layers(pieces)}
    limits = product.limits
    found: list[Verdict] = []
    if limits is not None:
        for name, spec in (
            (crispness.NAME, limits.crispness),
            (crust.NAME, limits.crust),
            (sogginess.NAME, limits.sogginess),
            (drying_out.NAME, limits.drying_out),
        ):
            if spec is not None:
                limit, used = _given(spec, name)
                found.append(_judged(name, limit, layers[spec.layer], used))
    named = {verdict.name for verdict in found}
    taken = {verdict.layer for verdict in found if isinstance(verdict, Judged) and verdict.rising}
    found += _from_shelf(product, pieces, named, taken)
    named = {verdict.name for verdict in found}
    for name in (crispness.NAME, crust.NAME):
        if name not in named:
            found.append(NotJudged(name, "the file gives no limit, and the shelf knows none for its layers"))
    for name in (sogginess.NAME, drying_out.NAME):
        if name not in named:
            found.append(NotJudged(name, "the file gives no limit, and none is published"))
    return tuple(found)


def _judged(name: str, limit: TextureLimit, layer: Layer, used: tuple[Used, ...]) -> Judged:
    def course(history: History) -> FailureCourse:
        return COURSES[name](history, limit, layer.isotherm)

    return Judged(name, layer.name, course, used, limit, rising=name != drying_out.NAME)


def _from_shelf(
    product: Product, pieces: tuple[Piece, ...], named: set[str], taken: set[str]
) -> list[Verdict]:
    """Limits of the shelf for every layer it knows, unless the file states that failure or a limit of the layer.

    Where it knows none of several layers, the kind of product speaks for the driest.
    """
    found: list[Verdict] = []
    for layer in all_layers(pieces):
        row = _row(words_of(layer, pieces, product.kind))
        if row is None or layer.name in taken:
            continue
        name = crust.NAME if row.name == CRUST_ROW and len(all_layers(pieces)) > 1 else crispness.NAME
        if name not in named:
            found.append(_by_row(name, layer, row))
    if not found and not named and len(all_layers(pieces)) > 1:
        row = _row((product.kind or "",))
        if row is not None:
            driest = min(
                all_layers(pieces), key=lambda layer: float(activity(layer.isotherm, layer.moisture, ROOM))
            )
            found.append(_by_row(crispness.NAME, driest, row))
    return found


def _row(words: tuple[str, ...]) -> Row | None:
    for word in words:
        try:
            row = reference.crispness_limit(word)
        except NotOnShelf:
            continue
        if "limit" in row.values:
            return row
    return None


def _by_row(name: str, layer: Layer, row: Row) -> Verdict:
    limit = TextureLimit(
        layer=layer.name,
        temperature=row["temperature"],
        activity=row["limit"],
        provenance=row.provenance,
        source=row.source.citation,
    )
    fresh = float(activity(layer.isotherm, layer.moisture, limit.temperature))
    if name == crust.NAME and fresh >= row["limit"]:
        why = f"the {layer.name} is packed at activity {fresh:.2f}, above its limit of {row['limit']:.2f}: it is a soft crust"
        return NotJudged(name, why)
    what = f"{name} limit of {layer.name} ({row.name}: {row.conditions})".replace(
        "crispness limit of crust", "limit of crust"
    )
    return _judged(name, limit, layer, (Used(what, row.values["limit"], False),))


def _given(spec: CrispnessLimit | WaterLimit, name: str) -> tuple[TextureLimit, tuple[Used, ...]]:
    what = f"{name.replace(' ', '-')} limit of {spec.layer}"
    T = spec.at.value if spec.at else ROOM
    softening = None
    used: list[Used] = []
    known = spec.activity or spec.moisture
    if isinstance(spec, CrispnessLimit) and spec.midpoint and spec.steepness and spec.failing_loss:
        softening = Softening(spec.midpoint.value, spec.steepness.value, spec.failing_loss.value)
        known = spec.midpoint
        used += [
            Used(f"{word} of crispness of {spec.layer}", amount, True)
            for word, amount in (
                ("midpoint", spec.midpoint),
                ("steepness", spec.steepness),
                ("failing loss", spec.failing_loss),
            )
        ]
    assert known is not None  # the product file states the limit one way
    if softening is None:
        used.append(Used(what, known, True))
    limit = TextureLimit(
        layer=spec.layer,
        temperature=T,
        activity=spec.activity.value if spec.activity else None,
        moisture=spec.moisture.value if spec.moisture else None,
        softening=softening,
        provenance=known.provenance,
        source=known.source,
    )
    if spec.at is None and spec.moisture is None:
        at = Sourced(T, "K", "assumed", "not stated", written="25 °C")
        used.append(Used(f"temperature of the {what}", at, False))
    return limit, tuple(used)
