"""What must hang together in fermentation, batch, leavening and structure of a formula."""

from __future__ import annotations

import difflib
from itertools import pairwise

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.product.complete import entries_of, has, list_of, quietly
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree
from hardtack.reference import lookup

ACIDS, ALLERGENS = "leavening acids", "allergens"


def check_dough(tree: Tree, formula: Entries, lines: list[Entries], origin: Origin) -> None:
    """Note what does not fit together; `lines` are all ingredients, those of pre-ferments too."""
    names = [_plain(line.get("ingredient")) for line in lines]
    _check_pre_ferments(tree, formula)
    _check_batch(tree, entries_of(formula, "batch"))
    _check_leavening(tree, entries_of(formula, "leavening"), origin)
    _check_structure(tree, entries_of(formula, "structure"), names)
    for line in lines:
        named = line.get("allergens")
        for allergen in named if isinstance(named, list) else ():
            if isinstance(allergen, str):
                _known(tree, ALLERGENS, allergen, line, "allergens")


def _plain(text: object) -> str:
    return " ".join(str(text or "").split())


def _known(tree: Tree, topic: str, name: str, holder: Entries, key: str) -> None:
    try:
        lookup(topic, name)
    except NotOnShelf as error:
        tree.problem(
            f"no {topic.removesuffix('s')} is called '{name[:40]}'",
            error.problems[0].mend,
            holder.line_of(key),
            (*holder.path, key),
        )


def _check_pre_ferments(tree: Tree, formula: Entries) -> None:
    seen: set[str] = set()
    for part in list_of(formula, "pre-ferments"):
        name = _plain(part.get("name")).casefold()
        if name and name in seen:
            tree.problem(
                "two pre-ferments have one name", "give each its own", part.line_of("name"), part.path
            )
        seen.add(name)
        if isinstance(part.get("ingredients"), list) and not part["ingredients"]:
            tree.problem(
                "the pre-ferment has no ingredient",
                "add '- {ingredient: bread flour, amount: 30 %}'",
                part.line_of("ingredients"),
                (*part.path, "ingredients"),
            )


def _check_batch(tree: Tree, batch: Entries) -> None:
    for one, other in (("dough", "pieces"), ("bake loss", "baked moisture")):
        if len(has(batch, one, other)) == 2:
            tree.problem(
                f"'{one}' and '{other}' at once: one follows from the other",
                "keep the one you know",
                batch.line_of(other),
                batch.path,
            )


def _check_leavening(tree: Tree, leavening: Entries, origin: Origin) -> None:
    powder, wanted = entries_of(leavening, "powder"), entries_of(leavening, "wanted")
    for holder, key in ((powder, "acid"), (wanted, "acid"), (leavening, "neutral with")):
        name = _plain(holder.get(key)) if isinstance(holder.get(key), str) else ""
        if name:
            _known(tree, ACIDS, name, holder, key)
    titration = entries_of(leavening, "titration")
    pressure = quietly(titration, "carbon dioxide", "pressure", origin)
    if pressure is not None and pressure.sd is None:
        tree.problem(
            "the carbon dioxide needs its spread: it moves the pH by whole units",
            "write it such as 200 ± 100 Pa (outside air about 40 Pa, cells full of gas up to 100 kPa)",
            titration.line_of("carbon dioxide"),
            (*titration.path, "carbon dioxide"),
        )
    points = titration.get("points")
    if isinstance(points, list):
        _check_points(tree, titration, list_of(titration, "points"), origin)


def _check_points(tree: Tree, titration: Entries, points: list[Entries], origin: Origin) -> None:
    read = [(quietly(p, "pH", "pH", origin), quietly(p, "alkali", "amount per mass", origin)) for p in points]
    pairs = [(pH.value, alkali.value) for pH, alkali in read if pH is not None and alkali is not None]
    if len(pairs) < len(points):
        return  # the schema says which cannot be read
    rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(pairs))
    if len(pairs) < 2 or not rising:
        tree.problem(
            "a titration needs two readings or more, with pH and alkali both rising",
            "give them in the order they were read, such as {pH: 5.8, alkali: 0 mmol/kg}",
            titration.line_of("points"),
            (*titration.path, "points"),
        )


def _check_structure(tree: Tree, structure: Entries, names: list[str]) -> None:
    turns = structure.get("turns")
    if isinstance(turns, list):
        for turn in turns:
            if isinstance(turn, str) and not _is_turn(turn):
                tree.problem(
                    f"a turn of '{turn[:20]}'",
                    "a fold in three is 3, a book turn 4: whole numbers from 2 to 6",
                    getattr(turn, "line", structure.line_of("turns")),
                    (*structure.path, "turns"),
                )
    if has(structure, "turns"):
        for key, example in (("rolled in", "butter"), ("rolled to", "3.5 mm")):
            if not has(structure, key):
                tree.problem(
                    f"'turns' without '{key}'",
                    f"add '{key}: {example}'",
                    structure.line_of("turns"),
                    structure.path,
                )
    rolled = structure.get("rolled in")
    if isinstance(rolled, str) and _plain(rolled).casefold() not in {name.casefold() for name in names}:
        near = difflib.get_close_matches(_plain(rolled), names, n=1)
        guess = f"perhaps '{near[0]}'; " if near else ""
        tree.problem(
            f"no ingredient is called '{rolled[:40]}'",
            f"{guess}the ingredients are: {', '.join(names)}",
            structure.line_of("rolled in"),
            (*structure.path, "rolled in"),
        )


def _is_turn(text: str) -> bool:
    try:
        return float(text) in (2.0, 3.0, 4.0, 5.0, 6.0)
    except (ValueError, HardtackError):
        return False
