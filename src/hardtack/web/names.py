"""Names that may stand in a field: those of the reference shelf, and those the product file itself gives."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from hardtack.product.complete import entries_of, layers_of
from hardtack.product.tree import Tree
from hardtack.reference import rows, topics
from hardtack.sourced import PROVENANCES

SHELF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "isotherm": ("isotherms",),
        "diffusivity": ("diffusivities",),
        "film": ("films",),
        "climate": ("climates",),
        "whole-pack factor": ("whole pack factors",),
        "outside film coefficient": ("external coefficients",),
        "material": ("barriers",),
        "ingredient": ("ingredients",),
        "kind": ("crispness limits",),
    }
)
"""By key of the product file: the topics of the shelf whose names may stand there."""

MOST = 400


def names_for(key: str, tree: Tree) -> tuple[str, ...]:
    """What may be offered for a key; empty where any words will do."""
    if key == "formula":
        return tuple(entries_of(tree.root, "formulas"))
    if key == "layer":
        return tuple(str(layer["name"]) for layer in layers_of(tree) if "name" in layer)
    if key in ("origin", "from"):
        return PROVENANCES
    return _shelf(key)


@cache
def _shelf(key: str) -> tuple[str, ...]:
    known = topics()
    names = [row.name for topic in SHELF.get(key, ()) if topic in known for row in rows(topic)]
    return tuple(dict.fromkeys(names))[:MOST]
