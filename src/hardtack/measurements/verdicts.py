"""Accepted or rejected, as panel sheets have it."""

from __future__ import annotations

from hardtack.measurements.sheet import Cell

_ACCEPTED = {"accepted", "accept", "a", "ok", "acc"}
_REJECTED = {"rejected", "reject", "r", "not ok", "rej"}
_YES = {"yes", "y", "1", "true", "x", "1.0"}
_NO = {"no", "n", "0", "false", "0.0"}


def verdict(cell: Cell, *, rejects: bool) -> bool | None:
    """Whether the product was accepted; None when the cell does not say. In a column that `rejects`, yes is no."""
    word = f"{cell:g}" if isinstance(cell, float) else str(cell).lower().strip(" .")
    if word in _ACCEPTED:
        return True
    if word in _REJECTED:
        return False
    if word in _YES:
        return not rejects
    return rejects if word in _NO else None
