"""What a buyer would write on a specification: limits and conditions, each with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.failures.names import DRYING_OUT
from hardtack.keeping.sentences import span
from hardtack.keeping.statement import KeepingStatement, LegAccount
from hardtack.keeping.water_report import WaterReport
from hardtack.report.outcome import packed_as
from hardtack.sourced import Used
from hardtack.units import DAY, celsius, wet_basis

FILM = ("transmission rate of", "permeance of")
PACK = {"whole-pack factor": "at most", "film area of the pack": "at most", "headspace": "as computed"}
UNITS = {"kg/m2/s": (1e3 * DAY, "g/m2/day"), "m2": (1e4, "cm2"), "m3": (1e6, "mL")}
"""What the trade writes for an SI unit, and how many of it one is."""
FROM_LIMIT = "limit of texture, turned to moisture on the layer's isotherm"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: `subject`, what is asked of it, and `origin`: the number's source and how it is known."""

    subject: str
    asked: str
    origin: str


def specification(statement: KeepingStatement, water: WaterReport) -> tuple[Line, ...]:
    """The lines: the goods as packed, to the end of their life, the pack, the storage.

    The answer of the statement holds for these; goods or packs on the wrong side of a line keep less.
    """
    return (
        *_as_packed(statement, water),
        *_to_the_end(statement),
        *_pack(statement),
        *(
            _storage(leg, packed_as(whole, leg))
            for whole, leg in zip(statement.journey.legs, statement.legs, strict=False)
        ),
    )


def _as_packed(statement: KeepingStatement, water: WaterReport) -> list[Line]:
    """Moisture and activity of every layer, on the side that its texture limit asks for."""
    lines = []
    for layer in water.layers:
        sides = {limit.failure == DRYING_OUT for limit in statement.limits if limit.layer == layer.name}
        word = "" if len(sides) != 1 else ("≥ " if sides == {True} else "≤ ")
        asked = (
            f"moisture {word}{100 * wet_basis(layer.moisture):.1f} % wb, water activity {word}{layer.activity:.2f} "
            "at 25 °C"
        )
        used = [
            one
            for one in statement.used
            if one.what
            in (f"moisture of {layer.name} when packed", f"water activity of {layer.name} when packed")
        ]
        lines.append(Line(f"{layer.name}, when packed", asked, _origins(used)))
    return lines


def _to_the_end(statement: KeepingStatement) -> list[Line]:
    """The texture limits."""
    courses = {(course.name, course.layer): course for course in statement.courses}
    lines = []
    for limit in statement.limits:
        course = courses[limit.failure, limit.layer]
        sign = "≥" if limit.failure == DRYING_OUT else "≤"
        lines.append(
            Line(
                f"{limit.layer}, to the end of its life ({limit.failure})",
                f"moisture {sign} {100 * wet_basis(limit.moisture):.1f} % wb, "
                f"water activity {sign} {limit.activity:.2f} at {celsius(limit.temperature):.0f} °C",
                f"{FROM_LIMIT}; {course.source or 'the file'} ({course.provenance})",
            )
        )
    return lines


def _pack(statement: KeepingStatement) -> list[Line]:
    """The film at the conditions of its test, then what the whole pack must be."""
    lines = []
    for used in statement.used:
        if used.what.startswith(FILM) and "activation" not in used.what:
            lines.append(Line(used.what, f"at most {_written(used)}", _origins([used])))
        for start, word in PACK.items():
            if used.what.startswith(start):
                lines.append(Line(used.what, f"{word} {_written(used)}", _origins([used])))
    return lines


def _storage(leg: LegAccount, packed: str) -> Line:
    low, high = (celsius(T) for T in leg.temperature)
    warm = f"{low:.0f} °C" if high - low < 0.5 else f"{low:.0f} to {high:.0f} °C"
    dry, wet = leg.humidity
    air = f"{dry:.0%}" if wet - dry < 0.005 else f"{dry:.0%} to {wet:.0%}"
    return Line(
        f"storage, {leg.name}",
        f"{packed}, {warm}, {air} relative humidity, for {span(leg.end - leg.start)}",
        "the journey that was computed, up to its end or the first failure",
    )


def _written(used: Used) -> str:
    """As written; of a range, its middle, with which the answer was computed."""
    amount = used.amount
    factor, unit = UNITS.get(amount.unit, (1.0, amount.unit))
    value = f"{factor * amount.value:.3g} {unit}".strip()
    if amount.low is not None and amount.written:
        return f"{value}, the middle of {amount.written}"
    return amount.written or value


def _origins(used: list[Used]) -> str:
    """Source and provenance, and whether the program filled it in."""
    told = []
    for one in used:
        filled = "" if one.given else ", filled in"
        told.append(f"{one.amount.source or 'the file'} ({one.amount.provenance}{filled})")
    return "; ".join(dict.fromkeys(told)) or "computed from the numbers listed"
