"""The piece as packed: what the product file says of it, completed from the reference shelf."""

from hardtack.piece.build import piece_of

__all__ = ["piece_of"]
