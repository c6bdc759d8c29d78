"""How sure a date is, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hardtack.keeping.sentences import moment
from hardtack.keeping.study import Study
from hardtack.units import DAY

if TYPE_CHECKING:
    from hardtack.keeping.certainty import Certainty, FirstFailure


def sentence(sure: Certainty) -> str:
    """With how much confidence how many packs keep how long, beside the plain date."""
    head = f"With {sure.confidence:.0%} confidence, at least {sure.share:.0%} of the packs of {sure.product} are still good "
    if sure.day is None:
        return f"{head}at the end of the {sure.end:.0f} days followed; {_plain(sure)}."
    return f"{head}{_moment(sure.day, sure.packed_on)}; {_plain(sure)}."


def _plain(sure: Certainty) -> str:
    if sure.plain is None:
        return "as the file has it, nothing fails within the journey"
    return f"the plain date, with every number as the file has it, is {_date(sure.plain, sure.packed_on)}"


def _date(day: float, packed_on: str) -> str:
    return _moment(day, packed_on).removeprefix("on ").removeprefix("after ")


def _moment(day: float, packed_on: str) -> str:
    return moment(day * DAY, packed_on)


def days_words(day: float | None, end: float) -> str:
    """A day, or that it lies beyond the journey; short lives in tenths."""
    if day is None:
        return f"beyond the {end:.0f} days followed"
    return f"day {day:.0f}" if day >= 10 else f"day {day:.1f}"


def range_words(sure: Certainty) -> str:
    """The middle and the range of all samples, and how well the answer's day is known from sampling alone."""
    middle = days_words(sure.median, sure.end)
    ends = f"{days_words(sure.low, sure.end)} to {days_words(sure.high, sure.end)}"
    return f"Median {middle}; eight samples in ten fail from {ends}, packs and not knowing together."


def error_words(sure: Certainty) -> str:
    """The sampling error of the answer, with what it was sampled by."""
    how = (
        f"{sure.samples} quasi-random samples in {sure.scrambles} scrambles, seed {sure.seed}; each scramble has {sure.states} states "
        f"of not knowing with {sure.packs} packs in each."
    )
    if sure.day is None:
        return f"The day lies beyond the journey, so it has no sampling error; {how}"
    if sure.day_error == float("inf"):
        return f"In some scrambles the day lies beyond the journey, so its sampling error is open; {how}"
    return f"The day's own standard error from sampling is {sure.day_error:.2g} days: {how}"


def first_words(one: FirstFailure) -> str:
    """A failure of the table of first failures."""
    return f"{one.name} of the {one.layer}" if one.name else "none within the journey"


def told(study: Study, capped: float, lost: float) -> tuple[str, ...]:
    """What must be known to read the answer."""
    said = [
        "Spread from pack to pack and from lot to lot makes the share of packs; not knowing makes the confidence. Neither "
        "stands for the other: measuring narrows what is not known, steadier making what differs from pack to pack.",
    ]
    assumed = sum("shelf" in one.why for one in study.doubt.listed)
    if assumed:
        said.append(
            f"{assumed} of {len(study.doubt.listed)} spreads are not stated in the file but assumed on the shelf, by how each "
            "number is known: state your own (`hardtack reference 'input spreads'`)."
        )
    if capped > 0:
        said.append(
            f"{capped:.0%} of the samples do not fail within the journey; they count as failing at no known day beyond it."
        )
    if lost > 0:
        said.append(f"{lost:.1%} of the samples could not be followed and are left out.")
    if study.followed.history.method == "lumped":
        said.append(
            "Samples follow the water through the piece, where the plain date takes it as one: the two may differ by one part "
            "in a hundred."
        )
    said.append(
        "A model is not a validation: what fails for safety is decided by those who must, not by a share of packs."
    )
    return tuple(said)
