"""The report as a tagged PDF (PDF/UA-1), set by Typst. Text goes in as data and never becomes markup."""

from __future__ import annotations

import datetime
import json
import tempfile
from importlib import resources
from pathlib import Path
from typing import Any

from hardtack.pictures.render import svg
from hardtack.report.model import Block, Bullets, Cell, Figure, Number, Paragraph, Report

LAYOUT = "report.typ"


def pdf(report: Report) -> bytes:
    """The report as PDF; the same report gives the same bytes.

    The pages' own type comes with the typesetter; the pictures' words are set in the machine's DejaVu Sans or Verdana.
    """
    import typst

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        layout = (resources.files("hardtack.report") / LAYOUT).read_text(encoding="utf-8")
        (place / LAYOUT).write_text(layout, encoding="utf-8")
        for figure in report.figures:
            (place / f"{figure.kind}.svg").write_text(svg(figure.spec), encoding="utf-8")
        made = datetime.datetime.combine(report.made_on, datetime.time(), datetime.UTC)
        made_pdf: bytes = typst.compile(
            place / LAYOUT,
            root=place,
            format="pdf",
            pdf_standards=["ua-1"],
            timestamp=int(made.timestamp()),
            sys_inputs={"report": json.dumps(_data(report), ensure_ascii=False)},
        )
    return made_pdf


def _data(report: Report) -> dict[str, Any]:
    return {
        "title": report.title,
        "author": report.author,
        "product": report.product,
        "sentence": report.sentence,
        "chain": report.chain,
        "facts": [list(fact) for fact in report.facts],
        "version": report.version,
        "made_on": [report.made_on.year, report.made_on.month, report.made_on.day],
        "sections": [
            {"title": section.title, "blocks": [_block(block) for block in section.blocks]}
            for section in report.sections
        ],
    }


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Paragraph):
        return {"kind": "paragraph", "text": block.text, "strong": block.strong}
    if isinstance(block, Bullets):
        return {"kind": "bullets", "items": list(block.items)}
    if isinstance(block, Figure):
        return {
            "kind": "figure",
            "file": f"{block.kind}.svg",
            "caption": block.caption,
            "alt": block.description,
        }
    return {
        "kind": "table",
        "caption": block.caption,
        "columns": [
            {"head": column.head, "width": column.width, "numbers": column.numbers}
            for column in block.columns
        ],
        "rows": [[_text(cell) for cell in row] for row in block.printed],
    }


def _text(cell: Cell) -> str:
    return cell.text if isinstance(cell, Number) else cell
