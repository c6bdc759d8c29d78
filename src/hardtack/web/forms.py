"""A stage's form out of the product file's JSON Schema and the text as it stands.

What the schema describes gets a field with its words, so a new key of the product file appears on its page by
itself. A field holds what the file holds, as it is written there.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from hardtack.errors import Problem
from hardtack.product import json_schema
from hardtack.product.document import place_words
from hardtack.product.tree import Entries, Tree
from hardtack.web.names import names_for

Schema = Mapping[str, Any]
Place = tuple[str | int, ...]
QUANTITY_KEYS = frozenset(("value", "sd", "low", "high", "from", "source"))
GRIDS = ("ingredients",)
"""Lists shown as a grid that takes arrows, Enter and rows pasted from a spreadsheet."""

OPEN_WORDS: Mapping[str, str] = {
    "film": "give the supplier's test instead",
    "isotherm": "give constants or points instead",
    "diffusivity": "give a law instead",
    "temperature": "give a mean with swings instead",
    "humidity": "give a mean with swings instead",
}
ADD_WORDS: Mapping[str, tuple[str, ...]] = {
    "layers": ("add a layer", "add a barrier"),
    "journey": ("add a leg",),
    "pieces": ("add a kind of piece",),
}
SKELETONS: Mapping[str, str] = {
    "film": '{transmission: "4 g/m2/day [assumed]", tested at: {temperature: 38 degC, humidity outside: 90 %, '
    "humidity inside: 0 %}}",
    "isotherm": '{form: GAB, at: 25 degC, Xm: "5 %db [assumed]", C: "10 [assumed]", K: "0.85 [assumed]"}',
    "layers": '{name: new layer, share: "20 % [assumed]", thickness: "2 mm [assumed]", activity: "0.5 [assumed]"}',
    "journey": '{leg: new leg, lasts: 10 days, temperature: "20 degC [assumed]", humidity: "50 % [assumed]"}',
    "pieces": '{name: new piece, shape: slab, thickness: "5 mm [assumed]", length: "50 mm [assumed]", '
    'width: "50 mm [assumed]", mass: "8 g [assumed]", count: 10, layers: [{name: new layer, activity: "0.5 [assumed]", '
    "isotherm: cracker}]}",
    "diffusivity": '{value: "2e-11 m2/s [assumed]", at: 25 degC, activation energy: "50 kJ/mol [assumed]"}',
}
"""What is written first where the schema's own least would not compute; every number says it is assumed."""

