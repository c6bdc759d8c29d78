"""Every key of the product file's schema can be written on a page, whatever is there to begin with."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from hardtack.product import json_schema, kinds, loads, starter
from hardtack.product.document import read_place
from hardtack.product.tree import read_tree
from hardtack.web import edits
from hardtack.web.forms import Field, Forms, Group
from tests.web.conftest import Bench

SCHEMA = json_schema()
QUANTITY = SCHEMA["$defs"]["quantity"]
Path = tuple[str, ...]


def options(given: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What may stand at a place, by the schema alone."""
    if "$ref" in given:
        return [SCHEMA["$defs"][given["$ref"].rpartition("/")[2]]]
    if "anyOf" in given and "properties" not in given:
        return [each for one in given["anyOf"] for each in options(one)]
    return [given]


def paths(found: list[Mapping[str, Any]], here: Path = ()) -> Iterator[Path]:
    """Every key below, names and item numbers as stars. Mirrors the schema, not the forms."""
    for each in found:
        if each is QUANTITY or len(here) > 9:
            continue
        for key, given in each.get("properties", {}).items():
            yield (*here, key)
            yield from paths(options(given), (*here, key))
        if each.get("type") == "array":
            yield from paths(options(each["items"]), (*here, "*"))
        if isinstance(each.get("additionalProperties"), Mapping):
            yield (*here, "*")
            yield from paths(options(each["additionalProperties"]), (*here, "*"))


EXPECTED = set(paths([SCHEMA])) - {("hardtack",)}
NAMED = {path[:-1] for path in EXPECTED if path[-1] == "*"}


def general(place: str) -> Path:
    """A place with stars for what the schema does not name."""
    out: list[str] = []
    for step in read_place(place):
        out.append("*" if step.isdigit() or tuple(out) in NAMED else step)
    return tuple(out)


def every(parts: tuple[Field | Group, ...]) -> Iterator[Field | Group]:
    """Fields and groups, those inside too."""
    for part in parts:
        yield part
        if isinstance(part, Group):
            yield from every(part.parts)
            for row in (*part.grid.rows, *part.grid.rest) if part.grid else ():
                yield from every(row)


def test_every_key_is_reached_by_fields_and_buttons() -> None:
    reached: set[Path] = set()
    pressed = set()
    texts = [starter(kind) for kind in kinds()]
    while texts:
        text = texts.pop()
        forms = Forms(read_tree(text, "x"), ())
        for part in every(forms.parts(tuple(SCHEMA["properties"]))):
            reached.add(general(part.place))
            for deed, _ in part.acts if isinstance(part, Group) else part.opens:
                kind, _, rest = deed.partition(":")
                if kind not in ("add", "open", "name"):
                    continue
                where, _, number = (rest, "", "") if kind == "name" else rest.rpartition(":")
                button = (kind, general(where), number)
                if button not in pressed:
                    pressed.add(button)
                    texts.append(edits.act(text, deed, {f"n:{where}": "a new one"}))
    assert len(EXPECTED) > 400
    assert EXPECTED - reached == set()


def test_a_list_of_words_is_one_field_with_commas(bench: Bench) -> None:
    bench.send("product", act="name:formulas", **{"n:formulas": "dough"})
    place = "formulas/dough/ingredients/0/allergens"
    bench.send("product", **{f"v:{place}": "wheat, milk"})
    assert loads(bench.text).formulas["dough"].ingredients[0].allergens == ("wheat", "milk")
    assert 'value="wheat, milk"' in bench.page("product")
    bench.send("product", **{f"v:{place}": "wheat, milk"})  # sent back unchanged
    assert bench.seq == 3
    bench.send("product", **{f"v:{place}": "none"})
    assert "allergens: none" in bench.text
    bench.send("product", **{"v:formulas/dough/structure/turns": "3, 3, 4"})
    assert "turns: [3, 3, 4]" in bench.text
    bench.send("product", **{f"v:{place}": ""})
    assert "allergens" not in bench.text


def test_rancidity_is_asked_for_on_the_page_with_all_it_needs(bench: Bench) -> None:
    page = bench.page("limits")
    for key in ("fat", "at", "activity", "oxygen"):
        assert any(
            f'name="v:failures/rancidity{rest}{key}"' in page
            for rest in ("/", "/measured in/", "/headspace ")
        ), key
    assert 'name="v:pack/film"' in bench.page("pack")
    bench.send("pack", act="open:pack/film:0")
    assert 'name="v:pack/film/oxygen"' in bench.page("pack")
