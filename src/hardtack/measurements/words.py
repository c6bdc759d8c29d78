"""What columns are called in laboratories, and in which units they come.

The names are the trade's own; every meaning has one kind of quantity and the range it can lie in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column may be: its `kind` of quantity, SI `unit`, possible range, and the `names` it goes by."""

    name: str
    kind: str
    unit: str
    names: str
    low: float = float("-inf")
    high: float = float("inf")
    above_low: bool = False

    def possible(self, value: float) -> bool:
        """Whether a value in SI can be at all."""
        return (self.low < value if self.above_low else self.low <= value) and value <= self.high


_T = (173.15, 773.15)
MEANINGS: Mapping[str, Meaning] = MappingProxyType(
    {
        meaning.name: meaning
        for meaning in (
            Meaning("activity", "fraction", "", r"a ?w|water activity|activity|erh|equilibrium (relative )?humidity", 0, 1, True),
            Meaning("humidity", "fraction", "", r"rh|r h|relative humidity|humidity|(actual|measured) (rh|humidity)", 0, 1),
            Meaning("humidity outside", "fraction", "", r"(rh|humidity) outside|outside (rh|humidity)", 0, 1),
            Meaning("humidity inside", "fraction", "", r"(rh|humidity) inside|inside (rh|humidity)", 0, 1),
            Meaning("target humidity", "fraction", "", r"(target|set|nominal) (rh|humidity)", 0, 1),
            Meaning("expected activity", "fraction", "", r"expected( aw| value| rh)?|nominal aw", 0, 1, True),
            Meaning("moisture", "moisture", "kg/kg dry", r"moisture( content)?|water( content)?|emc|equilibrium moisture( content)?|m c|final moisture", 0, 20, True),
            Meaning("temperature", "temperature", "K", r"t|temp|temperature|air temp(erature)?|test temp(erature)?|storage temp(erature)?", *_T),
            Meaning("dew point", "temperature", "K", r"dew ?point", *_T),
            Meaning("mass", "mass", "kg", r"mass|weight|sample (mass|weight)|pack (mass|weight)|cup (mass|weight)|pouch (mass|weight)|gross weight", 0, 1e5, True),
            Meaning("pan", "mass", "kg", r"pan|tare|dish|empty (pan|dish)|pan (mass|weight)", 0, 100, True),
            Meaning("pan and wet", "mass", "kg", r"(wet|sample) (and|\+|plus) (pan|dish)|(pan|dish) (and|\+|plus) (wet|sample)( wet)?|gross wet", 0, 100, True),
            Meaning("pan and dry", "mass", "kg", r"dry (and|\+|plus) (pan|dish)|(pan|dish) (and|\+|plus) (dry|sample dry)|gross dry", 0, 100, True),
            Meaning("wet", "mass", "kg", r"wet|wet (mass|weight)|before( drying)?", 0, 100, True),
            Meaning("dry", "mass", "kg", r"dry|dry (mass|weight)|after( drying)?", 0, 100, True),
            Meaning("time", "duration", "s", r"time|elapsed( time)?|days?|hours?|minutes?|weeks?|age|storage time|shelf time", 0, 3.2e9),
            Meaning("clock", "clock", "s", r"date|date ?(and |/ ?)?time|timestamp|clock|day and time|time iso( 8601)?"),
            Meaning("time of day", "clock", "s", r"time of day|clock time"),
            Meaning("salt", "text", "", r"salt|salt (standard|solution)|jar|saturated salt|standard"),
            Meaning("force", "force", "N", r"force|peak( force)?|max(imum)? force|hardness|firmness|crumb firmness|breaking force|snap force", 0, 1e5),
            Meaning("sound", "number", "", r"sound|sound peaks|acoustic events|number of (sound )?peaks|acoustic peaks", 0, 1e9),
            Meaning("score", "number", "", r"score|rating|crispness|liking|panel|panel (score|crispness)|sensory", -1e3, 1e3),
            Meaning("accepted", "verdict", "", r"accepted|acceptance|accept|verdict|would eat|ok to eat"),
            Meaning("rejected", "verdict", "", r"rejected|reject|rejection"),
            Meaning("person", "text", "", r"person|panell?ist|consumer|assessor|judge|subject"),
            Meaning("mould-free time", "duration", "s", r"mou?ld[- ]free (days|time)|days to (first )?mou?ld|first mou?ld|time to mou?ld", 0, 3.2e9, True),
            Meaning("peroxide value", "number", "", r"peroxide( value)?|pv|pov", 0, 1e4),
            Meaning("hexanal", "number", "", r"hexanal", 0, 1e6),
            Meaning("lightness", "number", "", r"l\*?|lightness", 0, 100),
            Meaning("redness", "number", "", r"a\*", -128, 128),
            Meaning("yellowness", "number", "", r"b\*", -128, 128),
            Meaning("thickness", "length", "m", r"thickness|gauge|film thickness", 0, 10, True),
            Meaning("area", "area", "m2", r"area|test area|exposed area|film area", 0, 1e4, True),
            Meaning("transmission rate", "transmission rate", "kg/m2/s", r"wvtr|mvtr|wvt|water vapou?r transmission( rate)?|transmission( rate)?", 0, 1, True),
            Meaning("permeance", "permeance", "kg/m2/s/Pa", r"permeance|water vapou?r permeance", 0, 1e-3, True),
            Meaning("oxygen permeance", "gas permeance", "m3/m2/s/Pa", r"otr|o2tr|oxygen transmission( rate)?|oxygen permeance", 0, 1e-6, True),
            Meaning("sample", "text", "", r"sample|sample (name|id|code)|product|lot|lot code|code|id|name|batch|pack|pouch|cup|film|material|piece|side"),
            Meaning("replicate", "text", "", r"rep|replicate|no|nr|n|run|#"),
            Meaning("branch", "text", "", r"branch|direction|cycle|step"),
            Meaning("remark", "text", "", r"remarks?|status|comments?|notes?|flag|observation"),
        )
    }
)  # fmt: skip
MEASURED_KINDS = frozenset(
    ("fraction", "moisture", "temperature", "mass", "duration", "force", "number", "verdict", "length", "area",
     "transmission rate", "permeance", "gas permeance")
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
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("d", "day", "days"), "day"),
    **dict.fromkeys(("week", "weeks", "wk", "wks"), "week"),
    **dict.fromkeys(("month", "months"), "month"),
}
_MASSES = {"g": "g", "gram": "g", "grams": "g", "mg": "mg", "kg": "kg", "oz": "oz", "lb": "lb", "lbs": "lb", "µg": "ug"}
_FORCES = {"n": "N", "newton": "N", "kn": "kN", "mn": "mN", "g": "gf", "gf": "gf", "g-force": "gf", "g force": "gf",
           "kgf": "kgf", "kg": "kgf", "lbf": "lbf"}  # fmt: skip