_BRACKET = re.compile(r"^(.*?)\s*\[(.*)\]\s*$", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Field:
    """One value: a text as written, with how the number is known apart where it is a number."""

    place: str
    label: str
    hint: str
    value: str
    kind: Literal["text", "amount", "choice", "long", "date"]
    origin: str = ""
    example: str = ""
    options: tuple[str, ...] = ()
    needed: bool = False
    wrong: tuple[Problem, ...] = ()
    opens: tuple[tuple[str, str], ...] = ()
    """Acts that write the value out as a mapping, each with its words."""

    @property
    def id(self) -> str:
        """A name for labels and deep links."""
        return _id(self.place)

    @property
    def empty(self) -> bool:
        """Whether nothing is written and nothing has to be."""
        return not self.value and not self.needed and not self.wrong


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together; `items` are those of a list or of named entries, `acts` its buttons."""

    place: str
    label: str
    hint: str
    parts: tuple[Field | Group, ...] = ()
    wrong: tuple[Problem, ...] = ()
    acts: tuple[tuple[str, str], ...] = ()
    grid: Grid | None = None
    written: bool = True
    item: bool = False
    names: bool = False
    """Whether new entries need a name."""

    @property
    def id(self) -> str:
        """A name for deep links."""
        return _id(self.place)

    @property
    def empty(self) -> bool:
        """Whether nothing of it stands in the file."""
        return not self.written and not self.wrong

    @property
    def shown(self) -> tuple[Field | Group, ...]:
        """What is seen at once."""
        return tuple(part for part in self.parts if not part.empty)

    @property
    def more(self) -> tuple[Field | Group, ...]:
        """What may be added."""
        return tuple(part for part in self.parts if part.empty)


@dataclass(frozen=True, slots=True)
class Grid:
    """A list as a table of cells; `rest` holds for each row what does not fit into a cell."""

    place: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Field, ...], ...]
    rest: tuple[tuple[Group | Field, ...], ...] = field(default=())

    @property
    def bare(self) -> tuple[str, ...]:
        """What may still be written beside the cells."""
        return tuple(dict.fromkeys(part.label for row in self.rest for part in row if part.empty))


def _id(place: str) -> str:
    return "at-" + re.sub(r"[^A-Za-z0-9]+", "-", place).strip("-")


@cache
def schema() -> dict[str, Any]:
    """The product file's schema, made once."""
    return json_schema()


def split_origin(text: str) -> tuple[str, str]:
    """A number as written and, apart, how it is known: ``2.6 %wb [measured here]``."""
    found = _BRACKET.match(text)
    return (found[1], found[2].strip()) if found else (text, "")


def joined(value: str, origin: str) -> str:
    """The two as one text again."""
    value, origin = value.strip(), origin.strip().strip("[]")
    return f"{value} [{origin}]" if value and origin else value


class Forms:
    """Makes the parts of a form for one text. `problems` are shown beside what they speak of."""

    def __init__(self, tree: Tree, problems: tuple[Problem, ...]) -> None:
        self.tree = tree
        self.problems = problems

    def parts(self, keys: tuple[str, ...]) -> tuple[Field | Group, ...]:
        """The parts for some keys of the product file."""
        return tuple(self._part(key, schema()["properties"][key], (key,), self.tree.root) for key in keys)

    def unplaced(self, parts: tuple[Field | Group, ...]) -> tuple[Problem, ...]:
        """Problems that no part of the form shows."""
        shown = {problem for part in parts for problem in _wrong(part)}
        return tuple(problem for problem in self.problems if problem not in shown)

    def _problems(self, place: Place) -> tuple[Problem, ...]:
        words = self.tree.words(place)
        return tuple(problem for problem in self.problems if words and problem.path == words)

    def _part(self, key: str | int, given: Schema, place: Place, parent: Entries) -> Field | Group:
        node = parent.get(str(key))
        options = _options(given)
        objects = [o for o in options if "properties" in o]
        if isinstance(node, Entries) and any(_is_quantity(o) for o in options) and set(node) <= QUANTITY_KEYS:
            return self._group(key, _quantity(), place, node, given)
        if isinstance(node, Entries) and objects:
            return self._group(key, _fitting(objects, node), place, node, given, _closing(options, place))
        if any(_is_words(o) for o in options) and not isinstance(node, Entries):
            written = (
                ", ".join(map(str, node)) if isinstance(node, list) else "" if node is None else str(node)
            )
            hint = f"{given.get('description', '')}; several with commas between"
            return self._field(key, {**given, "description": hint}, options, [], place, written, parent)
        lists = [o for o in options if o.get("type") == "array"]
        maps = [o for o in options if o.get("type") == "object" and "properties" not in o]
        if lists and (isinstance(node, list) or node is None):
            return self._list(key, lists[0], place, node, given)
        if maps and (isinstance(node, Entries) or node is None):
            return self._map(key, maps[0], place, node, given)
        scalars = [o for o in options if not ("properties" in o or o.get("type") in ("array", "object"))]
        if objects and not scalars and node is None:
            return self._group(key, objects[0], place, Entries(1, place), given, written=False)
        return self._field(key, given, scalars, objects, place, "" if node is None else str(node), parent)

    def _field(
        self,
        key: str | int,
        given: Schema,
        scalars: list[Schema],
        objects: list[Schema],
        place: Place,
        node: str,
        parent: Any,
    ) -> Field:
        amount = any(_is_quantity(o) for o in _options(given))
        choices = tuple(str(c) for o in scalars for c in o.get("enum", ()))
        if any(o.get("type") == "boolean" for o in scalars):
            choices = ("true", "false")
        free = any(o.get("type") in ("string", ["string", "number"]) and "enum" not in o for o in scalars)
        value, origin = split_origin(node) if amount else (node, "")
        examples = [*given.get("examples", ()), *(e for o in scalars for e in o.get("examples", ()))]
        kind: Literal["text", "amount", "choice", "long"] = "amount" if amount else "text"
        if key == "notes":
            kind = "long"
        elif choices and not free:
            kind = "choice"
        const = tuple(str(o["const"]) for o in scalars if "const" in o)
        return Field(
            place=place_words(place),
            label=str(key),
            hint=str(given.get("description", "")),
            value=value,
            origin=origin,
            kind=kind,
            example=str(examples[0]) if examples else "",
            options=choices or (*const, *names_for(str(key), self.tree)),
            needed=_needed(key, parent, place),
            wrong=self._problems(place),
            opens=tuple(
                (f"open:{place_words(place)}:{k}", OPEN_WORDS.get(str(key), "write it out"))
                for k, _ in enumerate(o for o in objects if not _is_quantity(o))
            ),
        )

    def _group(
        self,
        key: str | int,
        chosen: Schema,
        place: Place,
        node: Entries,
        given: Schema,
        acts: tuple[tuple[str, str], ...] = (),
        written: bool = True,
        label: str = "",
    ) -> Group:
        properties = dict(chosen.get("properties", {}))
        extra = [k for k in node if k not in properties]
        order = [*properties, *extra]
        parts = tuple(
            self._part(k, properties.get(k, {"type": "string"}), (*place, k), _Needing(node, chosen))
            for k in order
        )
        return Group(
            place_words(place),
            label or str(key),
            str(given.get("description", "") or chosen.get("description", "")).partition("\n")[0],
            parts,
            self._problems(place),
            acts,
            written=written,
        )

    def _list(self, key: str | int, chosen: Schema, place: Place, node: Any, given: Schema) -> Group:
        items = node if isinstance(node, list) else []
        options = [o for o in _options(chosen["items"]) if "properties" in o]
        words = place_words(place)
        if key in GRIDS and options:
            return Group(
                words, str(key), str(given.get("description", "")), (), self._problems(place),
                ((f"add:{words}:0", "add a row"),), self._grid(place, options[0], items), bool(items),
            )  # fmt: skip
        parts = []
        for k, item in enumerate(items):
            at = (*place, k)
            one = _fitting(options, item) if isinstance(item, Entries) and options else {}
            entry = item if isinstance(item, Entries) else Entries(1, at)
            title = self.tree.words(at).rpartition(" / ")[2]
            shown = self._group(k, one, at, entry, {}, _item_acts(at, k, len(items)), label=title)
            parts.append(_as_item(shown))
        titles = ADD_WORDS.get(str(key), ())
        adds = tuple(
            (f"add:{words}:{k}", titles[k] if k < len(titles) else f"add to {key}")
            for k in range(len(options))
        )
        return Group(
            words, str(key), str(given.get("description", "")), tuple(parts), self._problems(place), adds,
            written=bool(items),
        )  # fmt: skip

    def _map(self, key: str | int, chosen: Schema, place: Place, node: Any, given: Schema) -> Group:
        entries = node if isinstance(node, Entries) else Entries(1, place)
        words = place_words(place)
        parts = []
        for name in entries:
            part = self._part(name, chosen["additionalProperties"], (*place, name), entries)
            if isinstance(part, Group):
                out = ((f"out:{place_words((*place, name))}", f"take {name} out"),)
                part = _as_item(part, out)
            parts.append(part)
        return Group(
            words, str(key), str(given.get("description", "")), tuple(parts), self._problems(place),
            ((f"name:{words}", "add"),), written=bool(entries), names=True,
        )  # fmt: skip

    def _grid(self, place: Place, item: Schema, items: list[Any]) -> Grid:
        properties: Mapping[str, Schema] = item["properties"]
        cells = [
            k
            for k, given in properties.items()
            if not any("properties" in o for o in _options(given) if not _is_quantity(o))
        ]
        rows, rest = [], []
        for number, node in enumerate(items):
            at = (*place, number)
            entry = node if isinstance(node, Entries) else Entries(1, at)
            needing = _Needing(entry, item)
            made = [self._part(k, properties[k], (*at, k), needing) for k in cells]
            rows.append(tuple(part for part in made if isinstance(part, Field)))
            wide = [part for part in made if isinstance(part, Group)]
            others = [self._part(k, properties[k], (*at, k), needing) for k in properties if k not in cells]
            rest.append((*wide, *others))
        return Grid(place_words(place), tuple(cells), tuple(rows), tuple(rest))


class _Needing(Entries):
    """Entries that know which of their keys must be there."""

    def __init__(self, node: Entries, chosen: Schema) -> None:
        super().__init__(node.line, node.path)
        self.update(node)
        self.required = frozenset(chosen.get("required", ()))


def _needed(key: str | int, parent: Any, place: Place) -> bool:
    if isinstance(parent, _Needing):
        return key in parent.required
    return len(place) == 1 and key in schema()["required"]


def _as_item(group: Group, acts: tuple[tuple[str, str], ...] = ()) -> Group:
    return Group(
        group.place, group.label, group.hint, group.parts, group.wrong, (*group.acts, *acts), group.grid, item=True
    )  # fmt: skip


def _item_acts(place: Place, k: int, count: int) -> tuple[tuple[str, str], ...]:
    words = place_words(place)
    acts = [(f"up:{words}", "move up")] if k > 0 else []
    acts += [(f"down:{words}", "move down")] if k + 1 < count else []
    return (*acts, (f"again:{words}", "repeat"), (f"out:{words}", "take out"))


def _closing(options: list[Schema], place: Place) -> tuple[tuple[str, str], ...]:
    """The way back from a mapping to a name or one number, where the schema has one."""
    plain = any("properties" not in o and o.get("type") != "object" for o in options)
    return ((f"out:{place_words(place)}", "take this out, to write one value"),) if plain else ()


def _wrong(part: Field | Group) -> tuple[Problem, ...]:
    found = list(part.wrong)
    if isinstance(part, Group):
        for inner in part.parts:
            found += _wrong(inner)
        if part.grid is not None:
            for row in (*part.grid.rows, *part.grid.rest):
                for cell in row:
                    found += _wrong(cell)
    return tuple(found)


def _options(given: Schema) -> list[Schema]:
    """What may stand at a place: references followed, alternatives laid flat."""
    if "$ref" in given:
        name = given["$ref"].rpartition("/")[2]
        return [schema()["$defs"][name]] if name != "quantity" else [_quantity()]
    if "anyOf" in given and "properties" not in given:
        return [o for each in given["anyOf"] for o in _options(each)]
    return [given]


def _quantity() -> Schema:
    found: Schema = schema()["$defs"]["quantity"]
    return found


def _is_quantity(option: Schema) -> bool:
    return option is _quantity()


def _fitting(objects: list[Schema], node: Entries) -> Schema:
    """The alternative whose keys are the ones written."""
    wanted = [o for o in objects if not _is_quantity(o)] or objects
    return max(
        wanted,
        key=lambda o: (len(set(o["properties"]) & set(node)), -len(set(o.get("required", ())) - set(node))),
    )


def _is_words(option: Schema) -> bool:
    """Whether a list of single values may stand here: it is one field, with commas between."""
    return option.get("type") == "array" and not any(
        "properties" in o and not _is_quantity(o) for o in _options(option["items"])
    )


def takes_words(place: tuple[str, ...]) -> tuple[str, ...] | None:
    """The single words that may stand at a place instead of its list of words, None where no such list may."""
    found = _schemas_at(place)
    if not any(_is_words(o) for o in found):
        return None
    return tuple(str(o["const"]) for o in found if "const" in o)


def skeleton(option: Schema, key: str = "") -> str:
    """The least that must be written of an alternative, as YAML on one line: invented numbers to write over."""
    if key in SKELETONS and not option.get("properties", {}).keys() & {"barrier"}:
        return SKELETONS[key]
    return _least(option)


def _least(option: Schema) -> str:
    pairs = [f"{key}: {_example(option['properties'][key])}" for key in option.get("required", ())]
    return "{" + ", ".join(pairs) + "}"


def _example(given: Schema) -> str:
    options = _options(given)
    for each in (given, *options):
        if each.get("examples") and not isinstance(each["examples"][0], Mapping):
            written = str(each["examples"][0])
            return written if re.fullmatch(r"[\w .%/()±-]+|\{.*\}", written) else f'"{written}"'
        if each.get("enum"):
            return f'"{each["enum"][0]}"'
    for each in options:
        if each.get("type") == "array":
            return f"[{_least(_options(each['items'])[0])}]"
        if "properties" in each:
            return _least(each)
    return "1"


def options_at(place: tuple[str, ...]) -> list[Schema]:
    """What may be written at a place, by the schema: mappings, or a list's items."""
    found = _schemas_at(place)
    lists = [o for o in found if o.get("type") == "array"]
    if lists:
        found = _options(lists[0]["items"])
    return [o for o in found if "properties" in o and not _is_quantity(o)]


def _schemas_at(place: tuple[str, ...]) -> list[Schema]:
    found: list[Schema] = [schema()]
    for step in place:
        found = _deeper(found, step)
    return found


def _deeper(options: list[Schema], step: str) -> list[Schema]:
    found: list[Schema] = []
    for option in options:
        if step in option.get("properties", {}):
            found += _options(option["properties"][step])
        elif option.get("type") == "array" and step.isdigit():
            found += _options(option["items"])
        elif isinstance(option.get("additionalProperties"), Mapping):
            found += _options(option["additionalProperties"])
    return found
