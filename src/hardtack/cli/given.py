"""Quantities, shares and climates given behind the flags of a command."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hardtack.errors import HardtackError

if TYPE_CHECKING:
    from hardtack.measurements.model import Air


def amount(text: str, kind: str, flag: str) -> float:
    """A quantity given behind a flag, in SI."""
    from hardtack.errors import Problem
    from hardtack.units import parse_quantity

    try:
        return parse_quantity(text, kind).value
    except HardtackError as error:
        first = error.problems[0]
        raise HardtackError(Problem(f"{flag}: {first.what}", first.mend)) from None


def maybe(text: str | None, kind: str, flag: str) -> float | None:
    """The same, where the flag may be left out."""
    return None if text is None else amount(text, kind, flag)


def share_of(text: str, flag: str) -> float:
    """A share between none and all."""
    share = amount(text, "share", flag)
    if not 0 < share < 1:
        raise HardtackError(f"{flag}: {text} is no part of the whole", "say such as '30 %'")
    return share


def part_of(text: str, flag: str) -> float:
    """A share of the whole, as 90 % or as 0.9: here the two cannot be mistaken for one another."""
    try:
        number = float(text)
    except ValueError:
        return share_of(text, flag)
    if not 0.0 < number < 1.0:
        raise HardtackError(f"{flag}: {text} is no part of the whole", "say such as '90 %' or 0.9")
    return number


def air_of(text: str | None) -> Air | None:
    """A climate given as `30 degC, 75 %`."""
    from hardtack.measurements.model import Air

    if text is None:
        return None
    T, comma, humidity = text.partition(",")
    if not comma:
        raise HardtackError(f"{text!r} is no climate", "say temperature and humidity, as '30 degC, 75 %'")
    return Air(amount(T.strip(), "temperature", "climate"), amount(humidity.strip(), "humidity", "climate"))
