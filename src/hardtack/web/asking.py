"""What an answer's page is made of: what it asks, how it is told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from hardtack.product import Product
from hardtack.sourced import Computed, Used
from hardtack.states import Section
from hardtack.web.shown import Figure
from hardtack.web.work import Heard

LONGEST = 200
"""Letters of one answer to what a page asks."""
LONGEST_TEXT = 4000
"""Letters of a text; it still goes through an address."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a page shows: sentences first, a picture where there is one, sections, then everything as plain data; the
    numbers it comes to and those it leans on, each of which opens."""

    sentences: tuple[str, ...]
    drawn: Figure | None
    data: dict[str, Any]
    cautions: tuple[str, ...] = ()
    used: tuple[Used, ...] = ()
    sections: tuple[Section, ...] = ()
    computed: tuple[Computed, ...] = ()
    whole: Any = None
    """The answer itself, where the keeping report takes it up."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question: the product, and what was written beside it on the page, by the names of the page's `Ask`s.
    `heard` is told the share of the work done."""

    product: Product
    given: Mapping[str, str]
    heard: Heard


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing a page asks beside the product; an empty answer leaves it out. `choices`, or those `of` a product,
    make it a choice, the first of them where nothing is said. `lines` above 0 make it a text of so many lines."""

    name: str
    label: str
    example: str = ""
    choices: tuple[str, ...] = ()
    of: Callable[[Product], tuple[str, ...]] | None = None
    lines: int = 0
    usual: str = ""
    """What is taken where nothing else is said."""

    @property
    def longest(self) -> int:
        """Letters that are taken."""
        return LONGEST_TEXT if self.lines else LONGEST

    def offered(self, product: Product | None) -> tuple[str, ...]:
        """What can be chosen; nothing where it is written."""
        return self.choices if self.of is None else self.of(product) if product is not None else ()


@dataclass(frozen=True, slots=True)
class AnswerPage:
    """One page: how it is called, what it is about, what it asks, and how it is answered. `takes` says how long in
    words where one would wait; such an answer is worked out in the background when it is asked for."""

    slug: str
    title: str
    about: str
    tell: Callable[[Asked], Told]
    asks: tuple[Ask, ...] = ()
    takes: str = ""
    needs: str = ""
    """A part of the product file without which there is nothing to answer."""
    reported: bool = False
    """Whether the keeping report has sections of it, once it is worked out."""
