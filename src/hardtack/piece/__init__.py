"""The piece as packed: what the product file says of it, completed from the reference shelf."""

from hardtack.piece.build import isotherms_of, piece_of, piece_with

__all__ = ["isotherms_of", "piece_of", "piece_with"]
