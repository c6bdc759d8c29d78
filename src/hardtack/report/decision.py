"""What decisions are made on: how sure the date is, what to measure next, what gives the wanted days, what two inputs trade,
what lies behind a complaint, what a sweep came to. Each only when asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from hardtack.keeping.bought_told import KNOWN, complaint_sections, remedies_sections, tradeoff_sections
from hardtack.keeping.certainty import CONFIDENCE, SHARE, Certainty, certainty
from hardtack.keeping.certainty_words import error_words, range_words
from hardtack.keeping.complaint import Complaint, complaint
from hardtack.keeping.measure_next import Next, measure_next
from hardtack.keeping.remedies import Remedies, days_words, remedies
from hardtack.keeping.sure_told import certainty_sections, next_sections
from hardtack.keeping.sweeping.summary import Summary, summary_of
from hardtack.keeping.sweeping.told import sweep_sections, sweep_sentence
from hardtack.keeping.tradeoff import Tradeoff, tradeoff
from hardtack.pictures import certainty as sure_picture
from hardtack.pictures import complaint as complaint_picture
from hardtack.pictures import measure_next as next_picture
from hardtack.pictures import remedies as remedies_picture
from hardtack.pictures import sweep as sweep_picture
from hardtack.pictures import tradeoff as tradeoff_picture
from hardtack.pictures.style import Spec, retitled
from hardtack.product import Product
from hardtack.product.found_spec import Found
from hardtack.report.model import Block, Bullets, Cell, Column, Figure, Paragraph, Section, Table
from hardtack.states import Section as Told

Heard = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a report is asked to hold beside the plain answer: how sure the date is for a `share` of the packs and a
    `confidence`, one of which will do; what gives `days`; the days over two `inputs`, by name; what lies behind what was
    `found`; what the `sweep` in a folder came to. Nothing of it unless asked: most take a while."""

    share: float | None = None
    confidence: float | None = None
    days: float | None = None
    inputs: tuple[str, str] | None = None
    found: Found | None = None
    sweep: Path | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """The answers that go into the report, as far as they were asked."""

    certainty: Certainty | None = None
    measure_next: Next | None = None
    remedies: Remedies | None = None
    tradeoff: Tradeoff | None = None
    complaint: Complaint | None = None
    sweep: Summary | None = None


UNASKED = Decision()


def decision(product: Product, wanted: Wanted, heard: Heard = lambda _: None) -> Decision:
    """Work out what is wanted. `heard` is told the share done. Raises as the answers do."""
    sure = following = None
    if wanted.share is not None or wanted.confidence is not None:
        both = (wanted.share or SHARE, wanted.confidence or CONFIDENCE)
        sure = certainty(product, *both, progress=lambda done: heard(0.3 * done))
        following = measure_next(product, *both, progress=lambda done: heard(0.3 + 0.5 * done))
    bought = (
        remedies(product, wanted.days, lambda done: heard(0.8 + 0.2 * done))
        if wanted.days is not None
        else None
    )
    traded = tradeoff(product, *wanted.inputs, days=wanted.days) if wanted.inputs is not None else None
    weighed = complaint(product, wanted.found) if wanted.found is not None else None
    swept = summary_of(wanted.sweep) if wanted.sweep is not None else None
    return Decision(sure, following, bought, traded, weighed, swept)


def decision_sections(known: Decision) -> tuple[Section, ...]:
    """The sections of what was asked, in the order in which one decides."""
    sections = []
    if known.certainty is not None:
        sections.append(_sure(known.certainty))
    if known.measure_next is not None:
        sections.append(_next(known.measure_next, known.certainty))
    if known.remedies is not None:
        sections += _remedies(known.remedies)
    if known.tradeoff is not None:
        sections.append(_tradeoff(known.tradeoff))
    if known.complaint is not None:
        sections.append(_complaint(known.complaint))
    if known.sweep is not None:
        sections.append(_sweep(known.sweep))
    return tuple(sections)


def decision_data(known: Decision) -> tuple[tuple[str, str, list[dict[str, object]]], ...]:
    """The numbers behind these pictures: name, caption, rows."""
    found: list[tuple[str, str, list[dict[str, object]]]] = []
    if known.certainty is not None:
        found.append(("Certainty data", "Packs still good", sure_picture.table(known.certainty)))
    return tuple(found)


def _sure(sure: Certainty) -> Section:
    blocks: list[Block] = [
        Paragraph(sure.sentence, strong=True),
        Bullets((range_words(sure), error_words(sure))),
        _figure(
            "certainty",
            "Packs still good, their dates, and the courses with bands that hold eight samples in ten.",
            sure_picture.certainty_picture(sure),
            sure_picture.description(sure),
        ),
    ]
    for told, name in zip(
        certainty_sections(sure), ("First failures", *(f"Spreads {k}" for k in range(1, 9))), strict=False
    ):
        blocks += _blocks(told, name)
    blocks.append(Bullets(sure.told))
    return Section(
        f"How sure: {sure.share:.0%} of the packs, {sure.confidence:.0%} confidence", tuple(blocks)
    )


