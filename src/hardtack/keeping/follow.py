"""Follow the pieces of one pack through the journey, and judge what happened by every failure looked out for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from hardtack.errors import HardtackError
from hardtack.failures.texture import limit_moisture
from hardtack.keeping.ageing import (
    checking_failure,
    colour_failure,
    firming_failure,
    rancidity_failure,
    sugar_failure,
)
from hardtack.keeping.begun import Begun
from hardtack.keeping.growing import fermentation_failure, mould_failure
from hardtack.keeping.judged import Judged, NotJudged, Verdict, all_layers
from hardtack.keeping.limits import texture_failures
from hardtack.keeping.observed import observed_failures
from hardtack.keeping.settle import begin, settled
from hardtack.product import Product
from hardtack.reference import rows
from hardtack.states import FailureCourse, History, Journey, Pack, Piece
from hardtack.transport.surroundings import Stretch

CROSSING_WIDTH = 1.0
"""Width [s] to which the march brackets a moment."""


@dataclass(frozen=True, slots=True)
class Followed:
    """What happened: the failures judged, each with its course over the history, and those that were not."""

    history: History
    stretches: tuple[Stretch, ...]
    judged: tuple[tuple[Judged, FailureCourse], ...]
    not_judged: tuple[NotJudged, ...]

    @property
    def first_time(self) -> float | None:
        """Moment of the first failure [s], None when none comes within the journey."""
        return self.judged[0][1].time


def verdicts(
    product: Product, pieces: tuple[Piece, ...], pack: Pack | None, journey: Journey
) -> tuple[Verdict, ...]:
    """Every way of failing: looked out for, or not and why.

    Raises `HardtackError` when nothing at all says when the product has failed, or a failure contradicts itself.
    """
    found = (
        *texture_failures(product, pieces),
        firming_failure(product, pieces),
        mould_failure(product, pieces, journey),
        fermentation_failure(product),
        sugar_failure(product),
        checking_failure(product, pieces),
        rancidity_failure(product, pieces, pack),
        colour_failure(product),
        *observed_failures(product),
    )
    if not any(isinstance(verdict, Judged) for verdict in found):
        raise HardtackError(
            "nothing says when this product has failed",
            "add limits, such as 'crispness: {layer: cracker, activity: 0.43, at: 25 degC}', or failures, or a 'kind' the "
            "shelf has a limit for: " + ", ".join(row.name for row in rows("crispness limits")),
        )
    return found


def follow(
    product: Product,
    pieces: tuple[Piece, ...],
    pack: Pack | None,
    journey: Journey,
    begun: Begun | None = None,
) -> Followed:
    """The pieces' history over the journey and its courses, the first failure first. Raises as `keep`.

    Failures that do not come stand after those that do, the furthest gone first. With `begun` only the last leg is
    followed anew.
    """
    found = verdicts(product, pieces, pack, journey)
    settlement = settled(pieces, pack, journey, _watches(found, pieces), begun)
    history, stretches = settlement.history, settlement.stretches
    judged: list[tuple[Judged, FailureCourse]] = []
    not_judged = [verdict for verdict in found if isinstance(verdict, NotJudged)]
    for one in found:
        if isinstance(one, NotJudged):
            continue
        try:
            judged.append((one, one.course(history)))
        except HardtackError as error:
            if not one.bounded:
                raise
            not_judged.append(NotJudged(one.name, f"{error.problems[0].what}: {error.problems[0].mend}"))
    return Followed(history, stretches, _first_to_last(judged), tuple(not_judged))


def begun_of(
    product: Product, pieces: tuple[Piece, ...], pack: Pack | None, journey: Journey
) -> Begun | None:
    """The legs before the last followed once, for many ways the last may be; None where it saves nothing."""
    return begin(pieces, pack, journey, _watches(verdicts(product, pieces, pack, journey), pieces))


def _watches(found: Sequence[Verdict], pieces: tuple[Piece, ...]) -> list[tuple[str, float, bool]]:
    """What the march must look out for."""
    isotherms = {layer.name: layer.isotherm for layer in all_layers(pieces)}
    return [
        (one.layer, limit_moisture(one.limit, isotherms[one.layer]), one.rising)
        for one in found
        if isinstance(one, Judged) and one.limit is not None
    ]


def _first_to_last(
    judged: Sequence[tuple[Judged, FailureCourse]],
) -> tuple[tuple[Judged, FailureCourse], ...]:
    """By time, then, where there is none, by share. Of one moment, as two like shells have it, in the given order.

    Moments are known to a second: what differs by less must not be ordered by round-off.
    """
    ordered = sorted(
        judged, key=lambda pair: (math.inf if pair[1].time is None else pair[1].time, -_share(pair[1]))
    )
    place = {id(pair): number for number, pair in enumerate(judged)}
    found: list[tuple[Judged, FailureCourse]] = []
    while ordered:
        lead = ordered[0][1]
        alike = [pair for pair in ordered if _of_one_moment(lead, pair[1])]
        found += sorted(alike, key=lambda pair: place[id(pair)])
        ordered = ordered[len(alike) :]
    return tuple(found)


def _of_one_moment(lead: FailureCourse, other: FailureCourse) -> bool:
    if lead.time is None or other.time is None:
        return lead.time is other.time and _share(lead) - _share(other) < 1e-6
    return other.time - lead.time <= CROSSING_WIDTH


def _share(course: FailureCourse) -> float:
    return float(course.share[-1])
