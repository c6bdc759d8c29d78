"""Two inputs against each other: days over both, what fails first where, and the frontier of the wanted days."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.cases import Case, case_of, follow_many
from hardtack.keeping.follow import Followed
from hardtack.keeping.inputs import Input, Path, input_named, with_amounts
from hardtack.keeping.judged import ROOM
from hardtack.keeping.moves import tried
from hardtack.keeping.moves_pack import going_on
from hardtack.keeping.moves_piece import along_isotherm
from hardtack.product import LayerSpec, Product
from hardtack.sourced import Sourced
from hardtack.states import Floats
from hardtack.units import DAY, ZERO_CELSIUS, parse_quantity, wet_basis
from hardtack.water.isotherm import moisture

SCHEMA_VERSION = 1
POINTS = 9
"""Values of each input."""
HALVINGS = 8
"""Of the step between two values, when a point of the frontier is closed in on."""
SPAN = (0.5, 1.75)
"""Factors on an input whose range is not given."""
WARMTH, DAMP = 8.0, 0.20
"""Half the range of a temperature [K] and of a humidity or activity that is not given."""

_SHOWN: dict[str, tuple[str, float]] = {
    "kg/m2/s": ("g/m2/day", 1e-3 / DAY),
    "m": ("mm", 1e-3),
    "kg": ("g", 1e-3),
    "m2": ("cm2", 1e-4),
    "m3": ("mL", 1e-6),
    "s": ("days", DAY),
    "1/s": ("1/day", 1.0 / DAY),
    "J/mol": ("kJ/mol", 1e3),
    "m3/m2/s/Pa": ("cm3/m2/day/atm", 1e-6 / DAY / 101325.0),
}
_KINDS = {
    "kg/m2/s": "transmission rate", "m": "length", "kg": "mass", "m2": "area", "m3": "volume", "s": "duration",
    "1/s": "rate constant", "J/mol": "molar energy", "m3/m2/s/Pa": "gas permeance", "kg/kg dry": "moisture",
    "m2/s": "diffusivity", "kg/m/s/Pa": "permeability", "kg/m2/s/Pa": "permeance", "K": "temperature",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Axis:
    """One of the two inputs: its name, its unit as shown, its values as shown and in SI, and where the file stands."""

    name: str
    unit: str
    values: Floats
    si: Floats
    now: float

    @property
    def title(self) -> str:
        """The name with its unit, where it has one."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    def words(self, value: float) -> str:
        """A value of it with its unit."""
        return f"{value:.3g} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Tradeoff:
    """Days over two inputs: `days` [a, b], inf where nothing fails within three years; `first` names the failures.

    `frontier` are points (a, b), as shown, at which the product keeps the wanted days; none where no days are wanted
    or no line of them crosses the map.
    """

    product: str
    sentence: str
    a: Axis
    b: Axis
    days: Floats
    first: tuple[tuple[str, ...], ...]
    wanted: float | None
    frontier: tuple[tuple[float, float], ...]
    remarks: tuple[str, ...]


def tradeoff(
    product: Product,
    a: str,
    b: str,
    *,
    days: float | None = None,
    ranges: tuple[tuple[str, str] | None, tuple[str, str] | None] = (None, None),
    progress: Callable[[float], None] | None = None,
) -> Tradeoff:
    """Days over the inputs called `a` and `b`, each over its range or about where it stands.

    Raises `HardtackError` for names that mean none or several inputs, ranges that cannot be read, and as `keep`.
    """
    product, remark = going_on(product)
    inputs = (input_named(product, a), input_named(product, b))
    if inputs[0].path == inputs[1].path:
        raise HardtackError("both names mean the same input", "name two")
    base = case_of(product)
    axes = tuple(_axis(one, given) for one, given in zip(inputs, ranges, strict=True))
    setters = tuple(_setter(product, base, one) for one in inputs)
    told = (lambda done: None) if progress is None else progress

    def cases(points: Sequence[tuple[float, float]]) -> list[Followed]:
        made = [case_of(with_amounts(product, {**setters[0](x), **setters[1](y)})) for x, y in points]
        return follow_many(made)

    grid = [(float(x), float(y)) for x in axes[0].si for y in axes[1].si]
    found: list[Followed] = []
    for k in range(0, len(grid), POINTS):
        found += cases(grid[k : k + POINTS])
        told(0.7 * len(found) / len(grid))
    shape = (axes[0].si.size, axes[1].si.size)
    table = np.array([_days(one) for one in found]).reshape(shape)
    names = [_first(one) for one in found]
    frontier = (
        ()
        if days is None
        else _frontier(
            axes,
            table,
            days,
            lambda x: _si(inputs[0], x),
            lambda points: [_days(one) for one in cases(points)],
        )
    )
    told(1.0)
    return Tradeoff(
        product=product.name,
        sentence=_sentence(product.name, axes[0], axes[1], table, days, frontier),
        a=axes[0],
        b=axes[1],
        days=table,
        first=tuple(tuple(names[k : k + shape[1]]) for k in range(0, len(names), shape[1])),
        wanted=days,
        frontier=frontier,
        remarks=(*([remark] if remark else []), *_notes(product, inputs)),
    )


