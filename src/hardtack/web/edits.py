"""What a form sends, applied to the product file's text: changed fields, and the buttons of lists."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from hardtack.errors import HardtackError, Problem
from hardtack.product.document import (
    list_at,
    move,
    place_words,
    put,
    put_item,
    put_list,
    put_yaml,
    read_place,
    repeat,
    take_out,
    value_at,
)
from hardtack.product.tree import read_tree
from hardtack.web.forms import joined, options_at, skeleton, split_origin, takes_words

Sent = Mapping[str, str]
MOST_PASTED = 2_000
"""Cells of a spreadsheet taken at once."""


def changes(base: str, sent: Sent) -> tuple[tuple[str, str], ...]:
    """Places and new texts of the fields that differ from the text the form was made from."""
    found = []
    for name, value in sent.items():
        if not name.startswith("v:"):
            continue
        place = name[2:]
        if f"o:{place}" in sent:
            value = joined(value, sent[f"o:{place}"])
        value = value.replace("\r\n", "\n").strip()
        was = _written(base, read_place(place))
        if was is None and value == "":
            continue
        if f"o:{place}" in sent and was is not None and joined(*split_origin(was)) == value:
            continue
        if was is None or was.strip() != value:
            found.append((place, value))
    return tuple(found)


def _written(text: str, place: tuple[str, ...]) -> str | None:
    """What a field shows of a place: its value, or a list of words with commas between."""
    words = list_at(text, place)
    return value_at(text, place) if words is None else ", ".join(words)


def _put(text: str, place: tuple[str, ...], value: str) -> str:
    alone = takes_words(place)
    if alone is None or value.strip() in alone:
        return put(text, place, value)
    return put_list(text, place, [word.strip() for word in value.strip("[] ").split(",") if word.strip()])


def apply(text: str, changed: Sequence[tuple[str, str]]) -> str:
    """The text with all changes. Raises `HardtackError` with every one that cannot be written."""
    problems: list[Problem] = []
    for place, value in changed:
        try:
            text = _put(text, read_place(place), value)
        except HardtackError as error:
            problems += [Problem(p.what, p.mend, path=place.replace("/", " / ")) for p in error.problems]
    if problems:
        raise HardtackError(problems)
    return text


def act(text: str, deed: str, sent: Sent) -> str:
    """The text after a button was pressed: ``add:journey:0``, ``up:journey/2``, ``open:pack/film:0``.

    Raises `HardtackError` when the deed is unknown or its place is gone.
    """
    kind, _, rest = deed.partition(":")
    where, _, number = rest.rpartition(":") if kind in ("add", "open") else (rest, "", "")
    place = read_place(where)
    if kind == "out":
        return take_out(text, place)
    if kind in ("up", "down"):
        return move(text, place, -1 if kind == "up" else 1)
    if kind == "again":
        return repeat(text, place)
    if kind == "paste":
        return paste(text, where, sent.get(f"p:{where}", ""))
    if kind == "name":
        return _add_named(text, place, sent.get(f"n:{where}", "").strip())
    if kind in ("add", "open"):
        options = options_at(place)
        if not number.isdigit() or int(number) >= len(options):
            raise HardtackError("there is nothing of that kind to write here", "reload the page")
        made = skeleton(options[int(number)], place[-1] if place else "")
        return put_yaml(text, place, made) if kind == "open" else _add(text, place, made)
    raise HardtackError(f"{kind[:20]!r} is nothing a form does", "reload the page")


def _add(text: str, place: tuple[str, ...], made: str) -> str:
    """A new item at the end; a leg before the one that lasts until the product fails."""
    count = _count(text, place)
    before_last = count > 0 and value_at(text, (*place, count - 1, "lasts")) == "until it fails"
    text = put_item(text, place, made)
    return move(text, (*place, count), -1) if before_last else text


def _count(text: str, place: tuple[str, ...]) -> int:
    node: Any = read_tree(text, "product file").root
    for step in place:
        node = node[int(step)] if isinstance(node, list) and step.isdigit() else node.get(step)
        if not isinstance(node, (dict, list)):
            return 0
    return len(node)


def _add_named(text: str, place: tuple[str, ...], name: str) -> str:
    """A new entry in a mapping of names."""
    name = " ".join(name.split())
    if not name:
        raise HardtackError("a new entry needs a name", "write it beside the button")
    options = options_at((*place, name))
    written = put(text, (*place, name), "new") if options else put(text, (*place, name), "1")
    return put_yaml(written, (*place, name), skeleton(options[0])) if options else written


def paste(text: str, where: str, rows: str, row: int | None = None, column: int = 0) -> str:
    """Rows of a spreadsheet (tabs between cells) into a list of ingredients: name, amount.

    From `row` on they take the places of what stands there; without it they are added at the end. A heading
    is left out. A bare number gets the sign its neighbours have. Raises `HardtackError` on too much at once.
    """
    cells = [[cell.strip() for cell in line.split("\t")] for line in rows.splitlines() if line.strip()]
    if sum(map(len, cells)) > MOST_PASTED:
        raise HardtackError(f"more than {MOST_PASTED} cells at once", "paste the formula only")
    place = read_place(where)
    if cells and len(cells[0]) > 1 and not any(re.search(r"\d", cell) for cell in cells[0]):
        cells = cells[1:]
    count = _count(text, place)
    first = count if row is None else row
    unit = _unit(text, place)
    for number, line in enumerate(cells, first):
        named = dict(zip(("ingredient", "amount")[column:], line, strict=False))
        if "amount" in named:
            named["amount"] = _amount(named["amount"], unit)
        if number >= count:
            made = {"ingredient": "new", "amount": "0 %", **{k: v for k, v in named.items() if v}}
            text = put_item(text, place, "{ingredient: new, amount: 0 %}")
            count += 1
            named = made
        for key, value in named.items():
            if value:
                text = put(text, (*place, number, key), value)
    return text


def _unit(text: str, place: tuple[str, ...]) -> str:
    """The sign of a formula's amounts, by its basis."""
    return "g" if value_at(text, (*place[:-1], "basis")) == "mass" else "%"


def _amount(cell: str, unit: str) -> str:
    """A cell as an amount: a decimal comma becomes a point, a bare number gets its unit."""
    if re.fullmatch(r"[-+]?\d+,\d+\s*\D*", cell):
        cell = cell.replace(",", ".")
    return f"{cell} {unit}" if re.fullmatch(r"[-+]?[\d.]+", cell) else cell


def words_of(changed: Sequence[tuple[str, str]]) -> str:
    """What was changed, for the history."""
    shown = [f"{place.replace('/', ' / ')}: {value or 'taken out'}" for place, value in changed]
    more = f" and {len(shown) - 3} more" if len(shown) > 3 else ""
    return "; ".join(line[:120] for line in shown[:3]) + more


def act_words(deed: str) -> str:
    """A button's deed, for the history."""
    kind, _, rest = deed.partition(":")
    names = {
        "out": "taken out", "up": "moved up", "down": "moved down", "again": "repeated", "paste": "rows pasted",
        "name": "entry added", "add": "item added", "open": "written out",
    }  # fmt: skip
    place = rest.rpartition(":")[0] if kind in ("add", "open") else rest
    return f"{place_words(read_place(place)).replace('/', ' / ')}: {names.get(kind, kind)}"
