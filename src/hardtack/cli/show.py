"""How answers look in a terminal: sentences first, tables after, no colour that carries meaning alone."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from hardtack.keeping.sentences import moment
from hardtack.sourced import PROVENANCES, Used
from hardtack.units import amount_words

if TYPE_CHECKING:
    from hardtack.evidence import EvidenceRow
    from hardtack.keeping import KeepingStatement
    from hardtack.reference import Row
    from hardtack.states import Gate, Section

WIDEST = 110


def console() -> Console:
    """Plain when piped, never wider than is read with ease."""
    return Console(
        width=min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns), highlight=False, soft_wrap=False
    )


def indented(out: Console, line: str, mark: str = "") -> str:
    """A line wrapped to the console, set in by two, its later lines under its first word."""
    hang = "  " + " " * len(mark)
    return fill(line, out.width, initial_indent="  " + mark, subsequent_indent=hang, break_on_hyphens=False)


def show_statement(statement: KeepingStatement) -> None:
    """The statement for a person."""
    out = console()
    out.print(Text(statement.sentence, style="bold"))
    out.print(Text(statement.chain))
    show_section(out, "Why", statement.causes)
    show_section(out, "What limits", [statement.limiting])
    show_section(out, "On the way", statement.way)
    show_life_by_leg(out, statement)
    _show_shares(out, statement)
    if statement.stale is not None:
        show_section(out, "Two kinds of stale", statement.stale.words)
    show_section(out, "What helps one failure and hurts another", statement.clashes)
    show_assumptions(out, statement.used)
    show_section(out, "What to measure to make it sharper", [statement.courses[0].sharpen + "."])
    show_section(
        out, "Gates: no failures, but someone must confirm", [gate_words(gate) for gate in statement.gates]
    )
    show_section(out, "Cautions", statement.cautions)


def gate_words(gate: Gate) -> str:
    """A gate's finding, and who must confirm it."""
    return f"{gate.name[0].upper()}{gate.name[1:]}: {gate.finding} Who confirms: {gate.confirm}."


def _show_shares(out: Console, statement: KeepingStatement) -> None:
    """Every failure judged, with the share of its life used when the statement ends; and those not judged."""
    lines = []
    for course, share in zip(statement.courses, statement.shares, strict=True):
        comes = "does not come" if course.time is None else moment(course.time, statement.journey.packed_on)
        told = "" if course is statement.courses[0] else "".join(f" {words}." for words in course.told)
        lines.append(
            f"{course.name} ({course.layer}): {share:.0%} used, {comes}; limit: {course.limit}.{told}"
        )
    show_section(out, f"Share of life used by each failure, {moment(statement.end, '')}", lines)
    show_section(out, "Not judged", not_judged_lines(statement))
    out.print(
        Text(indented(out, "`hardtack why FILE FAILURE` shows equation, numbers and course of one of them."))
    )


def not_judged_lines(statement: KeepingStatement) -> list[str]:
    """The ways of failing not looked at; those with one reason together."""
    by_why: dict[str, list[str]] = {}
    for one in statement.not_judged:
        by_why.setdefault(one.why, []).append(one.name)
    return [f"{' and '.join(names)}: {why.rstrip('.')}." for why, names in by_why.items()]


def show_life_by_leg(out: Console, statement: KeepingStatement) -> None:
    """Where the life was spent: each leg's days, its share of the life, and the pace; nothing for a single leg."""
    if len(statement.legs) < 2:
        return
    out.print()
    out.print(Text("Where the life was spent", style="underline"))
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    table.add_column("leg")
    for name in ("days", "life used", "per day"):
        table.add_column(name, justify="right")
    table.add_column("")
    for leg in statement.legs:
        days = (leg.end - leg.start) / 86400
        pace = leg.share / days if days > 0 else 0.0
        bar = "█" * max(0, round(30 * leg.share))
        table.add_row(leg.name, f"{days:.1f}", f"{leg.share:.0%}", f"{pace:.2%}", bar)
    out.print(table)


def show_section(out: Console, title: str, lines: Iterable[str]) -> None:
    """A titled list; nothing when there are no lines."""
    lines = list(lines)
    if not lines:
        return
    out.print()
    out.print(Text(title, style="underline"))
    for line in lines:
        mark = "- " if len(lines) > 1 else ""
        out.print(Text(indented(out, line, mark)))


def show_sections(out: Console, sections: Iterable[Section]) -> None:
    """Titled sections: sentences, then a table, its columns of numbers to the right."""
    for section in sections:
        show_section(out, section.title, section.lines)
        if not section.rows:
            continue
        if not section.lines:
            out.print()
            out.print(Text(section.title, style="underline"))
        table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
        worded = [any(row[k][:1].isalpha() for row in section.rows) for k in range(len(section.columns))]
        for k, name in enumerate(section.columns):
            left = k == 0 or worded[k]
            table.add_column(
                name, justify="left" if left else "right", no_wrap=k == 0 and not any(worded[1:])
            )
        for row in section.rows:
            table.add_row(*row)
        out.print(table)
        for line in section.below:
            out.print(Text(indented(out, line)))


