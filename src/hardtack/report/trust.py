"""How far to trust it: the date and its certainty, specification lines, assumptions, evidence, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.keeping.certainty import Certainty
from hardtack.keeping.dough_report import DoughReport
from hardtack.keeping.sentences import moment
from hardtack.keeping.statement import IsothermError, KeepingStatement
from hardtack.keeping.water_report import WaterReport
from hardtack.oven.baking import Baked
from hardtack.oven.words import caution_lines
from hardtack.pictures.words import end_words
from hardtack.report.model import Block, Bullets, Cell, Column, Paragraph, Section, Table
from hardtack.report.specification import specification
from hardtack.report.standing import standing
from hardtack.sourced import PROVENANCES, Used
from hardtack.states import of_layer
from hardtack.units import amount_words

WEAK = ("from memory", "assumed", "invented")


PLAIN = (
    "It is one run with every number at its stated value: the spread of the numbers and from pack to pack is not carried "
    "through, so no confidence is put on the date; some packs will fail before it and some after."
)


def all_used(statement: KeepingStatement, dough: DoughReport | None, baked: Baked | None) -> tuple[Used, ...]:
    """Every number of the answer, its doughs and its bake, once."""
    used = [*statement.used, *(baked.used if baked is not None else ())]
    if dough is not None:
        used += [one for sheet in dough.sheets for one in sheet.used]
    return tuple(dict.fromkeys(used))


def sure(statement: KeepingStatement, used: Sequence[Used], certainty: Certainty | None = None) -> Section:
    """The date in words of confidence, honest about what was not carried through; the stated one where it was asked."""
    first = statement.first
    if first is None:
        date = f"Nothing fails within the journey, which ends {end_words(statement)}."
    else:
        date = f"Best estimate of the first failure ({of_layer(first.name, first.layer)}): {end_words(statement)}."
    weak = sum(one.amount.provenance in WEAK for one in used)
    lines = [
        date,
        PLAIN if certainty is None else certainty.sentence,
        f"{weak} of the {len(used)} numbers it leans on are from memory, assumed or invented; none of these was "
        "measured on this product."
        if weak
        else f"All {len(used)} numbers it leans on were measured here or seen in a cited source.",
        *(_isotherm_words(error, statement) for error in statement.isotherm_errors),
    ]
    sharpen = statement.courses[0].sharpen.rstrip(".")
    blocks: list[Block] = [Bullets(tuple(lines)), Paragraph(f"To make it sharper, measure: {sharpen}.")]
    return Section("The date, and how sure it is", tuple(blocks))


def _isotherm_words(error: IsothermError, statement: KeepingStatement) -> str:
    packed = statement.journey.packed_on

    def when(time: float | None) -> str:
        return "not within what was followed" if time is None else moment(time, packed)

    return (
        f"The isotherm computed from “{error.formula}” ({', '.join(error.layers)}) is good to ±{error.rms:.2g} in activity "
        f"(rms): moved by that much, the first failure comes at the soonest {when(error.soonest)}, at the latest "
        f"{when(error.latest)}."
    )


def specification_section(statement: KeepingStatement, water: WaterReport) -> Section:
    """Limits and conditions as a buyer would write them."""
    rows = tuple((line.subject, line.asked, line.origin) for line in specification(statement, water))
    table = Table(
        "Specification",
        "Draft lines for a specification",
        (Column("subject", 1.5), Column("asked", 1.7), Column("where it comes from", 2)),
        rows,
    )
    note = (
        "The answer holds for goods, packs and storage on these lines; beyond them it does not. They are a draft: "
        "tolerances, methods of test and sampling are for those who sign the specification."
    )
    return Section("Specification lines", (Paragraph(note), table))


def assumptions_section(used: Sequence[Used]) -> Section:
    """Every number by how it is known, the best known first."""
    counts = ", ".join(
        f"{n} {kind}" for kind in PROVENANCES if (n := sum(one.amount.provenance == kind for one in used))
    )
    filled = sum(not one.given for one in used)
    blocks: list[Block] = [
        Paragraph(f"{len(used)} numbers: {counts}; {filled} of them filled in by Hardtack, marked so.")
    ]
    for kind in PROVENANCES:
        rows = tuple(_assumption(one) for one in used if one.amount.provenance == kind)
        if rows:
            blocks.append(
                Table(
                    f"Numbers {kind}",
                    f"{kind.capitalize()} ({len(rows)})",
                    (Column("what", 2.2), Column("value", 1.1), Column("source", 2.2)),
                    rows,
                )
            )
    return Section("What it leans on", tuple(blocks))


def _assumption(used: Used) -> tuple[Cell, ...]:
    filled = "" if used.given else " (filled in)"
    return (used.what + filled, amount_words(used.amount), used.amount.source or "the file")


def evidence_section(statement: KeepingStatement, *, dough: bool, bake: bool) -> Section:
    """How such predictions stand against published results."""
    words, table = standing(statement, dough=dough, bake=bake)
    return Section("Evidence", (Paragraph(words), table))


def cautions_section(
    statement: KeepingStatement, water: WaterReport, dough: DoughReport | None, baked: Baked | None
) -> Section:
    """Gates with who confirms, then everything the reader must be told."""
    gates = tuple(
        f"{gate.name[0].upper()}{gate.name[1:]}: {gate.finding} Who confirms: {gate.confirm}."
        for gate in statement.gates
    )
    cautions = dict.fromkeys(
        (
            *statement.cautions,
            *(caution_lines(baked) if baked is not None else ()),
            *(dough.cautions if dough is not None else ()),
            *(water.cautions if water.formulas else ()),
        )
    )
    blocks: list[Block] = []
    if gates:
        blocks += [
            Paragraph("Gates are no failures and have no date, but someone must confirm them:"),
            Bullets(gates),
        ]
    blocks += [Paragraph("Cautions:"), Bullets(tuple(cautions))]
    return Section("Gates and cautions", tuple(blocks))
