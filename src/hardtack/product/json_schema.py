"""The JSON Schema of the product file, for editors that help while writing."""

from __future__ import annotations

from typing import Any

from hardtack.product.quantities import SPREAD_KEYS
from hardtack.product.schema import VERSION, Product
from hardtack.sourced import PROVENANCES, SPREADS

_MAY_BE_LEFT_OUT = {
    "LayerSpec": ("share", "thickness"),
    "CrispnessLimit": ("layer",),
    "WaterLimit": ("layer",),
    "FirmingSpec": ("layer",),
    "FermentationSpec": ("layer",),
    "SugarSpec": ("layer",),
    "RanciditySpec": ("layer",),
    "ColourSpec": ("layer",),
}
_MEANINGS = {
    "value": "the number with its unit",
    "sd": "one standard deviation, in the unit of the value",
    "low": "lower end of a range",
    "high": "upper end of a range",
    "values": "several values, each as likely as the others: a list, or numbers parted by commas and then the unit",
    "spread": "what the spread is: pack to pack, lot to lot, or not known",
    "from": "how the number is known",
    "source": "where it comes from, in words",
}


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a product file of the present format version."""
    made: dict[str, Any] = Product.model_json_schema(by_alias=True)
    for model, keys in _MAY_BE_LEFT_OUT.items():
        definition = made["$defs"][model]
        definition["required"] = [key for key in definition["required"] if key not in keys]
    definitions = {name: _tidy(definition) for name, definition in made.pop("$defs").items()}
    definitions["quantity"] = _quantity()
    body = _tidy(made)
    body.pop("title", None)
    body["anyOf"] = [{"required": ["piece"]}, {"required": ["pieces"]}]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Hardtack product file, format version {VERSION}",
        **body,
        "$defs": dict(sorted(definitions.items())),
    }


def _tidy(node: Any, *, names: bool = False) -> Any:
    """Point quantities to one definition and drop what only the models need.

    In a node of `names` (properties) every key is a key of the product file, so all of them stay.
    """
    if isinstance(node, list):
        return [_tidy(item) for item in node if item != {"type": "null"}]
    if not isinstance(node, dict):
        return node
    if node == {"$comment": "quantity"}:
        return {"$ref": "#/$defs/quantity"}
    kept = {
        key: _tidy(value, names=key == "properties")
        for key, value in node.items()
        if names or not (key == "title" or (key == "default" and value in (None, {}, [])))
    }
    if not names and "oneOf" in kept:
        kept["anyOf"] = kept.pop("oneOf")  # text may be a name and a quantity: the program tells them apart
    options = kept.get("anyOf")
    if not names and isinstance(options, list) and len(options) == 1:
        only = kept.pop("anyOf")[0]
        kept = {**only, **kept}
    return kept


def _quantity() -> dict[str, Any]:
    properties: dict[str, Any] = {
        key: {"type": ["string", "number"], "description": _MEANINGS[key]} for key in SPREAD_KEYS
    }
    properties["from"]["enum"] = list(PROVENANCES)
    properties["spread"] = {"enum": list(SPREADS), "description": _MEANINGS["spread"]}
    properties["values"] = {
        "anyOf": [
            {"type": "string"},
            {"type": "array", "items": {"type": ["string", "number"]}, "minItems": 2},
        ],
        "description": _MEANINGS["values"],
    }
    return {
        "type": "object",
        "description": "a quantity with its spread and its origin",
        "additionalProperties": False,
        "properties": properties,
        "anyOf": [{"required": ["value"]}, {"required": ["low", "high"]}, {"required": ["values"]}],
        "examples": [{"value": "2.5 %wb", "sd": "0.2 %wb", "from": "measured here", "source": "three pans"}],
    }
