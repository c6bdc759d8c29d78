"""Pairs: what helps against one failure and hurts in another. Said whenever both are on the table."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from hardtack.failures import (
    checking,
    crispness,
    crust,
    drying_out,
    firming,
    mould,
    rancidity,
    sogginess,
    sugar,
    yeast,
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
        drying_out.NAME,
        mould.NAME,
        "it keeps the crumb moist, and its surface moist for mould",
    ),
    Conflict(
        "a tighter bag", drying_out.NAME, crust.NAME, "water that cannot leave the pack goes into the crust"
    ),
    Conflict(
        "cold storage",
        mould.NAME,
        firming.NAME,
        "mould slows down, and bread firms fastest just above freezing",
    ),
    Conflict(
        "more water in the crumb", firming.NAME, mould.NAME, "a moister crumb is softer and moulds sooner"
    ),
    Conflict(
        "more water in the crumb", firming.NAME, crust.NAME, "a moister crumb gives its crust more to drink"
    ),
    Conflict(
        "baking drier", crispness.NAME, rancidity.NAME, "below about activity 0.2 fat oxidises faster again"
    ),
    Conflict(
        "baking drier", crispness.NAME, checking.NAME, "a hard quick bake leaves rim and centre further apart"
    ),
    Conflict("baking drier", mould.NAME, drying_out.NAME, "what mould cannot have, the eater has not either"),
    Conflict("a looser bag", crust.NAME, drying_out.NAME, "the crust stays crisp because the loaf dries"),
    Conflict("a looser bag", mould.NAME, drying_out.NAME, "the surface dries, and the crumb with it"),
    Conflict(
        "more sugar or humectant in the filling",
        mould.NAME,
        sugar.NAME,
        "a stronger syrup grains on cooling or drying",
    ),
    Conflict(
        "more humectant in the filling",
        yeast.NAME,
        sogginess.NAME,
        "humectants move too, and soften the shell",
    ),
    Conflict("a drier filling", sogginess.NAME, sugar.NAME, "a filling that gives up water grains"),
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
