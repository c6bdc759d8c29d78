"""How the answer to "where can it be sold" looks in a terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from hardtack.cli.show import console, show_section
from hardtack.units import celsius

if TYPE_CHECKING:
    from hardtack.keeping.where import Where


def show_where(where: Where) -> None:
    """Days over store climates as a table, then the places, shortest first."""
    out = console()
    out.print(Text(f"{where.product}: days from packing, by the climate of “{where.leg}”.", style="bold"))
    grid = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    grid.add_column("", justify="right")
    for RH in where.humidities:
        grid.add_column(f"{RH:.1%}".replace(".0%", "%"), justify="right")
    for i, T in enumerate(where.temperatures):
        grid.add_row(f"{celsius(float(T)):.0f} °C", *(days_words(float(day)) for day in where.days[i]))
    out.print(grid)
    if where.places:
        out.print()
        out.print(Text("Places, the shortest first", style="underline"))
        table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
        for name, side in (
            ("place", "left"),
            ("days", "right"),
            ("air there", "left"),
            ("fails by", "left"),
            ("climate known", "left"),
        ):
            table.add_column(name, justify="right" if side == "right" else "left")
        for place in where.places:
            table.add_row(
                place.name,
                days_words(math.inf if place.days is None else place.days),
                f"{celsius(place.temperature):.0f} °C, {place.humidity:.0%}",
                place.failure or "nothing",
                place.provenance,
            )
        out.print(table)
    show_section(out, "To know", where.remarks)


def days_words(days: float) -> str:
    """Whole days; more than three years are not told."""
    return f"{days:.0f}" if math.isfinite(days) else "> 3 y"
