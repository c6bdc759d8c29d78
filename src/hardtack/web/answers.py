"""Answers beside the statement, one pattern for all: sentences, a picture, sections, everything as tables.

A later capability gets its page by one more entry of `ANSWERS`: a name, what it is about, what it asks beside the
product, and how a product is answered. Numbers it leans on and numbers it comes to open by themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from hardtack.states import Section
from hardtack.units import celsius, parse_quantity
from hardtack.web.asking import AnswerPage, Ask, Asked, Told
from hardtack.web.buying import BUYING
from hardtack.web.shown import figure
from hardtack.web.sureness import SURENESS


def _dough(asked: Asked) -> Told:
    from hardtack.keeping.dough_as_json import dough_json
    from hardtack.keeping.dough_computed import dough_computed
    from hardtack.keeping.dough_report import dough_report
    from hardtack.keeping.dough_sections import dough_sections
    from hardtack.keeping.dough_words import baked_words, sentence
    from hardtack.pictures.dough import dough_picture

    report = dough_report(asked.product)
    said = [words for sheet in report.sheets for words in (sentence(sheet), baked_words(sheet)) if words]
    rows: list[dict[str, object]] = [
        {"dough": sheet.name, "of 100 g": name, "g": 100 * share}
        for sheet in report.sheets
        for name, share in sheet.parts.items()
        if share > 0
    ]
    several = len(report.sheets) > 1
    return Told(
        tuple(said),
        figure("dough", "What it is made of, and its gas", dough_picture(report), rows),
        dough_json(report),
        report.cautions,
        tuple(dict.fromkeys(each for sheet in report.sheets for each in sheet.used)),
        tuple(
            replace(section, title=f"{sheet.name}: {section.title}") if several else section
            for sheet in report.sheets
            for section in dough_sections(sheet)
        ),
        tuple(each for sheet in report.sheets for each in dough_computed(sheet)),
    )


def _bake(asked: Asked) -> Told:
    from hardtack.oven import words
    from hardtack.oven.as_json import bake_json
    from hardtack.oven.calibration import calibrate
    from hardtack.oven.computed import bake_computed
    from hardtack.oven.solving import across_the_band, to_moisture
    from hardtack.oven.storage import baked_once
    from hardtack.oven.told import bake_sections
    from hardtack.pictures.oven import oven_picture

    product, wanted = asked.product, asked.given.get("moisture", "")
    fit = calibrate(product) if asked.given.get("factors") == FITTED else None
    baked = fit.baked if fit is not None else baked_once(product)
    places = across_the_band(product)
    to = to_moisture(product, parse_quantity(wanted, "moisture").value) if wanted else None
    data = bake_json(baked, places, to, fit)
    return Told(
        (words.headline(baked),),
        figure("bake", "Heat, water and lift", oven_picture(baked), _course_rows(data["courses"])),
        data,
        words.caution_lines(baked),
        baked.used,
        bake_sections(baked, places, to, fit),
        bake_computed(baked),
    )


FITTED = "fitted to what was measured"


COURSE = (
    ("time, min", "time_s", 1 / 60),
    ("centre, °C", "centre_degC", 1),
    ("surface, °C", "surface_degC", 1),
    ("moisture in the mean, % dry basis", "mean_moisture_db", 100),
    ("moisture of the centre, % dry basis", "centre_moisture_db", 100),
    ("moisture of the surface, % dry basis", "surface_moisture_db", 100),
    ("weight lost, % of the dough", "weight_lost", 100),
)
OF_A_LAYER = (
    ("temperature, °C", "temperature_degC", 1),
    ("moisture, % dry basis", "moisture_db", 100),
    ("water activity", "activity", 1),
    ("starch gelatinised, %", "gelatinised", 100),
    ("set, %", "setting", 100),
)
"""Columns of the bake's table: heading, key of the JSON, and what it is multiplied by."""


def _course_rows(courses: dict[str, Any]) -> list[dict[str, object]]:
    """Some thirty moments of the bake; all of them are in JSON."""
    length = len(courses["time_s"])
    return [
        {heading: by * courses[key][k] for heading, key, by in COURSE}
        | {
            f"{layer['name']}: {heading}": by * layer[key][k]
            for layer in courses["layers"]
            for heading, key, by in OF_A_LAYER
        }
        for k in range(0, length, max(1, length // 30))
    ]


def _where(asked: Asked) -> Told:
    from hardtack.keeping.where import where
    from hardtack.keeping.where_as_json import where_json
    from hardtack.pictures.where import table, where_picture

    answer = where(asked.product, heard=asked.heard)
    drawn = figure("where", "Days over the climates of a store", where_picture(answer), table(answer))
    rows = tuple(
        (
            each.name,
            _days(each.days),
            f"{celsius(each.temperature):.0f} °C, {each.humidity:.0%}",
            each.failure or "nothing fails",
            each.provenance,
        )
        for each in answer.places
    )
    said = [f"{answer.product}: how long it keeps, by the air of the leg “{answer.leg}”."]
    if answer.places:
        short, long = answer.places[0], answer.places[-1]
        said.append(f"{short.name} {_days(short.days)}, {long.name} {_days(long.days)} from packing.")
    columns = ("place", "keeps", "mean air", "fails by", "climate known")
    sections = (Section("Places, the shortest first", (), columns, rows),) if rows else ()
    return Told(tuple(said), drawn, where_json(answer), answer.remarks, (), sections)


def _days(days: float | None) -> str:
    return "more than three years" if days is None else f"{days:.0f} days"


ANSWERS: tuple[AnswerPage, ...] = (
    AnswerPage(
        "dough",
        "Dough",
        "What to weigh, what it is made of, its leavening, a draft for the label.",
        _dough,
        needs="formulas",
    ),
    AnswerPage(
        "bake",
        "Bake",
        "Heat and water through the oven and cooling, lift, colour, kill step.",
        _bake,
        (
            Ask("moisture", "moisture wanted at the exit", "2.5 %wb"),
            Ask("factors", "coefficients of the oven", choices=("as the file says", FITTED)),
        ),
        needs="oven",
    ),
    AnswerPage(
        "where",
        "Where",
        "Where it can be sold: days over the climates of a store, and in towns of the shelf.",
        _where,
        takes="The product is followed through more than fifty climates, which takes ten seconds or more.",
    ),
    *SURENESS,
    *BUYING,
)


def answer_page(slug: str) -> AnswerPage | None:
    """The page by that name."""
    return next((each for each in ANSWERS if each.slug == slug), None)


LEFT_OUT = frozenset(
    [
        "schema",
        "version",
        "product",
        "cautions",
        "assumptions",
        "hardtack",
        "kind",
        "sentence",
        "bake",
        "advice",
        "used",
        "courses",
        "wanted",
        "calibration",
        "places",
        "remarks",
    ]
)
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
