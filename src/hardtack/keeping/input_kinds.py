"""Which kind of quantity stands at a place of the product file, so that another value for it can be read and held to
its range."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, get_args, get_origin

from hardtack.errors import HardtackError
from hardtack.keeping.inputs import Path
from hardtack.product import IsothermSpec, Product
from hardtack.product.base import Model
from hardtack.product.dough_spec import ReadsNamed
from hardtack.product.formula_spec import ReadsAmount
from hardtack.product.isotherm_spec import CONSTANTS
from hardtack.product.quantities import Reads, Twelve
from hardtack.units import KINDS

OF_A_FORMULA = "amount of a formula"
"""Stands for the two kinds it may be, by the formula's basis."""


def kind_of(product: Product, path: Path) -> str:
    """The kind of the number at `path`, a key of `hardtack.units.KINDS`.

    Raises `HardtackError` when no number stands there.
    """
    value: Any = product
    kinds: tuple[str, ...] = ()
    constants: Mapping[str, str] = {}
    for above, step in zip(("", *path), path, strict=False):
        if isinstance(value, IsothermSpec) and step == "parameters":
            constants, value = CONSTANTS[value.form], value.parameters
        elif above == "parameters" and _holds(value, step):
            kinds, value = (constants[str(step)],), value[step]
        elif isinstance(value, Model):
            name, field = next(
                ((n, f) for n, f in type(value).model_fields.items() if (f.alias or n) == step), ("", None)
            )
            if field is None:
                break
            kinds = tuple(_marked((field.annotation, *field.metadata)))
            value = getattr(value, name)
        elif _holds(value, step):
            value = value[step]
        else:
            kinds = ()
            break
    if not kinds:
        raise HardtackError(f"there is no number at {path}", "name one of the numbers the file states")
    if kinds[-1] == OF_A_FORMULA:
        return "mass" if value.unit == KINDS["mass"].si else "proportion"
    return kinds[-1]


def _holds(value: Any, step: str | int) -> bool:
    if isinstance(value, tuple):
        return isinstance(step, int) and step < len(value)
    return isinstance(value, Mapping) and step in value


def _marked(parts: tuple[Any, ...]) -> Iterator[str]:
    """The kinds of quantity that an annotation names, however deep; of a mapping its values' last."""
    for part in parts:
        if isinstance(part, (Reads, Twelve)):
            yield part.kind
        elif isinstance(part, ReadsAmount):
            yield OF_A_FORMULA
        elif isinstance(part, ReadsNamed):
            yield "positive number"
        elif get_origin(part) is Annotated or get_args(part):
            yield from _marked(get_args(part))
