"""What to measure next, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hardtack.keeping.measure_next import Measurement, Next


def sentence(found: Next) -> str:
    """The measurement that would firm the date up most, and the one that gives most for its work."""
    best = next(iter(found.measurements), None)
    if found.day is None:
        return (
            f"{found.product}: with {found.confidence:.0%} confidence {found.share:.0%} of the packs outlast the "
            f"{found.end:.0f} days followed, so no measurement can firm that up."
        )
    head = f"{found.product}: the stated day is {_day(found.day)} ({found.confidence:.0%} confidence, {found.share:.0%} of packs)"
    if best is None or not best.gain or best.gain <= 0:
        return f"{head}, and no single measurement would firm it up."
    said = f"{head}; {best.name} for {what_for(best)} would firm it up by {gain_words(best)}"
    quick = found.by_effort[0]
    if quick is best or not quick.per_effort:
        return f"{said}, and gives most for its work, too."
    return f"{said}; most for its work gives {quick.name} for {what_for(quick)} ({gain_words(quick)} in {work_words(quick)})."


def what_for(one: Measurement) -> str:
    """What a measurement is for."""
    return one.of[0] if len(one.of) == 1 else f"{', '.join(one.of[:-1])} and {one.of[-1]}"


def gain_words(one: Measurement) -> str:
    """The days a measurement firms the date up by."""
    if one.gain is None:
        return "beyond the journey" if one.day is None else "—"
    if one.gain < 0.05:  # below nothing it is the sampling
        return "no gain seen"
    return f"{one.gain:.0f} days" if one.gain >= 10 else f"{one.gain:.1f} days"


def work_words(one: Measurement) -> str:
    """The hands' work of a measurement."""
    return f"{one.effort:g} day of work" if one.effort == 1 else f"{one.effort:g} days of work"


def _day(day: float) -> str:
    return f"day {day:.0f}" if day >= 10 else f"day {day:.1f}"


def told(capped: float) -> tuple[str, ...]:
    """What must be known to read the ranking."""
    said = [
        "A measurement narrows what is not known about its middle as it stands; the value it finds may lie elsewhere and move "
        "the date itself, either way.",
        "Shares are of the variance of the logarithm of the date over all samples: first, what the number does alone; total, "
        "with all it acts together with. Totals may add up to more than one.",
        "What differs from pack to pack is not firmed up by measuring: steadier making, and a truer figure for it, do that.",
        "Errors and efforts of the measurements are assumed on the shelf (`hardtack reference 'measurement efforts'`).",
    ]
    if capped > 0:
        said.append(
            f"{capped:.0%} of the samples do not fail within the journey: they count at its end, which makes shares and days "
            "smaller than they are."
        )
    return tuple(said)
