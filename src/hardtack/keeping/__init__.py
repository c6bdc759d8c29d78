"""The keeping statement: what fails first, when, why, how sure, and what it leans on."""

from hardtack.keeping.answer import keep
from hardtack.keeping.statement import KeepingStatement

__all__ = ["KeepingStatement", "keep"]
