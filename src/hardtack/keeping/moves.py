"""A move: one thing about a product that could be changed, in steps from what the file states."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hardtack.product import Product
from hardtack.reference import Row, lookup
from hardtack.sourced import Sourced

RANGES = "remedy ranges"
TRIED = "tried as a remedy"


@dataclass(frozen=True, slots=True)
class Setting:
    """One place a move may be put to: `value` in the move's `unit`, the product there, and what to write down.

    `specification` is the line that would go into a specification; `told` what else must be known.
    """

    value: float
    words: str
    change: Callable[[], Product]
    specification: str
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Move:
    """A remedy of one `family`: what is moved, where it stands now, and its settings, the nearest to now first.

    `within` says the range in words, with how it is known.
    """

    family: str
    what: str
    now: str
    value: float
    unit: str
    settings: tuple[Setting, ...]
    within: str


def tried(value: float, unit: str, written: str) -> Sourced:
    """A number set by a remedy."""
    return Sourced(value, unit, "assumed", TRIED, written=written)


def range_row(name: str) -> Row:
    """A row of the remedy ranges."""
    return lookup(RANGES, name)


def within(row: Row, words: str) -> str:
    """The range in words with its provenance."""
    return f"{words} ({row.provenance})"


def steps(start: float, end: float, step: float) -> tuple[float, ...]:
    """Round values between `start`, left out, and `end`, the nearest to the start first.

    They are whole multiples of `step`, so that what is found can be written down as it is.
    """
    step = abs(step)
    if end > start:
        number = int((start + 1e-9 * step) // step) + 1
        last = int((end + 1e-9 * step) // step)
        return tuple(round(k * step, 12) for k in range(number, last + 1))
    number = int(-((-start + 1e-9 * step) // step)) - 1
    last = int(-((-end + 1e-9 * step) // step))
    return tuple(round(k * step, 12) for k in range(number, last - 1, -1) if k * step < start - 1e-9 * step)


def grams_words(value: float) -> str:
    """A number of two significant digits, never as a power of ten."""
    return f"{value:.2g}" if value < 99.5 else f"{value:.0f}"


def two_digits(start: float, end: float, factor: float) -> tuple[float, ...]:
    """Values of two significant digits from `start`, left out, to `end`, each about `factor` from the last."""
    rising = end > start
    ratio = factor if rising else 1.0 / factor
    found: list[float] = []
    value = start * ratio
    while (value <= end) if rising else (value >= end):
        rounded = float(f"{value:.1e}")
        ahead = rounded > start if rising else rounded < start
        if ahead and (not found or rounded != found[-1]):
            found.append(rounded)
        value *= ratio
    return tuple(found)


def moves_of(*parts: Sequence[Move]) -> tuple[Move, ...]:
    """All moves that have somewhere to go."""
    return tuple(move for part in parts for move in part if move.settings)