def _next(found: Next, sure: Certainty | None) -> Section:
    blocks: list[Block] = [
        Paragraph(found.sentence, strong=True),
        _figure(
            "measure-next",
            "Days by which each measurement would firm the date up, and the shares of the variance.",
            next_picture.next_picture(found),
            next_picture.description(found),
        ),
    ]
    for told, name in zip(next_sections(found), ("Measurements", "Variance"), strict=True):
        blocks += _blocks(told, name)
    notes = list(found.told)
    if (
        sure is not None
        and sure.day is not None
        and found.day is not None
        and abs(sure.day - found.day) >= 0.5
    ):
        notes.append(
            "The stated day here rests on fewer samples than that of the section before; they differ by sampling."
        )
    blocks.append(Bullets(tuple(notes)))
    return Section("What to measure next", tuple(blocks))


def _remedies(answer: Remedies) -> list[Section]:
    blocks: list[Block] = [Paragraph(answer.sentence, strong=True)]
    if answer.found:
        blocks.append(
            _figure(
                "remedies",
                f"Days each remedy comes to, beside the {answer.wanted:g} days wanted.",
                remedies_picture.remedies_picture(answer),
                remedies_picture.description(answer),
            )
        )
    for told in remedies_sections(answer):
        if told.title != LINES:  # a section of its own, with what each line is worth
            blocks += _blocks(told, "Remedies")
    blocks.append(Bullets((*answer.remarks, *KNOWN)))
    sections = [Section(f"Remedies: what gives {answer.wanted:g} days", tuple(blocks))]
    if answer.sufficient:
        sections.append(_lines(answer))
    return sections


def _tradeoff(answer: Tradeoff) -> Section:
    caption = f"Days over {answer.a.name} and {answer.b.name}, with what fails first."
    figure = _figure(
        "trade-off", caption, tradeoff_picture.tradeoff_picture(answer), tradeoff_picture.description(answer)
    )
    title = f"Trade-off: {answer.a.name} and {answer.b.name}"
    return _answered(title, answer.sentence, figure, tradeoff_sections(answer), answer.remarks)


def _complaint(answer: Complaint) -> Section:
    caption = "Causes of the complaint by what is believed of them, and what would tell the first two apart."
    figure = _figure(
        "complaint",
        caption,
        complaint_picture.complaint_picture(answer),
        complaint_picture.description(answer),
    )
    return _answered("A complaint", answer.sentence, figure, complaint_sections(answer), answer.remarks)


def _sweep(answer: Summary) -> Section:
    caption = "Days of designs and places, the soonest to fail on top."
    figure = _figure("sweep", caption, sweep_picture.sweep_picture(answer), sweep_picture.description(answer))
    return _answered(f"Sweep: {answer.plan}", sweep_sentence(answer), figure, sweep_sections(answer), ())


def _answered(
    title: str, sentence: str, figure: Figure, sections: Sequence[Told], remarks: Sequence[str]
) -> Section:
    """One answer as a section: its sentence, its picture, its tables, what must be known."""
    blocks: list[Block] = [Paragraph(sentence, strong=True), figure]
    for number, told in enumerate(sections, 1):
        blocks += _blocks(told, f"{title.partition(':')[0]} {number}")
    return Section(title, (*blocks, *((Bullets(tuple(remarks)),) if remarks else ())))


LINES = "Specification lines"


def _lines(answer: Remedies) -> Section:
    """The specification line of every remedy that suffices."""
    rows: list[tuple[Cell, ...]] = [
        (one.move.what, one.setting.specification, days_words(one.outcome.days), one.cost.words)
        for one in answer.sufficient
    ]
    table = Table(
        "Remedy lines",
        f"One of these lines is enough for {answer.wanted:g} days",
        (Column("remedy", 1.1), Column("line", 2), Column("days with it", 0.7), Column("cost", 1)),
        tuple(rows),
    )
    note = (
        "Draft lines of single remedies, of which one suffices; all else stays as the product file has it. They rest on the "
        "numbers at their values, without their spread: leave room for it."
    )
    return Section(f"Specification lines for {answer.wanted:g} days", (Paragraph(note), table))


def _figure(kind: str, caption: str, spec: Spec, words: str) -> Figure:
    return Figure(kind, caption, retitled(spec, caption.partition(",")[0].rstrip(".")), words)


def _width(k: int, told: Told) -> float:
    """A column's share of the width, by its longest word or text."""
    longest = max(len(row[k]) for row in told.rows)
    return math.sqrt(max(longest, len(told.columns[k])))


def _blocks(told: Told, name: str) -> list[Block]:
    """A titled section of an answer as blocks of the report; its title is the caption of its table."""
    blocks: list[Block] = []
    if told.lines:
        blocks += [Paragraph(f"{told.title}:"), Bullets(told.lines)]
    if told.rows:
        columns = tuple(Column(head, _width(k, told)) for k, head in enumerate(told.columns))
        blocks.append(Table(name, told.title, columns, told.rows))
    return blocks + [Paragraph(line) for line in told.below]
