"""Quantities at the edge: text as the trade writes it, SI floats inside.

Every kind of quantity has one SI unit and one list of spellings. Text such as ``4.2 g/m2/day``,
``0.35 g/100in2/day``, ``2.5 ± 0.2 %wb [measured here, three pans]`` or ``20..24 degC`` becomes a
`Sourced`. Percent against fraction, and wet against dry basis, are asked, never guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hardtack.errors import HardtackError
from hardtack.sourced import PROVENANCES, Provenance, Sourced

if TYPE_CHECKING:
    from pint import UnitRegistry

ZERO_CELSIUS = 273.15
DAY = 86400.0
STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/m2/K4], CODATA 2018."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its SI unit, an example to show in messages, and its allowed range in SI."""

    name: str
    si: str
    example: str
    low: float = float("-inf")
    high: float = float("inf")
    strict_low: bool = False


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "m", "4.5 mm", 0.0, 10.0, strict_low=True),
        Kind("mass", "kg", "8.2 g", 0.0, 1e5, strict_low=True),
        Kind("area", "m2", "0.066 m2", 0.0, 1e4, strict_low=True),
        Kind("volume", "m3", "300 mL", 0.0, 1e4),
        Kind("duration", "s", "21 days", 0.0, 3.2e9, strict_low=True),
        Kind("temperature", "K", "25 degC", 173.15, 773.15),
        Kind("temperature difference", "K", "8 K", 0.0, 200.0),
        Kind("activity", "", "0.35", 0.0, 1.0),
        Kind("humidity", "", "75 %", 0.0, 1.0),
        Kind("humidity difference", "", "15 %", -1.0, 1.0),
        Kind("moisture", "kg/kg dry", "2.5 %wb", 0.0, 20.0),
        Kind("share", "", "30 %", 0.0, 1.0),
        Kind("proportion", "", "58 %", 0.0, 100.0),
        Kind("transmission rate", "kg/m2/s", "4.2 g/m2/day", 0.0, 1.0, strict_low=True),
        Kind("permeance", "kg/m2/s/Pa", "0.05 perm", 0.0, 1e-3, strict_low=True),
        Kind("permeability", "kg/m/s/Pa", "1.1e-12 g/m/s/Pa", 0.0, 1e-6, strict_low=True),
        Kind("gas permeance", "m3/m2/s/Pa", "1500 cm3/m2/day/atm", 0.0, 1e-6, strict_low=True),
        Kind("diffusivity", "m2/s", "5e-11 m2/s", 1e-18, 1e-5),
        Kind("force", "N", "12 N", 0.0, 1e6, strict_low=True),
        Kind("velocity", "m/s", "3 mm/s", 0.0, 100.0, strict_low=True),
        Kind("heat transfer coefficient", "W/m2/K", "20 W/m2/K", 0.0, 1e4),
        Kind("molar energy", "J/mol", "45 kJ/mol", -1e6, 1e6),
        Kind("density", "kg/m3", "450 kg/m3", 0.0, 3e4, strict_low=True),
        Kind("molar mass", "kg/mol", "342.3 g/mol", 0.0, 1e3, strict_low=True),
        Kind("specific heat", "J/kg/K", "1.94 J/g/K", 0.0, 1e5, strict_low=True),
        Kind("transition temperature", "K", "62 degC", 50.0, 800.0),
        Kind("rate constant", "1/s", "0.25 1/day", 0.0, 1e3),
        Kind("frequency factor", "1/s", "6.7e12 1/min", 0.0, 1e30, strict_low=True),
        Kind("gas rate", "m3/kg/s", "0.96 mL/g/min", 0.0, 1.0, strict_low=True),
        Kind("specific volume", "m3/kg", "1.2 L/kg", 0.0, 1.0, strict_low=True),
        Kind("amount per mass", "mol/kg", "12 mmol/kg", 0.0, 1e3),
        Kind("pressure", "Pa", "200 Pa", 0.0, 1e8),
        Kind("temperature coefficient", "1/K", "0.05 1/K", -10.0, 10.0),
        Kind("pH", "", "6.8", 0.0, 14.0),
        Kind("number", "", "1.3"),
        Kind("positive number", "", "1.3", 0.0, 1e12, strict_low=True),
    )
}

