"""What must hang together in the formulas: sums, bases, names, and the layers that lean on them."""

from __future__ import annotations

import difflib

from hardtack.product.complete import SHARE_SLACK, entries_of, has, list_of, quietly
from hardtack.product.dough_checks import check_dough
from hardtack.product.formula_spec import BASES, CompositionSpec, counts_as_flour, kind_of_amount
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree

_BY_NAME = ("sugars", "polyols")


def check_formulas(tree: Tree, origin: Origin) -> None:
    """Note what does not fit together in the formulas and in the layers that name one."""
    formulas = entries_of(tree.root, "formulas")
    seen: dict[str, str] = {}
    for name in formulas:
        plain = " ".join(name.split())
        if plain in seen:
            tree.problem(
                f"two formulas are called '{plain}'",
                "give each a name of its own",
                formulas.line_of(name),
                formulas.path,
            )
        seen[plain] = name
        formula = entries_of(formulas, name)
        if formula:
            _check_formula(tree, formula, origin)
    for layer in list_of(entries_of(tree.root, "piece"), "layers"):
        if has(layer, "formula"):
            _check_layer(tree, layer, list(seen))


def _check_layer(tree: Tree, layer: Entries, names: list[str]) -> None:
    wanted = " ".join(str(layer.get("formula", "")).split())
    line, path = layer.line_of("formula"), (*layer.path, "formula")
    if has(layer, "isotherm"):
        tree.problem(
            "the layer has a formula and an isotherm: which of the two holds the water?",
            "keep the isotherm if it was measured, else the formula",
            line,
            layer.path,
        )
    if wanted and wanted not in names:
        near = difflib.get_close_matches(wanted, names, n=1)
        guess = f"perhaps '{near[0]}'; " if near else ""
        held = ", ".join(names) or "none: add 'formulas:' at the top"
        tree.problem(f"no formula is called '{wanted[:60]}'", f"{guess}the formulas are: {held}", line, path)


def _check_formula(tree: Tree, formula: Entries, origin: Origin) -> None:
    lines = list_of(formula, "ingredients")
    if isinstance(formula.get("ingredients"), list) and not formula["ingredients"]:
        tree.problem(
            "the formula has no ingredient",
            "add '- {ingredient: bread flour, amount: 100 %}'",
            formula.line_of("ingredients"),
            (*formula.path, "ingredients"),
        )
    parts = list_of(formula, "pre-ferments")
    _check_twice(tree, lines)
    for part in parts:
        _check_twice(tree, list_of(part, "ingredients"))
    inside = [part for part in parts if not has(part, "amount")]
    everywhere = [*lines, *(line for part in parts for line in list_of(part, "ingredients"))]
    check_dough(tree, formula, everywhere, origin)
    for line in everywhere:
        composition = entries_of(line, "composition")
        if composition:
            _check_composition(tree, line, composition, origin)
    basis = " ".join(str(formula.get("basis", "")).replace("’", "'").lower().split())
    counted = [*lines, *(line for part in inside for line in list_of(part, "ingredients"))]
    if counted and basis in BASES and _amounts_fit(tree, everywhere, basis, origin):
        outside = [part for part in parts if has(part, "amount")]
        if _amounts_fit(tree, outside, basis, origin):
            _check_sum(tree, formula, [*counted, *outside], basis, origin)


def _name(line: Entries) -> str:
    """Name of an ingredient, or of a pre-ferment that is counted as one."""
    return " ".join(str(line.get("ingredient", line.get("name", ""))).split())


def _check_twice(tree: Tree, lines: list[Entries]) -> None:
    first: dict[str, int] = {}
    for line in lines:
        name = _name(line)
        if name and name.casefold() in first:
            tree.problem(
                f"the ingredient '{name[:60]}' stands twice, first in line {first[name.casefold()]}",
                "add the two amounts up in one line",
                line.line_of("ingredient"),
                (*line.path, "ingredient"),
            )
        first.setdefault(name.casefold(), line.line_of("ingredient"))


def _amounts_fit(tree: Tree, lines: list[Entries], basis: str, origin: Origin) -> bool:
    """Whether every amount can be read in the formula's basis; a mass among percents is noted here."""
    fit = True
    kind = kind_of_amount(basis)
    other = "proportion" if kind == "mass" else "mass"
    for line in lines:
        if quietly(line, "amount", kind, origin) is not None:
            continue
        fit = False
        if quietly(line, "amount", other, origin) is not None:
            what, example = ("a mass", "58 %") if other == "mass" else ("a percent", "1.2 kg")
            tree.problem(
                f"the amount of '{_name(line)[:60]}' is {what}, but the formula is in {basis}",
                f"write it such as {example}, or change the basis",
                line.line_of("amount"),
                (*line.path, "amount"),
            )
    return fit


def _check_sum(tree: Tree, formula: Entries, lines: list[Entries], basis: str, origin: Origin) -> None:
    amounts = [quietly(line, "amount", kind_of_amount(basis), origin) for line in lines]
    where = formula.line_of("ingredients"), (*formula.path, "ingredients")
    if basis == "true percent":
        total = sum(amount.value for amount in amounts if amount)
        if abs(total - 1.0) > SHARE_SLACK:
            tree.problem(
                f"the true percents add up to {total * 100:.4g} %, not to 100 %",
                "put the amounts right, or name the basis they are in: baker's percent, mass",
                *where,
            )
    if basis != "baker's percent":
        return
    flours = [
        (_name(line), amount.value)
        for line, amount in zip(lines, amounts, strict=True)
        if amount and "ingredient" in line and counts_as_flour(_name(line), _yes(line))
    ]
    total = sum(value for _, value in flours)
    mend = "'flour: yes' or 'flour: no' on a line says whether it counts as flour"
    if total == 0.0:
        tree.problem(
            "baker's percent refers to the flour, and no ingredient counts as flour",
            f"{mend}; or write 'basis: true percent'",
            *where,
        )
    elif abs(total - 1.0) > SHARE_SLACK:
        names = ", ".join(name for name, _ in flours)[:120]
        tree.problem(
            f"in baker's percent all flours together are 100 %; here ({names}) they are {total * 100:.4g} %",
            f"put the amounts right; {mend}",
            *where,
        )


def _yes(line: Entries) -> bool | None:
    said = str(line.get("flour", "")).strip().lower()
    return {"yes": True, "true": True, "no": False, "false": False}.get(said)


def _check_composition(tree: Tree, line: Entries, composition: Entries, origin: Origin) -> None:
    """The shares add up to 100 %; nothing is said while one of them cannot be read."""
    total = 0.0
    for key in CompositionSpec.known_keys():
        if key not in composition.key_lines:
            continue
        if key in _BY_NAME:
            holder = entries_of(composition, key)
            names = list(holder)
            if not isinstance(composition.get(key), Entries):
                return
        else:
            holder, names = composition, [key]
        for name in names:
            amount = quietly(holder, name, "share", origin)
            if amount is None:
                return
            total += amount.value
    if abs(total - 1.0) > SHARE_SLACK:
        tree.problem(
            f"the composition of '{_name(line)[:60]}' adds up to {total * 100:.4g} %, not to 100 %",
            "put the shares right; what holds no water and has no key here goes to 'other'",
            line.line_of("composition"),
            composition.path,
        )
