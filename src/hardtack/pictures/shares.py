"""How much of its life each failure has used, day by day; the one that comes first is marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.sentences import moment
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.courses import MOST_BINS
from hardtack.pictures.journey import time_axis
from hardtack.pictures.journey_frame import (
    NAMES_WIDTH,
    PLOT_WIDTH,
    Scaled,
    across,
    day_at,
    failure_rule,
    leg_bands,
    level_lines,
    upright,
    x_channel,
)
from hardtack.pictures.journey_head import head
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.pictures.words import failure_words, sentence
from hardtack.states import FailureCourse, Floats, of_layer
from hardtack.units import DAY

HEIGHT = 280.0
ROW = style.SIZE_SMALL * style.LINE_HEIGHT
LEVELS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
ALIKE = 0.005
"""Courses of one failure that never differ by more are one line, named after all their layers."""
SHAPE_SIZE = 70


@dataclass(frozen=True, slots=True)
class Line:
    """A failure's course as drawn: up to its limit, or to the end of what was followed."""

    name: str
    times: Floats
    shares: Floats
    time: float | None
    dash: list[int]
    shape: str
    first: bool

    @property
    def last(self) -> float:
        """Share used where the line ends."""
        return float(self.shares[-1])


def lines(statement: KeepingStatement) -> list[Line]:
    """The courses, first failure first; those alike to the eye and of one failure as one."""
    groups: list[list[FailureCourse]] = []
    for course in statement.courses:
        for group in groups:
            if group[0].name == course.name and np.abs(group[0].share - course.share).max() < ALIKE:
                group.append(course)
                break
        else:
            groups.append([course])
    return [_line(statement, k, group) for k, group in enumerate(groups)]


