"""What must hang together in the failures of the file: layers that exist, keys that belong together."""

from __future__ import annotations

from typing import Any

from hardtack.product.complete import NEED_A_LAYER, entries_of, has, layers_of, list_of, need_together
from hardtack.product.tree import Entries, Tree

_DAY = {"seen after": "6 days", "activity": "0.95", "at": "21 degC"}
_GLASS = {"crystals after": "20 days", "moisture": "4 %db", "at": "25 degC"}


def check_layer_named(tree: Tree, given: Entries, name: Any, key: str) -> None:
    """Note a layer that the pieces do not have."""
    names = [" ".join(str(part["name"]).split()) for part in layers_of(tree) if "name" in part]
    word = " ".join(str(name or "").split())
    if word and names and word not in names:
        what, mend = f"no layer is called '{word[:60]}'", f"the layers are: {', '.join(names)}"
        tree.problem(what, mend, given.line_of(key), (*given.path, key))


def check_failures(tree: Tree) -> None:
    """Note every problem between keys of the failures."""
    failures = entries_of(tree.root, "failures")
    for key in NEED_A_LAYER:
        check_layer_named(tree, entries_of(failures, key), entries_of(failures, key).get("layer"), "layer")
    for key in ("mould", "checking"):
        spec = entries_of(failures, key)
        layers = spec.get("layers")
        for name in layers if isinstance(layers, list) else ():
            check_layer_named(tree, spec, name, "layers")
    _check_firming(tree, entries_of(failures, "firming"))
    _check_mould(tree, entries_of(failures, "mould"))
    _check_sugar(tree, entries_of(failures, "sugar"))
    rancidity = entries_of(failures, "rancidity")
    for key in ("rancidity", "marker", "acceptance"):
        _not_both(tree, entries_of(failures, key), "Q10", "activation energy")
    if rancidity and "pack" not in tree.root:
        what, mend = "rancidity without a pack", "the oxygen of the pack is in it: add 'pack:'"
        tree.problem(what, mend, rancidity.line, rancidity.path)


def _check_firming(tree: Tree, firming: Entries) -> None:
    need_together(tree, firming, "rate", "at", "at: 21 degC")
    need_together(tree, firming, "at", "rate", "rate: 0.27 1/day")
    _not_both(tree, firming, "limit", "firmness limit")
    for key in ("fresh firmness", "final firmness"):
        need_together(tree, firming, "firmness limit", key, f"{key}: 4 N")
        need_together(tree, firming, key, "firmness limit", "firmness limit: 12 N")
    energy = str(firming.get("apparent energy", "-")).strip()
    if not energy.startswith(("-", "−")):
        what = (
            "an apparent energy of firming above zero: bread firms faster when colder, down to about 4 degC"
        )
        where = (*firming.path, "apparent energy")
        tree.problem(what, "give it with a minus, or take it out", firming.line_of("apparent energy"), where)
    for effect in list_of(firming, "effects"):
        need_together(tree, effect, "factor", "on", "on: rate")
        need_together(tree, effect, "on", "factor", "factor: 0.6")


def _check_mould(tree: Tree, mould: Entries) -> None:
    if not mould:
        return
    way = " ".join(str(mould.get("way", "")).split())
    if way == "measured day":
        for key, example in _DAY.items():
            if not has(mould, key):
                tree.problem(
                    f"a measured day without '{key}'", f"add '{key}: {example}'", mould.line, mould.path
                )
    elif way in ("lines", "growth"):
        _stray(
            tree, mould, (*_DAY, "measured in"), "a measured day", "take it out, or write 'way: measured day'"
        )
    if way == "lines":
        keys = ("organism", "pH", "preservatives", "carbon dioxide")
        mend = "take it out, or write 'way: growth' or 'way: measured day'"
        _stray(tree, mould, keys, "a growth factor: the lines know none", mend)


def _check_sugar(tree: Tree, sugar: Entries) -> None:
    if not sugar:
        return
    _not_both(tree, sugar, "sugar", "glass")
    if not has(sugar, "sugar", "glass"):
        mend = "add 'sugar: sucrose' and 'must not: weep', or 'glass: sucrose' with the days to its crystals"
        tree.problem("nothing says which sugar", mend, sugar.line, sugar.path)
    need_together(tree, sugar, "sugar", "must not", "must not: weep")
    for key, example in _GLASS.items():
        need_together(tree, sugar, "glass", key, f"{key}: {example}")


def _not_both(tree: Tree, given: Entries, one: str, other: str) -> None:
    if has(given, one) and has(given, other):
        tree.problem(
            f"'{one}' and '{other}' at once", "keep one of the two", given.line_of(other), given.path
        )


def _stray(tree: Tree, given: Entries, keys: tuple[str, ...], belongs: str, mend: str) -> None:
    for key in has(given, *keys):
        tree.problem(f"'{key}' belongs to {belongs}", mend, given.line_of(key), (*given.path, key))
