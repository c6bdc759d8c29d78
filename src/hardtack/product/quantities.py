"""Annotated types of the schema: quantities, dates and clock times as the product file writes them.

A quantity stands as text, ``2.5 ± 0.2 %wb [measured here, three pans]``, or as a mapping with the keys
`value`, `sd`, `low`, `high`, `values`, `spread`, `from` and `source`. Both become a `Sourced` in SI.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Annotated, Any

from pydantic import BeforeValidator, GetCoreSchemaHandler, PlainValidator, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError, core_schema

from hardtack.errors import HardtackError
from hardtack.product.tree import Text
from hardtack.sourced import PROVENANCES, SPREADS, Provenance, Sourced, Spread
from hardtack.units import KINDS, parse_quantity

SPREAD_KEYS = ("value", "sd", "low", "high", "values", "spread", "from", "source")
_PARTS = re.compile(r"^\s*([-+−]?[\d.]+(?:[eE][-+−]?\d+)?)\s*(.*?)\s*$")
# Powers of powers could keep the unit reader busy for hours: an exponent is one digit, once.
_RISKY = re.compile(r"(?:\*\*|\^)(?!\s*-?\d(?!\d|\s*(?:\*\*|\^)))")
_SEVERAL = re.compile(r"^\s*([-+−]?\d[\d.eE+−-]*(?:\s*[,;]\s*[-+−]?\d[\d.eE+−-]*)+)\s*(.*?)\s*$")
"""Numbers parted by commas, then their unit."""
_LONGEST = 300


def fault(what: str, mend: str) -> PydanticCustomError:
    """An error of the schema that carries its own words."""
    return PydanticCustomError("hardtack", "{what}", {"what": what, "mend": mend})


@dataclass(frozen=True, slots=True)
class Origin:
    """What the file says of numbers that do not state their own origin."""

    provenance: Provenance = "assumed"
    words: str = ""
    stated: bool = False
    file: str = "product file"

    def source(self, line: int | None) -> str:
        """Where a number was given, for its `Sourced.source`."""
        place = f"{self.file}:{line}" if line else self.file
        if self.words:
            return f"{self.words} ({place})"
        return f"given in {place}" if self.stated else f"given in {place}, origin not stated"


def read_quantity(value: object, kind: str, origin: Origin) -> Sourced:
    """One quantity of the file, text or mapping. Raises `HardtackError` with a mend."""
    if isinstance(value, Sourced):
        return value
    if isinstance(value, Mapping):
        return _spread(value, kind, origin)
    if isinstance(value, (list, tuple)):
        raise HardtackError(
            f"a list stands where a {kind} belongs",
            f"write it such as {KINDS[kind].example}; several values as '{{values: [...]}}'",
        )
    text = str(value)
    if len(text) > _LONGEST or _RISKY.search(text):
        raise HardtackError(
            f"cannot read {text[:40]!r} as a {kind}",
            f"write a number with its unit, such as {KINDS[kind].example}",
        )
    try:
        amount = parse_quantity(
            value if isinstance(value, (int, float, bool)) else text, kind, provenance=origin.provenance
        )
    except (ArithmeticError, RecursionError):
        raise HardtackError(
            f"cannot read the unit of {text[:60]!r}", f"write it such as {KINDS[kind].example}"
        ) from None
    if not math.isfinite(amount.value):
        raise HardtackError(
            f"{text[:40]} is too large for a {kind}", f"write it such as {KINDS[kind].example}"
        )
    if amount.source:
        return amount
    place = origin.source(getattr(value, "line", None))
    if "[" in text:  # it states how it is known, not where from
        place = replace(origin, words="", stated=True).source(getattr(value, "line", None))
    return replace(amount, source=place)


def _spread(given: Mapping[str, Any], kind: str, origin: Origin) -> Sourced:
    """A quantity written as a mapping."""
    example = f"{{value: {KINDS[kind].example}, from: measured here, source: three pans}}"
    unknown = [key for key in given if key not in SPREAD_KEYS]
    if unknown:
        raise HardtackError(
            f"a quantity has no key '{unknown[0]}'",
            f"its keys are: {', '.join(SPREAD_KEYS)}, as in {example}",
        )
    for key, item in given.items():
        if isinstance(item, Mapping) or (isinstance(item, (list, tuple)) and key != "values"):
            raise HardtackError(f"'{key}' of a quantity must be plain text", f"write it such as {example}")
    known = str(given["from"]).strip().lower() if "from" in given else None
    if known is not None and known not in PROVENANCES:
        raise HardtackError(
            f"'{known}' does not say how the number is known", f"one of: {', '.join(PROVENANCES)}"
        )
    if ("low" in given) != ("high" in given):
        raise HardtackError("a range needs both 'low' and 'high'", "add the other end, or give 'sd'")
    if "sd" in given and "low" in given:
        raise HardtackError("a quantity has 'sd' or 'low' and 'high', not both", "keep one of the two")
    amount = _amount(given, kind, origin)
    if known is not None:
        found = next(name for name in PROVENANCES if name == known)
        place = replace(origin, words="", stated=True).source(getattr(given, "line", None))
        amount = replace(amount, provenance=found, source=place)
    if "source" in given:
        amount = replace(amount, source=str(given["source"]))
    return replace(amount, spread=_kind_of_spread(given["spread"])) if "spread" in given else amount


def _amount(given: Mapping[str, Any], kind: str, origin: Origin) -> Sourced:
    """The number of a mapping with its spread: a list, a range, a value with or without sd."""
    if "values" in given:
        return _several(given, kind, origin)
    if "low" in given:
        return _range(given, kind, origin)
    if "value" not in given:
        example = f"{{value: {KINDS[kind].example}, from: measured here, source: three pans}}"
        raise HardtackError("a quantity without its value", f"write it such as {example}")
    if "sd" in given:
        return read_quantity(_joined(given["value"], given["sd"]), kind, origin)
    return read_quantity(given["value"], kind, origin)


def _kind_of_spread(word: object) -> Spread:
    said = " ".join(str(word).lower().split())
    for spread in SPREADS:
        if spread == said:
            return spread
    raise HardtackError(f"'{str(word)[:40]}' does not say what spreads", f"one of: {', '.join(SPREADS)}")


def _several(given: Mapping[str, Any], kind: str, origin: Origin) -> Sourced:
    """A list: each value as likely as the others; the number itself is their mean."""
    if clash := [key for key in ("value", "sd", "low", "high") if key in given]:
        raise HardtackError(
            f"a quantity has 'values' or '{clash[0]}', not both", "keep the list, or its mean and sd"
        )
    example = f"'values: [{KINDS[kind].example}, ...]', or all numbers and then their unit"
    texts: Any = given["values"]
    if isinstance(texts, str):
        match = _SEVERAL.match(texts)
        if match is None:
            raise HardtackError(f"cannot read {texts[:40]!r} as several values", f"write {example}")
        line = getattr(texts, "line", None)
        texts = [f"{number.strip()} {match[2]}" for number in re.split("[,;]", match[1])]
        texts = [Text(text, line) for text in texts] if line else texts
    if not isinstance(texts, (list, tuple)) or len(texts) < 2:
        raise HardtackError("a list of values needs two or more", f"write {example}")
    read = [read_quantity(text, kind, origin) for text in texts]
    if any(one.sd is not None or one.low is not None or one.values for one in read):
        raise HardtackError(
            "a value of a list has a spread of its own", "the list is the spread: plain numbers"
        )
    values = tuple(one.value for one in read)
    mean = sum(values) / len(values)
    sd = math.sqrt(sum((x - mean) ** 2 for x in values) / (len(values) - 1))
    written = ", ".join(one.written for one in read)
    return replace(read[0], value=mean, sd=sd, values=values, written=written)


def _range(given: Mapping[str, Any], kind: str, origin: Origin) -> Sourced:
    low, high = (read_quantity(given[key], kind, origin) for key in ("low", "high"))
    if not low.value < high.value:
        raise HardtackError("'low' is not below 'high'", "exchange the two")
    written = f"{low.written}..{high.written}"
    middle = replace(low, value=(low.value + high.value) / 2)
    amount = read_quantity(given["value"], kind, origin) if "value" in given else middle
    if not low.value <= amount.value <= high.value:
        raise HardtackError("the value lies outside 'low' and 'high'", "let the range hold the value")
    return replace(amount, low=low.value, high=high.value, written=written)


def _joined(value: object, sd: object) -> object:
    """``2.5 %wb`` with sd ``0.2 %wb`` as one text, so that a basis or an offset unit is treated alike."""
    parts, spread = _PARTS.match(str(value)), _PARTS.match(str(sd))
    if parts is None or spread is None:
        raise HardtackError(f"cannot read {value!s} with sd {sd!s}", "write value: 2.5 %wb and sd: 0.2 %wb")
    unit, own = parts[2], spread[2]
    kelvin = unit in ("degC", "°C", "C") and own in ("K", "degC", "°C")
    if own not in ("", unit) and not kelvin:
        raise HardtackError(f"the sd is in {own!r}, the value in {unit!r}", "write both in one unit")
    text = f"{parts[1]} ± {spread[1]} {unit}"
    return Text(text, value.line) if isinstance(value, Text) else text


@dataclass(frozen=True, slots=True)
class Reads:
    """Marks a `Sourced` field as a quantity of one kind; `named` also lets a shelf name stand there."""

    kind: str
    named: bool = False

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(
            self._validate,
            serialization=core_schema.plain_serializer_function_ser_schema(_as_json, when_used="json"),
        )

    def _validate(self, value: Any, info: ValidationInfo) -> Sourced | str:
        if self.named and isinstance(value, str) and value.strip()[:1].isalpha():
            return str(value.strip())
        origin = (info.context or {}).get("origin", Origin())
        try:
            return read_quantity(value, self.kind, origin)
        except HardtackError as error:
            raise fault(error.problems[0].what, error.problems[0].mend) from None

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return quantity_json(self.kind, named=self.named)


def _as_json(amount: Sourced | str) -> Any:
    return amount if isinstance(amount, str) else asdict(amount)


def quantity_json(kind: str, *, named: bool = False) -> dict[str, Any]:
    """JSON Schema of one quantity: text with an example, or the mapping `quantity` of the definitions."""
    spec = KINDS[kind]
    plain = ["string", "number"] if spec.si == "" else "string"
    example: str | float = spec.example
    if spec.si == "" and "%" not in spec.example:
        example = float(spec.example)
    name = ", or a name on the reference shelf" if named else ""
    unit = ", with its unit" if spec.si or "%" in spec.example else ""
    return {
        "anyOf": [
            {
                "type": plain,
                "description": f"a {kind}{unit}, such as {spec.example}{name}",
                "examples": [example],
            },
            {"$comment": "quantity"},
        ]
    }


@dataclass(frozen=True, slots=True)
class OrPlain:
    """Lets one quantity stand for a mapping of which it is the `key`: ``temperature: 30 degC``."""

    kind: str
    key: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self._open, handler(source))

    def _open(self, value: Any) -> Any:
        if isinstance(value, Mapping) and not set(value) <= set(SPREAD_KEYS):
            return value
        if isinstance(value, (str, int, float, Sourced, Mapping)) and not isinstance(value, bool):
            return {self.key: value}
        return value

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"anyOf": [*quantity_json(self.kind)["anyOf"], handler(schema["schema"])]}


def _plain(value: Any) -> str:
    if not isinstance(value, str):
        raise fault("plain text belongs here", "write words on one line")
    text = " ".join(value.split())
    if not text:
        raise fault("the text is empty", "write words, or take the line out")
    if len(text) > _LONGEST:
        raise fault(
            f"the text is longer than {_LONGEST} characters", "keep it short; long texts go into 'notes'"
        )
    return text


def _date(value: Any) -> datetime.date:
    if isinstance(value, datetime.date):
        return value
    text = _plain(value)
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            raise fault(f"there is no day {text}", "write year-month-day, such as 2026-06-01") from None
    raise fault(f"cannot read {text[:30]!r} as a date", "write year-month-day, such as 2026-06-01")


def _month_day(value: Any) -> tuple[int, int]:
    text = _plain(value)
    match = re.fullmatch(r"(\d{2})-(\d{2})", text)
    if match is None:
        raise fault(f"cannot read {text[:30]!r} as a day of the year", "write month-day, such as 07-20")
    month, day = int(match[1]), int(match[2])
    try:
        datetime.date(2024, month, day)
    except ValueError:
        raise fault(f"there is no day {text}", "write month-day, such as 07-20") from None
    return month, day


def _clock(value: Any) -> datetime.time:
    if isinstance(value, datetime.time):
        return value
    text = _plain(value)
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", text)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        raise fault(f"cannot read {text[:30]!r} as a time of day", "write hours and minutes, such as 14:00")
    return datetime.time(int(match[1]), int(match[2]))


def _yes(value: Any) -> bool:
    known = {"true": True, "yes": True, "false": False, "no": False}
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value.strip().lower() in known:
        return known[value.strip().lower()]
    raise fault(f"{str(value)[:30]!r} is neither true nor false", "write true or false")


def _json(read: Callable[[Any], Any], **schema: Any) -> tuple[Any, ...]:
    return PlainValidator(read), WithJsonSchema({"type": "string", **schema})


_TWELVE = re.compile(r"^\s*((?:[-+−]?\d+(?:\.\d+)?\s*[,;]\s*){11}[-+−]?\d+(?:\.\d+)?)\s*([^\d\s].*)$")


@dataclass(frozen=True, slots=True)
class Twelve:
    """Marks twelve `Sourced` of one kind, January first, written as twelve numbers and one unit."""

    kind: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self._validate)

    def _validate(self, value: Any, info: ValidationInfo) -> tuple[Sourced, ...]:
        if isinstance(value, tuple):
            return value
        match = _TWELVE.match(value) if isinstance(value, str) else None
        if match is None:
            raise fault(
                "twelve numbers and their unit belong here, January first",
                f"write {', '.join(str(k) for k in range(1, 13))} and the unit, such as {KINDS[self.kind].example}",
            )
        origin = (info.context or {}).get("origin", Origin())
        line = getattr(value, "line", 0)
        try:
            return tuple(
                read_quantity(Text(f"{number.strip()} {match[2]}", line), self.kind, origin)
                for number in re.split("[,;]", match[1])
            )
        except HardtackError as error:
            raise fault(error.problems[0].what, error.problems[0].mend) from None

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "description": f"twelve of a {self.kind}, January first, then the unit"}


TwelveTemperatures = Annotated[tuple[Sourced, ...], Twelve("temperature")]
TwelveHumidities = Annotated[tuple[Sourced, ...], Twelve("humidity")]
Word = Annotated[str, BeforeValidator(_plain)]
Day = Annotated[datetime.date, *_json(_date, format="date", examples=["2026-06-01"])]
MonthDay = Annotated[tuple[int, int], *_json(_month_day, pattern=r"^\d{2}-\d{2}$", examples=["07-20"])]
Clock = Annotated[datetime.time, *_json(_clock, pattern=r"^\d{1,2}:\d{2}$", examples=["14:00"])]
YesNo = Annotated[bool, PlainValidator(_yes), WithJsonSchema({"type": "boolean"})]

Length = Annotated[Sourced, Reads("length")]
Mass = Annotated[Sourced, Reads("mass")]
Area = Annotated[Sourced, Reads("area")]
Volume = Annotated[Sourced, Reads("volume")]
Temperature = Annotated[Sourced, Reads("temperature")]
TemperatureSwing = Annotated[Sourced, Reads("temperature difference")]
Activity = Annotated[Sourced, Reads("activity")]
Humidity = Annotated[Sourced, Reads("humidity")]
HumiditySwing = Annotated[Sourced, Reads("humidity difference")]
Moisture = Annotated[Sourced, Reads("moisture")]
Share = Annotated[Sourced, Reads("share")]
Transmission = Annotated[Sourced, Reads("transmission rate")]
Permeance = Annotated[Sourced, Reads("permeance")]
Permeability = Annotated[Sourced, Reads("permeability")]
DiffusivityValue = Annotated[Sourced, Reads("diffusivity")]
MolarEnergy = Annotated[Sourced, Reads("molar energy")]
Duration = Annotated[Sourced, Reads("duration")]
Force = Annotated[Sourced, Reads("force")]
RateConstant = Annotated[Sourced, Reads("rate constant")]
GasPermeance = Annotated[Sourced, Reads("gas permeance")]
Number = Annotated[Sourced, Reads("number")]
PositiveNumber = Annotated[Sourced, Reads("positive number")]
Acidity = Annotated[Sourced, Reads("pH")]
RateOrName = Annotated[Sourced | str, Reads("rate constant", named=True)]
FactorOrName = Annotated[Sourced | str, Reads("positive number", named=True)]
VelocityOrName = Annotated[Sourced | str, Reads("velocity", named=True)]