# The trade's spellings, folded to what the registry knows. Order matters: longest first.
_SPELLINGS: tuple[tuple[str, str], ...] = (
    ("²", "2"),
    ("³", "3"),
    ("100 in2", "hundred_in2"),
    ("100in2", "hundred_in2"),
    ("100 sq in", "hundred_in2"),
    ("·", "*"),
    ("°C", "degC"),
    ("°F", "degF"),
    ("µ", "u"),
    ("μ", "u"),
    ("24 h", "day"),
    ("24h", "day"),
)
_SQUARE_100_IN = 100 * 0.0254**2
_ATM = 101325.0
# What is written most, in SI: loading the registry takes longer than a short answer, so it is asked for the rest only.
COMMON: dict[str, dict[str, float]] = {
    "m": {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "mil": 1e-3 * 0.0254},
    "m2": {"m2": 1.0, "cm2": 1e-4},
    "m3": {"m3": 1.0, "L": 1e-3, "mL": 1e-6, "cm3": 1e-6},
    "kg": {"kg": 1.0, "g": 1e-3},
    "s": {"s": 1.0, "min": 60.0, "h": 3600.0, "day": DAY, "days": DAY, "weeks": 7 * DAY, "years": 365.25 * DAY},
    "K": {"K": 1.0},
    "kg/m2/s": {"g/m2/day": 1e-3 / DAY, "g/hundred_in2/day": 1e-3 / _SQUARE_100_IN / DAY},
    "kg/m2/s/Pa": {"kg/m2/s/Pa": 1.0, "g/m2/day/mmHg": 1e-3 / DAY / 133.322387415},
    "kg/m/s/Pa": {"kg/m/s/Pa": 1.0, "g*mil/m2/day/mmHg": 1e-3 * 2.54e-5 / DAY / 133.322387415},
    "m3/m2/s/Pa": {
        "cm3/m2/day/atm": 1e-6 / DAY / _ATM, "cm3/hundred_in2/day/atm": 1e-6 / _SQUARE_100_IN / DAY / _ATM,
    },
    "m2/s": {"m2/s": 1.0},
    "m/s": {"m/s": 1.0, "mm/s": 1e-3, "mm/day": 1e-3 / DAY},
    "kg/m3": {"kg/m3": 1.0, "g/cm3": 1e3},
    "kg/mol": {"kg/mol": 1.0, "g/mol": 1e-3},
    "J/mol": {"J/mol": 1.0, "kJ/mol": 1e3, "kcal/mol": 4184.0},
    "J/kg/K": {"J/kg/K": 1.0, "J/g/K": 1e3},
    "1/s": {"1/s": 1.0, "1/min": 1 / 60, "1/day": 1 / DAY},
    "m3/kg/s": {"mL/g/min": 1e-3 / 60},
    "m3/kg": {"L/kg": 1e-3},
}  # fmt: skip
"""Factor to each SI unit (key) of the spellings met most, as `_fold` leaves them."""
_NUMBER = r"[-+−]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][-+−]?\d+)?(?![\d,])"
_TEXT = re.compile(
    rf"^\s*(?P<first>{_NUMBER})"
    rf"(?:\s*(?P<joint>±|\+/-|\.\.|\bto\b)\s*(?P<second>{_NUMBER}))?"
    r"\s*(?P<unit>[^\[\]]*?)\s*(?:\[(?P<origin>[^\]]*)\])?\s*$"
)


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """The project's own small registry: SI, the trade's units, nothing else (loads in milliseconds)."""
    from pint import UnitRegistry

    return UnitRegistry(str(Path(__file__).with_name("units.txt")), autoconvert_offset_to_baseunit=True)


