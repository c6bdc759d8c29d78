"""What columns are called in laboratories, and in which units they come.

The names are the trade's own; every meaning has one kind of quantity and the range it can lie in.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column may be: its `kind` of quantity, the `names` it goes by, SI `unit`, range."""

    name: str
    kind: str
    names: str
    unit: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    above_low: bool = False

    def possible(self, value: float) -> bool:
        """Whether a value in SI can be at all."""
        return (self.low < value if self.above_low else self.low <= value) and value <= self.high


def _read() -> Mapping[str, Meaning]:
    data = tomllib.loads((resources.files("hardtack.measurements") / "words.toml").read_text("utf-8"))
    return MappingProxyType(
        {name: Meaning(name, **{**entry, "names": "|".join(entry["names"])}) for name, entry in data.items()}
    )


MEANINGS = _read()
MEASURED_KINDS = frozenset(
    ("fraction", "moisture", "temperature", "mass", "duration", "force", "number", "verdict", "length", "area",
     "transmission rate", "permeance", "gas permeance", "speed")
)  # fmt: skip

_PATTERNS = {name: re.compile(meaning.names) for name, meaning in MEANINGS.items()}
_PERCENT = {"%", "percent", "pct", "%rh", "%erh", "% rh", "% r.h.", "%r.h.", "% erh", "rh%", "% w/w"}
_FRACTION = {"-", "–", "1", "fraction", "frac", "decimal", "0-1", "0..1", "aw"}
_CELSIUS = {"°c", "c", "degc", "deg c", "deg. c", "℃", "celsius", "degrees c", "ºc", "° c", "grad c"}
_FAHRENHEIT = {"°f", "f", "degf", "deg f", "deg. f", "℉", "fahrenheit", "degrees f", "ºf", "° f"}
_KELVIN = {"k", "kelvin"}
_DURATIONS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), "s"),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), "min"),
    **dict.fromkeys(
        ("h", "hr", "hrs", "hour", "hours", "stunden", "std", "heure", "heures", "hora", "horas"), "h"
    ),
    **dict.fromkeys(("d", "day", "days", "tag", "tage", "jour", "jours", "día", "días"), "day"),
    **dict.fromkeys(("week", "weeks", "wk", "wks"), "week"),
    **dict.fromkeys(("month", "months"), "month"),
}
_MASSES = {
    "g": "g",
    "gram": "g",
    "grams": "g",
    "mg": "mg",
    "kg": "kg",
    "oz": "oz",
    "lb": "lb",
    "lbs": "lb",
    "µg": "ug",
}
_FORCES = {"n": "N", "newton": "N", "kn": "kN", "mn": "mN", "g": "gf", "gf": "gf", "g-force": "gf", "g force": "gf",
           "kgf": "kgf", "kg": "kgf", "lbf": "lbf"}  # fmt: skip
_LENGTHS = {"mm": "mm", "um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um", "mil": "mil", "mils": "mil",
            "in": "in", "inch": "in", "cm": "cm", "m": "m"}  # fmt: skip
_AREAS = {"m2": "m2", "m²": "m2", "cm2": "cm2", "cm²": "cm2", "in2": "in2", "in²": "in2", "ft2": "ft2",
          "100in2": "100in2", "100 in2": "100in2", "100 in²": "100in2"}  # fmt: skip
_SPEEDS = {"m/min": "m/min", "m/s": "m/s", "cm/s": "cm/s", "mm/s": "mm/s", "m/h": "m/h", "ft/min": "ft/min",
           "fpm": "ft/min"}  # fmt: skip
_BASES = (
    ("dry", re.compile(
        r"d\.? ?b\.?|dry( basis| matter| mass| solids?| solid)?|d\.? ?m\.?|solids?|d\.s\.|trocken(masse|substanz|basis)|"
        r"i\. ?tr\.?|base seca|(base )?sèche"
    )),
    ("wet", re.compile(
        r"w\.? ?b\.?|wet( basis)?|as is|as received|fresh (basis|weight)|fw|frisch(masse|gewicht)|nassbasis|base húmeda|"
        r"base humide"
    )),
)  # fmt: skip


def unit_of(kind: str, text: str) -> str | None:
    """The unit that a text stands for in this kind of quantity; None when it is none of them.

    Fractions come out as ``percent`` or ``fraction``; moisture as ``percent wet``, ``fraction dry``, or with
    the half that the text leaves open missing (``percent``, ``wet``).
    """
    text = " ".join(text.lower().replace("_", " ").split())
    if kind == "fraction":
        return "percent" if text in _PERCENT else "fraction" if text in _FRACTION else None
    if kind == "moisture":
        return _moisture_unit(text)
    if kind == "temperature":
        for unit, spellings in (("degC", _CELSIUS), ("degF", _FAHRENHEIT), ("K", _KELVIN)):
            if text in spellings:
                return unit
        return None
    tables = {"duration": _DURATIONS, "mass": _MASSES, "force": _FORCES, "length": _LENGTHS, "area": _AREAS,
              "speed": _SPEEDS}  # fmt: skip
    if kind in tables:
        return tables[kind].get(text)
    if kind == "number":
        return text
    if kind in ("transmission rate", "permeance", "gas permeance"):
        return _by_units(kind, text)
    return None


def _by_units(kind: str, text: str) -> str | None:
    from hardtack.errors import HardtackError
    from hardtack.units import parse_quantity

    text = re.sub(r"\s+\([^()]*\)$", "", text)  # the conditions of the test, behind the unit
    text = re.sub(r"/\(([^()]*)\)", r"/\1", text)  # g/(m2 day)
    spelt = re.sub(
        r"[·*. ]+(24 ?h|day|d|atm|bar|kPa|Pa|mmHg)\b",
        r"/\1",
        text.replace("kpa", "kPa").replace("pa", "Pa").replace("kPPa", "kPa").replace("mmhg", "mmHg"),
    )
    try:
        parse_quantity(f"1e-6 {spelt}", kind)
    except HardtackError:
        return None
    return spelt


def _moisture_unit(text: str) -> str | None:
    basis = ""
    for name, pattern in _BASES:
        found = re.search(rf"(?<![a-z])(?:{pattern.pattern})(?![a-z])", text)
        if found:
            basis = name
            text = (text[: found.start()] + text[found.end() :]).strip(" ,;()[]/")
            break
    text = text.replace(" ", "")
    if text in ("%", "percent", "%w/w", "g/100g", "%h2o", "%water", "gh2o/100g", "gwater/100g", "g/100"):
        unit = "percent"
    elif text in (
        "g/g",
        "kg/kg",
        "fraction",
        "-",
        "kgwater/kg",
        "gh2o/g",
        "kgh2o/kg",
        "gwater/g",
        "g/g1",
        "g",
        "kg",
    ):
        unit = "fraction" if text not in ("g", "kg") else ""
    elif text == "":
        unit = ""
    else:
        return None
    found_unit = f"{unit} {basis}".strip()
    return found_unit or None


def meaning_of(name: str) -> str | None:
    """The meaning that a column name stands for, or None."""
    plain = " ".join(re.sub(r"[_:]", " ", name.lower().replace("μ", "µ")).split()).strip(" .,;-")
    plain = re.sub(r"(?<=a)[-.](?=w$)", "", plain)
    plain = re.sub(r"\s*[+&]\s*", " + ", plain)
    for meaning, pattern in _PATTERNS.items():
        if pattern.fullmatch(plain):
            return meaning
    return None