_LENGTHS = {"mm": "mm", "um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um", "mil": "mil", "mils": "mil",
            "in": "in", "inch": "in", "cm": "cm", "m": "m"}  # fmt: skip
_AREAS = {"m2": "m2", "m²": "m2", "cm2": "cm2", "cm²": "cm2", "in2": "in2", "in²": "in2", "ft2": "ft2",
          "100in2": "100in2", "100 in2": "100in2", "100 in²": "100in2"}  # fmt: skip
_BASES = (
    ("dry", re.compile(r"d\.? ?b\.?|dry( basis| matter| mass| solids?| solid)?|d\.? ?m\.?|g ?/ ?100 ?g (solids?|ds|d\.s\.)|solids?")),
    ("wet", re.compile(r"w\.? ?b\.?|wet( basis)?|as is|as received|fresh (basis|weight)|fw")),
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
    tables = {"duration": _DURATIONS, "mass": _MASSES, "force": _FORCES, "length": _LENGTHS, "area": _AREAS}
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

    spelt = re.sub(r"[·. ]+(24 ?h|day|d)\b", r"/\1", text.replace("kpa", "kPa").replace("pa", "Pa").replace("kPPa", "kPa"))
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
    elif text in ("g/g", "kg/kg", "fraction", "-", "kgwater/kg", "gh2o/g", "kgh2o/kg", "gwater/g", "g/g1", "g", "kg"):
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
    for meaning, pattern in _PATTERNS.items():
        if pattern.fullmatch(plain):
            return meaning
    return None
