"""Why a number is what it is: its equation, what went into it, its source, how it is known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from hardtack.product import Product
from hardtack.reference import Row, find
from hardtack.sourced import Computed, Used, weakest
from hardtack.states import of_layer
from hardtack.units import amount_words
from hardtack.web.shown import failure_when, si_words

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement


@dataclass(frozen=True, slots=True)
class Why:
    """One number opened. `inputs` are the places of others in the statement's list, with their words."""

    title: str
    value: str
    said: tuple[str, ...]
    equation: tuple[str, ...]
    source: str
    provenance: str
    inputs: tuple[tuple[int, str], ...] = ()
    shelf: tuple[Row, ...] = ()
    place: str = ""
    line: int | None = None


MOVED: Mapping[str, str] = MappingProxyType(
    {
        "lumped": "water by one balance over the pack, which is so tight that each piece is evenly moist",
        "transport": "water followed cell by cell through every layer, the headspace and the film",
    }
)
"""How the water was followed, by the method the statement names."""


def why_used(leans_on: Sequence[Used], product: Product, number: int) -> Why | None:
    """One of the numbers an answer leans on."""
    if not 0 <= number < len(leans_on):
        return None
    used = leans_on[number]
    amount = used.amount
    line = _line_of(used, product)
    said = (
        "It stands in the product file."
        if used.given
        else "It was filled in, because the product file does not give it.",
        f"In SI: {si_words(amount)}.",
    )
    shelf = () if used.given else _rows(used)
    return Why(
        used.what, amount_words(amount), said, ("A given number; nothing was computed.",), amount.source,
        amount.provenance, (), shelf, _place(product, line), line,
    )  # fmt: skip


def why_computed(comes_to: Sequence[Computed], leans_on: Sequence[Used], number: int) -> Why | None:
    """One of the numbers an answer comes to."""
    if not 0 <= number < len(comes_to):
        return None
    found = comes_to[number]
    known = weakest(found.inputs)
    return Why(
        found.what,
        found.value,
        (),
        (found.words, found.symbols, f"where {found.where}"),
        found.source,
        "computed" + (f"; the weakest number in it is {known}" if known is not None else ""),
        tuple(
            (leans_on.index(used), f"{used.what}: {amount_words(used.amount)} ({used.amount.provenance})")
            for used in found.inputs
            if used in leans_on
        ),
    )


def why_failure(statement: KeepingStatement, number: int) -> Why | None:
    """One failure's moment."""
    if not 0 <= number < len(statement.courses):
        return None
    course = statement.courses[number]
    from hardtack.keeping.why import why_of

    opened = next(each for each in why_of(statement, course.name) if each.course is course)
    equation = opened.equation
    return Why(
        of_layer(course.name, course.layer),
        failure_when(course),
        (
            opened.chain,
            _sentence(course.limit),
            _sentence(course.meaning),
            *(f"On the leg “{leg}” {share:.0%} of its life is used." for leg, share, _ in opened.by_leg),
            f"Valid: {course.valid}.".replace("..", "."),
            f"What would sharpen it: {course.sharpen}.".replace("..", "."),
            *course.told,
            f"Computed with {MOVED[statement.history.method]}; the water balance of this run closes to "
            f"{statement.history.imbalance:.1e} of the piece's water.",
        ),
        (equation.words, equation.symbols, f"where {equation.where}"),
        course.source,
        course.provenance,
        tuple((statement.used.index(used), used.what) for used in opened.numbers if used in statement.used),
    )


def _sentence(text: str) -> str:
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _rows(used: Used) -> tuple[Row, ...]:
    """Rows of the shelf that gave the number: those with its source whose name the words hold."""
    words = used.what.casefold()
    for word in sorted(set(words.replace(",", " ").split()), key=len, reverse=True)[:4]:
        found = [row for row in find(word) if row.source.citation in used.amount.source]
        if found:
            return tuple(found[:3])
    return ()


def _line_of(used: Used, product: Product) -> int | None:
    """The line of the product file that the number's source names."""
    _, mark, tail = used.amount.source.rpartition("product file:")
    digits = tail[: len(tail) - len(tail.lstrip("0123456789"))] if mark else ""
    return int(digits) if digits and used.given else None


def _place(product: Product, line: int | None) -> str:
    """The place in the product file that stands in a line; the deepest one."""
    if line is None:
        return ""
    here = [place for place, found in product.lines.items() if found == line]
    return "/".join(str(step) for step in max(here, key=len)) if here else ""
