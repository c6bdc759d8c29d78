"""How predictions of the kinds used stand against published results, counted."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from hardtack.evidence import EvidenceRow, counts, run_evidence
from hardtack.keeping.statement import KeepingStatement
from hardtack.report.model import Cell, Column, Table, number

DOUGH, OVEN = "dough and leavening", "oven"
"""Areas that not every keeping statement leans on."""


def standing(statement: KeepingStatement, *, dough: bool, bake: bool) -> tuple[str, Table]:
    """A sentence and the counts by area; doughs and bakes only where a formula, a bake was worked out."""
    unused = {area for area, used in ((DOUGH, dough), (OVEN, bake)) if not used}
    rows = [row for row in _compared() if row.area not in unused]
    whole = counts(rows)[-1]
    (within, _), (printed, of_printed), (taken, of_taken) = whole.all, whole.printed, whole.some_taken
    judged = ", ".join(dict.fromkeys(course.name for course in statement.courses))
    told = (
        f"Of {len(rows)} published comparisons of the kinds used here, {within} lie within the tolerance written down "
        f"before the first run and {len(rows) - within} outside: {printed} of {of_printed} whose source prints all that the "
        f"prediction was given are within, and {taken} of {of_taken} where something had to be taken. They test the "
        f"equations and their defaults on other products ({judged} were judged here); they say nothing of this product's "
        "own numbers. `hardtack evidence` lists each with its source."
    )
    return told, _table(rows)


@cache
def _compared() -> tuple[EvidenceRow, ...]:
    """The comparisons that count, run once: they take seconds and do not depend on the product."""
    return tuple(row for row in run_evidence() if not row.fitted)


def _table(rows: Sequence[EvidenceRow]) -> Table:
    cells: list[tuple[Cell, ...]] = []
    for area in dict.fromkeys(row.area for row in rows):
        here = [row for row in rows if row.area == area]
        good = sum(row.within for row in here)
        sets = len({row.data_set for row in here})
        cells.append(
            (
                area,
                number(len(here), "d"),
                number(good, "d"),
                number(len(here) - good, "d"),
                number(sets, "d"),
            )
        )
    return Table(
        "Evidence",
        "Published comparisons by area",
        (
            Column("area", 3),
            Column("comparisons", numbers=True),
            Column("within", numbers=True),
            Column("outside", numbers=True),
            Column("independent data sets", 1.4, numbers=True),
        ),
        tuple(cells),
    )
