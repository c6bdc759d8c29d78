"""How the water report looks in a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from hardtack.cli.show import console, show_assumptions, show_section
from hardtack.keeping.water_report import TABLE, FormulaWater, LayerWater, WaterReport
from hardtack.units import celsius, wet_basis

HISTORY = {
    "adsorption": "adsorption",
    "desorption": "desorption",
    "scanning": "from the drying branch into the wetting one",
}


def show_water(report: WaterReport) -> None:
    """The report for a person: where all come to rest first, then formulas, layers, assumptions."""
    out = console()
    out.print(Text(_headline(report), style="bold"))
    for formula in report.formulas:
        _formula(out, formula)
    for layer in report.layers:
        _layer(out, layer, report.temperatures)
    if report.rest is not None:
        show_section(out, "Sealed together and left to rest, 25 °C, no water lost", _rest(report))
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


def moisture_words(X: float) -> str:
    """A moisture on both bases."""
    return f"{100 * wet_basis(X):.1f} % wb ({100 * X:.1f} % db)"


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
    where = f"computed from the formula “{layer.formula}”" if layer.formula else layer.isotherm.name
    error = (
        ""
        if layer.isotherm.activity_sd is None
        else f", good to about ±{layer.isotherm.activity_sd:.2g} in activity"
    )
    lines = [
        f"As packed: {moisture_words(layer.moisture)}, water activity {layer.activity:.3f} at 25 °C.",
        f"Isotherm: {where} ({HISTORY[layer.branch]}){error}.",
    ]
    if layer.glass is not None:
        lines.append(_glass(layer))
    show_section(out, f"Layer: {layer.name}", lines)
    table = Table(box=None, padding=(0, 1, 0, 2), header_style="dim")
    table.add_column("moisture, % db, at activity")
    for a in TABLE:
        table.add_column(f"{a:.1f}", justify="right")
    for T, row in zip(temperatures, layer.moistures, strict=True):
        table.add_row(f"{celsius(T):.0f} °C", *("-" if X is None else f"{100 * X:.1f}" for X in row))
    out.print(table)


def _glass(layer: LayerWater) -> str:
    glass = layer.glass
    assert glass is not None  # asked for only where there is one
    solids = ", ".join(glass.solids)
    now = f"its glass transition stands at {celsius(glass.Tg):.0f} °C now"
    if glass.activity is None or glass.moisture is None:
        return f"Glass ({solids}): no activity softens it at 25 °C; {now}."
    if glass.activity == 0.0:
        return f"Glass ({solids}): soft at 25 °C even when dry; {now}."
    stands = "above, so soft" if layer.activity > glass.activity else "below, so glassy"
    return (
        f"Glass ({solids}): softens at 25 °C at activity {glass.activity:.2f}, "
        f"{moisture_words(glass.moisture)}; the layer stands {stands}: {now}."
    )


def _rest(report: WaterReport) -> list[str]:
    assert report.rest is not None  # asked for only where there is one
    lines = [f"Common water activity: {report.rest.activity:.3f}."]
    for layer, X in zip(report.layers, report.rest.moistures, strict=True):
        gained = X - layer.moisture
        way = "gains" if gained > 0 else "gives"
        grams = f"{way} {1e3 * layer.dry_mass * abs(gained):.3g} g a {report.per}"
        lines.append(f"{layer.name}: {moisture_words(layer.moisture)} → {moisture_words(X)}; {grams}.")
    if report.rest.free_water > 0:
        lines.append(
            f"{1e3 * report.rest.free_water:.3g} g of water a {report.per} is more than all can hold."
        )
    return lines
