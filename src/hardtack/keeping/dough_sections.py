"""The dough report in titled sections of sentences and tables: every face shows the same."""

from __future__ import annotations

import math

import numpy as np

from hardtack.dough.baked import COMPONENTS
from hardtack.dough.rising import litres
from hardtack.keeping.dough_report import DoughSheet
from hardtack.keeping.dough_words import bench_words, heat_words, oven_words, proof_words
from hardtack.keeping.leavening_report import Leavening, PowderYield
from hardtack.states import Floats, Section
from hardtack.units import ZERO_CELSIUS, celsius, degrees

SHOWN_AT = (40.0, 60.0, 80.0)
"""Temperatures [degC] of the table of gas, beside bench and end."""


def dough_sections(sheet: DoughSheet) -> tuple[Section, ...]:
    """All that is said of one dough beside its sentence: what to weigh, water, composition, label, leavening,
    fermentation, gas, structure, remarks. What has nothing to say is left out."""
    made = (
        _weigh(sheet),
        _water(sheet),
        _composition(sheet),
        *_label(sheet),
        _leavening(sheet, sheet.leavening) if sheet.leavening is not None else Section("Leavening"),
        _yeast(sheet),
        _gas(sheet),
        _structure(sheet),
        Section("Remarks", sheet.remarks),
    )
    return tuple(section for section in made if section.lines or section.rows)


def _mass(kg: float) -> str:
    """A mass as it is weighed: grams below one kilogram."""
    return f"{kg:.2f} kg" if kg >= 1 else f"{1e3 * kg:.3g} g"


def _weigh(sheet: DoughSheet) -> Section:
    batch = sheet.batch
    head = "To weigh" if batch.stated else "To weigh, for 100 kg of flour"
    columns = ["", "on flour", "of the whole", "batch", "water on flour"]
    if batch.currency:
        columns.append(batch.currency)
    rows: list[tuple[str, ...]] = []
    part = ""
    for line, weighed in zip(sheet.lines, batch.lines, strict=True):
        if line.stage != part and (line.stage or part):
            rows.append((line.stage or "dough", *("" for _ in columns[1:])))
            part = line.stage
        row = [
            f"  {line.name}" if sheet.lines[0].stage else line.name,
            "" if line.bakers is None else f"{100 * line.bakers:.4g} %",
            f"{100 * line.share:.2f} %",
            _mass(weighed.mass),
            ""
            if not line.water_on_flour or line.water_on_flour < 5e-4
            else f"{100 * line.water_on_flour:.2g} %",
        ]
        if batch.currency:
            row.append("" if weighed.cost is None else f"{weighed.cost:.2f}")
        rows.append(tuple(row))
    whole = sum(line.bakers or 0.0 for line in sheet.lines)
    bakers = f"{100 * whole:.4g} %" if whole else ""
    last = ["all", bakers, "100.00 %", _mass(batch.dough), ""]
    if batch.currency:
        last.append(f"{(batch.cost_dough or 0.0) * batch.dough:.2f}")
    rows.append(tuple(last))
    return Section(head, tuple(_batch_words(sheet)), tuple(columns), tuple(rows))


def _batch_words(sheet: DoughSheet) -> list[str]:
    batch = sheet.batch
    lines: list[str] = []
    if batch.pieces is not None and batch.dough_piece is not None:
        words = f"{batch.pieces} pieces from {_mass(batch.dough)} of dough, {_mass(batch.dough_piece)} each"
        if batch.process_loss:
            words += f", {100 * batch.process_loss:.3g} % of the dough lost on the way"
        lines.append(words + ".")
    if batch.yielded is not None:
        words = f"Yield: {100 * batch.yielded:.1f} kg baked from 100 kg of dough in the mixer"
        if batch.baked_piece is not None:
            words += f"; one baked piece weighs {_mass(batch.baked_piece)}"
        lines.append(words + ".")
    if batch.cost_dough is not None:
        costs = [f"{batch.cost_dough:.4g} {batch.currency} per kg of dough"]
        if batch.cost_baked is not None:
            costs.append(f"{batch.cost_baked:.4g} per kg baked")
        if batch.cost_piece is not None:
            costs.append(f"{batch.cost_piece:.3g} per piece")
        left = f" Without {', '.join(batch.unpriced)}, which have no price." if batch.unpriced else ""
        lines.append(f"Ingredients cost {', '.join(costs)}; labour, energy and pack are not in it.{left}")
    return lines