def show_assumptions(out: Console, used: Sequence[Used]) -> None:
    """Numbers by provenance: the weakest kind is what an answer stands or falls with."""
    out.print()
    out.print(Text("What it leans on, by how each number is known", style="underline"))
    for provenance in PROVENANCES:
        here = [item for item in used if item.amount.provenance == provenance]
        if not here:
            continue
        table = Table(box=None, show_header=False, padding=(0, 2, 0, 2), title=None)
        table.add_column(ratio=5)
        table.add_column(ratio=3, no_wrap=False)
        table.add_column(ratio=4, style="dim")
        out.print(Text(f"  {provenance} ({len(here)})", style="bold"))
        for item in here:
            filled = "" if item.given else " (filled in)"
            table.add_row(item.what + filled, amount_words(item.amount), item.amount.source)
        out.print(table)


def show_topics() -> None:
    """The topics of the shelf and what each is about."""
    from hardtack.reference import topic, topics

    out = console()
    out.print("Topics of the reference shelf; `hardtack reference WORD` searches them all.\n")
    for name in topics():
        held = topic(name)
        about = held.about.strip().split(". ")[0].replace("\n", " ").rstrip(".")
        out.print(Text.assemble((name, "bold"), f" ({len(held.rows)} rows): {about}."))


def show_rows(rows: Sequence[Row]) -> None:
    """Rows of the shelf with everything that belongs to a number."""
    out = console()
    for row in rows:
        also = f" (also: {', '.join(row.also)})" if row.also else ""
        form = f", {row.form}" if row.form else ""
        out.print(Text.assemble((row.name, "bold"), f" · {row.topic}{form}{also}"))
        values = "; ".join(f"{symbol} {amount_words(amount)}" for symbol, amount in row.values.items())
        lines = [values, f"conditions: {row.conditions}", f"known: {row.provenance}; {row.source.citation}"]
        if row.source.address:
            lines.append(f"where: {row.source.address}")
        if row.note:
            lines.append(f"note: {row.note}")
        for line in lines:
            out.print(Text(indented(out, line)))


def row_json(row: Row) -> dict[str, Any]:
    """A row of the shelf as plain data."""
    return {
        "topic": row.topic,
        "name": row.name,
        "also": list(row.also),
        "form": row.form,
        "values": {
            symbol: {
                "value": amount.value,
                "unit": amount.unit,
                "low": amount.low,
                "high": amount.high,
                "sd": amount.sd,
                "written": amount.written,
                "provenance": amount.provenance,
            }
            for symbol, amount in row.values.items()
        },
        "conditions": row.conditions,
        "source": {"citation": row.source.citation, "address": row.source.address, "seen": row.source.seen},
        "provenance": row.provenance,
        "note": row.note,
    }


def show_evidence(rows: Sequence[EvidenceRow]) -> None:
    """The comparisons by area, and how many stand: all of them, then by what their sources print."""
    from hardtack.evidence import counts

    out = console()
    for area in dict.fromkeys(row.area for row in rows):
        out.print(Text(area, style="bold"))
        table = Table(box=None, padding=(0, 1, 0, 1), header_style="dim")
        for name in ("what", "predicted", "published", "error", "tolerance", "", "inputs", "data set"):
            table.add_column(
                name,
                justify="right" if name in ("predicted", "published", "error", "tolerance") else "left",
                overflow="fold",
            )
        for row in rows:
            if row.area == area:
                table.add_row(
                    row.what, f"{row.predicted:.5g}", f"{row.published:.5g} {row.unit}".strip(), f"{row.error:+.2g}",
                    f"{row.tolerance:.2g}", "fitted" if row.fitted else "within" if row.within else "OUTSIDE",
                    "taken" if row.taken else "printed", row.data_set,
                )  # fmt: skip
        out.print(table)
        out.print()
    counted = [row for row in rows if not row.fitted]
    for row in counted:
        if not row.within:
            taken = f" Taken, not printed by the source: {'; '.join(row.taken)}." if row.taken else ""
            out.print(Text(indented(out, f"Outside: {row.what} ({row.data_set}). {row.remark}{taken}")))
    out.print()
    *areas, whole = counts(rows)
    within, of = whole.all
    sets = len({row.data_set for row in counted})
    out.print(f"{within} of {of} comparisons within tolerance, from {sets} independent data sets.")
    for count in (whole, *areas):
        (printed, of_printed), (taken_within, of_taken) = count.printed, count.some_taken
        out.print(
            f"{count.area}: inputs printed: {printed} of {of_printed} within; some taken: {taken_within} of {of_taken}.",
            highlight=False,
        )
