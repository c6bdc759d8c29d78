"""The numbers behind the pictures as tables, and the charts a spreadsheet draws from them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import KINDS
from hardtack.report.decision import Decision, decision_data
from hardtack.report.model import Cell, Chart, Column, Number, Table, number, plain
from hardtack.units import DAY, celsius

PRINTED = 16
"""About so many rows of a long table are printed; a spreadsheet has all."""
NAMES = {
    "ladder": "Ladder data",
    "profile": "Profile data",
    "shares": "Shares data",
    "stales": "Stales data",
}
JOURNEY = "Journey data"


def behind(statement: KeepingStatement, known: Decision) -> tuple[Table, ...]:
    """A table for each picture drawn."""
    tables = [_journey(statement)]
    for kind, name in NAMES.items():
        if KINDS[kind].drawable(statement):
            tables.append(
                _of_rows(name, f"Behind the picture “{KINDS[kind].title}”", KINDS[kind].table(statement))
            )
    tables += [
        _of_rows(name, f"Behind the picture “{caption}”", rows)
        for name, caption, rows in decision_data(known)
    ]
    return tuple(tables)


def charts(statement: KeepingStatement) -> tuple[Chart, ...]:
    """Activity along the journey, profile through a single kind of piece, shares of life used."""
    lines = tuple(range(1, len(statement.history.layers) + 2))
    found = [
        Chart(JOURNEY, "Water activity along the journey", 0, lines, "days from packing", "water activity")
    ]
    if len(statement.pieces) == 1 and statement.history.profile.shape[1] > 0:
        lines = tuple(range(2, len(KINDS["profile"].table(statement)[0])))
        title = "Water activity through the piece"
        found.append(Chart(NAMES["profile"], title, 1, lines, "depth, mm", "water activity"))
    lines = tuple(range(1, len(statement.courses) + 1))
    found.append(
        Chart(NAMES["shares"], "Share of life used", 0, lines, "days from packing", "share of life used")
    )
    return tuple(found)


def _every(count: int) -> int:
    return max(1, math.ceil(count / PRINTED))


def _journey(statement: KeepingStatement) -> Table:
    """Activity of every layer and the headspace by the day, and the air's temperature and humidity."""
    history = statement.history
    rows = tuple(
        (
            number(float(time) / DAY, ".4g"),
            *(number(float(a), ".3f") for a in history.activity[n]),
            number(float(history.headspace[n]), ".3f"),
            number(celsius(float(history.temperature[n])), ".1f"),
            number(float(history.humidity[n]), ".2f"),
        )
        for n, time in enumerate(history.times)
    )
    air = "headspace" if statement.pack is not None else "air about the pieces"
    heads = (
        "day",
        *(f"{name}: activity" for name in history.layers),
        f"{air}: activity",
        "air outside, °C",
        "humidity outside",
    )
    return _table(JOURNEY, "Behind the picture “What happens on the way”", heads, rows)


def _of_rows(name: str, caption: str, rows: Sequence[Mapping[str, object]]) -> Table:
    heads = tuple(dict.fromkeys(head for row in rows for head in row))
    return _table(name, caption, heads, tuple(tuple(_cell(row.get(head)) for head in heads) for row in rows))


def _cell(value: object) -> Cell:
    if isinstance(value, Mapping):
        return "; ".join(f"{name} {plain(amount).text}" for name, amount in value.items())
    if isinstance(value, float):
        return plain(value + 0.0)
    return "" if value is None else str(value)


def _table(name: str, caption: str, heads: Sequence[str], rows: tuple[tuple[Cell, ...], ...]) -> Table:
    every = _every(len(rows))
    if every > 1:
        caption += f" (every {every}{'rd' if every == 3 else 'nd' if every == 2 else 'th'} row of {len(rows)}; the spreadsheet has all)"
    columns = tuple(
        Column(head, numbers=any(isinstance(row[k], Number) for row in rows)) for k, head in enumerate(heads)
    )
    return Table(name, caption, columns, rows, every)