def _water(sheet: DoughSheet) -> Section:
    lines = []
    if sheet.hydration is not None and sheet.effective_hydration is not None:
        lines.append(
            f"Hydration on flour: nominal {100 * sheet.hydration:.1f} % (water added as such), effective "
            f"{100 * sheet.effective_hydration:.1f} % (all water: in flour, egg, milk, butter, syrup too)."
        )
    if sheet.solvent is not None and sheet.sugar_in_solvent is not None:
        lines.append(
            f"Solvent (water with sugars and polyols): {100 * sheet.solvent:.1f} % on flour, "
            f"{100 * sheet.sugar_in_solvent:.1f} % of it sugar, which takes water from gluten and starch."
        )
    return Section("Water", tuple(lines))


def _composition(sheet: DoughSheet) -> Section:
    baked = sheet.baked
    rows: list[tuple[str, ...]] = []
    for name in COMPONENTS:
        in_dough = sheet.parts[name]
        in_piece = baked.parts[name] / baked.mass if baked else None
        if in_dough < 5e-6 and (in_piece is None or in_piece < 5e-6) and name != "alcohol":
            continue
        if name == "alcohol":
            if baked is None or baked.alcohol_at_most <= 0:
                continue
            rows.append(("alcohol", "", f"≤ {100 * baked.alcohol_at_most / baked.mass:.2f} g", ""))
            continue
        dry = ""
        if baked is not None and name != "water":
            dry = f"{100 * baked.parts[name] / (baked.mass - baked.parts['water']):.1f} g"
        piece = "" if in_piece is None else f"{100 * in_piece:.2f} g"
        rows.append((name, f"{100 * in_dough:.2f} g", piece, dry))
    title, columns = "What it is made of", ("", "dough", "baked", "baked, of the dry matter")
    if baked is None:
        return Section(title, ("Per 100 g of dough.",), columns[:2], tuple(row[:2] for row in rows))
    return Section(
        title, ("Per 100 g of dough, and per 100 g of the piece baked from it.",), columns, tuple(rows)
    )


def _label(sheet: DoughSheet) -> tuple[Section, Section]:
    order = sheet.order
    basis = "as used, over the finished product" if order.finished else "over the dough"
    named = ", ".join(f"{item.name} ({100 * item.of_product:.1f} %)" for item in order.listed)
    listed = Section(f"Ingredients by descending weight ({basis}; a draft)", (named + ".", *order.notes))
    lines = [
        f"{row.name}: {', '.join(names)}"
        + ("" if row["US"] else " (named by EU law, not by that of the United States)")
        + "."
        for row, names in sheet.allergens.brought
    ]
    if not lines:
        lines.append("None of the allergens that EU or United States law lists is told by a name.")
    if sheet.allergens.unknown:
        lines.append(
            f"Not known: {', '.join(sheet.allergens.unknown)}. Give 'allergens: [...]' or 'allergens: none' from the "
            "supplier's sheet."
        )
    lines.append("Follow local law; the supplier's sheets and the person who signs decide.")
    title = "Allergens the names tell (Regulation (EU) 1169/2011, Annex II; nine major allergens of the United States)"
    return listed, Section(title, tuple(lines))


def _leavening(sheet: DoughSheet, leavening: Leavening) -> Section:
    lines = tuple(_leavening_words(sheet, leavening))
    if not leavening.neutral:
        return Section("Leavening", lines)
    flour = _flour(sheet)
    unit = "on flour" if flour else "of the dough"
    rows = tuple(
        (
            row.acid,
            f"{100 * row.now / (flour or 1.0):.2f} %",
            f"{100 * row.needed / (flour or 1.0):.2f} %",
            f"{row.working:g}",
            "" if row.stoichiometric is None else f"{row.stoichiometric:.1f}",
        )
        for row in leavening.neutral
    )
    alone = ("Each line alone, with the other acids as they are.",) if len(rows) > 1 else ()
    columns = ("to be neutral", f"now, {unit}", f"needed, {unit}", "NV, working", "by stoichiometry")
    return Section("Leavening", lines, columns, rows, alone)


