"""A sweep's summary in words and tables for people."""

from __future__ import annotations

import math

from hardtack.keeping.sweeping.summary import Summary
from hardtack.states import Section

MOST_ROWS = 40


def sweep_sentence(summary: Summary) -> str:
    """How large it is and how far."""
    size = ", ".join(
        f"{number} {what}{'' if number == 1 else 's'}"
        for number, what in (
            (summary.designs, "design"),
            (len(summary.places), "place"),
            (summary.samples, "sample"),
        )
    )
    return f"{summary.plan}: {size}; {summary.finished:.0%} finished."


def sweep_sections(summary: Summary) -> tuple[Section, ...]:
    """A row for each design and place, the shortest first, and what must be known."""
    rows = sorted(summary.rows, key=lambda row: math.inf if row.days is None else row.days)
    names = list(dict.fromkeys(name for row in rows for name, _ in row.settings))
    names = [name for name in names if len({dict(row.settings)[name] for row in rows}) > 1]
    spread = summary.samples > 1
    columns = (
        "design",
        *names,
        "place",
        *("days", *(("9 in 10 outlast", "1 in 10 outlasts") if spread else ())),
        "fails first by",
    )
    cells = []
    for row in rows[:MOST_ROWS]:
        days = [row.days, *((row.low, row.high) if spread else ())]
        often = f" ({row.share:.0%})" if spread and row.failure and row.share < 1 else ""
        cells.append(
            (
                str(row.design),
                *(dict(row.settings).get(name, "") for name in names),
                row.place,
                *(_days(day) for day in days),
                (row.failure or ("nothing" if row.computed else "")) + often,
            )
        )
    said = [f"{len(rows) - MOST_ROWS} more rows: --json gives all."] if len(rows) > MOST_ROWS else []
    if spread:
        said.append("Days: the middle sample, then what nine in ten and one in ten of the samples outlast.")
    said += [f"not computed: {told}" for told in summary.not_computed[:5]]
    if len(summary.not_computed) > 5:
        said.append(f"not computed: {len(summary.not_computed) - 5} more, all in --json")
    return (
        Section("Designs and places, the shortest first", (), columns, tuple(cells)),
        *([Section("To know", tuple(said))] if said else ()),
    )


def _days(days: float | None) -> str:
    if days is None:
        return "not yet"
    if math.isinf(days):
        return "never on the way"
    return f"{days:.1f}" if days < 10 else f"{days:.0f}"
