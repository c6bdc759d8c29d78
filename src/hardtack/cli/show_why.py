"""How one failure is laid open in a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from hardtack.cli.show import console, indented, not_judged_lines, show_assumptions, show_section
from hardtack.keeping.sentences import moment

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement
    from hardtack.keeping.why import Why


def show_why(answer: Why) -> None:
    """One failure for a person."""
    out = console()
    course = answer.course
    out.print(Text(f"{answer.product}: {course.name} of the {course.layer}", style="bold"))
    out.print(Text(answer.chain))
    show_section(
        out, "What it means", [f"{course.meaning[0].upper()}{course.meaning[1:]}. Limit: {course.limit}."]
    )
    show_section(out, "Equation", [answer.equation.words])
    out.print()
    for line in (answer.equation.symbols, f"where {answer.equation.where}"):
        out.print(Text(indented(out, line)))
    lines = [
        f"{leg}: {share:.0%} of this life, {total:.0%} by its end" for leg, share, total in answer.by_leg
    ]
    show_section(out, "Share of life used, leg by leg", lines)
    show_section(out, "To be told with it", [f"{words}." for words in course.told])
    show_assumptions(out, answer.numbers)
    show_section(out, "Holds", [f"{course.valid}."])
    show_section(out, "Source", [f"{course.source or 'the file'} ({course.provenance})"])
    show_section(out, "What to measure to make it sharper", [f"{course.sharpen}."])


def show_judged(statement: KeepingStatement) -> None:
    """Which failures can be asked for, and which were not judged."""
    out = console()
    out.print(Text(f"{statement.product}: failures judged", style="bold"))
    for course, share in zip(statement.courses, statement.shares, strict=True):
        comes = "does not come" if course.time is None else moment(course.time, statement.journey.packed_on)
        out.print(
            Text(indented(out, f"{course.name} ({course.layer}): {comes}, {share:.0%} used at the end"))
        )
    show_section(out, "Not judged", not_judged_lines(statement))
