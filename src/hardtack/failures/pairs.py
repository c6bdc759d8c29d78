"""Pairs: what helps against one failure and hurts in another. Said whenever both are on the table."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from hardtack.failures.names import (
    CHECKING,
    CRISPNESS,
    CRUST,
    DRYING_OUT,
    FERMENTATION,
    FIRMING,
    MOULD,
    RANCIDITY,
    SOGGINESS,
    SUGAR,
)
from hardtack.states import FailureCourse


@dataclass(frozen=True, slots=True)
class Conflict:
    """A `remedy` that helps against `helps` and hurts in `hurts` (names of failures), and why."""

    remedy: str
    helps: str
    hurts: str
    why: str


CONFLICTS = (
    Conflict(
        "a tighter bag",
        DRYING_OUT,
        MOULD,
        "it keeps the crumb moist, and its surface moist for mould",
    ),
    Conflict("a tighter bag", DRYING_OUT, CRUST, "water that cannot leave the pack goes into the crust"),
    Conflict(
        "cold storage",
        MOULD,
        FIRMING,
        "mould slows down, and bread firms fastest just above freezing",
    ),
    Conflict("more water in the crumb", FIRMING, MOULD, "a moister crumb is softer and moulds sooner"),
    Conflict("more water in the crumb", FIRMING, CRUST, "a moister crumb gives its crust more to drink"),
    Conflict("baking drier", CRISPNESS, RANCIDITY, "below about activity 0.2 fat oxidises faster again"),
    Conflict("baking drier", CRISPNESS, CHECKING, "a hard quick bake leaves rim and centre further apart"),
    Conflict("baking drier", MOULD, DRYING_OUT, "what mould cannot have, the eater has not either"),
    Conflict("a looser bag", CRUST, DRYING_OUT, "the crust stays crisp because the loaf dries"),
    Conflict("a looser bag", MOULD, DRYING_OUT, "the surface dries, and the crumb with it"),
    Conflict(
        "more sugar or humectant in the filling",
        MOULD,
        SUGAR,
        "a stronger syrup grains on cooling or drying",
    ),
    Conflict(
        "more humectant in the filling",
        FERMENTATION,
        SOGGINESS,
        "humectants move too, and soften the shell",
    ),
    Conflict("a drier filling", SOGGINESS, SUGAR, "a filling that gives up water grains"),
)
"""Common practice, no source, but for cold and firming (Cornford et al. 1964) and dryness and fat
(rancidity)."""


def conflicts(courses: Iterable[FailureCourse]) -> tuple[Conflict, ...]:
    """The known conflicts of which both failures are among the courses."""
    present = {course.name for course in courses}
    return tuple(known for known in CONFLICTS if known.helps in present and known.hurts in present)


def warnings(courses: Iterable[FailureCourse]) -> tuple[str, ...]:
    """The conflicts as sentences."""
    return tuple(
        f"{known.remedy[0].upper()}{known.remedy[1:]} helps against {known.helps} and hurts in "
        f"{known.hurts}: {known.why}."
        for known in conflicts(courses)
    )
