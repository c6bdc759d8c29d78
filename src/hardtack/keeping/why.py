"""Why one failure comes when it comes: equation, numbers, course by leg, source, what would sharpen it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from hardtack.errors import HardtackError
from hardtack.failures.equations import EQUATIONS, Equation
from hardtack.keeping.as_json import share_by_leg, used_json
from hardtack.keeping.statement import SCHEMA_VERSION, KeepingStatement
from hardtack.sourced import Used
from hardtack.states import FailureCourse
from hardtack.units import days


@dataclass(frozen=True, slots=True)
class Why:
    """One failure laid open. `by_leg` are leg, share of life used on it, and share used by its end."""

    product: str
    course: FailureCourse
    chain: str
    equation: Equation
    numbers: tuple[Used, ...]
    by_leg: tuple[tuple[str, float, float], ...]
    end: float


def why_of(statement: KeepingStatement, failure: str) -> tuple[Why, ...]:
    """Every course of that failure, one for each layer it was judged on.

    Raises `HardtackError` for a failure that was not judged, with the reason, or that is not known.
    """
    name = " ".join(failure.lower().replace("-", " ").replace("_", " ").split())
    found = [n for n, course in enumerate(statement.courses) if course.name == name]
    if not found:
        judged = ", ".join(dict.fromkeys(course.name for course in statement.courses))
        reason = next((one.why for one in statement.not_judged if one.name == name), None)
        if reason is not None:
            raise HardtackError(
                f"{name} was not judged: {reason}", f"judged were: {judged}; see docs/failures.md"
            )
        known = ", ".join(EQUATIONS)
        raise HardtackError(
            f"no failure is called {failure[:40]!r}", f"judged were: {judged}; known are: {known}"
        )
    return tuple(_why(statement, n) for n in found)


def _why(statement: KeepingStatement, n: int) -> Why:
    course = statement.courses[n]
    so_far, by_leg = 0.0, []
    for leg, share in share_by_leg(statement, course).items():
        so_far += share
        by_leg.append((leg, share, so_far))
    return Why(
        product=statement.product,
        course=course,
        chain=statement.chains[n],
        equation=EQUATIONS[course.name],
        numbers=statement.numbers[n],
        by_leg=tuple(by_leg),
        end=statement.end,
    )


def why_json(answer: Why) -> dict[str, Any]:
    """The answer as plain data (docs/json.md)."""
    course = answer.course
    return {
        "schema": f"hardtack why {SCHEMA_VERSION}",
        "product": answer.product,
        "name": course.name,
        "layer": course.layer,
        "day": None if course.time is None else days(course.time),
        "end_day": days(answer.end),
        "chain": answer.chain,
        "equation": {
            "words": answer.equation.words,
            "symbols": answer.equation.symbols,
            "where": answer.equation.where,
        },
        "limit": course.limit,
        "meaning": course.meaning,
        "legs": [
            {"name": leg, "share_of_life_used": share, "so_far": total} for leg, share, total in answer.by_leg
        ],
        "told": list(course.told),
        "valid": course.valid,
        "source": course.source,
        "provenance": course.provenance,
        "would_sharpen": course.sharpen,
        "numbers": [used_json(used) for used in answer.numbers],
    }
