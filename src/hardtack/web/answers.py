"""Answers beside the statement, one pattern for all: sentences, a picture, everything as tables.

A later capability gets its page by one more entry of `ANSWERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from hardtack.product import Product
from hardtack.web.shown import Figure, figure


@dataclass(frozen=True, slots=True)
class Told:
    """What a page shows: sentences first, a picture where there is one, then everything as plain data."""

    sentences: tuple[str, ...]
    drawn: Figure | None
    data: dict[str, Any]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AnswerPage:
    """One page: how it is called, what it is about, and how a product is answered."""

    slug: str
    title: str
    about: str
    tell: Callable[[Product], Told]


def _dough(product: Product) -> Told:
    from hardtack.keeping.dough_as_json import dough_json
    from hardtack.keeping.dough_report import dough_report
    from hardtack.keeping.dough_words import baked_words, sentence
    from hardtack.pictures.dough import dough_picture

    report = dough_report(product)
    said = [words for sheet in report.sheets for words in (sentence(sheet), baked_words(sheet)) if words]
    rows: list[dict[str, object]] = [
        {"dough": sheet.name, "of 100 g": name, "g": 100 * share}
        for sheet in report.sheets
        for name, share in sheet.parts.items()
        if share > 0
    ]
    drawn = figure("dough", "What it is made of, and its gas", dough_picture(report), rows)
    return Told(tuple(said), drawn, plain(dough_json(report)), report.cautions)


ANSWERS: tuple[AnswerPage, ...] = (
    AnswerPage(
        "dough", "Dough", "What to weigh, what it is made of, its leavening, a draft for the label.", _dough
    ),
)


def answer_page(slug: str) -> AnswerPage | None:
    """The page by that name."""
    return next((each for each in ANSWERS if each.slug == slug), None)


LEFT_OUT = ("schema", "version", "product", "cautions", "assumptions")
"""What the page says elsewhere, or what speaks to programs only."""
LONGEST = 40
"""Rows of a table; a course of hundreds of points is for the picture and for JSON."""


def plain(data: dict[str, Any]) -> dict[str, Any]:
    """The answer's data for reading: keys in words, long courses of numbers left to the picture."""
    return {
        _words(key): _short(value) for key, value in data.items() if key not in LEFT_OUT and not _long(value)
    }


def _short(value: Any) -> Any:
    if isinstance(value, dict):
        return plain(value)
    if isinstance(value, list):
        return [_short(item) for item in value]
    return value


def _long(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str) and len(value) > LONGEST


def _words(key: str) -> str:
    return key.replace("_", " ")
