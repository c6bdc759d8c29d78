"""Numbers as they are typed: decimal commas, thousands, limits of detection, Unicode minus, signs of percent.

The decimal mark is decided once for the whole file, never cell by cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from hardtack.errors import Problem
from hardtack.measurements.answers import Answers, question
from hardtack.measurements.sheet import Cell

_MINUS = str.maketrans({"−": "-", "–": "-", "‐": "-", "‑": "-", "‒": "-", "＋": "+", "－": "-", "،": ","})
_GAPS = re.compile(r"(?<=[0-9])[ \u00a0\u2009\u202f'’](?=[0-9]{3}(?![0-9]))")
_NUMERIC = re.compile(r"[-+]?[0-9.,]*[0-9][0-9.,]*(?:[eE][-+]?[0-9]{1,3})?")
_LIMIT = re.compile(r"^(<=|>=|[<>≤≥]|&lt;|&gt;)\s*")
_POINT = re.compile(
    r"[-+]?(?:(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?"
)
_COMMA = re.compile(
    r"[-+]?(?:(?:[0-9]{1,3}(?:\.[0-9]{3})+|[0-9]+)(?:,[0-9]*)?|,[0-9]+)(?:[eE][-+]?[0-9]{1,3})?"
)
_UNIT = re.compile(r"\s*(?P<unit>[%°a-zA-Zµμ℃℉][^<>=±;]*)?")
NOT_DETECTED = re.compile(r"(n\.?\s?d\.?|not detected|none detected|b\.?d\.?l\.?|<\s*lo[dq])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number as written: `limit` is "<" or ">" where only a limit is known, `unit` the text behind it."""

    value: float
    limit: str
    unit: str


def numeral(cell: Cell, decimal: str) -> Numeral | str:
    """The number in a cell, or in words why there is none. `decimal` is the file's mark, "." or ","."""
    if isinstance(cell, float):
        return Numeral(cell, "", "") if abs(cell) < float("inf") else "not a finite number"
    if not isinstance(cell, str):
        return "a date, not a number"
    if not cell:
        return "blank"
    if cell[0] in "=@":
        return f"begins with {cell[0]}: a formula, taken as text"
    if NOT_DETECTED.fullmatch(cell):
        return "not detected, and no limit of detection stated"
    text = cell.translate(_MINUS)
    limit = ""
    if found := _LIMIT.match(text):
        limit = "<" if found[1] in ("<", "<=", "≤", "&lt;") else ">"
        text = text[found.end() :]
    text = _GAPS.sub("", text)
    number = (_COMMA if decimal == "," else _POINT).match(text)
    if number is None:
        return "text, not a number"
    rest = _UNIT.fullmatch(text[number.end() :])
    if rest is None:
        return "more than one number" if re.search(r"[0-9]", text[number.end() :]) else "text, not a number"
    digits = number[0].replace("." if decimal == "," else ",", "").replace(",", ".")
    value = float(digits)
    if abs(value) == float("inf"):
        return "not a finite number"
    return Numeral(value, limit, (rest["unit"] or "").strip())


def decimal_mark(
    cells: Iterable[tuple[int, str]], separator: str, said: Answers, file: str
) -> tuple[str, str] | Problem:
    """The file's decimal mark and why, or the question when the cells do not settle it.

    `cells` are (row, text). A mark before one, two or four and more digits is a decimal; before exactly three
    digits it may also part thousands.
    """
    if said.get("decimal"):
        return {"comma": ",", "point": "."}[said.get("decimal")], "as answered"
    proof: dict[str, tuple[int, str]] = {}
    doubt: dict[str, tuple[int, str]] = {}
    for row, text in cells:
        mark, certain = _mark(text)
        if mark:
            (proof if certain else doubt).setdefault(mark, (row, text))
    if len(proof) == 2:
        (row_a, a), (row_b, b) = proof[","], proof["."]
        what = f"decimal comma ({a!r}, row {row_a}) and decimal point ({b!r}, row {row_b}) in one file"
        return question(what, "decimal", file, row_a)
    if proof:
        mark, (row, text) = next(iter(proof.items()))
        return mark, f"seen in {text!r}, row {row}"
    if not doubt:
        return ".", "no number has a decimal mark"
    if set(doubt) == {"."} and separator not in (";", "\t"):
        return ".", "points before three digits, in a file that parts columns otherwise than with semicolons"
    mark, (row, text) = next(iter(doubt.items()))
    return question(f"{text!r}: is the mark a decimal, or does it part thousands?", "decimal", file, row)


def _mark(text: str) -> tuple[str, bool]:
    """The mark that a cell speaks for, and whether it leaves no doubt."""
    text = _GAPS.sub("", _LIMIT.sub("", text.translate(_MINUS))).rstrip("% ")
    found = _NUMERIC.match(text)
    if not found or re.match(r"[0-9.,:/-]", text[found.end() :]):
        return "", False
    digits = re.sub(r"[eE].*", "", found[0]).lstrip("-+")
    commas, points = digits.count(","), digits.count(".")
    if commas and points:
        last = "," if digits.rfind(",") > digits.rfind(".") else "."
        return (last, True) if digits.count(last) == 1 else ("", False)
    if commas > 1 or points > 1:
        groups = re.split(r"[.,]", digits)
        thousands = len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
        return ((".", True) if commas else (",", True)) if thousands else ("", False)
    mark = "," if commas else "." if points else ""
    if not mark:
        return "", False
    before, after = digits.split(mark)
    return mark, len(after) != 3 or len(before) > 3 or before in ("", "0") or before.startswith("0")
