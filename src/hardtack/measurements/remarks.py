"""What a remark takes out: one piece of a row where it says which one, else the whole row."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from hardtack.measurements.columns import Column
from hardtack.measurements.numerals import Numeral, numeral
from hardtack.measurements.sheet import Cell
from hardtack.measurements.words import MEANINGS, MEASURED_KINDS

_SPOILT = re.compile(
    r"mou?ld|broke|\bcrack(ed|s)?\b|\bburnt\b|\btorn\b|\bburst\b|spil|dropped|knocked|discard|not stable|unstable|aborted|leak|"
    r"lost|void|invalid|error|schimm|zerbroch|gebroch|verschütt|undicht",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"\b(?:pieces?|reps?|replicates?|samples?|slices?|biscuits?|crackers?|nos?|nr|stück|probe|pans?|cups?)\.?\s*#?\s*"
    r"(?P<numbers>[0-9]{1,2}(?:\s*(?:,|and|&|\+|und|et|y)\s*[0-9]{1,2})*)\b|#(?P<hash>[0-9]{1,2})\b",
    re.IGNORECASE,
)
_COUNTS = {"a": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5}
_COUNTED = re.compile(
    rf"\b(?P<count>{'|'.join(_COUNTS)}|[1-9])\s+(?:pieces?|reps?|replicates?|slices?|biscuits?|crackers?|of them|(?:was|were)?\s*(?:broke|cracked))",
    re.IGNORECASE,
)


def spoils(remark: Cell) -> bool:
    """Whether a remark says that something went wrong with what the row holds."""
    return isinstance(remark, str) and bool(_SPOILT.search(remark))


def spoilt_cells(
    remark: str, columns: Sequence[Column], cells: Sequence[Cell], decimal: str
) -> Mapping[int, str] | None:
    """The cells that a remark about single pieces takes out, by their place in the row; None where it may mean all.

    A piece is found by its number among replicate columns. A remark on so many pieces as there are cells without
    a number speaks of those: then nothing more is taken out.
    """
    groups = _replicates(columns)
    if not groups:
        return None
    named = _named(remark)
    if named:
        found: dict[int, str] = {}
        for group in groups:
            numbers = {number: column.index for number, column in group.items()}
            if not named <= set(numbers):
                return None  # some other numbering: of pans, of days
            found |= {numbers[number]: remark for number in named}
        return found
    counted = _COUNTED.search(remark)
    if counted is None:
        return None
    count = _COUNTS.get(counted["count"].lower()) or int(counted["count"])
    for group in groups:
        written = [cells[c.index] if c.index < len(cells) else "" for c in group.values()]
        if sum(not isinstance(numeral(cell, decimal), Numeral) for cell in written) != count:
            return None
    return {}


def _named(remark: str) -> set[int]:
    return {
        int(number)
        for found in _NUMBERED.finditer(remark)
        for number in re.findall(r"[0-9]+", found["numbers"] or found["hash"])
    }


def _replicates(columns: Sequence[Column]) -> list[Mapping[int, Column]]:
    """Replicate columns of one measured meaning, by their number (their order where the names have none)."""
    by_meaning: dict[str, list[Column]] = {}
    for column in columns:
        if column.meaning and column.at is None and MEANINGS[column.meaning].kind in MEASURED_KINDS:
            by_meaning.setdefault(column.meaning, []).append(column)
    groups: list[Mapping[int, Column]] = []
    for group in by_meaning.values():
        if len(group) > 1:
            numbers = [column.replicate for column in group]
            own = 0 not in numbers and len(set(numbers)) == len(numbers)
            groups.append(dict(zip(numbers if own else range(1, len(group) + 1), group, strict=True)))
    return groups
