"""The journey's main plot: activity of every layer and of the headspace, the outside air, and the limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.ladder import HEADSPACE, OUTSIDE
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.courses import Course, inside_course
from hardtack.pictures.journey_frame import (
    NAMES_WIDTH,
    PLOT_WIDTH,
    Scaled,
    across,
    band,
    course_rows,
    day_at,
    failure_rule,
    leg_bands,
    level_lines,
    mean_line,
    upright,
    x_channel,
)
from hardtack.pictures.placing import Box, quiet_place, spread
from hardtack.pictures.style import Spec
from hardtack.pictures.words import limit_words
from hardtack.states import Floats

HEIGHT = 290.0
VISIBLE = 0.004
"""Swings within a bin that are mostly smaller than this are not drawn as a band."""
LIMIT = {"color": style.INK, "strokeDash": style.LIMIT_DASH, "strokeWidth": 1.2}
OFF_PLOT = 8.0
"""From the plot's edge to the names [px]."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the plot and how it is told from the others."""

    name: str
    course: Course
    dash: list[int]
    shape: str | None
    width: float
    color: str


def lines(statement: KeepingStatement) -> list[Line]:
    """Layers first, in order, then the headspace when there is a pack."""
    history = statement.history
    found = []
    for k, name in enumerate(history.layers):
        dash, shape = style.DASHES[k % len(style.DASHES)], style.SHAPES[k % len(style.SHAPES)]
        found.append(
            Line(name, inside_course(statement, history.activity[:, k]), dash, shape, 2.2, style.INK)
        )
    if statement.pack is not None:
        headspace = inside_course(statement, history.headspace)
        found.append(Line(HEADSPACE, headspace, style.DASHES[0], None, 1.0, style.WATER_INK))
    return found


@dataclass(frozen=True, slots=True)
class _Plot:
    """Where the axis of days ends [s], and the range of activity shown."""

    end: float
    low: float
    high: float

    @property
    def x(self) -> Spec:
        return x_channel(self.end)

    @property
    def ticks(self) -> list[float]:
        step = 0.1 if self.high - self.low <= 0.6 else 0.2
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return [round(k * step, 1) for k in range(first, last + 1)]

    @property
    def y(self) -> Scaled:
        scaled = style.scale(self.low, self.high, (HEIGHT, 0))
        return upright(scaled, self.ticks, "water activity", ".1f")

    def down(self, activity: Floats | float) -> Floats:
        """Pixels downwards."""
        return np.asarray(HEIGHT * (self.high - np.asarray(activity)) / (self.high - self.low))

    def activity(self, pixels: float) -> float:
        return self.high - pixels / HEIGHT * (self.high - self.low)


def _range(drawn: Sequence[Course], limits: Sequence[float]) -> tuple[float, float]:
    """Tenths that hold everything drawn, and never fewer than three."""
    low = min([*(float(course.low.min()) for course in drawn), *limits])
    high = max([*(float(course.high.max()) for course in drawn), *limits])
    return style.tenths(low, high)


def activity_plot(statement: KeepingStatement, end: float, humidity: Sequence[Course]) -> Spec:
    """The view; `end` [s] is where the axis of days ends, `humidity` the outside air of each leg."""
    drawn = lines(statement)
    limits = [limit.activity for limit in statement.limits]
    plot = _Plot(end, *_range([*(line.course for line in drawn), *humidity], limits))
    outside = [row for part, course in enumerate(humidity) for row in course_rows(course, part)]
    return {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT,
        "layer": [
            leg_bands(statement, end, plot.x),
            level_lines(plot.ticks, end, plot.x, plot.y, color=style.GRID),
            band(outside, plot.x, plot.y, style.AIR),
            mean_line(outside, plot.x, plot.y, color=style.LINE, strokeWidth=1),
            level_lines(limits, end, plot.x, plot.y, **LIMIT),
            *(part for line in reversed(drawn) for part in _line(plot, line)),
            *failure_rule(statement, plot.x),
            *_names(plot, drawn, humidity),
            *_limit_names(plot, statement, drawn, humidity),
        ],
    }


