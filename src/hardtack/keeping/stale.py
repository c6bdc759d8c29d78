"""The two kinds of "stale" of bread, named and told apart: they run in opposite directions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hardtack.failures.names import FIRMING
from hardtack.keeping.history import water_moved
from hardtack.states import FailureCourse, Floats, History, Piece


@dataclass(frozen=True, slots=True)
class TwoStales:
    """What the words and the pictures tell apart, over the history's times.

    `firming` [n] is the share of life that the crumb has used by setting again. `water_into_crust` and
    `water_out_of_crumb` [n, kg per pack] are since packing; without a drier layer beside it `crust` is
    empty and nothing runs into it.
    """

    crumb: str
    crust: str
    firming: Floats
    water_into_crust: Floats
    water_out_of_crumb: Floats
    words: tuple[str, ...]


def two_stales(
    courses: Sequence[FailureCourse], pieces: Sequence[Piece], history: History, end: int
) -> TwoStales | None:
    """Both kinds, when one of the failures judged is firming. `end` is the row at which the statement ends."""
    course = next((course for course in courses if course.name == FIRMING), None)
    if course is None:
        return None
    piece = next(piece for piece in pieces if course.layer in [layer.name for layer in piece.layers])
    others = [layer.name for layer in piece.layers if layer.name != course.layer]
    start = {name: float(history.activity[0, k]) for k, name in enumerate(history.layers)}
    drier = [name for name in others if start[name] < start[course.layer]]
    crust = min(drier, key=lambda name: start[name]) if drier else ""
    moved = water_moved(pieces, history)
    out = -moved[:, history.layers.index(course.layer)]
    into = moved[:, history.layers.index(crust)] if crust else 0.0 * out
    return TwoStales(
        crumb=course.layer,
        crust=crust,
        firming=course.share,
        water_into_crust=into,
        water_out_of_crumb=out,
        words=_words(course, crust, float(into[end]), float(out[end]), float(course.share[end])),
    )


def _words(course: FailureCourse, crust: str, into: float, out: float, used: float) -> tuple[str, ...]:
    lost = (
        f"lost {1e3 * out:.2f} g of water a pack" if out > 0 else f"gained {-1e3 * out:.2f} g of water a pack"
    )
    told = [
        f"Stale by firming: the starch of the {course.layer} sets again and it goes from soft to firm, {used:.0%} of that "
        f"life used. It needs no loss of water (the {course.layer} {lost}), is faster in the cold, and warming turns it back."
    ]
    if crust and into > 0:
        told.append(
            f"Stale by water: the {crust} takes up {1e3 * into:.2f} g of water a pack and goes the other way, from crisp to "
            "leathery. It is slower in the cold, and warming through does not bring it back unless the water leaves."
        )
    elif out > 0:
        told.append(
            f"Stale by water: what leaves the {course.layer} makes it eat dry. That is drying out and no firming; a tighter "
            "pack stops it and does nothing against firming."
        )
    return tuple(told)
