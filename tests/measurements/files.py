"""Measurement files for the tests, invented."""

from __future__ import annotations

from pathlib import Path

from hardtack.measurements.answers import answers
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Table


def read(folder: Path, text: str | bytes, *said: str, name: str = "invented.csv") -> Table:
    """The table of a text, with answers."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_table(path, answers(said))


def lines(*rows: str) -> str:
    """A text file of these lines."""
    return "\n".join(rows) + "\n"
