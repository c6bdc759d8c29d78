"""The words pictures share: moments, failures, limits, flows."""

from __future__ import annotations

from hardtack.keeping.sentences import moment
from hardtack.keeping.statement import KeepingStatement, Limit
from hardtack.states import of_layer
from hardtack.units import celsius


def end_words(statement: KeepingStatement) -> str:
    """The end of the statement: ``on day 143 (12 October 2026)``, ``after 1.5 hours`` or ``when packed``."""
    return moment(statement.end, statement.journey.packed_on) if statement.end > 0 else "when packed"


def failure_words(statement: KeepingStatement) -> str:
    """What fails first and when, or that nothing does."""
    first = statement.first
    if first is None:
        return f"Nothing fails: the journey ends {end_words(statement)}"
    return f"First failure {end_words(statement)}: {of_layer(first.name, first.layer)}"


def limit_words(limit: Limit) -> str:
    """A limit: ``crispness of the cracker: limit 0.43 (at 25 °C)``."""
    return (
        f"{of_layer(limit.failure, limit.layer)}: limit {limit.activity:.2f} "
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
