"""The report as one HTML file: no scripts, nothing fetched, pictures inside."""

from __future__ import annotations

from importlib import resources

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from hardtack.pictures.render import svg
from hardtack.report.model import Block, Bullets, Figure, Number, Paragraph, Report, Table


def html(report: Report) -> str:
    """The report as HTML text; whatever stands in it is escaped."""
    page = _environment().from_string(_template("report.html.jinja"))
    return page.render(report=report)


def _template(name: str) -> str:
    return (resources.files("hardtack.report") / name).read_text(encoding="utf-8")


def _environment() -> Environment:
    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.globals["svg"] = lambda figure: Markup(svg(figure.spec))
    made.globals["kind"] = _kind
    made.filters["cell"] = lambda cell: cell.text if isinstance(cell, Number) else cell
    return made


def _kind(block: Block) -> str:
    return {Paragraph: "paragraph", Bullets: "bullets", Table: "table", Figure: "figure"}[type(block)]
