"""What a change costs, as the product file states it: prices of films, desiccants and ingredients, and sums per pack."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal

from pydantic import Field, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import core_schema

from hardtack.errors import HardtackError
from hardtack.product.base import Model
from hardtack.product.dough_spec import Price
from hardtack.product.quantities import Origin, Word, fault, read_quantity
from hardtack.product.tree import Text
from hardtack.sourced import Sourced
from hardtack.units import parse_quantity

_PRICE = re.compile(
    r"^\s*(?P<number>[-+]?\d*\.?\d+)\s*(?P<currency>[^\s\d/\[\]]+)\s*/\s*(?P<per>[^\[\]]+?)\s*(?P<rest>\[.*\])?\s*$"
)
_EXAMPLES = {"area": "0.11 EUR/m2", "pack": "0.004 EUR/pack"}


@dataclass(frozen=True, slots=True)
class ReadsCost:
    """Marks a `Sourced` field as money for an area [m2] or for one pack; its unit keeps the currency."""

    per: Literal["area", "pack"]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._validate)

    def _validate(self, value: Any, info: ValidationInfo) -> Sourced:
        if isinstance(value, Sourced):
            return value
        example = _EXAMPLES[self.per]
        match = None if isinstance(value, Mapping) else _PRICE.match(str(value))
        if match is None:
            raise fault(f"cannot read {str(value)[:40]!r} as a cost", f"write it such as {example}")
        plain = f"{match['number']} {match['rest'] or ''}"
        text = Text(plain, value.line) if isinstance(value, Text) else plain
        try:
            amount = read_quantity(text, "number", (info.context or {}).get("origin", Origin()))
            size = self._size(match["per"])
        except HardtackError as error:
            raise fault(error.problems[0].what, f"write it such as {example}") from None
        unit = f"{match['currency']}/{'m2' if self.per == 'area' else 'pack'}"
        return replace(
            amount,
            value=amount.value / size,
            unit=unit,
            written=str(value).partition("[")[0].strip(),
        )

    def _size(self, per: str) -> float:
        """What the money is for: square metres, or packs."""
        if self.per == "area":
            return parse_quantity(per if per[:1].isdigit() else f"1 {per}", "area").value
        number, _, word = per.rpartition(" ")
        if word not in ("pack", "packs"):
            raise HardtackError(f"{per!r} is no number of packs")
        return float(number) if number else 1.0

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "examples": [_EXAMPLES[self.per]]}


PerArea = Annotated[Sourced, ReadsCost("area")]
PerPack = Annotated[Sourced, ReadsCost("pack")]


class CostsSpec(Model):
    """Prices for what a remedy changes. All in one currency; what has no price is told as not given."""

    films: dict[Word, PerArea] = Field(
        default_factory=dict,
        description="price of film by its name, the one in use too, such as {OPP 20 um: 0.06 EUR/m2}",
    )
    desiccants: dict[Word, Price] = Field(
        default_factory=dict, description="price of desiccant by its kind, such as {silica gel: 4 EUR/kg}"
    )
    ingredients: dict[Word, Price] = Field(
        default_factory=dict,
        description="price of ingredients that no formula holds yet, such as {glycerol: 1.1 EUR/kg}",
    )
    remedies: dict[Word, PerPack] = Field(
        default_factory=dict,
        description="what using a remedy costs beside materials, by its kind, such as {bake: 0.002 EUR/pack}",
    )
