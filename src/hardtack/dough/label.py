"""The order of ingredients for a label, and the allergens their names tell: drafts for the person who signs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from hardtack.dough.formula import Formula
from hardtack.dough.leavening import AMMONIUM
from hardtack.errors import NotOnShelf
from hardtack.product import FormulaSpec
from hardtack.reference import Row, lookup, rows

ALLERGENS, ORDER = "allergens", "ingredient order"
CAUTION = (
    "Order and allergens are a draft from names and weights. Compound ingredients are not opened, carriers and "
    "processing aids are not known, and traces from shared lines are not assessed. Follow the law of the market; a "
    "person qualified in it decides what the label says."
)


@dataclass(frozen=True, slots=True)
class Declared:
    """One ingredient of the list: `of_product` is its weight as used over the finished product's, or over the dough's
    where nothing says how far it is baked.
    """

    name: str
    of_product: float


@dataclass(frozen=True, slots=True)
class IngredientOrder:
    """The list by descending weight. `water` is added water left, over the finished product; None without any, or
    where nothing says how far it is baked. `finished` tells whether the finished weight was known.
    """

    listed: tuple[Declared, ...]
    water: float | None
    finished: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AllergensNamed:
    """Allergens with the ingredients that bring them, and the ingredients whose names tell nothing."""

    brought: tuple[tuple[Row, tuple[str, ...]], ...]
    unknown: tuple[str, ...]


def ingredient_order(formula: Formula, finished: float | None) -> IngredientOrder:
    """Order the ingredients. `finished` [kg] is what one kg of dough weighs as the finished product, None unknown.

    Added water = finished product - all other ingredients as used, not below zero; ammonium bicarbonate leaves and is
    put last.
    """
    whole = finished if finished is not None else 1.0
    amounts: dict[str, float] = {}
    names: dict[str, str] = {}
    added = 0.0
    waters: list[str] = []
    for part in formula.ingredients:
        key = part.name.casefold()
        if part.composition is None:
            added += part.share
            waters.append(part.name)
            continue
        names.setdefault(key, part.name)
        amounts[key] = amounts.get(key, 0.0) + part.share
    notes: list[str] = []
    left: float | None = None
    if waters and finished is not None:
        left = max(0.0, finished - sum(amounts.values())) / finished
        if left > 0:
            amounts["water"], names["water"] = left * finished, waters[0]
        notes.append(_water_note(added, left))
    elif waters:
        amounts["water"], names["water"] = added, waters[0]
        notes.append("Nothing says how far it is baked, so water stands by its weight in the dough.")
    gone = [key for key in amounts if _is(key, "leavening bases", AMMONIUM)]
    notes += [f"{names[key]} leaves in the oven and is put last." for key in gone]
    ranked = sorted(amounts, key=lambda key: (key in gone, -amounts[key]))
    small = lookup(ORDER, "small ingredients")["of_product"]
    few = [names[key] for key in ranked if amounts[key] / whole < small]
    if few:
        notes.append(
            f"Below {100 * small:.0f} % ({', '.join(few)}) the order among themselves is mostly free."
        )
    listed = tuple(Declared(names[key], amounts[key] / whole) for key in ranked)
    return IngredientOrder(listed, left, finished is not None, tuple(notes))


def _water_note(added: float, left: float) -> str:
    limit = lookup(ORDER, "added water")["of_product"]
    if left == 0.0:
        return (
            f"The finished product weighs no more than its other ingredients as used, so none of the {100 * added:.1f} % "
            "water added to the dough is counted as left: it is not named (Regulation (EU) 1169/2011, Annex VII Part A)."
        )
    if left <= limit:
        return (
            f"Of the {100 * added:.1f} % water added to the dough {100 * left:.1f} % of the finished product is counted "
            f"as left, not above {100 * limit:.0f} %: it need not be named (Regulation (EU) 1169/2011, Annex VII Part A)."
        )
    return (
        f"Added water counts with what is left of it, {100 * left:.1f} % of the finished product (finished product less "
        f"all other ingredients), above {100 * limit:.0f} %: it is named in that place (Regulation (EU) 1169/2011, Annex VII "
        "Part A)."
    )


def _is(name: str, topic: str, row: str) -> bool:
    try:
        return lookup(topic, name).name == row
    except NotOnShelf:
        return False


def allergens(spec: FormulaSpec, formula: Formula) -> AllergensNamed:
    """Allergens by what the file says of an ingredient, else by the words of its name."""
    brought: dict[str, list[str]] = {}
    unknown: list[str] = []
    for line, part in zip(spec.lines, formula.ingredients, strict=True):
        if line.spec.allergens is not None:
            found: tuple[str, ...] | None = tuple(
                lookup(ALLERGENS, name).name for name in line.spec.allergens
            )
        else:
            found = named_allergens(part.name)
        if found is None:
            unknown.append(part.name)
            continue
        for name in found:
            brought.setdefault(name, []).append(part.name)
    rows_ = sorted((lookup(ALLERGENS, name) for name in brought), key=lambda row: row["EU"])
    return AllergensNamed(
        tuple((row, tuple(dict.fromkeys(brought[row.name]))) for row in rows_), tuple(dict.fromkeys(unknown))
    )


def named_allergens(name: str) -> tuple[str, ...] | None:
    """Allergens by the words of an ingredient's name, () for none, None when no word is known.

    Longer words are taken first and used up; what names no plant (flour, bran) counts only where nothing else does.
    """
    text = f" {_words(name)} "
    found: list[Row] = []
    for phrase, row in _phrases().items():
        if f" {phrase} " in text:
            text = text.replace(f" {phrase} ", " | ")
            found.append(row)
    if not found:
        return None
    plain = [row for row in found if not row.see]
    if not plain:
        return tuple(dict.fromkeys(row.see for row in found))
    return tuple(dict.fromkeys(row.name for row in plain if row["EU"] or row["US"]))


@cache
def _phrases() -> Mapping[str, Row]:
    """Every word and phrase, the longest first."""
    spellings = {_words(word): row for row in rows(ALLERGENS) for word in (row.name, *row.also)}
    return dict(sorted(spellings.items(), key=lambda item: (-len(item[0].split()), -len(item[0]))))


def _words(text: str) -> str:
    return " ".join(re.findall(r"[^\W\d_]+", text.casefold()))