def _leavening_words(sheet: DoughSheet, leavening: Leavening) -> list[str]:
    sums = leavening.balance
    lines = []
    if sums.soda or sums.acid:
        lines.append(
            f"Soda {1e3 * sums.soda:.3g} g per kg of dough (soda-equivalent), acid for {1e3 * sums.acid:.3g} g. "
            + sums.finding
        )
    flour = _flour(sheet)
    if sums.leaning == "alkaline" and sums.acid > 0:
        less = f"{100 * sums.acid / (flour or 1.0):.2f} % {'on flour' if flour else 'of the dough'}"
        lines.append(
            f"To be neutral with the acid it has, it would take {less} of soda, or the acid of the table below."
        )
    lines += [said for said in (bench_words(sheet), heat_words(sheet)) if said]
    lines += [_powder(item) for item in leavening.powders]
    if leavening.ammonium is not None:
        lines += [f"Ammonium bicarbonate: {leavening.ammonium.finding}", leavening.ammonium.caution]
    lines.append(_pH(leavening))
    if sums.sodium > 0:
        lines.append(f"The leavening brings {1e3 * sums.sodium:.2g} g of sodium per kg of dough.")
    if leavening.lift is not None:
        lines.append(_lift(sheet, leavening))
    return lines


def _pH(leavening: Leavening) -> str:
    pH = leavening.pH
    return pH.why if pH.value is None else f"pH {pH.value:.1f} ± {pH.sd:.1f}: {pH.why}"


def _powder(item: PowderYield) -> str:
    short = (
        f"below the least of {', '.join(item.short_of)}"
        if item.short_of
        else "above the legal least on the shelf"
    )
    return (
        f"The {item.name} can give {100 * item.carbon_dioxide:.1f} % of its mass as CO₂, {short}; the law asks for a "
        "measured yield."
    )


def _flour(sheet: DoughSheet) -> float:
    """Flour [kg per kg of dough], 0 without."""
    return sum(line.share / line.bakers for line in sheet.lines[:1] if line.bakers)


def _lift(sheet: DoughSheet, leavening: Leavening) -> str:
    lift = leavening.lift
    assert lift is not None  # asked for only where there is one
    flour = _flour(sheet)
    over, unit = (flour, "on flour") if flour else (1.0, "of the dough")
    dose = lift.dose
    if dose.soda == 0:
        return f"For {1e3 * lift.cells:.2g} L of cells per kg at {degrees(lift.T)} air and steam are enough."
    return (
        f"For {1e3 * lift.cells:.2g} L of cells per kg at {degrees(lift.T)}, by {lift.acid} alone: soda "
        f"{100 * dose.soda / over:.2f} % and acid {100 * dose.acid / over:.2f} % {unit} (L of CO₂ per kg at 25 °C: "
        f"{litres(dose.in_cells):.2g} in the cells, {litres(dose.dissolved):.2g} dissolved, {litres(dose.lost):.2g} lost)."
    )


def _yeast(sheet: DoughSheet) -> Section:
    proved = sheet.proved
    if proved is None or not proved.stages:
        return Section("Fermentation")
    rows: list[tuple[str, ...]] = []
    for stage in proved.stages:
        name = f"{stage.stage} ({stage.part})" if stage.part and stage.part != stage.stage else stage.stage
        rows.append((name, _time(stage.duration), f"{degrees(stage.T)}", f"{litres(stage.made):.2g}"))
    lines = [
        f"At the end of proof {proof_words(proved)} per kg stand in the cells (25 °C), "
        f"{litres(proved.dissolved):.2g} are dissolved. Sugar used {1e3 * proved.glucose:.2g} g, alcohol made "
        f"{1e3 * proved.ethanol:.2g} g per kg of dough.",
        "The lower figure is one text's share of all gas the dough makes, the upper keeps all of the last stage; the table of "
        "cells goes by the lower."
        if proved.at_most > 1.05 * proved.in_cells
        else "By your own 'kept in proof'.",
        "The gas of a pre-ferment is taken to be lost at mixing. Rate and share kept are general figures and differ by a "
        "factor of two: give your own 'gas rate' and 'kept in proof' where you can.",
    ]
    if not proved.enough_sugar:
        lines.append("The sugar runs out before the time does: longer makes no more gas.")
    columns = ("yeast", "time", "temperature", "CO₂ made, L per kg of dough")
    return Section("Fermentation", tuple(lines), columns, tuple(rows))