def _line(plot: _Plot, line: Line) -> list[Spec]:
    """A line; its band of extremes when it has one to show; its shape at both ends."""
    rows = course_rows(line.course)
    parts = []
    if float(np.median(line.course.high - line.course.low)) > VISIBLE:
        parts.append(band(rows, plot.x, plot.y, line.color, opacity=0.18))
    look = {"color": line.color, "strokeWidth": line.width, "strokeDash": line.dash}
    parts.append(mean_line(rows, plot.x, plot.y, **look))
    if line.shape:
        ends = {"x": plot.x, "y": plot.y("mean")}
        mark = {"shape": line.shape, "size": 60, "filled": True, "color": line.color, "opacity": 1}
        parts.append(style.layer([rows[0], rows[-1]], "point", ends, **mark))
    return parts


def _names(plot: _Plot, drawn: Sequence[Line], humidity: Sequence[Course]) -> list[Spec]:
    """Each line's name and last value at its end, moved apart where they would touch."""
    room = NAMES_WIDTH - OFF_PLOT - 4
    wanted = [(float(line.course.mean[-1]), line.name, line.shape is not None) for line in drawn]
    wanted.append((float(humidity[-1].mean[-1]), OUTSIDE, False))
    wanted.sort(key=lambda entry: -entry[0])
    blocks = [
        style.wrapped(f"{name} {value:.2f}", room, style.SIZE_SMALL, bold=main)
        for value, name, main in wanted
    ]
    sizes = [style.block_height(len(block), style.SIZE_SMALL) + 1 for block in blocks]
    middles = spread([float(plot.down(value)) for value, _, _ in wanted], sizes, -6.0, HEIGHT + 6.0)
    edge, tied, out = (day_at(PLOT_WIDTH + more, plot.end) for more in (0, OFF_PLOT, OFF_PLOT + 3))
    ties: list[Spec] = []
    heavy: list[Spec] = []
    light: list[Spec] = []
    for (value, _, main), block, middle in zip(wanted, blocks, middles, strict=True):
        first = middle - (len(block) - 1) * style.SIZE_SMALL * style.LINE_HEIGHT / 2
        row = {"day": out, "v": plot.activity(first), "text": "\n".join(block)}
        (heavy if main else light).append(row)
        if abs(middle - float(plot.down(value))) > 4:
            ties.append({"day": edge, "v": value, "day2": tied, "v2": plot.activity(middle)})
    y = plot.y("v")
    tie = {**across(plot.x), "y": y, "y2": {"field": "v2"}}
    look: Spec = {"lineHeight": style.SIZE_SMALL * style.LINE_HEIGHT, "halo": False}
    return [
        style.layer(ties, "rule", tie, color=style.LINE),
        *style.texts(heavy, plot.x, y, fontWeight="bold", **look),
        *style.texts(light, plot.x, y, color=style.SOFT, **look),
    ]


def _limit_names(
    plot: _Plot, statement: KeepingStatement, drawn: Sequence[Line], humidity: Sequence[Course]
) -> list[Spec]:
    """Each limit in words above or below its line, where least is drawn."""
    curves = [_pixels(plot, line.course.times, line.course.mean) for line in drawn]
    for course in humidity:
        curves += [_pixels(plot, course.times, v) for v in (course.low, course.mean, course.high)]
    rows: list[Spec] = []
    taken: list[Box] = []
    for limit in statement.limits:
        text = limit_words(limit)
        size = (style.text_width(text, style.SIZE_SMALL), style.SIZE_SMALL * style.LINE_HEIGHT)
        box = quiet_place(float(plot.down(limit.activity)), size, (PLOT_WIDTH, HEIGHT), curves, taken)
        taken.append(Box(box.left - 12, box.top, box.width + 24, box.height))
        rows.append(
            {
                "day": day_at(box.left, plot.end),
                "v": plot.activity(box.top + box.height / 2),
                "text": text,
            }
        )
    return style.texts(rows, plot.x, plot.y("v"))


def _pixels(plot: _Plot, times: Floats, values: Floats) -> tuple[Floats, Floats]:
    return times / plot.end * PLOT_WIDTH, plot.down(values)
