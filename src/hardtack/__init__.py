"""Hardtack: how long a baked product keeps, why, and on which assumptions.

import hardtack
statement = hardtack.keep(hardtack.load("cracker.yaml"))
print(statement.sentence)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from hardtack.errors import HardtackError
from hardtack.version import VERSION as __version__  # noqa: N811 -- Python's own name for it

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement
    from hardtack.keeping import keep as keep
    from hardtack.keeping.certainty import Certainty
    from hardtack.keeping.certainty import certainty as certainty
    from hardtack.keeping.complaint import complaint as complaint
    from hardtack.keeping.measure_next import measure_next as measure_next
    from hardtack.keeping.remedies import remedies as remedies
    from hardtack.keeping.sweeping import open_sweep as open_sweep
    from hardtack.keeping.sweeping import sweep as sweep
    from hardtack.keeping.tradeoff import tradeoff as tradeoff
    from hardtack.product import Product, loads
    from hardtack.product import load as load
    from hardtack.product.found_spec import load_found as load_found

# The heavy rooms are opened when first asked for, so that `hardtack --help` answers at once.
_ROOMS = {
    "Certainty": "hardtack.keeping.certainty",
    "KeepingStatement": "hardtack.keeping",
    "Product": "hardtack.product",
    "certainty": "hardtack.keeping.certainty",
    "complaint": "hardtack.keeping.complaint",
    "keep": "hardtack.keeping",
    "load": "hardtack.product",
    "load_found": "hardtack.product.found_spec",
    "loads": "hardtack.product",
    "measure_next": "hardtack.keeping.measure_next",
    "open_sweep": "hardtack.keeping.sweeping",
    "remedies": "hardtack.keeping.remedies",
    "sweep": "hardtack.keeping.sweeping",
    "tradeoff": "hardtack.keeping.tradeoff",
}

__all__ = [
    "Certainty",
    "HardtackError",
    "KeepingStatement",
    "Product",
    "__version__",
    "certainty",
    "complaint",
    "keep",
    "load",
    "load_found",
    "loads",
    "measure_next",
    "open_sweep",
    "remedies",
    "sweep",
    "tradeoff",
]


def __getattr__(name: str) -> object:
    if name not in _ROOMS:
        raise AttributeError(f"module 'hardtack' has no {name!r}; it has: {', '.join(__all__)}")
    return getattr(import_module(_ROOMS[name]), name)
