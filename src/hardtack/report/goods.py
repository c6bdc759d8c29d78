"""What was computed: the product, its pack and journey, its formula."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.dough.label import IngredientOrder
from hardtack.keeping.dough_report import DoughReport, DoughSheet
from hardtack.keeping.dough_words import baked_words, sentence
from hardtack.keeping.statement import KeepingStatement
from hardtack.keeping.water_report import WaterReport
from hardtack.oven.baking import Baked
from hardtack.oven.solving import Across
from hardtack.oven.told import bake_sections
from hardtack.oven.words import headline
from hardtack.pictures.oven import description as described
from hardtack.pictures.oven import oven_picture
from hardtack.product import Product
from hardtack.report.model import Block, Bullets, Cell, Column, Figure, Paragraph, Section, Table, number
from hardtack.states import Barrier, Layer, Piece
from hardtack.units import wet_basis

AIR = (0.2095, 0.0004)
"""Shares of oxygen and carbon dioxide in plain air, as `Pack` has them unless told."""


def product_section(product: Product, statement: KeepingStatement, water: WaterReport) -> Section:
    """Pieces, parts, pack."""
    blocks: list[Block] = [Bullets(tuple(_piece_words(piece) for piece in statement.pieces))]
    blocks.append(_parts(statement, water))
    blocks.append(Paragraph(_pack_words(statement)))
    if product.notes:
        blocks.append(Paragraph(f"Notes of the file: {' '.join(product.notes.split())}"))
    return Section("The product as computed", tuple(blocks))


def _piece_words(piece: Piece) -> str:
    name = f"{piece.name}: " if piece.name else ""
    count = "one piece" if piece.count == 1 else f"{piece.count} pieces"
    ends = {
        (True, True): "both ends meet the headspace",
        (True, False): "the first end meets the headspace",
        (False, True): "the last end meets the headspace"
        if piece.shape == "slab"
        else "its surface meets the headspace",
        (False, False): "no end meets the headspace",
    }[piece.open_ends]
    rims = "".join(
        f" The rim of the {layer.name} lies open to the headspace ({100 * layer.rim:.2g} % of it)."
        for layer in piece.layers
        if layer.rim > 0
    )
    size = "thick" if piece.shape == "slab" else "from centre to surface"
    return f"{name}{count} of {1e3 * piece.mass:.4g} g, {piece.shape}, {1e3 * piece.thickness:.3g} mm {size}; {ends}.{rims}"


def _parts(statement: KeepingStatement, water: WaterReport) -> Table:
    rows: list[tuple[Cell, ...]] = []
    states = {layer.name: layer for layer in water.layers}
    for piece in statement.pieces:
        for part in piece.parts:
            head: tuple[Cell, ...] = (piece.name, part.name) if len(statement.pieces) > 1 else (part.name,)
            if isinstance(part, Barrier):
                rows.append((*head, number(1e3 * part.thickness, ".3g"), "", "", _barrier_words(part), ""))
                continue
            assert isinstance(part, Layer)
            state = states[part.name]
            isotherm = f"from formula “{state.formula}”" if state.formula else part.isotherm.name
            rows.append(
                (
                    *head,
                    number(1e3 * part.thickness, ".3g"),
                    number(100 * wet_basis(part.moisture), ".2f"),
                    number(state.activity, ".3f"),
                    isotherm,
                    part.isotherm.branch,
                )
            )
    first = (Column("piece", 1.6),) if len(statement.pieces) > 1 else ()
    return Table(
        "Parts",
        "Parts of the piece as packed, from the first end (bottom or centre) to the last",
        (
            *first,
            Column("part", 1.6),
            Column("thickness, mm", 1.1, numbers=True),
            Column("moisture, % wb", 1.1, numbers=True),
            Column("water activity at 25 °C", 1.2, numbers=True),
            Column("isotherm", 2),
            Column("branch", 1.2),
        ),
        tuple(rows),
    )


def _barrier_words(barrier: Barrier) -> str:
    openings = barrier.openings
    return "a barrier" if openings is None else f"a barrier, {openings.share:.2g} of it {openings.kind}"


def _pack_words(statement: KeepingStatement) -> str:
    pack = statement.pack
    if pack is None:
        return "No pack: the pieces lie open to the air of each leg."
    told = [
        f"Pack: {pack.film.name}, {1e4 * pack.area:.4g} cm² of film, {1e6 * pack.headspace:.3g} mL of gas beside the "
        f"pieces, whole pack over flat film {pack.whole_pack_factor:.3g}."
    ]
    if pack.film.plies:
        told.append(f"Plies from the inside: {', '.join(ply.name for ply in pack.film.plies)}.")
    told += [f"Leak: {leak.count:.3g} of {1e6 * leak.diameter:.3g} µm." for leak in pack.leaks]
    if pack.desiccant is not None:
        dry = pack.desiccant
        told.append(
            f"Desiccant: {dry.name}, {1e3 * dry.dry_mass:.3g} g dry, laid in at {100 * wet_basis(dry.moisture):.1f} % wb."
        )
    if (pack.oxygen, pack.carbon_dioxide) != AIR:
        told.append(f"Gas packed: {pack.oxygen:.1%} oxygen, {pack.carbon_dioxide:.1%} carbon dioxide.")
    told += [f"Around it: {outer.name}, which holds {outer.holds:.4g}." for outer in pack.outer]
    return " ".join(told)


def bake_section(baked: Baked, places: Sequence[Across] = ()) -> Section:
    """What the oven did, in the sentences that every face shows, and its picture."""
    first, *others = bake_sections(baked, places)
    blocks: list[Block] = [Bullets((headline(baked), *first.lines))]
    for part in others:
        blocks += [Paragraph(part.title, strong=True), Bullets(part.lines)]
    figure = Figure(
        "bake", "The bake from the dough piece to the cooled piece.", oven_picture(baked), described(baked)
    )
    return Section("The bake", (*blocks, figure))


def formula_section(dough: DoughReport) -> Section:
    """Every dough: its sentence, what to weigh, the draft for the label."""
    blocks: list[Block] = []
    for number_, sheet in enumerate(dough.sheets, 1):
        words = " ".join(text for text in (sentence(sheet), baked_words(sheet)) if text)
        blocks += [Paragraph(words), _weighing(sheet, number_), Bullets(_label(sheet))]
    return Section("Formula", tuple(blocks))


def _weighing(sheet: DoughSheet, number_: int) -> Table:
    staged = any(line.stage for line in sheet.lines)
    rows: list[tuple[Cell, ...]] = []
    for line in sheet.lines:
        head: tuple[Cell, ...] = (line.stage or "dough", line.name) if staged else (line.name,)
        bakers: tuple[Cell, ...] = () if line.bakers is None else (number(100 * line.bakers, ".4g"),)
        rows.append((*head, *bakers, number(100 * line.share, ".2f")))
    first = (Column("stage", 1.4),) if staged else ()
    columns = (
        *first,
        Column("ingredient", 3),
        *((Column("% on flour", numbers=True),) if sheet.lines[0].bakers is not None else ()),
        Column("% of the whole", numbers=True),
    )
    return Table(f"Formula {number_}", f"Formula: {sheet.name}", columns, tuple(rows))


def _label(sheet: DoughSheet) -> tuple[str, ...]:
    brought = "; ".join(f"{row.name} ({', '.join(names)})" for row, names in sheet.allergens.brought)
    unknown = ", ".join(sheet.allergens.unknown)
    return (
        f"Ingredients by descending weight, a draft: {_order(sheet.order)}.",
        f"Allergens that the names tell: {brought or 'none'}."
        + (f" Not known: {unknown}." if unknown else "")
        + " Label by the law of the market; the suppliers' sheets and the person who signs decide.",
    )


def _order(order: IngredientOrder) -> str:
    return ", ".join(item.name for item in order.listed)