def _days(followed: Followed) -> float:
    return math.inf if followed.first_time is None else followed.first_time / DAY


def _first(followed: Followed) -> str:
    course = followed.judged[0][1]
    if course.time is None:
        return ""
    return course.name if course.name == course.layer else f"{course.name} of the {course.layer}"


def _axis(one: Input, given: tuple[str, str] | None) -> Axis:
    amount = one.amount
    if given is not None:
        low, high = (_read(text, one) for text in given)
        if not low < high:
            raise HardtackError(
                f"{one.name}: the range runs from {given[0]} to {given[1]}", "begin with the lower"
            )
    elif amount.unit == "K":
        low, high = amount.value - WARMTH, amount.value + WARMTH
    elif amount.unit == "" and 0.0 < amount.value < 1.0:
        low, high = max(amount.value - DAMP, 0.02), min(amount.value + DAMP, 0.98)
    else:
        low, high = amount.value * SPAN[0], amount.value * SPAN[1]
    unit, _ = _unit(one)
    values = np.linspace(shown(one, low), shown(one, high), POINTS)
    return Axis(one.name, unit, values, np.array([_si(one, v) for v in values]), shown(one, amount.value))


def _unit(one: Input) -> tuple[str, float]:
    unit, written = one.amount.unit, one.amount.written
    if unit == "kg/kg dry":
        return "%wb", 0.01
    if unit == "K":
        return "°C", 1.0
    if unit == "":
        return ("%", 0.01) if "%" in written else ("", 1.0)
    return _SHOWN.get(unit, (unit, 1.0))


def shown(one: Input, value: float) -> float:
    """An SI value of the input in the unit it is shown in."""
    unit, size = _unit(one)
    if unit == "%wb":
        return 100.0 * wet_basis(value)
    return value - ZERO_CELSIUS if unit == "°C" else value / size


def _si(one: Input, value: float) -> float:
    unit, size = _unit(one)
    if unit == "%wb":
        return value / (100.0 - value)
    return value + ZERO_CELSIUS if unit == "°C" else value * size


def _read(text: str, one: Input) -> float:
    kind = _KINDS.get(one.amount.unit, "share" if "%" in text else "number")
    if one.amount.unit == "K" and "swing" in str(one.path[-1]):
        kind = "temperature difference"
    return parse_quantity(text, kind).value


def _setter(product: Product, base: Case, one: Input) -> Callable[[float], dict[Path, Sourced]]:
    """What the file must state for the input to be at an SI value. A layer's stated pair moves along its isotherm."""
    place, key = one.path[:-1], one.path[-1]
    spec = _pair(product, one)
    if spec is not None:
        layer = next(layer for piece in base.pieces for layer in piece.layers if layer.name == spec.name)
        T = spec.activity_at.value if spec.activity_at else ROOM

        def along(value: float) -> dict[Path, Sourced]:
            X = value if key == "moisture" else float(moisture(layer.isotherm, value, T))
            return along_isotherm(place, spec, layer, X)

        return along
    return lambda value: {one.path: tried(value, one.amount.unit, f"{shown(one, value):.4g}")}


