"""A value that remembers where it came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

Provenance = Literal["measured here", "seen", "from memory", "assumed", "invented"]
"""How a number is known: measured in this laboratory; seen in a cited source; from memory, no source at
hand; assumed because nothing better was given; invented for an example."""

Spread = Literal["pack to pack", "lot to lot", "not known"]
"""What a spread is: a difference between packs, a difference between lots, or not knowing the one number better."""

SPREADS: tuple[Spread, ...] = get_args(Spread)

PROVENANCES: tuple[Provenance, ...] = get_args(Provenance)


@dataclass(frozen=True, slots=True)
class Sourced:
    """A number in SI with its spread and its origin.

    `value`, `sd`, `low` and `high` are in `unit` (SI, kelvin, fractions; moisture in kg water per kg dry
    solid). `written` keeps the user's own spelling for messages. `sd` is one standard deviation; a range
    leaves `value` at its middle. `values` are those of a list, each as likely as the others, with `value` their mean
    and `sd` their own. `spread` says what the spread is, None where the file leaves that to the kind of number.
    """

    value: float
    unit: str
    provenance: Provenance
    source: str = ""
    sd: float | None = None
    low: float | None = None
    high: float | None = None
    written: str = ""
    values: tuple[float, ...] = ()
    spread: Spread | None = None


@dataclass(frozen=True, slots=True)
class Used:
    """A number an answer leans on: `what` it is, in the user's words, and the number itself.

    `given` is true when the product file states it and false when the program filled it in.
    """

    what: str
    amount: Sourced
    given: bool


@dataclass(frozen=True, slots=True)
class Computed:
    """A number an answer comes to: `what` and its `value` as they are said, the equation in `words` and in `symbols`
    (`where` tells what each is), the numbers that went into it, and the equation's source.
    """

    what: str
    value: str
    words: str
    symbols: str
    where: str
    inputs: tuple[Used, ...]
    source: str


def about(used: Sequence[Used], *words: str) -> tuple[Used, ...]:
    """The numbers whose words hold one of some words: those an equation takes."""
    return tuple(each for each in used if any(word in each.what for word in words))


def weakest(used: Sequence[Used]) -> Provenance | None:
    """The weakest way in which some numbers are known, None of none: an answer is no better than that."""
    known = {each.amount.provenance for each in used}
    return next((kind for kind in reversed(PROVENANCES) if kind in known), None)
