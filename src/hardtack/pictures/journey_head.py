"""Above the journey's plots: the failure in words over its rule, and each leg's name over its stretch."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.courses import leg_spans
from hardtack.pictures.journey_frame import PLOT_WIDTH, day_at, failure_rule, x_channel
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.pictures.words import failure_words
from hardtack.units import DAY

FAILURE_LINE = 24.0
LEADER = 14.0
NARROW = 24.0
"""A stretch narrower than this is tied to its name by a line [px], as is one whose name stands aside."""


@dataclass(frozen=True, slots=True)
class _Leg:
    """A leg's name in lines, what it spent, and its stretch [px]."""

    name: list[str]
    note: list[str]
    left: float
    right: float

    @property
    def width(self) -> float:
        return 8 + max(style.text_width(line, style.SIZE_SMALL) for line in (*self.name, *self.note))

    @property
    def height(self) -> float:
        return style.block_height(len(self.name) + len(self.note), style.SIZE_SMALL)

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


def _legs(statement: KeepingStatement, end: float) -> list[_Leg]:
    spans = leg_spans(statement, end)
    share = PLOT_WIDTH / len(spans) - 8
    found = []
    for k, ((start, stop), leg) in enumerate(zip(spans, statement.journey.legs, strict=False)):
        left, right = start / end * PLOT_WIDTH, stop / end * PLOT_WIDTH
        room = max(share, min(right - left - 8, 200.0))
        name = style.wrapped(leg.name, room, style.SIZE_SMALL)
        spent = statement.legs[k].share if k < len(statement.legs) and statement.courses else None
        note = (
            []
            if spent is None
            else style.wrapped(f"{100 * spent:.0f}\u00a0% of life used", room, style.SIZE_SMALL)
        )
        found.append(
            _Leg([style.shortened(line, room, style.SIZE_SMALL) for line in name], note, left, right)
        )
    return found


def head(statement: KeepingStatement, end: float) -> Spec:
    """The view over the plots; `end` [s] is where the axis of days ends."""
    legs = _legs(statement, end)
    centres = spread([leg.middle for leg in legs], [leg.width for leg in legs], 0.0, PLOT_WIDTH)
    height = FAILURE_LINE + max(leg.height for leg in legs) + LEADER
    x, y = x_channel(end), style.at("y", style.scale(0, height, (0, height)))
    names, notes, leaders = [], [], []
    for leg, centre in zip(legs, centres, strict=True):
        day, top = day_at(centre, end), height - LEADER - leg.height
        under = top + style.block_height(len(leg.name), style.SIZE_SMALL)
        names.append({"day": day, "y": top, "text": "\n".join(leg.name)})
        notes.append({"day": day, "y": under, "text": "\n".join(leg.note)})
        if not leg.left <= centre <= leg.right or leg.right - leg.left < NARROW:
            leaders.append({"day": day, "y": height - LEADER, "day2": day_at(leg.middle, end), "y2": height})
    tie = {"x": x, "y": y, "x2": {"field": "day2"}, "y2": {"field": "y2"}}
    look: Spec = {
        "align": "center",
        "baseline": "top",
        "halo": False,
        "lineHeight": style.SIZE_SMALL * style.LINE_HEIGHT,
    }
    told = failure_words(statement)
    room = style.AXIS + statement.end / end * PLOT_WIDTH
    fits = style.text_width(told, style.SIZE_TEXT, bold=True) < room
    side = "right" if statement.end > end / 2 and fits else "left"
    failure = [{"day": statement.end / DAY, "y": 8, "text": told}]
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": [
            # white on white, it holds the view open to its full width, so that every picture is equally wide
            style.layer([{}], "rule", {"x": {"value": 0}, "x2": {"value": "width"}}, color="white"),
            style.layer(leaders, "rule", tie, color=style.LINE),
            *failure_rule(statement, x, FAILURE_LINE - 8),
            *style.texts(failure, x, y, halo=False, align=side, fontWeight="bold", fontSize=style.SIZE_TEXT),
            *style.texts(names, x, y, **{**look, "halo": True}),
            *style.texts(notes, x, y, color=style.SOFT, **{**look, "halo": True}),
        ],
    }
