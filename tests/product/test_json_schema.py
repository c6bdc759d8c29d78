"""The JSON Schema that editors use: the committed file is the present one, and it knows every key."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from hardtack.product import json_schema
from hardtack.product.isotherm_spec import CONSTANTS
from tests.house.tree import ROOT

COMMITTED = ROOT / "docs" / "product-file.schema.json"
PAGE = ROOT / "docs" / "product-file.md"


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    return json_schema()


def test_the_committed_file_is_the_present_schema(schema: dict[str, Any]) -> None:
    written = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    assert COMMITTED.read_text("utf-8") == written, (
        "write it anew: python -c \"import json, hardtack.product as p; "
        "print(json.dumps(p.json_schema(), indent=2, ensure_ascii=False))\""
    )


def keys(schema: dict[str, Any]) -> dict[str, list[str]]:
    """The keys of the file, by the definition they belong to."""
    found = {"": list(schema["properties"])}
    for name, definition in schema["$defs"].items():
        found[name] = list(definition.get("properties", {}))
    return found


def test_keys_are_the_files_not_the_models(schema: dict[str, Any]) -> None:
    by_part = keys(schema)
    assert "packed on" in by_part[""]
    assert "hardtack" in by_part[""]
    assert "whole-pack factor" in by_part["PackSpec"]
    assert "warmest at" in by_part["TemperatureCourse"]
    assert {"Xm", "C1", "G", "fades over"} <= set(by_part["IsothermSpec"])
    assert "parameters" not in by_part["IsothermSpec"]
    assert not [key for part in by_part.values() for key in part if "_" in key]


def test_every_key_says_what_it_is(schema: dict[str, Any]) -> None:
    parts = [schema, *schema["$defs"].values()]
    for part in parts:
        for key, field in part.get("properties", {}).items():
            assert field.get("description") or field.get("const"), key


def test_what_may_be_left_out_is_not_required(schema: dict[str, Any]) -> None:
    assert schema["$defs"]["LayerSpec"]["required"] == ["name"]
    assert "layer" not in schema["$defs"]["CrispnessLimit"].get("required", [])
    assert schema["required"] == ["hardtack", "name", "piece", "journey"]


def test_quantities_are_text_with_an_example(schema: dict[str, Any]) -> None:
    mass = schema["$defs"]["PieceSpec"]["properties"]["mass"]
    text, mapping = mass["anyOf"]
    assert text == {"type": "string", "description": "a mass, with its unit, such as 8.2 g", "examples": ["8.2 g"]}
    assert mapping == {"$ref": "#/$defs/quantity"}
    activity = schema["$defs"]["LayerSpec"]["properties"]["activity"]
    assert activity["anyOf"][0]["type"] == ["string", "number"]


def test_every_reference_leads_somewhere(schema: dict[str, Any]) -> None:
    def walk(node: Any) -> None:
        if isinstance(node, dict):
            if isinstance(node.get("$ref"), str):
                assert node["$ref"].removeprefix("#/$defs/") in schema["$defs"]
            assert "$comment" not in node
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(schema)


def test_the_page_explains_every_key(schema: dict[str, Any]) -> None:
    page = PAGE.read_text("utf-8")
    rows = {cell.strip(" `") for row in page.splitlines() if row.startswith("| `") for cell in row.split("|")[1:2]}
    named = {name.strip(" `") for cell in rows for name in cell.split(",")}
    wanted = {key for part in keys(schema).values() for key in part}
    assert wanted - named == set()
    constants = {name for form in CONSTANTS.values() for name in form}
    assert named - wanted - constants == set(), "the page explains keys there are not"


def test_the_example_of_the_page_is_a_product_file() -> None:
    from hardtack.product import loads

    blocks = [part.split("```")[0] for part in PAGE.read_text("utf-8").split("```yaml\n")[1:]]
    whole = [block for block in blocks if block.startswith("hardtack: 1")]
    assert whole
    for block in whole:
        loads(block)


