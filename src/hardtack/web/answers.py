"""Answers beside the statement, one pattern for all: sentences, a picture, everything as tables.

A later capability gets its page by one more entry of `ANSWERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from hardtack.product import Product
from hardtack.sourced import Used
from hardtack.units import celsius
from hardtack.web.shown import Figure, figure


@dataclass(frozen=True, slots=True)
class Told:
    """What a page shows: sentences first, a picture where there is one, then everything as plain data, and the
    numbers it leans on."""

    sentences: tuple[str, ...]
    drawn: Figure | None
    data: dict[str, Any]
    cautions: tuple[str, ...] = ()
    used: tuple[Used, ...] = ()
    sections: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class AnswerPage:
    """One page: how it is called, what it is about, and how a product is answered. `takes` says how long in words
    where one would wait; such an answer is computed when it is asked for."""

    slug: str
    title: str
    about: str
    tell: Callable[[Product], Told]
    takes: str = ""


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
    used = tuple(dict.fromkeys(each for sheet in report.sheets for each in sheet.used))
    return Told(tuple(said), drawn, plain(dough_json(report)), report.cautions, used)


def _bake(product: Product) -> Told:
    from hardtack.oven import words
    from hardtack.oven.as_json import bake_json
    from hardtack.oven.baking import bake
    from hardtack.oven.solving import across_the_band, range_words
    from hardtack.pictures.oven import oven_picture

    baked = bake(product)
    places = across_the_band(product)
    sections = {
        "The bake": words.bake_lines(baked),
        "Lift against setting": words.lift_lines(baked),
        "Colour": words.colour_lines(baked),
        "Cooling and packing": words.cooling_lines(baked),
        "Across the band": (range_words(baked, places),) if places else (),
        "Kill step": words.kill_lines(baked),
    }
    data = bake_json(baked, places)
    told = {"hardtack", "kind", "sentence", "bake", "advice", "used", "courses", "wanted", "calibration"}
    return Told(
        (words.headline(baked),),
        figure("bake", "Heat, water and lift", oven_picture(baked), _course_rows(data["courses"])),
        plain({key: value for key, value in data.items() if key not in told}),
        words.caution_lines(baked),
        baked.used,
        tuple((title, lines) for title, lines in sections.items() if lines),
    )


COURSE = (
    ("time, min", "time_s", 1 / 60),
    ("centre, °C", "centre_degC", 1),
    ("surface, °C", "surface_degC", 1),
    ("moisture in the mean, % dry basis", "mean_moisture_db", 100),
    ("moisture of the centre, % dry basis", "centre_moisture_db", 100),
    ("moisture of the surface, % dry basis", "surface_moisture_db", 100),
)
"""Columns of the bake's table: heading, key of the JSON, and what it is multiplied by."""


def _course_rows(courses: dict[str, Any]) -> list[dict[str, object]]:
    """Some thirty moments of the bake; all of them are in JSON."""
    length = len(courses["time_s"])
    return [
        {heading: by * courses[key][k] for heading, key, by in COURSE}
        for k in range(0, length, max(1, length // 30))
    ]


def _where(product: Product) -> Told:
    from hardtack.keeping.where import where
    from hardtack.keeping.where_as_json import where_json
    from hardtack.pictures.where import table, where_picture

    answer = where(product)
    drawn = figure("where", "Days over the climates of a store", where_picture(answer), table(answer))
    places = [
        f"{each.name}: {_days(each.days)}; mean air {celsius(each.temperature):.0f} °C, {each.humidity:.0%}; "
        f"{f'fails by {each.failure}' if each.failure else 'nothing fails'}; climate {each.provenance}"
        for each in answer.places
    ]
    said = [f"{answer.product}: how long it keeps, by the air of the leg “{answer.leg}”."]
    if answer.places:
        short, long = answer.places[0], answer.places[-1]
        said.append(f"{short.name} {_days(short.days)}, {long.name} {_days(long.days)} from packing.")
    sections = (("Places, the shortest first", tuple(places)),) if places else ()
    return Told(
        tuple(said), drawn, plain({"places": where_json(answer)["places"]}), answer.remarks, (), sections
    )


def _days(days: float | None) -> str:
    return "more than three years" if days is None else f"{days:.0f} days"


ANSWERS: tuple[AnswerPage, ...] = (
    AnswerPage(
        "dough", "Dough", "What to weigh, what it is made of, its leavening, a draft for the label.", _dough
    ),
    AnswerPage(
        "bake", "Bake", "Heat and water through the oven and cooling, lift, colour, kill step.", _bake
    ),
    AnswerPage(
        "where",
        "Where",
        "Where it can be sold: days over the climates of a store, and in towns of the shelf.",
        _where,
        "The product is followed through more than fifty climates, which takes ten seconds or more.",
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
