"""What pages show of an answer: pictures with their words and numbers, failures, numbers by provenance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hardtack.sourced import PROVENANCES, Sourced, Used
from hardtack.states import FailureCourse
from hardtack.units import DAY, wet_basis

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement
    from hardtack.keeping.water_report import WaterReport


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture for a page: its specification, the same told in words, and its numbers as a table."""

    slug: str
    title: str
    spec: dict[str, Any]
    words: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def figure(slug: str, title: str, spec: dict[str, Any], rows: Sequence[dict[str, object]]) -> Figure:
    """A figure with its table; columns are the keys of the rows in the order met."""
    columns = tuple(dict.fromkeys(key for row in rows for key in row))
    cells = tuple(tuple(cell(row.get(column)) for column in columns) for row in rows)
    return Figure(slug, title, spec, spec["description"], columns, cells)


def figure_beside(slug: str, title: str, spec: dict[str, Any], rows: Sequence[dict[str, object]]) -> Figure:
    """A figure beside whose sentence it stands, so that the picture goes under its short title."""
    from hardtack.pictures.style import retitled

    return figure(slug, title, retitled(spec, title), rows)


def cell(value: object) -> str:
    """A value of a table as people read it."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, dict):
        return "; ".join(f"{key}: {cell(inner)}" for key, inner in value.items()) or "–"
    if isinstance(value, (list, tuple)):
        return "; ".join(cell(inner) for inner in value) or "–"
    return str(value)


def live_figure(statement: KeepingStatement) -> Figure:
    """The small picture beside a form."""
    from hardtack.pictures import life

    versions = [life.Version("", statement)]
    return figure("life", "Life used", life.life_picture(versions), life.table(versions))


def statement_figures(statement: KeepingStatement) -> tuple[Figure, ...]:
    """Every picture of the statement's page."""
    from hardtack.pictures import KINDS

    return tuple(
        figure(slug, kind.title, kind.picture(statement), kind.table(statement))
        for slug, kind in KINDS.items()
        if kind.drawable(statement)
    )


def water_figure(report: WaterReport) -> Figure:
    """The isotherms of the layers with their states."""
    from hardtack.pictures import isotherm

    rows: list[dict[str, object]] = [
        {
            "layer": layer.name,
            "water activity at 25 °C": layer.activity,
            "moisture, % dry basis": 100 * layer.moisture,
            "moisture, % wet basis": 100 * wet_basis(layer.moisture),
            "dry solids in a piece, g": 1e3 * layer.dry_mass,
        }
        for layer in report.layers
    ]
    return figure("isotherms", "Isotherms and states", isotherm.isotherm_picture(report), rows)


def failure_when(course: FailureCourse) -> str:
    """When a failure comes, in a word."""
    if course.time is None:
        return f"not within the journey; {float(course.share[-1]):.0%} of the way"
    days = course.time / DAY
    return f"day {days:.0f}" if days >= 2 else f"after {24 * days:.1f} hours"


def si_words(amount: Sourced) -> str:
    """A number in SI with its spread."""
    text = f"{amount.value:.6g} {amount.unit}".strip()
    if amount.sd is not None:
        text += f", standard deviation {amount.sd:.3g}"
    if amount.low is not None and amount.high is not None:
        text += f", between {amount.low:.4g} and {amount.high:.4g}"
    return text


def by_provenance(used: Sequence[Used]) -> tuple[tuple[str, tuple[tuple[int, Used], ...]], ...]:
    """The numbers an answer leans on, each with its place in the list, by how they are known."""
    numbered = tuple(enumerate(used))
    groups = (
        (kind, tuple(item for item in numbered if item[1].amount.provenance == kind)) for kind in PROVENANCES
    )
    return tuple((kind, items) for kind, items in groups if items)
