"""Follow the pieces of one pack through the journey, and judge what happened by every failure looked out for."""

from __future__ import annotations

import math
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
from hardtack.keeping.growing import fermentation_failure, mould_failure
from hardtack.keeping.judged import Judged, NotJudged, Verdict, all_layers
from hardtack.keeping.limits import texture_failures
from hardtack.keeping.settle import settled
from hardtack.product import Product
from hardtack.reference import rows
from hardtack.states import FailureCourse, History, Journey, Pack, Piece
from hardtack.transport.surroundings import Stretch


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
        return min((course.time for _, course in self.judged if course.time is not None), default=None)


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
    )
    if not any(isinstance(verdict, Judged) for verdict in found):
        raise HardtackError(
            "nothing says when this product has failed",
            "add limits, such as 'crispness: {layer: cracker, activity: 0.43, at: 25 degC}', or failures, or a 'kind' the "
            "shelf has a limit for: " + ", ".join(row.name for row in rows("crispness limits")),
        )
    return found


def follow(product: Product, pieces: tuple[Piece, ...], pack: Pack | None, journey: Journey) -> Followed:
    """The pieces' history over the journey and its courses, the first failure first. Raises as `keep`.

    Failures that do not come stand after those that do, the furthest gone first.
    """
    found = verdicts(product, pieces, pack, journey)
    isotherms = {layer.name: layer.isotherm for layer in all_layers(pieces)}
    watches = [
        (one.layer, limit_moisture(one.limit, isotherms[one.layer]), one.rising)
        for one in found
        if isinstance(one, Judged) and one.limit is not None
    ]
    history, stretches = settled(pieces, pack, journey, watches)
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
    judged.sort(
        key=lambda pair: (math.inf if pair[1].time is None else pair[1].time, -float(pair[1].share[-1]))
    )
    return Followed(history, tuple(stretches), tuple(judged), tuple(not_judged))