def _pair(product: Product, one: Input) -> LayerSpec | None:
    """The layer whose stated pair of moisture and activity the input is one of; None for any other input."""
    if one.path[-1] not in ("moisture", "activity"):
        return None
    for k, piece in enumerate(product.pieces):
        head: Path = ("piece",) if product.one_piece is not None else ("pieces", k)
        for i, part in enumerate(piece.layers):
            if isinstance(part, LayerSpec) and (*head, "layers", i) == one.path[:-1]:
                return part if part.moisture and part.activity else None
    return None


def _frontier(
    axes: tuple[Axis, ...],
    table: Floats,
    wanted: float,
    to_si: Callable[[float], float],
    days: Callable[[Sequence[tuple[float, float]]], list[float]],
) -> tuple[tuple[float, float], ...]:
    """Points at which the days are those wanted: for each value of b, between the values of a that lie about it."""
    a, b = axes
    low: list[float] = []
    high: list[float] = []
    at: list[float] = []
    rising: list[bool] = []
    for j in range(b.si.size):
        for i in range(a.si.size - 1):
            if (table[i, j] >= wanted) != (table[i + 1, j] >= wanted):
                low.append(float(a.values[i]))
                high.append(float(a.values[i + 1]))
                at.append(float(b.values[j]))
                rising.append(bool(table[i + 1, j] >= wanted))
    to_si_b = dict(zip(b.values.tolist(), b.si.tolist(), strict=True))
    for _ in range(HALVINGS):
        middle = [(x + y) / 2 for x, y in zip(low, high, strict=True)]
        enough = [
            day >= wanted for day in days([(to_si(x), to_si_b[y]) for x, y in zip(middle, at, strict=True)])
        ]
        for k, (good, x) in enumerate(zip(enough, middle, strict=True)):
            if good == rising[k]:
                high[k] = x
            else:
                low[k] = x
    return tuple(((x + y) / 2, z) for x, y, z in zip(low, high, at, strict=True))


def _sentence(
    name: str,
    a: Axis,
    b: Axis,
    table: Floats,
    wanted: float | None,
    frontier: tuple[tuple[float, float], ...],
) -> str:
    lowest, highest = float(table.min()), float(table.max())
    top = f"{highest:.0f} days" if math.isfinite(highest) else "more than three years"
    span = f"Over {a.name} and {b.name} {name} keeps from {lowest:.0f} days to {top}"
    if wanted is None:
        return f"{span}."
    if not frontier:
        side = "everywhere" if lowest >= wanted else "nowhere"
        return f"{span}; the wanted {wanted:g} days are reached {side} on this map."
    first, last = frontier[0], frontier[-1]
    if len(frontier) == 1:
        return (
            f"{span}; the wanted {wanted:g} days are just kept with {a.name} {a.words(first[0])} and {b.name} "
            f"{b.words(first[1])}, at the edge of this map."
        )
    return (
        f"{span}; the wanted {wanted:g} days lie on a line from {a.name} {a.words(first[0])} with {b.name} {b.words(first[1])} "
        f"to {a.words(last[0])} with {b.words(last[1])}."
    )


def _notes(product: Product, inputs: tuple[Input, ...]) -> tuple[str, ...]:
    return tuple(
        f"{one.name} moves along the isotherm the layer has: a stated activity goes with it."
        for one in inputs
        if _pair(product, one) is not None
    )


def tradeoff_json(answer: Tradeoff) -> dict[str, Any]:
    """The map as plain numbers and text; null days: nothing fails within three years."""
    return {
        "schema": f"hardtack tradeoff {SCHEMA_VERSION}",
        "product": answer.product,
        "sentence": answer.sentence,
        "a": _axis_json(answer.a),
        "b": _axis_json(answer.b),
        "days": [[day if math.isfinite(day) else None for day in row] for row in answer.days.tolist()],
        "fails_first": [[name or None for name in row] for row in answer.first],
        "wanted_days": answer.wanted,
        "frontier": [{"a": x, "b": y} for x, y in answer.frontier],
        "remarks": list(answer.remarks),
    }


def _axis_json(axis: Axis) -> dict[str, Any]:
    return {"name": axis.name, "unit": axis.unit, "values": axis.values.tolist(), "now": axis.now}
