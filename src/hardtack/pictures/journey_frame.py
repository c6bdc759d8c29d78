"""What the journey's stacked plots share: the axis of days, bands, mean lines, legs, the failure rule."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.courses import Course, leg_spans
from hardtack.pictures.style import Spec
from hardtack.units import DAY

Scaled = Callable[[str], Spec]
"""The upright channel of a plot for a field: every layer carries the plot's one axis."""
NAMES_WIDTH = 132.0
"""Room at the right of the plot for the lines' names [px]."""
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH


def upright(scaled: Spec, ticks: Sequence[float], title: str, number: str) -> Scaled:
    """The upright channel of a plot, with its axis at the place all pictures share."""
    axis = {
        "values": list(ticks),
        "format": number,
        "title": title,
        "titleX": style.AXIS_TITLE,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    return lambda field: style.at(field, scaled, axis)


def x_channel(end: float, axis: Spec | None = None) -> Spec:
    """Days from packing to `end` [s] across the plot."""
    return style.at("day", style.scale(0, end / DAY, (0, PLOT_WIDTH)), axis)


def day_at(pixels: float, end: float) -> float:
    """The day at so many pixels from the plot's left edge."""
    return pixels / PLOT_WIDTH * end / DAY


def across(x: Spec) -> Spec:
    """Channels from `day` to `day2`."""
    return {"x": x, "x2": {"field": "day2"}}


def course_rows(course: Course, part: int = 0) -> list[Spec]:
    """A course as rows; `part` keeps legs apart."""
    return [
        {"day": style.tidy(t / DAY)}
        | {"low": style.tidy(low), "mean": style.tidy(mean), "high": style.tidy(high), "part": part}
        for t, low, mean, high in zip(course.times, course.low, course.mean, course.high, strict=True)
    ]


def band(rows: Sequence[Spec], x: Spec, y: Scaled, color: str, opacity: float = 1.0) -> Spec:
    """The area between lowest and highest."""
    encoding = {"x": x, "y": y("low"), "y2": {"field": "high"}, "detail": _PART}
    return style.layer(rows, "area", encoding, color=color, opacity=opacity)


def mean_line(rows: Sequence[Spec], x: Spec, y: Scaled, **look: object) -> Spec:
    """The line of means."""
    return style.layer(rows, "line", {"x": x, "y": y("mean"), "detail": _PART}, **look)


def level_lines(values: Sequence[float], end: float, x: Spec, y: Scaled, **look: object) -> Spec:
    """Level lines across the plot."""
    rows = [{"day": 0, "day2": end / DAY, "v": value} for value in values]
    return style.layer(rows, "rule", {**across(x), "y": y("v")}, **look)


_PART = {"field": "part", "type": "nominal"}


def leg_bands(statement: KeepingStatement, end: float, x: Spec) -> Spec:
    """Every second leg on very light grey, over the whole height."""
    rows = [
        {"day": start / DAY, "day2": stop / DAY}
        for k, (start, stop) in enumerate(leg_spans(statement, end))
        if k % 2 == 1
    ]
    return style.layer(rows, "rect", across(x), color=style.BAND)


def failure_rule(statement: KeepingStatement, x: Spec, top: float = 0.0) -> list[Spec]:
    """An upright line at the failure from `top` [px] down; none when nothing fails."""
    if statement.first is None:
        return []
    encoding = {"x": x, "y": {"value": top}, "y2": {"value": "height"}}
    return [
        style.layer(
            [{"day": statement.end / DAY}],
            "rule",
            encoding,
            color=style.INK,
            strokeWidth=2,
            strokeCap="square",
        ),
    ]
