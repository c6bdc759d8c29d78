"""The spreads a product file states: which numbers have one, what they may not pass, and which are tied together."""

from __future__ import annotations

import typing
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from hardtack.keeping.inputs import Input, Path, inputs_of
from hardtack.product import Product
from hardtack.product.base import Model
from hardtack.product.correlations import pair_of
from hardtack.product.isotherm_spec import IsothermSpec
from hardtack.product.quantities import Reads
from hardtack.states import Floats
from hardtack.units import KINDS, Kind

LEFT_OUT = (("oven", "measured"),)
"""Readings a bake is only compared with: their spread moves no answer."""


def stated_spreads(product: Product) -> list[Input]:
    """The file's numbers that state an sd, a range or a list and move the answer: not prices, nor a range that is none."""
    found = []
    for one in inputs_of(product):
        amount = one.amount
        spread = amount.sd or amount.values or amount.low is not None
        if not spread or any(one.path[: len(head)] == head for head in LEFT_OUT):
            continue
        if one.path[-1] in ("price", "range"):
            continue
        found.append(one)
    return found


def stated_kinds(product: Product, paths: Sequence[Path]) -> list[Kind]:
    """The kind of quantity at each place; a plain number where the schema gives none."""
    return [KINDS[_kind(product, path) or "number"] for path in paths]


def _kind(value: Any, path: Path) -> str | None:
    """The kind the schema marks at a place, found by walking the models."""
    kind: str | None = None
    for part in path:
        if isinstance(value, Model):
            fields = type(value).model_fields
            name = next((n for n, field in fields.items() if (field.alias or n) == part), None)
            if name is None:
                return None
            marks = [*fields[name].metadata, *_marks(fields[name].annotation)]
            kind = next((mark.kind for mark in marks if isinstance(mark, Reads)), None)
            value = getattr(value, name)
        elif isinstance(part, int) and isinstance(value, tuple):
            value = value[part]
        elif hasattr(value, "get"):
            value = value.get(part)
        else:
            return None
    return kind


def _marks(annotation: Any) -> Iterator[Any]:
    yield from getattr(annotation, "__metadata__", ())
    for inner in typing.get_args(annotation):
        yield from _marks(inner)


def tied_constants(product: Product) -> list[tuple[tuple[Path, ...], Floats]]:
    """The constants whose errors the file ties together: their places, and the matrix of their correlations.

    Only those of them that state a spread are tied; the matrix is brought just inside what is positive definite.
    """
    spreads = {one.path for one in stated_spreads(product)}
    found = []
    for path, spec in _isotherms(product):
        if not spec.correlations:
            continue
        names = list(dict.fromkeys(name for key in spec.correlations for name in pair_of(key)))
        at = {name: _place(path, spec, name) for name in names}
        held = [name for name in names if at[name] in spreads]
        matrix = np.eye(len(held))
        for key, r in spec.correlations.items():
            first, second = pair_of(key)
            if first in held and second in held:
                i, j = held.index(first), held.index(second)
                matrix[i, j] = matrix[j, i] = r
        least = float(np.linalg.eigvalsh(matrix)[0]) if held else 1.0
        if least < 1e-9:
            matrix = (matrix + (1e-9 - least) * np.eye(len(held))) / (1.0 + 1e-9 - least)
        if len(held) > 1:
            found.append((tuple(at[name] for name in held), matrix))
    return found


def _place(path: Path, spec: IsothermSpec, name: str) -> Path:
    """Where a constant stands: those of the form are gathered under one field of the model."""
    return (*path, "parameters", name) if name in spec.parameters else (*path, name)


def _isotherms(product: Product) -> Iterator[tuple[Path, IsothermSpec]]:
    several = product.one_piece is None
    for n, piece in enumerate(product.pieces):
        head: Path = ("pieces", n) if several else ("piece",)
        for k, part in enumerate(piece.layers):
            spec = getattr(part, "isotherm", None)
            if isinstance(spec, IsothermSpec):
                yield (*head, "layers", k, "isotherm"), spec
