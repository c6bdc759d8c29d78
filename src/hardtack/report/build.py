"""The report built from the product and its answers. It reads and words; nothing is computed of the science."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from hardtack.keeping import keep
from hardtack.keeping.dough_report import DoughReport, dough_report
from hardtack.keeping.sentences import moment
from hardtack.keeping.statement import KeepingStatement
from hardtack.keeping.water_report import WaterReport, water_report
from hardtack.oven.awaited import computed_layers
from hardtack.oven.baking import Baked, bake
from hardtack.oven.handover import with_bake
from hardtack.oven.solving import Across, across_the_band
from hardtack.pictures import KINDS
from hardtack.pictures.words import failure_words
from hardtack.product import Product
from hardtack.report import goods, outcome, trust
from hardtack.report.data import behind, charts
from hardtack.report.decision import UNASKED, Decision, decision_sections
from hardtack.report.model import Block, Bullets, Figure, Paragraph, Report, Section

DEFERRAL = (
    "A computed date is not a legal date. Whether goods carry a best-before or a use-by date, what it may be and who "
    "signs it is set by the law of the market; a model is never a validation."
)


def keeping_report(
    product: Product,
    *,
    title: str = "",
    author: str = "",
    made_on: datetime.date | None = None,
    known: Decision = UNASKED,
) -> Report:
    """The keeping report of a product, dated today unless told; with how sure the date is and what gives the days where
    that is `known` (`decision` works it out).

    Raises `HardtackError` as `keep` does.
    """
    dough = dough_report(product) if product.formulas else None
    baked = bake(product) if product.oven is not None else None
    places = across_the_band(product) if baked is not None else ()
    if baked is not None and computed_layers(product):
        product = with_bake(product, baked)  # one bake for all that follows
    return report_of(
        product,
        keep(product),
        water_report(product),
        dough,
        baked,
        places,
        title=title,
        author=author,
        made_on=made_on,
        known=known,
    )


def report_of(
    product: Product,
    statement: KeepingStatement,
    water: WaterReport,
    dough: DoughReport | None = None,
    baked: Baked | None = None,
    places: Sequence[Across] = (),
    *,
    title: str = "",
    author: str = "",
    made_on: datetime.date | None = None,
    known: Decision = UNASKED,
) -> Report:
    """The report from answers that are there already."""
    used = trust.all_used(statement, dough, baked)
    sections = [
        _answer(statement),
        trust.sure(statement, used, known.certainty),
        _why(statement),
        goods.product_section(product, statement, water),
        *([goods.formula_section(dough)] if dough is not None else []),
        *([goods.bake_section(baked, places)] if baked is not None else []),
        outcome.states_section(statement, _figure(statement, "profile")),
        outcome.failures_section(
            statement,
            [_figure(statement, kind) for kind in ("shares", "stales") if KINDS[kind].drawable(statement)],
        ),
        outcome.way_section(statement, _figure(statement, "journey")),
        *decision_sections(known),
        trust.specification_section(statement, water),
        trust.assumptions_section(used),
        trust.evidence_section(statement, dough=dough is not None, bake=baked is not None),
        trust.cautions_section(statement, water, dough, baked),
        Section("Numbers behind the pictures", behind(statement, known)),
    ]
    return Report(
        title=title or f"Keeping report: {statement.product}",
        product=statement.product,
        author=author,
        sentence=statement.sentence,
        chain=statement.chain,
        facts=_facts(product, statement, author, made_on or datetime.date.today()),
        sections=tuple(sections),
        charts=charts(statement),
        made_on=made_on or datetime.date.today(),
        version=statement.version,
    )


def _facts(
    product: Product, statement: KeepingStatement, author: str, made_on: datetime.date
) -> tuple[tuple[str, str], ...]:
    """What stands at the head of the report."""
    origin = {"invented": "Invented example; no such product exists."}.get(
        (product.origin or "").split(",")[0], ""
    )
    packed = statement.journey.packed_on
    facts = [
        ("Product", statement.product + (f" ({product.kind})" if product.kind else "")),
        ("What the file says of its numbers", product.origin or "each number says so itself"),
        ("Note", origin),
        ("Product file", product.file.name if product.file else ""),
        ("Packed on", _day(datetime.date.fromisoformat(packed)) if packed else "not stated"),
        ("First failure", failure_words(statement).removeprefix("First failure ")),
        ("Report made on", _day(made_on)),
        ("By", author),
        ("Computed by", f"Hardtack {statement.version}"),
    ]
    return tuple((word, told) for word, told in facts if told)


def _day(day: datetime.date) -> str:
    return f"{day.day} {day:%B %Y}"


def _answer(statement: KeepingStatement) -> Section:
    blocks: list[Block] = [_figure(statement, "ladder"), Paragraph(DEFERRAL, strong=True)]
    return Section("Where the water runs", tuple(blocks))


def _why(statement: KeepingStatement) -> Section:
    blocks: list[Block] = [Bullets(statement.causes), Paragraph(statement.limiting)]
    return Section("Why", tuple(blocks))


def _figure(statement: KeepingStatement, name: str) -> Figure:
    kind = KINDS[name]
    ends = "" if statement.end <= 0 else f", to the end {moment(statement.end, '')}"
    caption = {
        "ladder": "Activity ladder: each place stands as high as its water activity; arrows are water running when packed.",
        "journey": "Water activity of every layer along the journey, the air outside and its temperature.",
        "profile": f"Water activity through the piece at a few moments{ends}.",
        "shares": "Share of life used by each failure.",
        "stales": "The two kinds of stale.",
    }[name]
    return Figure(name, caption, kind.picture(statement), kind.description(statement))
