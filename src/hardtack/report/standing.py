"""How predictions of the kinds used stand against published results, counted."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.evidence import EvidenceRow, run_evidence
from hardtack.keeping.statement import KeepingStatement
from hardtack.report.model import Cell, Column, Table, number

ALWAYS = ("water", "transport and pack", "failures")
"""Areas that every keeping statement leans on."""
DOUGH = "dough and leavening"


def standing(statement: KeepingStatement, *, dough: bool) -> tuple[str, Table]:
    """A sentence and the counts by area; the area of doughs only where a formula was worked out."""
    areas = (*ALWAYS, DOUGH) if dough else ALWAYS
    rows = [row for row in run_evidence() if row.area in areas]
    within = sum(row.within for row in rows)
    judged = ", ".join(dict.fromkeys(course.name for course in statement.courses))
    told = (
        f"Of {len(rows)} published comparisons of the kinds used here, {within} lie within the tolerance written down "
        f"before the first run and {len(rows) - within} outside. They test the equations and their defaults on other "
        f"products ({judged} were judged here); they say nothing of this product's own numbers. `hardtack evidence` "
        "lists each with its source."
    )
    return told, _table(rows)


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