def parse_quantity(
    text: object,
    kind: str,
    *,
    provenance: Provenance = "assumed",
    source: str = "",
) -> Sourced:
    """Read one quantity of the given `kind` (a key of `KINDS`).

    `text` is a number or text ``value [± sd | .. high] unit [provenance, source]``. `provenance` and
    `source` apply when the text names none. Raises `HardtackError` with a mend when the unit is missing or
    wrong, percent and fraction or wet and dry basis are not told apart, or the value is out of range.
    """
    spec = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, (int, float, str)):
        raise HardtackError(
            f"{text!r} is not a {kind}", f"write a number with its unit, such as {spec.example}"
        )
    written = str(text).strip()
    match = _TEXT.match(written)
    if match is None:
        raise HardtackError(f"cannot read {written!r} as a {kind}", _reading_mend(written, spec))
    provenance, source = _origin(match["origin"], provenance, source)
    first = _number(match["first"])
    second = _number(match["second"]) if match["second"] else None
    unit = match["unit"].strip()
    if match["joint"] in ("±", "+/-") and second is not None:
        value = _to_si(first, unit, spec, written)
        edge = _to_si(first + second, unit, spec, written, check=False)
        sourced = Sourced(value, spec.si, provenance, source, sd=abs(edge - value), written=written)
    elif second is not None:
        low, high = sorted((_to_si(first, unit, spec, written), _to_si(second, unit, spec, written)))
        sourced = Sourced((low + high) / 2, spec.si, provenance, source, low=low, high=high, written=written)
    else:
        sourced = Sourced(_to_si(first, unit, spec, written), spec.si, provenance, source, written=written)
    return sourced


def _number(text: str) -> float:
    return float(text.replace("−", "-"))


def _reading_mend(written: str, spec: Kind) -> str:
    if re.match(r"^\s*[-+−]?\d+,\d+", written):
        return f"write the decimal with a point: {written.replace(',', '.', 1)}"
    return f"write a number with its unit, such as {spec.example}"


def _origin(text: str | None, provenance: Provenance, source: str) -> tuple[Provenance, str]:
    """Split ``[measured here, three pans]`` into a provenance and a source."""
    if text is None:
        return provenance, source
    head, _, tail = text.partition(",")
    head = head.strip().lower()
    for known in PROVENANCES:
        if head == known:
            return known, tail.strip()
    raise HardtackError(
        f"[{text}] does not say how the number is known",
        f"begin the bracket with one of: {', '.join(PROVENANCES)}; the source may follow after a comma",
    )


def _to_si(number: float, unit: str, spec: Kind, written: str, *, check: bool = True) -> float:
    value = _CONVERTERS.get(spec.name, _by_registry)(number, unit, spec, written)
    if check and not (spec.low < value if spec.strict_low else spec.low <= value):
        raise HardtackError(f"{written} is too small for a {spec.name}", _range_mend(spec))
    if check and not value <= spec.high:
        raise HardtackError(f"{written} is too large for a {spec.name}", _range_mend(spec))
    return value


def _range_mend(spec: Kind) -> str:
    if spec.low == 0.0 and spec.strict_low:
        return f"it must be above zero, such as {spec.example}"
    return (
        f"it must lie between {spec.low:g} and {spec.high:g} {spec.si}".rstrip() + f", such as {spec.example}"
    )


def _by_registry(number: float, unit: str, spec: Kind, written: str) -> float:
    if not unit:
        if spec.si == "":
            return number
        raise HardtackError(f"{written} has no unit", f"write it as a {spec.name}, such as {spec.example}")
    try:
        return float(convert(number, unit, spec.si))
    except _pint_errors() as error:
        raise HardtackError(
            f"{unit!r} is not a unit of {spec.name}", f"write it such as {spec.example}"
        ) from error


def convert(number: float, unit: str, to: str) -> float:
    """Convert between any two of the registry's units, in the trade's spellings."""
    folded = _fold(unit)
    if folded == "degC" and to == "K":
        return number + ZERO_CELSIUS
    if folded == "degF" and to == "K":
        return (number - 32.0) / 1.8 + ZERO_CELSIUS
    factor = COMMON.get(to, {}).get(folded)
    if factor is not None:
        return number * factor
    return float(registry().Quantity(number, folded).to(_fold(to)).magnitude)


def _pint_errors() -> tuple[type[BaseException], ...]:
    from tokenize import TokenError

    from pint.errors import PintError

    return (
        PintError, AttributeError, TokenError, SyntaxError, ValueError, TypeError, AssertionError, KeyError,
        ArithmeticError, RecursionError, MemoryError,
    )  # fmt: skip


def _fold(unit: str) -> str:
    for spelling, known in _SPELLINGS:
        unit = unit.replace(spelling, known)
    return re.sub(r"\s*/\s*", "/", unit).strip()


