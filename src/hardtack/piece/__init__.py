"""The piece as packed: what the product file says of it, completed from the reference shelf."""

from hardtack.piece.build import isotherms_of, piece_of, pieces_of, pieces_with

__all__ = ["isotherms_of", "piece_of", "pieces_of", "pieces_with"]
