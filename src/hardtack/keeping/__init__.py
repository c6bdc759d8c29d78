"""The keeping statement: what fails first, when, why, how sure, and what it leans on."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hardtack.keeping.answer import keep as keep
    from hardtack.keeping.statement import KeepingStatement as KeepingStatement

__all__ = ["KeepingStatement", "keep"]

# Opened when first asked for: water at rest needs neither.
_ROOMS = {"KeepingStatement": "hardtack.keeping.statement", "keep": "hardtack.keeping.answer"}


def __getattr__(name: str) -> object:
    if name not in _ROOMS:
        raise AttributeError(f"module 'hardtack.keeping' has no {name!r}; it has: {', '.join(__all__)}")
    return getattr(import_module(_ROOMS[name]), name)