def _time(seconds: float) -> str:
    return f"{seconds / 3600:.3g} h" if seconds >= 7200 else f"{seconds / 60:.3g} min"


def _gas(sheet: DoughSheet) -> Section:
    rise = sheet.rise
    if float(rise.carbon_dioxide[-1]) <= 0 and rise.by_yeast <= 0:
        return Section("Gas from bench to oven")
    piece = sheet.batch.dough_piece
    ways = {"by acid": rise.by_acid, "by heat": rise.by_heat, "by ammonium bicarbonate": rise.by_ammonium}
    ways = {name: way for name, way in ways.items() if litres(float(way[-1])) >= 0.005}
    columns = ["dough at", "CO₂ given, L per kg (25 °C)", *ways, "cells, L per kg", "of them steam"]
    if piece is not None:
        columns.append("cells, mL a piece")
    rows: list[tuple[str, ...]] = []
    for k in _moments(rise.T, rise.times, rise.oven_at):
        cells = float(rise.cells[k])
        open_ = math.isnan(cells)
        row = [
            degrees(round(celsius(float(rise.T[k]))) + ZERO_CELSIUS)
            + (" (bench)" if float(rise.times[k]) <= rise.oven_at else ""),
            f"{litres(float(rise.carbon_dioxide[k]) + rise.by_yeast):.2f}",
            *(f"{litres(float(way[k])):.2f}" for way in ways.values()),
            "open" if open_ else f"{1e3 * cells:.2f}",
            "" if open_ else f"{100 * float(rise.steam[k]):.0f} %",
        ]
        if piece is not None:
            row.append("" if open_ else f"{1e6 * cells * piece:.3g}")
        rows.append(tuple(row))
    lines = (
        f"CO₂ given so far{', with what yeast left at the end of proof' if rise.by_yeast > 0 else ''}; cells hold it with "
        "mixed-in air and steam at their temperature, less what the dough's water dissolves.",
        "Cells are reckoned as closed up to 90 °C (194 °F), where expansion ends; crumb sets and leaks from some 60 °C (140 °F) "
        "on, so the later figures are what the gas could fill, not what the piece will be. "
        + oven_words(sheet),
    )
    return Section("Gas from bench to oven", lines, tuple(columns), tuple(rows))


def _moments(T: Floats, times: Floats, oven_at: float) -> list[int]:
    """Indices of the bench's end, of `SHOWN_AT`, and of the end."""
    first = int(np.searchsorted(times, oven_at))
    wanted = [at for at in SHOWN_AT if celsius(float(T[first])) + 3 < at < celsius(float(T[-1])) - 3]
    middle = [int(np.argmin(np.abs(T - (at + 273.15)))) for at in wanted]
    return [first, *middle, len(T) - 1]


def _holder(holder: str) -> str:
    return "No network holds the gas" if holder == "no network" else f"Gas is held by {holder}"


def _structure(sheet: DoughSheet) -> Section:
    card, folded, texture = sheet.structure, sheet.laminate, sheet.texture
    lines: list[str] = []
    if card is not None:
        lines.append(
            f"{_holder(card.holder)}; gluten in the dough {card.gluten}, shortening {card.shortening}, hold on the gas "
            f"{card.lift}, crispness {card.crispness}."
        )
        lines.append(" ".join(card.reasons))
    if folded is not None:
        lines.append(f"Folded: {folded.finding}")
    if texture is not None:
        strength = texture.strength
        lines.append(
            f"Bite strength at {texture.wanted_density:.0f} kg/m³ from your reading at {texture.density:.0f}: "
            f"{strength.value:.3g} {texture.unit}, from {strength.low:.3g} to {strength.high:.3g} by open or closed cells "
            f"(power {strength.exponent:g}; {strength.source})"
            + (", outside the densities the law was seen to hold in." if strength.outside else ".")
        )
    if card is not None:
        lines.append(card.guide)
    return Section("Structure and bite", tuple(lines))
