"""The pictures a keeping statement has, by name: each with its words and the numbers behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import journey, ladder, profile, shares, stales
from hardtack.pictures.style import Spec

Rows = list[dict[str, object]]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of picture: its `title`, the drawing, its description in sentences, its table."""

    title: str
    picture: Callable[[KeepingStatement], Spec]
    description: Callable[[KeepingStatement], str]
    table: Callable[[KeepingStatement], Rows]
    drawable: Callable[[KeepingStatement], bool] = lambda statement: True


KINDS: dict[str, Kind] = {
    "ladder": Kind("Where the water runs", ladder.ladder_picture, ladder.description, ladder.table),
    "journey": Kind("What happens on the way", journey.journey_picture, journey.description, journey.table),
    "profile": Kind(
        "Water activity through the piece", profile.profile_picture, profile.description, profile.table
    ),
    "shares": Kind("Share of life used", shares.shares_picture, shares.description, shares.table),
    "stales": Kind(
        "Two kinds of stale",
        stales.stales_picture,
        stales.description,
        stales.table,
        lambda statement: statement.stale is not None,
    ),
}
