"""The record of products: every state a product file went through, and the files brought with it.

from hardtack.ledger import open_ledger, start_product, change, undo
ledger = open_ledger("ledger.sqlite")
first = start_product(ledger, text, "from a starter file")
"""

from hardtack.ledger.files import Brought, bring_file, brought_file, brought_files
from hardtack.ledger.opening import default_place, open_ledger
from hardtack.ledger.record import (
    Edit,
    Step,
    change,
    edit_at,
    head,
    heads,
    history,
    redo,
    start_product,
    undo,
)

__all__ = [
    "Brought",
    "Edit",
    "Step",
    "bring_file",
    "brought_file",
    "brought_files",
    "change",
    "default_place",
    "edit_at",
    "head",
    "heads",
    "history",
    "open_ledger",
    "redo",
    "start_product",
    "undo",
]
