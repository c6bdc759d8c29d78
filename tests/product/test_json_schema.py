"""The JSON Schema that editors use: the committed file is the present one, and it knows every key."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest

from hardtack.product import json_schema, loads
from tests.house.tree import ROOT

COMMITTED = ROOT / "docs" / "product-file.schema.json"
PAGE = ROOT / "docs" / "product-file.md"


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    return json_schema()


def test_the_committed_file_is_the_present_schema(schema: dict[str, Any]) -> None:
    written = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    assert COMMITTED.read_text("utf-8") == written, (
        'write it anew: python -c "import json, hardtack.product as p; '
        'print(json.dumps(p.json_schema(), indent=2, ensure_ascii=False))"'
    )


def fields(node: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every key of the file with its schema, wherever it stands."""
    if isinstance(node, dict):
        if node.get("type") == "object":
            yield from node.get("properties", {}).items()
        for value in node.values():
            yield from fields(value)
    elif isinstance(node, list):
        for value in node:
            yield from fields(value)


def test_keys_are_the_files_not_the_models(schema: dict[str, Any]) -> None:
    found = {key for key, _ in fields(schema)}
    assert {"hardtack", "packed on", "whole-pack factor", "warmest at", "rises with moisture", "pH"} <= found
    assert {"Xm", "C1", "G", "fades over", "isosteric heat"} <= found
    assert not found & {"parameters", "version"}
    assert not [key for key in found if "_" in key]


def test_every_key_says_what_it_is(schema: dict[str, Any]) -> None:
    assert [key for key, field in fields(schema) if not field.get("description")] == []


def test_what_may_be_left_out_is_not_required(schema: dict[str, Any]) -> None:
    assert schema["$defs"]["LayerSpec"]["required"] == ["name"]
    assert "layer" not in schema["$defs"]["CrispnessLimit"].get("required", [])
    assert schema["required"] == ["hardtack", "name", "journey"]
    assert schema["anyOf"] == [{"required": ["piece"]}, {"required": ["pieces"]}]


def test_quantities_are_text_with_an_example(schema: dict[str, Any]) -> None:
    mass = schema["$defs"]["PieceSpec"]["properties"]["mass"]
    text, mapping = mass["anyOf"]
    assert text == {
        "type": "string",
        "description": "a mass, with its unit, such as 8.2 g",
        "examples": ["8.2 g"],
    }
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
    first_cells = [row.split("|")[1] for row in PAGE.read_text("utf-8").splitlines() if row.startswith("| `")]
    explained = {name for cell in first_cells for name in re.findall(r"`([^`]+)`", cell)}
    assert explained == {key for key, _ in fields(schema)}


def test_the_example_of_the_page_is_a_product_file() -> None:
    blocks = [part.split("```")[0] for part in PAGE.read_text("utf-8").split("```yaml\n")[1:]]
    whole = [block for block in blocks if block.startswith("hardtack: 1")]
    assert whole
    for block in whole:
        loads(block)