def _line(statement: KeepingStatement, k: int, group: Sequence[FailureCourse]) -> Line:
    course, known = group[0], statement.history.times
    stop = float(known[-1])
    time = course.time if course.time is not None and course.time <= stop else None
    end = stop if time is None else time
    times = np.unique(np.r_[0.0, known[(known > 0) & (known < end)], end])
    if times.size > MOST_BINS:
        times = np.linspace(0.0, end, MOST_BINS)
    shares = np.interp(times, known, course.share)
    if time is not None:
        shares = np.minimum(shares, 1.0)
        shares[-1] = 1.0
    layers = list(dict.fromkeys(each.layer for each in group))
    return Line(
        name=of_layer(course.name, " and ".join(layers)),
        times=times,
        shares=shares,
        time=time,
        dash=style.DASHES[k % len(style.DASHES)],
        shape=style.SHAPES[k % len(style.SHAPES)],
        first=k == 0,
    )


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture: at every time followed, the share of life each failure has used."""
    names = [f"{of_layer(course.name, course.layer)}: share of life used" for course in statement.courses]
    rows: list[dict[str, object]] = []
    for n, time in enumerate(statement.history.times):
        row: dict[str, object] = {"day": float(time) / DAY}
        for name, course in zip(names, statement.courses, strict=True):
            row[name] = float(course.share[n])
        rows.append(row)
    return rows


def description(statement: KeepingStatement) -> str:
    """The picture in sentences, for those who hear it."""
    told = [
        f"Share of life used by each failure of {statement.product}. {sentence(failure_words(statement))}"
    ]
    for line in lines(statement):
        if line.time is None:
            told.append(sentence(f"{line.name}: {line.last:.0%} used {_when(statement, line.times[-1])}"))
        else:
            told.append(sentence(f"{line.name}: all used {_when(statement, line.time)}"))
    return " ".join(told)


def _when(statement: KeepingStatement, time: float) -> str:
    return moment(float(time), statement.journey.packed_on) if time > 0 else "when packed"


def shares_picture(statement: KeepingStatement) -> Spec:
    """Every failure's share of life used from packing to the end of what was followed."""
    end = float(statement.history.times[-1])
    drawn = lines(statement)
    x = x_channel(end, time_axis(statement, end))
    failed = [line for line in drawn if line.time is not None]
    above = len(failed) * (ROW + 3) + 6
    height = HEIGHT + above
    y = upright(style.scale(0, height / HEIGHT, (height, 0)), LEVELS, "share of life used", ".0%")
    plot = {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": [
            leg_bands(statement, end, x),
            level_lines(LEVELS[:-1], end, x, y, color=style.GRID),
            level_lines([1.0], end, x, y, color=style.INK, strokeDash=style.LIMIT_DASH, strokeWidth=1.2),
            *failure_rule(statement, x),
            *(part for line in reversed(drawn) for part in _curve(line, x, y)),
            *_failed(statement, failed, end, x, y),
            *_kept([line for line in drawn if line.time is None], end, x, y),
        ],
    }
    note = "A line that reaches 100\u00a0% has failed; the heavy line comes first, and the legs' shares are of its life."
    if any(line.time is None for line in drawn):
        note += " Names at the right: not failed by the end of what was followed, with the share used there."
    view = {
        "title": {
            "text": style.balanced(
                f"{statement.product}: share of life used by each failure",
                style.TEXT_WIDTH,
                style.SIZE_TITLE,
                bold=True,
            ),
            "subtitle": style.wrapped(note, style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
        },
        "spacing": 0,
        "bounds": "flush",
        "vconcat": [head(statement, end), plot],
    }
    return style.whole(view, description(statement))


def _curve(line: Line, x: Spec, y: Scaled) -> list[Spec]:
    """The line and its shape where it ends."""
    rows = [
        {"day": style.tidy(t / DAY), "v": style.tidy(share)}
        for t, share in zip(line.times, line.shares, strict=True)
    ]
    where = {"x": x, "y": y("v")}
    width = 3.0 if line.first else 1.7
    mark = {"shape": line.shape, "size": SHAPE_SIZE, "filled": True, "color": style.INK, "opacity": 1}
    return [
        style.layer(rows, "line", where, color=style.INK, strokeWidth=width, strokeDash=line.dash),
        style.layer([rows[-1]], "point", where, **mark),
    ]


def _failed(
    statement: KeepingStatement, failed: Sequence[Line], end: float, x: Spec, y: Scaled
) -> list[Spec]:
    """Names over the limit, each on a row of its own and tied to its shape; the earliest highest.

    A name stands right of its tie, so that later ties pass below it; left when it would leave the picture.
    """
    rows: dict[tuple[str, bool], list[Spec]] = {}
    ties: list[Spec] = []
    ordered = sorted(failed, key=lambda line: line.time or 0.0)
    for k, line in enumerate(ordered):
        assert line.time is not None
        level = 1.0 + ((len(ordered) - k - 0.5) * (ROW + 3) + 6) / HEIGHT
        # the first failure's moment stands over the plot already
        text = line.name if line.first else f"{line.name}, {_when(statement, line.time)}"
        right = line.time / end * PLOT_WIDTH + 7 + style.text_width(text, style.SIZE_SMALL, bold=line.first)
        side = "left" if right < PLOT_WIDTH + NAMES_WIDTH else "right"
        place = line.time / DAY + day_at(7 if side == "left" else -7, end)
        rows.setdefault((side, line.first), []).append({"day": place, "v": level, "text": text})
        ties.append({"day": line.time / DAY, "v": 1.0, "v2": level})
    parts = [style.layer(ties, "rule", {"x": x, "y": y("v"), "y2": {"field": "v2"}}, color=style.LINE)]
    for (side, first), words in rows.items():
        parts += style.texts(words, x, y("v"), align=side, fontWeight="bold" if first else "normal")
    return parts


def _kept(kept: Sequence[Line], end: float, x: Spec, y: Scaled) -> list[Spec]:
    """Names at the right of the lines that do not fail, moved apart where they would touch."""
    room = NAMES_WIDTH - 16
    ordered = sorted(kept, key=lambda line: -line.last)
    blocks = [
        style.wrapped(f"{line.name} {line.last:.0%}", room, style.SIZE_SMALL, bold=line.first)
        for line in ordered
    ]
    sizes = [len(block) * ROW + 3 for block in blocks]
    middles = spread([HEIGHT * (1 - line.last) for line in ordered], sizes, 0.0, HEIGHT + 6)
    ties: list[Spec] = []
    plain: list[Spec] = []
    bold: list[Spec] = []
    for line, block, middle in zip(ordered, blocks, middles, strict=True):
        top = middle - (len(block) - 1) * ROW / 2
        row = {"day": day_at(PLOT_WIDTH + 13, end), "v": 1 - top / HEIGHT, "text": "\n".join(block)}
        (bold if line.first else plain).append(row)
        if abs(middle - HEIGHT * (1 - line.last)) > 4:
            ties.append(
                {
                    "day": day_at(PLOT_WIDTH + 4, end),
                    "v": line.last,
                    "day2": day_at(PLOT_WIDTH + 11, end),
                    "v2": 1 - middle / HEIGHT,
                }
            )
    return [
        style.layer(ties, "rule", {**across(x), "y": y("v"), "y2": {"field": "v2"}}, color=style.LINE),
        *style.texts(plain, x, y("v"), halo=False, lineHeight=ROW),
        *style.texts(bold, x, y("v"), halo=False, lineHeight=ROW, fontWeight="bold"),
    ]
