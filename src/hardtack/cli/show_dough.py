"""How the dough report looks in a terminal."""

from __future__ import annotations

from rich.text import Text

from hardtack.cli.show import console, show_assumptions, show_section, show_sections
from hardtack.keeping.dough_report import DoughReport
from hardtack.keeping.dough_sections import dough_sections
from hardtack.keeping.dough_words import baked_words, sentence


def show_dough(report: DoughReport) -> None:
    """The report for a person: each dough's sentence first, then its sections, then assumptions and cautions."""
    out = console()
    for number, sheet in enumerate(report.sheets):
        if number:
            out.print()
        out.print(Text(sentence(sheet), style="bold"))
        if said := baked_words(sheet):
            out.print(Text(said))
        show_sections(out, dough_sections(sheet))
        show_assumptions(out, sheet.used)
    show_section(out, "Cautions", report.cautions)
