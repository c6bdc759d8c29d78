"""What all models of the product file share: frozen, and naming all unknown and all missing keys at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationInfo, model_validator

from hardtack.errors import Problem
from hardtack.product.tree import Entries, Tree


class Model(BaseModel):
    """A frozen part of the product file; its keys are the field names with spaces for underscores."""

    model_config = ConfigDict(
        defer_build=True,  # of what is nested; the whole file is built when one is read
        frozen=True,
        extra="forbid",
        alias_generator=lambda name: name.replace("_", " "),
        arbitrary_types_allowed=True,
    )

    @classmethod
    def extra_keys(cls, given: Mapping[str, Any]) -> tuple[str, ...]:
        """Keys allowed here beyond the fields; they depend on what is given (constants of an isotherm)."""
        return ()

    @classmethod
    def arrange(cls, given: Entries, kept: dict[str, Any]) -> dict[str, Any]:
        """Move keys to the fields that hold them, where the file is written otherwise than the model."""
        return kept

    @classmethod
    def known_keys(cls) -> tuple[str, ...]:
        """The keys a product file may hold here, in the order of the format."""
        return tuple(field.alias or name for name, field in cls.model_fields.items())

    @model_validator(mode="before")
    @classmethod
    def _know_keys(cls, given: Any, info: ValidationInfo) -> Any:
        tree: Tree | None = (info.context or {}).get("tree")
        if tree is None or not isinstance(given, Entries):
            return given
        allowed = (*cls.known_keys(), *cls.extra_keys(given))
        for key in given:
            if key not in allowed:
                tree.problems.append(_unknown(key, allowed, given, tree))
        for name, field in cls.model_fields.items():
            key = field.alias or name
            if field.is_required() and key not in given.key_lines:
                example = f": {field.examples[0]}" if field.examples else ""
                tree.problem(f"'{key}' is missing", f"add '{key}{example}'", given.line, given.path)
        return cls.arrange(given, {key: value for key, value in given.items() if key in allowed})


def _unknown(key: str, allowed: tuple[str, ...], given: Entries, tree: Tree) -> Problem:
    import difflib

    near = difflib.get_close_matches(key.lower().replace("_", " "), allowed, n=1, cutoff=0.6)
    guess = f"perhaps '{near[0]}'; " if near else ""
    return Problem(
        f"unknown key '{key[:60]}'",
        f"{guess}the keys here are: {', '.join(allowed)}",
        tree.file,
        given.line_of(key),
        tree.words(given.path),
    )
