"""What may be left out because the rest of the file says it: one layer's share, thickness and name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hardtack.errors import HardtackError
from hardtack.product.quantities import Origin, read_quantity
from hardtack.product.tree import Entries, Path, Tree
from hardtack.sourced import Sourced

SLACK = 0.05
"""Of the piece's thickness, by which the sum of its layers may differ; common practice, no source."""
SHARE_SLACK = 0.005
"""By which the sum of the shares may differ from one: rounding to whole percents."""


def entries_of(parent: Any, key: str) -> Entries:
    """The mapping under `key`, or an empty one when something else, or nothing, stands there."""
    value = parent.get(key) if isinstance(parent, Entries) else None
    return value if isinstance(value, Entries) else Entries(getattr(parent, "line", 1), ())


def list_of(parent: Any, key: str) -> list[Entries]:
    """The mappings in the list under `key`; whatever else stands there is the schema's to refuse."""
    value = parent.get(key) if isinstance(parent, Entries) else None
    return [item for item in value if isinstance(item, Entries)] if isinstance(value, list) else []


def has(given: Entries, *keys: str) -> list[str]:
    """Which of the keys stand in the mapping, even when nothing readable follows them."""
    return [key for key in keys if key in given.key_lines]


def need_together(tree: Tree, given: Entries, key: str, needs: str, example: str) -> None:
    """Note that `key` says nothing without `needs`."""
    if has(given, key) and not has(given, needs):
        tree.problem(f"'{key}' without '{needs}'", f"add '{example}'", given.line_of(key), given.path)


def quietly(given: Entries, key: str, kind: str, origin: Origin) -> Sourced | None:
    """The quantity under `key`, or None when it is missing or cannot be read (the schema says why)."""
    if key not in given:
        return None
    try:
        return read_quantity(given[key], kind, origin)
    except HardtackError:
        return None


def pieces_of(tree: Tree) -> list[Entries]:
    """The kinds of piece in the file: under `piece`, or the list under `pieces`."""
    one = entries_of(tree.root, "piece")
    return [one] if one else list_of(tree.root, "pieces")


def layers_of(tree: Tree) -> list[Entries]:
    """What holds water in the file, of all kinds of piece in order."""
    return [part for piece in pieces_of(tree) for part in list_of(piece, "layers") if "barrier" not in part]


NEED_A_LAYER = ("firming", "fermentation", "sugar", "rancidity", "colour", "marker", "acceptance")
"""Failures that are of one layer."""


def complete(tree: Tree, origin: Origin) -> None:
    """Fill in shares, thicknesses and limits' layers; note sums that do not agree."""
    whole = Sourced(1.0, "", origin.provenance, "the whole piece", written="100 %")
    for piece in pieces_of(tree):
        parts = list_of(piece, "layers")
        if parts:
            depth = _depth(piece, origin)
            _fill(tree, parts, "share", whole, "share", origin, _shares_agree(tree, piece))
            _fill(tree, parts, "thickness", depth, "length", origin, _thicknesses_agree(tree, piece))
    layers = layers_of(tree)
    if len(layers) == 1 and isinstance(layers[0].get("name"), str):
        failures = entries_of(tree.root, "failures")
        limits = [*entries_of(tree.root, "limits").values(), *(failures.get(key) for key in NEED_A_LAYER)]
        for limit in limits:
            if isinstance(limit, Entries) and "layer" not in limit.key_lines:
                limit["layer"] = layers[0]["name"]
                limit.key_lines["layer"] = limit.line


def _depth(piece: Entries, origin: Origin) -> Sourced | None:
    """From the first end to the last [m]: a slab's thickness, a round piece's radius."""
    if piece.get("shape") == "slab":
        return quietly(piece, "thickness", "length", origin)
    diameter = quietly(piece, "diameter", "length", origin)
    if diameter is None:
        return None
    low, high, sd = (None if x is None else x / 2 for x in (diameter.low, diameter.high, diameter.sd))
    return replace(diameter, value=diameter.value / 2, low=low, high=high, sd=sd)


Agree = Callable[[float, float], None]


def _fill(
    tree: Tree, parts: list[Entries], key: str, whole: Sourced | None, kind: str, origin: Origin, agree: Agree
) -> None:
    """Give the one layer without `key` the rest of `whole`; where all have it, see that they agree.

    While a size that matters cannot be read, which is reported where it stands, there is nothing to add up;
    the layer then gets a stand-in, so that the schema does not call it missing as well.
    """
    amounts: list[Sourced | None] = [whole]
    open_parts = []
    for part in parts:
        barrier = "barrier" in part
        holder = entries_of(part, "barrier") if barrier and key == "thickness" else part
        if key in holder.key_lines:
            amounts.append(quietly(holder, key, kind, origin))
        elif not barrier:
            open_parts.append(part)
    if len(open_parts) > 1:
        return  # the schema reports each missing key
    known = [amount.value for amount in amounts if amount is not None]
    readable = whole is not None and len(known) == len(amounts)
    if not open_parts:
        if readable:
            agree(sum(known[1:]), known[0])
        return
    part = open_parts[0]
    part[key] = Sourced(known[0] if known else 1.0, "", "assumed") if whole is None else whole
    part.key_lines[key] = part.line
    if not readable or whole is None or len(known) == 1:
        return
    rest = known[0] - sum(known[1:])
    if rest > 0:
        part[key] = _rest(whole, rest, key)
        return
    tree.problem(
        f"the other layers leave no {key} for this one",
        f"give its {key}, and let all of them add up to {whole.written}",
        part.line,
        part.path,
    )


def _rest(whole: Sourced, rest: float, key: str) -> Sourced:
    """What the other layers leave of `whole`."""
    written = f"{rest * 100:.4g} %" if key == "share" else f"{rest * 1e3:.4g} mm"
    source = f"what the other layers leave of {whole.written}"
    return replace(whole, value=rest, low=None, high=None, sd=None, source=source, written=written)


def _shares_agree(tree: Tree, piece: Entries) -> Agree:
    def agree(total: float, _: float) -> None:
        if abs(total - 1.0) > SHARE_SLACK:
            tree.problem(
                f"the shares of the layers add up to {total * 100:.4g} %, not to 100 %",
                "put the shares right, or leave one out: it takes the rest",
                piece.line_of("layers"),
                (*piece.path, "layers"),
            )

    return agree


def _thicknesses_agree(tree: Tree, piece: Entries) -> Agree:
    def agree(total: float, whole: float) -> None:
        if abs(total - whole) > SLACK * whole:
            path: Path = (*piece.path, "layers")
            radius = "" if piece.get("shape") == "slab" else " from centre to surface"
            tree.problem(
                f"the layers are {total * 1e3:.4g} mm thick together, the piece {whole * 1e3:.4g} mm{radius}",
                "put the thicknesses right, or leave one layer's out: it takes the rest",
                piece.line_of("layers"),
                path,
            )

    return agree
