"""From the product file through its bake to the piece that is packed."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING

from hardtack.oven.awaited import computed_layers
from hardtack.piece import piece_of
from hardtack.product import Product
from hardtack.sourced import Used
from hardtack.states import Piece

if TYPE_CHECKING:
    from hardtack.oven.baking import Baked

REMEMBERED = 8
"""Bakes kept in memory: a changed pack or journey leaves the bake as it was."""
_remembered: OrderedDict[str, Baked] = OrderedDict()
_guard = threading.Lock()


def baked_once(product: Product) -> Baked:
    """The bake of a product, remembered for as long as all it is computed from is written the same. Raises as `bake`."""
    from hardtack.oven.baking import bake

    key = repr((product.name, product.kind, product.formulas, product.pieces, product.oven))
    with _guard:
        found = _remembered.get(key)
    if found is None:
        found = bake(product)
        with _guard:
            _remembered[key] = found
            while len(_remembered) > REMEMBERED:
                _remembered.popitem(last=False)
    return replace(found, product=product)


def settled(product: Product) -> tuple[Product, tuple[Used, ...], tuple[str, ...]]:
    """The product with its bake's results, the numbers the bake leans on, and remarks.

    Untouched where no layer waits for the bake. Raises as `bake`.
    """
    if not computed_layers(product):
        return product, (), ()
    from hardtack.oven.handover import with_bake
    from hardtack.oven.words import caution_lines, headline

    baked = baked_once(product)
    return with_bake(product, baked), baked.used, (f"From the bake: {headline(baked)}", *caution_lines(baked))


def baked_piece(product: Product) -> tuple[Piece, tuple[Used, ...], tuple[str, ...]]:
    """The piece as packed, computed from its bake where the file leaves that open. Raises as `bake` and `piece_of`."""
    product, bake_used, said = settled(product)
    piece, used, remarks = piece_of(product)
    return piece, (*bake_used, *used), (*said, *remarks)
