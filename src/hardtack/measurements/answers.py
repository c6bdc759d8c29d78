"""Answers to what a measurement file leaves open, given on the spot or once for a pattern of files.

A mapping file is YAML; each key is a pattern of file names, below it stand the answers:

    "jars-*.csv":
      moisture basis: wet
      dates: day first
      columns:
        "Water, oven": moisture %wb
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fnmatch import fnmatch
from pathlib import Path
from types import MappingProxyType

from hardtack.errors import HardtackError, Problem
from hardtack.product.tree import Entries, Text, read_tree

CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "header row": ("a row number, such as 14",),
        "sheet": ("the name of a sheet",),
        "separator": ("comma", "semicolon", "tab"),
        "decimal": ("comma", "point"),
        "dates": ("day first", "month first", "year first"),
        "moisture basis": ("wet", "dry"),
        "moisture unit": ("percent", "fraction"),
        "activity unit": ("percent", "fraction"),
        "humidity unit": ("percent", "fraction"),
        "temperature unit": ("degC", "degF", "K"),
        "temperature": ("a temperature, such as 25 degC",),
        "mass unit": ("g", "mg", "kg", "oz", "lb"),
        "time unit": ("s", "min", "h", "day", "week"),
        "force unit": ("N", "gf", "kgf"),
        "thickness unit": ("mm", "um", "mil"),
        "area unit": ("m2", "cm2", "100in2"),
        "transmission rate unit": ("g/m2/day", "g/100in2/day"),
        "permeance unit": ("perm", "g/m2/day/kPa"),
        "oxygen permeance unit": ("cm3/m2/day/atm", "cm3/m2/day/bar"),
        "belt speed unit": ("m/min", "ft/min"),
        "oven length": ("a length, such as 42 m",),
        "pan weights": ("with the pan", "without the pan"),
        "remarks": ("set aside", "keep"),
    }
)
"""Every question that can be answered, and what may be said."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was said about a file: `said` answers questions, `columns` gives a column's meaning (and unit)."""

    said: Mapping[str, str] = field(default_factory=dict)
    columns: Mapping[str, str] = field(default_factory=dict)

    def get(self, question: str) -> str:
        """The answer, or an empty text."""
        return self.said.get(question, "")

    def over(self, other: Answers) -> Answers:
        """These answers, and where they are silent those of `other`."""
        return Answers({**other.said, **self.said}, {**other.columns, **self.columns})


NONE = Answers()


def answers(lines: Iterable[str]) -> Answers:
    """Answers given on the spot, each as ``moisture basis: wet`` or ``column Water, oven: moisture %wb``.

    Raises `HardtackError` for every line that answers no question.
    """
    said: dict[str, str] = {}
    columns: dict[str, str] = {}
    problems = []
    for line in lines:
        key, colon, value = line.rpartition(": ") if line.startswith("column ") else line.partition(":")
        if colon and key.startswith("column "):
            columns[key.removeprefix("column ").strip()] = value.strip()
        elif problem := _faulty(key.strip(), value.strip()):
            problems.append(problem)
        else:
            said[key.strip()] = _plain(value)
    if problems:
        raise HardtackError(problems)
    return Answers(said, columns)


def answers_for(file: str | Path, mapping: str | Path) -> Answers:
    """The answers that the mapping file holds for `file`; where several patterns fit, the later ones win.

    Raises `HardtackError` with the line of everything in the mapping file that answers no question.
    """
    name = str(mapping)
    try:
        text = Path(mapping).read_text("utf-8-sig")
    except (OSError, ValueError):
        raise HardtackError(
            Problem("the mapping file cannot be read", "save it as UTF-8 text under that name", name)
        ) from None
    tree = read_tree(text, name)
    problems = list(tree.problems)
    found = NONE
    for pattern, entries in tree.root.items():
        if not isinstance(entries, Entries):
            what = f"{pattern!r} holds no answers"
            problems.append(
                Problem(what, "write answers below it, indented", name, tree.root.line_of(pattern))
            )
            continue
        here = _entries(entries, name, problems)
        if fnmatch(Path(file).name, pattern):
            found = here.over(found)
    if problems:
        raise HardtackError(problems)
    return found


def _entries(entries: Entries, name: str, problems: list[Problem]) -> Answers:
    said: dict[str, str] = {}
    columns: dict[str, str] = {}
    for key, value in entries.items():
        line = entries.line_of(key)
        if key == "columns" and isinstance(value, Entries):
            columns |= {
                header.strip(): str(meaning) for header, meaning in value.items() if isinstance(meaning, Text)
            }
        elif problem := _faulty(key, str(value or "")):
            problems.append(Problem(problem.what, problem.mend, name, line))
        else:
            said[key] = _plain(str(value))
    return Answers(said, columns)


def _plain(value: str) -> str:
    return " ".join(value.split())


def _faulty(key: str, value: str) -> Problem | None:
    """What is wrong with one answer, or None."""
    if key not in CHOICES:
        near = difflib.get_close_matches(key, CHOICES, n=1)
        guess = f"perhaps {near[0]!r}; " if near else ""
        return Problem(f"{key[:60]!r} answers no question", f"{guess}questions are: {', '.join(CHOICES)}")
    options = CHOICES[key]
    if re.match(r"(a|the) ", options[0]) or key.endswith(" unit"):
        return None if value.strip() else Problem(f"{key!r} is left open", f"say {options[0]}")
    if _plain(value) not in options:
        return Problem(f"{key}: {value[:40]!r} is no answer", f"say one of: {', '.join(options)}")
    return None


def question(what: str, key: str, file: str, line: int | None = None, column: str = "") -> Problem:
    """A question to the user, with the exact words that answer it."""
    first, *rest = CHOICES[key]
    example = first.rpartition("such as ")[2] if "such as " in first else first
    others = f" (or: {', '.join(rest)})" if rest else ""
    mend = f"say --answer '{key}: {example}'{others}, or write '{key}: {example}' in the mapping file"
    return Problem(what, mend, file, line, column)


def column_question(what: str, header: str, example: str, file: str, line: int | None) -> Problem:
    """A question about what a column means, with the exact words that answer it."""
    mend = f"say --answer 'column {header}: {example}', or write it in the mapping file under 'columns:'"
    return Problem(what, mend, file, line, header)
