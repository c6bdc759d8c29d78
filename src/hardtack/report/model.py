"""The one model behind every form of the keeping report: sections of paragraphs, lists, tables and pictures.

HTML, PDF and XLSX are made from it and from nothing else, so they cannot differ in what they say.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from hardtack.pictures.style import Spec


@dataclass(frozen=True, slots=True)
class Number:
    """A number in a table: its value for a spreadsheet, and as it is printed."""

    value: float
    text: str


Cell = str | Number


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, with the unit, and the share of the width it takes beside the others."""

    head: str
    width: float = 1.0
    numbers: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table. `name` is short and its own within a report: a spreadsheet names its sheet by it.

    `every` is above 1 where printed forms show only every so many rows, and the last.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    every: int = 1

    @property
    def printed(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows of the printed forms."""
        shown = self.rows[:: self.every]
        return shown if (len(self.rows) - 1) % self.every == 0 else (*shown, self.rows[-1])


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; one that is `strong` must not be overlooked."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """Sentences under each other."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture: its `kind`, caption, drawing, and its words for those who hear it."""

    kind: str
    caption: str
    spec: Spec
    description: str


Block = Paragraph | Bullets | Table | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part of the report."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A line chart a spreadsheet draws itself from the table `table`: first number column against the others."""

    table: str
    title: str
    x: int
    lines: tuple[int, ...]
    x_title: str
    y_title: str


@dataclass(frozen=True, slots=True)
class Report:
    """A keeping report. `facts` are the head of it: a word and what stands to it."""

    title: str
    product: str
    author: str
    sentence: str
    chain: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    charts: tuple[Chart, ...]
    made_on: datetime.date
    version: str

    @property
    def tables(self) -> tuple[Table, ...]:
        """All tables in order."""
        return tuple(
            block for section in self.sections for block in section.blocks if isinstance(block, Table)
        )

    @property
    def figures(self) -> tuple[Figure, ...]:
        """All pictures in order."""
        return tuple(
            block for section in self.sections for block in section.blocks if isinstance(block, Figure)
        )


def number(value: float, digits: str = ".4g") -> Number:
    """A number printed with `digits`; a true minus sign, so that it is not read as a dash."""
    return Number(float(value), format(value, digits).replace("-", "−"))


def plain(value: float) -> Number:
    """A number to four figures, without a power of ten where it can be read without."""
    size = abs(value)
    return number(value, ".0f" if 1000 <= size < 1e6 else ".4g")
