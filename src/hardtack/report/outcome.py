"""What came out: states, failures, what happened on the way."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.keeping.sentences import moment, span
from hardtack.keeping.statement import KeepingStatement, LegAccount
from hardtack.report.model import (
    Block,
    Bullets,
    Cell,
    Column,
    Figure,
    Number,
    Paragraph,
    Section,
    Table,
    number,
    plain,
)
from hardtack.states import Leg, of_layer
from hardtack.units import celsius


def states_section(statement: KeepingStatement, profile: Figure) -> Section:
    """Every place's activity and moisture, packed and at the end, and the profile through the piece."""
    rows = tuple(
        (
            rung.name,
            number(rung.start, ".2f"),
            number(rung.end, ".2f"),
            rung.moisture or "–",
            "no end" if rung.capacity == float("inf") else plain(1e6 * rung.capacity),
        )
        for rung in statement.ladder
    )
    table = Table(
        "States",
        f"Where each place stands when packed and {_end(statement)}, at the temperature of that day",
        (
            Column("place", 1.8),
            Column("water activity when packed", numbers=True),
            Column("water activity at the end", numbers=True),
            Column("moisture, packed → end", 1.8),
            Column("water for 0.01 of activity, mg per pack", 1.4, numbers=True),
        ),
        rows,
    )
    return Section("States", (table, profile))


def _end(statement: KeepingStatement) -> str:
    return f"at the end, {moment(statement.end, '')}" if statement.end > 0 else "at the end, which is at once"


def failures_section(statement: KeepingStatement, figures: Sequence[Figure]) -> Section:
    """Each failure with its moment, share and limit; stales, clashes, what was not judged, gates."""
    rows: list[tuple[Cell, ...]] = []
    for course, share in zip(statement.courses, statement.shares, strict=True):
        comes = "does not come" if course.time is None else moment(course.time, statement.journey.packed_on)
        rows.append(
            (
                of_layer(course.name, course.layer),
                comes,
                Number(share, f"{share:.0%}"),
                course.limit,
                f"{course.source or 'the file'} ({course.provenance})",
            )
        )
    table = Table(
        "Failures",
        f"Failures judged, the first at the top; share of life used {moment(statement.end, '')}",
        (
            Column("failure", 1.4),
            Column("comes", 1.2),
            Column("life used", 0.7, numbers=True),
            Column("limit", 2.2),
            Column("source of the limit", 2.2),
        ),
        tuple(rows),
    )
    told = tuple(
        f"{course.name} ({course.layer}): {words}." for course in statement.courses for words in course.told
    )
    blocks: tuple[Block, ...] = (
        table,
        Bullets(told),
        *figures,
        *([Paragraph("What helps one failure and hurts another:")] if statement.clashes else []),
        Bullets(statement.clashes),
        *([Paragraph("Not judged:")] if statement.not_judged else []),
        Bullets(tuple(_not_judged(statement))),
    )
    return Section(
        "Failures", tuple(block for block in blocks if not isinstance(block, Bullets) or block.items)
    )


def _not_judged(statement: KeepingStatement) -> list[str]:
    by_why: dict[str, list[str]] = {}
    for one in statement.not_judged:
        by_why.setdefault(one.why, []).append(one.name)
    return [f"{', '.join(names)}: {why.rstrip('.')}." for why, names in by_why.items()]


def way_section(statement: KeepingStatement, figure: Figure) -> Section:
    """The legs: air, activities in and out, life used."""
    layers = statement.history.layers
    rows = tuple(
        (
            leg.name,
            span(leg.end - leg.start),
            _temperatures(leg),
            _humidities(leg),
            packed_as(whole, leg),
            "; ".join(
                f"{name} {before:.2f} → {after:.2f}"
                for name, before, after in zip(layers, leg.activity_in, leg.activity_out, strict=True)
            ),
            Number(leg.share, f"{leg.share:.0%}"),
        )
        for whole, leg in zip(statement.journey.legs, statement.legs, strict=False)
    )
    first = statement.courses[0]
    table = Table(
        "Legs",
        f"The journey leg by leg; life used is that of {of_layer(first.name, first.layer)}",
        (
            Column("leg", 1.4),
            Column("lasts", 0.9),
            Column("air, °C", 0.9),
            Column("relative humidity", 1),
            Column("pack", 0.9),
            Column("water activity in → out", 2.2),
            Column("life used", 0.7, numbers=True),
        ),
        rows,
    )
    note = ""
    if statement.legs and len(statement.journey.legs) > len(statement.legs):
        rest = ", ".join(leg.name for leg in statement.journey.legs[len(statement.legs) :])
        note = f"The first failure comes before the journey reaches: {rest}."
    return Section("On the way", (table, figure, *((Paragraph(note),) if note else ())))


def packed_as(leg: Leg, account: LegAccount) -> str:
    """How the pieces lie on a leg: sealed, in a pack that is opened and closed, or unpacked."""
    if leg.opened is not None:
        return f"opened {leg.opened.share:.2g} of the time"
    return "sealed" if account.sealed else "unpacked"


def _temperatures(leg: LegAccount) -> str:
    low, high = (celsius(T) for T in leg.temperature)
    return f"{low:.0f}" if high - low < 0.5 else f"{low:.0f} to {high:.0f}"


def _humidities(leg: LegAccount) -> str:
    low, high = leg.humidity
    return f"{low:.0%}" if high - low < 0.005 else f"{low:.0%} to {high:.0%}"
