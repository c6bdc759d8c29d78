"""How the water report looks in a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from hardtack.cli.show import console, show_assumptions, show_section
from hardtack.keeping.water_report import TABLE, FormulaWater, LayerWater, WaterReport
from hardtack.keeping.water_words import layer_words, moisture_words, rest_words, table_words
from hardtack.units import celsius


def show_water(report: WaterReport) -> None:
    """The report for a person: where all come to rest first, then formulas, layers, assumptions."""
    out = console()
    out.print(Text(_headline(report), style="bold"))
    for formula in report.formulas:
        _formula(out, formula)
    for layer in report.layers:
        _layer(out, layer, report.temperatures)
    if report.rest is not None:
        show_section(out, "Sealed together and left to rest, 25 °C, no water lost", rest_words(report))
    show_assumptions(out, report.used)
    show_section(out, "Cautions", report.cautions)


def _headline(report: WaterReport) -> str:
    states = ", ".join(f"{layer.name} {layer.activity:.2f}" for layer in report.layers)
    if report.rest is None:
        return f"{report.product}: water activity at 25 °C as packed: {states}."
    return (
        f"{report.product}: water activity at 25 °C as packed: {states}; left to rest together they come to "
        f"share {report.rest.activity:.2f}."
    )


def _formula(out: Console, formula: FormulaWater) -> None:
    lines = [
        f"As mixed: {moisture_words(formula.moisture)}, water activity {formula.activity:.3f} ± "
        f"{formula.error:.2g} at 25 °C (rms error of activities computed from formulas)."
    ]
    if formula.hydration is not None and formula.effective_hydration is not None:
        lines.append(
            f"Hydration: nominal {formula.hydration:.0%} (water added as such), effective "
            f"{formula.effective_hydration:.0%} (all water), on flour."
        )
    if formula.crystalline:
        lines.append(f"Taken for crystals as far as not dissolved: {', '.join(formula.crystalline)}.")
    show_section(out, f"Formula: {formula.name}", lines)
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    table.add_column("ingredient")
    for name in ("of the whole", "on flour", "water in it"):
        table.add_column(name, justify="right")
    for line in formula.lines:
        bakers = "" if line.bakers is None else f"{100 * line.bakers:.4g} %"
        table.add_row(line.name, f"{100 * line.share:.2f} %", bakers, f"{100 * line.water:.3g} %")
    out.print(table)


def _layer(out: Console, layer: LayerWater, temperatures: tuple[float, ...]) -> None:
    show_section(out, f"Layer: {layer.name}", layer_words(layer))
    table = Table(box=None, padding=(0, 1, 0, 2), header_style="dim")
    table.add_column("moisture, % db, at activity")
    for a in TABLE:
        table.add_column(f"{a:.1f}", justify="right")
    for T, row in zip(temperatures, layer.moistures, strict=True):
        table.add_row(f"{celsius(T):.0f} °C", *table_words(row))
    out.print(table)
