"""A failure to look out for, before anything has happened: what it leans on, and how a history is judged by it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hardtack.failures.texture import TextureLimit
from hardtack.sourced import Sourced, Used
from hardtack.states import FailureCourse, History, Layer, Piece
from hardtack.units import ZERO_CELSIUS

ROOM = ZERO_CELSIUS + 25.0
"""Where no temperature is stated [K]."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One way of failing of one product: `course` computes it from a history, `used` are its own numbers.

    A failure of texture has its `limit`, met by rising or falling moisture. One that does not hold
    everywhere (`bounded`) may refuse a history with a `HardtackError` that says why.
    """

    name: str
    layer: str
    course: Callable[[History], FailureCourse]
    used: tuple[Used, ...]
    limit: TextureLimit | None = None
    rising: bool = True
    bounded: bool = False


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A way of failing that was not looked at, and why."""

    name: str
    why: str


Verdict = Judged | NotJudged


def all_layers(pieces: tuple[Piece, ...]) -> tuple[Layer, ...]:
    """The layers of all kinds of piece, in order."""
    return tuple(layer for piece in pieces for layer in piece.layers)


def words_of(layer: Layer, pieces: tuple[Piece, ...], kind: str | None) -> tuple[str, ...]:
    """Names under which the shelf may know a layer: the kind of product stands for its only layer."""
    only = kind is not None and len(all_layers(pieces)) == 1
    return ((kind or "",) if only else ()) + (layer.isotherm.name, layer.name)


def given_or(spec: Sourced | None, default: Sourced, what: str) -> tuple[float, Used]:
    """The file's number, else the default; with the line it gets among the numbers used."""
    amount = default if spec is None else spec
    return amount.value, Used(what, amount, spec is not None)
