"""How the errors of fitted constants hang together, as the product file writes it: ``correlations: {Xm and C: -0.9}``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema

from hardtack.product.quantities import fault

_JOINED = " and "
_EXAMPLE = "such as '{Xm and C: -0.92}'"


def pair_of(key: str) -> tuple[str, str]:
    """The two names of a key such as "Xm and C"."""
    first, _, second = key.partition(_JOINED)
    return first.strip(), second.strip()


def pair_key(first: str, second: str) -> str:
    """The key of two names."""
    return f"{first}{_JOINED}{second}"


def _read(value: Any) -> dict[str, float]:
    if not isinstance(value, Mapping):
        raise fault("correlations stand as a mapping", f"write pairs of constants and a number, {_EXAMPLE}")
    found: dict[str, float] = {}
    for key, number in value.items():
        first, second = pair_of(str(key))
        if not (first and second):
            raise fault(
                f"'{str(key)[:40]}' does not name two constants", f"join two names with 'and', {_EXAMPLE}"
            )
        try:
            r = float(str(number))
        except ValueError:
            raise fault(
                f"cannot read {str(number)[:30]!r} as a correlation", "write a number from -1 to 1"
            ) from None
        if not -1.0 <= r <= 1.0:
            raise fault(f"a correlation of {r:g}", "it lies between -1 and 1")
        found[pair_key(first, second)] = r
    return found


Correlations = Annotated[
    dict[str, float],
    PlainValidator(_read),
    WithJsonSchema({
        "type": "object",
        "additionalProperties": {"type": ["number", "string"]},
        "propertyNames": {"pattern": "^.+ and .+$"},
        "examples": [{"Xm and C": -0.92, "Xm and K": -0.97, "C and K": 0.84}],
    }),
]  # fmt: skip
"""Pairs of constants and the correlation of their errors; plain numbers, for they are no inputs of their own."""


def check_correlations(given: Mapping[str, float], names: Sequence[str]) -> None:
    """Raise a fault unless every pair names two different of `names`, once, and together they can be correlations."""
    seen: set[frozenset[str]] = set()
    for key in given:
        pair = pair_of(key)
        if strange := [name for name in pair if name not in names]:
            raise fault(f"'{strange[0]}' is no constant here", f"there are: {', '.join(names) or 'none'}")
        if pair[0] == pair[1] or frozenset(pair) in seen:
            raise fault(f"the pair '{key}' says nothing new", "name two different constants, every pair once")
        seen.add(frozenset(pair))
    if given and not rises(given, names):
        raise fault(
            "these correlations cannot hold together",
            "copy them from the fit: all pairs, with all their digits",
        )


def rises(given: Mapping[str, float], names: Sequence[str]) -> bool:
    """Whether the matrix of these correlations has no negative eigenvalue worth counting."""
    import numpy as np

    matrix = np.eye(len(names))
    for key, r in given.items():
        i, j = (names.index(name) for name in pair_of(key))
        matrix[i, j] = matrix[j, i] = r
    return bool(np.linalg.eigvalsh(matrix)[0] >= -1e-3)
