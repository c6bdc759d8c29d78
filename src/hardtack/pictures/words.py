"""The words pictures share: days, dates, failures, flows."""

from __future__ import annotations

from datetime import date

from hardtack.keeping.statement import KeepingStatement, Limit
from hardtack.units import celsius, days

OUTSIDE = "outside air"


def day_words(seconds: float) -> str:
    """``day 143``; tenths of a day in the first ten days."""
    number = days(seconds)
    return f"day {number:.1f}".removesuffix(".0") if number < 10 else f"day {number:.0f}"


def date_words(written: str) -> str:
    """``2026-10-12`` as ``12 October 2026``; other spellings stay as they are."""
    try:
        when = date.fromisoformat(written)
    except ValueError:
        return written
    return f"{when.day} {when:%B} {when.year}"


def end_words(statement: KeepingStatement) -> str:
    """The end of the statement: ``day 143 (12 October 2026)``."""
    when = day_words(statement.end)
    return f"{when} ({date_words(statement.end_date)})" if statement.end_date else when


def failure_words(statement: KeepingStatement) -> str:
    """What fails first and when, or that nothing does."""
    first = statement.first
    if first is None:
        return f"Nothing fails by the end of the journey, {end_words(statement)}"
    return f"First failure, {end_words(statement)}: {first.name} of the {first.layer}"


def limit_words(limit: Limit) -> str:
    """A limit: ``crispness of the cracker: limit 0.43 (at 25 °C)``."""
    return (
        f"{limit.failure} of the {limit.layer}: limit {limit.activity:.2f} "
        f"(at {celsius(limit.temperature):.0f} °C)"
    )


def flow_words(milligrams_a_day: float) -> str:
    """A flow [mg/day] to two digits below 100, whole above."""
    number = f"{milligrams_a_day:.2g}" if milligrams_a_day < 99.5 else f"{milligrams_a_day:,.0f}"
    return f"{number} mg/day"


def sentence(text: str) -> str:
    """The text with a capital and a full stop."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