def _activity(number: float, unit: str, spec: Kind, written: str) -> float:
    if unit == "%":
        raise HardtackError(
            f"{written}: water activity is a fraction from 0 to 1",
            f"write {number / 100:g}, if that is meant",
        )
    if unit not in ("", "aw"):
        raise HardtackError(
            f"water activity carries no unit, {unit!r} found", f"write it such as {spec.example}"
        )
    if number > 1:
        hint = f"write {number / 100:g}, if percent was meant" if number <= 100 else "it lies between 0 and 1"
        raise HardtackError(f"a water activity of {number:g} cannot be", hint)
    return number


def _percent(number: float, unit: str, spec: Kind, written: str) -> float:
    if unit.replace(" ", "") in ("%", "%RH", "%rh", "%ERH"):
        return number / 100
    if unit == "" and number in (0.0,):
        return 0.0
    if unit == "":
        guess = f"{number * 100:g} %" if abs(number) <= 1 else f"{number:g} %"
        raise HardtackError(
            f"{written}: percent or fraction?",
            f"say it with the sign, such as {spec.example} (perhaps {guess})",
        )
    raise HardtackError(f"{unit!r} is not a unit of {spec.name}", f"write it such as {spec.example}")


def _moisture(number: float, unit: str, spec: Kind, written: str) -> float:
    """Moisture on dry basis from wet basis: X = W / (1 - W)."""
    spelling = unit.replace(" ", "").lower().replace(".", "")
    per_hundred = {"%wb": True, "%db": True, "g/100gdb": True, "g/100gdry": True}.get(spelling, False)
    fraction = number / 100 if per_hundred else number
    if spelling in ("%wb", "wb", "kg/kgwet", "g/gwet"):
        if not 0 <= fraction < 1:
            raise HardtackError(
                f"{written}: moisture on wet basis lies between 0 and 100 %",
                "above that, say %db (dry basis)",
            )
        return fraction / (1 - fraction)
    if spelling in ("%db", "db", "g/100gdb", "g/100gdry", "kg/kgdb", "kg/kgdry", "g/gdb", "g/gdry"):
        return fraction
    if spelling in ("%", "", "g/g", "kg/kg", "g/100g"):
        raise HardtackError(
            f"{written}: moisture on which basis?",
            f"write {number:g} %wb (per hundred of the product as it is) or {number:g} %db (per hundred of dry solid)",
        )
    raise HardtackError(f"{unit!r} is not a unit of moisture", "write it such as 2.5 %wb or 2.6 %db")


def _difference(number: float, unit: str, spec: Kind, written: str) -> float:
    folded = _fold(unit)
    scale = {"K": 1.0, "degC": 1.0, "degF": 5 / 9}.get(folded)
    if scale is None:
        raise HardtackError(
            f"{written}: {unit or 'no unit'} for a temperature difference", "write it such as 8 K"
        )
    return number * scale


_CONVERTERS = {
    "activity": _activity,
    "humidity": _percent,
    "humidity difference": _percent,
    "share": _percent,
    "proportion": _percent,
    "moisture": _moisture,
    "temperature difference": _difference,
}


def wet_basis(X: float) -> float:
    """Moisture on wet basis, W = X / (1 + X), from moisture on dry basis X [kg/kg dry]."""
    return X / (1.0 + X)


def celsius(T: float) -> float:
    """Degrees Celsius from kelvin."""
    return T - ZERO_CELSIUS


def degrees(T: float, digits: int = 0) -> str:
    """A temperature [K] in both scales of the trade: 27 °C (81 °F)."""
    return f"{celsius(T):.{digits}f} °C ({1.8 * celsius(T) + 32.0:.0f} °F)"


def days(seconds: float) -> float:
    """Days from seconds."""
    return seconds / DAY


def amount_words(amount: Sourced) -> str:
    """A number as its giver wrote it, else in the unit people use."""
    if amount.written:
        return amount.written
    if amount.unit == "K":
        return f"{celsius(amount.value):.4g} °C"
    if amount.unit == "kg/kg dry":
        return f"{100 * wet_basis(amount.value):.3g} % wet basis"
    return f"{amount.value:.4g} {amount.unit}".strip()
