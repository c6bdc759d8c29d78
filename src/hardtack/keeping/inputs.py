"""The numbers of a product file, found by their place, and the product with some of them replaced."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from hardtack.errors import HardtackError, Problem
from hardtack.product import Product
from hardtack.product.base import Model
from hardtack.sourced import Sourced

Path = tuple[str | int, ...]
"""Keys and positions from the top of the product file down to one number, as the file writes them."""


@dataclass(frozen=True, slots=True)
class Input:
    """One number the product file states: where it stands, what to call it ("cracker: moisture"), and itself."""

    path: Path
    name: str
    amount: Sourced


def inputs_of(product: Product) -> tuple[Input, ...]:
    """Every number the product file states but for its `costs`, which move no date; in the order of the format.

    Names are unique.
    """
    found = [Input(path, _name(owner, path), amount) for path, owner, amount in _numbers(product, (), ())]
    names = [one.name for one in found]
    return tuple(
        one if names.count(one.name) == 1 else Input(one.path, _whole(one.path), one.amount) for one in found
    )


def input_named(product: Product, name: str) -> Input:
    """The input called so; a part of its name will do when no other holds it.

    Raises `HardtackError` when none or several are meant, with the nearest names.
    """
    words = " ".join(name.lower().split())
    inputs = inputs_of(product)
    exact = [one for one in inputs if one.name.lower() == words]
    near = exact or [one for one in inputs if all(word in one.name.lower() for word in words.split())]
    if len(near) == 1:
        return near[0]
    file = str(product.file or "product file")
    if near:
        said = ", ".join(f"'{one.name}'" for one in near[:6])
        raise HardtackError(Problem(f"'{name}' may mean {said}", "write more of the name", file))
    import difflib

    guesses = difflib.get_close_matches(words, [one.name.lower() for one in inputs], n=4, cutoff=0.3)
    said = ", ".join(f"'{guess}'" for guess in guesses) or "see the file"
    raise HardtackError(Problem(f"the file states no number called '{name[:60]}'", f"there are {said}", file))


def with_amounts(product: Product, amounts: Mapping[Path, Sourced]) -> Product:
    """The product with the numbers at these places replaced; all else, its files too, stays.

    Raises `HardtackError` when a place holds no number.
    """
    for path, amount in amounts.items():
        product = _replaced(product, path, path, amount)
    return product


def _numbers(
    value: Any, path: Path, owner: tuple[str, ...]
) -> Iterator[tuple[Path, tuple[str, ...], Sourced]]:
    if isinstance(value, Sourced):
        yield path, owner, value
    elif isinstance(value, Model):
        called = next(
            (
                said
                for key in ("name", "leg", "ingredient")
                if isinstance(said := getattr(value, key, None), str)
            ),
            None,
        )
        below = owner if called is None or isinstance(value, Product) else (called,)
        for name, key in _keys(value):
            if path or key != "costs":
                yield from _numbers(getattr(value, name), (*path, key), below)
    elif isinstance(value, Mapping):
        for key, item in value.items():
            if isinstance(key, str):
                yield from _numbers(item, (*path, key), owner)
    elif isinstance(value, tuple):
        for place, item in enumerate(value):
            yield from _numbers(item, (*path, place), owner)


def _keys(model: Model) -> list[tuple[str, str]]:
    """Field names of the model and the keys the file writes for them."""
    return [(name, field.alias or name) for name, field in type(model).model_fields.items()]


def _name(owner: tuple[str, ...], path: Path) -> str:
    """ "cracker: moisture": the nearest thing with a name of its own, and the keys below it that tell them apart."""
    words = [str(part) for part in path if isinstance(part, str)]
    if not owner:
        return f"{words[-2]}: {words[-1]}" if len(words) > 1 else words[-1]
    plain = {
        "piece",
        "pieces",
        "layers",
        "pack",
        "film",
        "journey",
        "formulas",
        "ingredients",
        "value",
        "mean",
    }
    tail = [word for word in words[-2:] if word not in plain] or words[-1:]
    return f"{owner[-1]}: {' '.join(tail)}"


def _whole(path: Path) -> str:
    return ", ".join(str(part + 1) if isinstance(part, int) else part for part in path)


def _replaced(value: Any, rest: Path, path: Path, amount: Sourced) -> Any:
    if not rest:
        if isinstance(value, Sourced):
            return amount
        raise HardtackError(
            f"there is no number at {_whole(path)}", "name one of the numbers the file states"
        )
    head, below = rest[0], rest[1:]
    if isinstance(value, Model):
        for name, key in _keys(value):
            if key == head:
                return value.model_copy(update={name: _replaced(getattr(value, name), below, path, amount)})
    elif isinstance(value, Mapping) and head in value:
        return {**value, head: _replaced(value[head], below, path, amount)}
    elif isinstance(value, tuple) and isinstance(head, int) and head < len(value):
        return (*value[:head], _replaced(value[head], below, path, amount), *value[head + 1 :])
    raise HardtackError(f"there is no number at {_whole(path)}", "name one of the numbers the file states")
