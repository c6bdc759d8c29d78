"""Commented starter files, one for each kind of product."""

from __future__ import annotations

from functools import cache
from importlib import resources

from hardtack.errors import HardtackError

_FOLDER = "starters"


@cache
def kinds() -> tuple[str, ...]:
    """The kinds of product there is a starter file for."""
    folder = resources.files("hardtack.product") / _FOLDER
    return tuple(
        sorted(entry.name.removesuffix(".yaml") for entry in folder.iterdir() if entry.name.endswith(".yaml"))
    )


def starter(kind: str) -> str:
    """The text of the starter file for `kind`. Raises `HardtackError` that lists the kinds."""
    name = kind.strip().lower()
    if name not in kinds():
        raise HardtackError(f"there is no starter file for {kind!r}", f"the kinds are: {', '.join(kinds())}")
    return (resources.files("hardtack.product") / _FOLDER / f"{name}.yaml").read_text(encoding="utf-8")
