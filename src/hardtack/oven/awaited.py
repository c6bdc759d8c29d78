"""What in a product file waits for the bake: asked of every product, so it opens nothing of the oven."""

from __future__ import annotations

from hardtack.product import Product
from hardtack.product.schema import LayerSpec


def computed_layers(product: Product) -> tuple[LayerSpec, ...]:
    """The layers whose water the bake gives: of the oven's formula, with neither moisture nor activity of their own."""
    if product.oven is None:
        return ()
    return tuple(
        part
        for part in product.piece.layers
        if isinstance(part, LayerSpec)
        and part.formula == product.oven.formula
        and part.moisture is None
        and part.activity is None
    )
