"""A sweep drawn: how long each design keeps at each place, with the spread of its samples."""

from __future__ import annotations

import math

from hardtack.keeping.sweeping.summary import Row, Summary
from hardtack.pictures import style
from hardtack.pictures.style import Spec

ROW = 19.0
NAMES_WIDTH = 330.0
PLOT_WIDTH = style.VIEW_WIDTH + style.AXIS - NAMES_WIDTH - 40
MOST_ROWS = 36
"""Rows drawn: those that fail soonest."""


def table(summary: Summary) -> list[dict[str, object]]:
    """The numbers behind the picture: a row for each design and place, in the order of the plan."""
    return [
        {
            "design": row.design,
            **dict(row.settings),
            "place": row.place,
            "days": _finite(row.days),
            "days nine in ten outlast": _finite(row.low),
            "days one in ten outlasts": _finite(row.high),
            "fails first by": row.failure,
        }
        for row in summary.rows
    ]


def description(summary: Summary) -> str:
    """The picture in sentences, for those who hear it."""
    rows = [row for row in summary.rows if row.days is not None]
    if not rows:
        return f"Days of the designs of {summary.plan}: nothing is computed yet."
    shortest = min(rows, key=lambda row: row.days or 0.0)
    longest = max(rows, key=lambda row: row.days or 0.0)
    return (
        f"Days each of {summary.designs} designs keeps at each of {len(summary.places)} places. "
        f"Shortest: {_name(shortest, summary)}, {_words(shortest)}. "
        f"Longest: {_name(longest, summary)}, {_words(longest)}."
    )


def sweep_picture(summary: Summary) -> Spec:
    """A row for each design and place, the soonest to fail on top: its middle day as a point, nine in ten to one in ten
    of its samples as a bar."""
    computed = sorted((row for row in summary.rows if row.days is not None), key=lambda row: row.days or 0.0)
    drawn = computed[:MOST_ROWS]
    finite = [
        day
        for row in drawn
        for day in (row.low, row.days, row.high)
        if day is not None and math.isfinite(day)
    ]
    longest = max(finite, default=1.0)
    step = style.step_for(longest * 1.02, 8)
    end = step * math.ceil(longest * 1.02 / step)
    height = ROW * max(len(drawn), 1)
    x = style.at(
        "day",
        style.scale(0, end, (NAMES_WIDTH, NAMES_WIDTH + PLOT_WIDTH)),
        {
            "values": [step * k for k in range(round(end / step) + 1)],
            "title": "days from packing to the first failure",
            "format": "~r",
            "titlePadding": 6,
            "grid": True,
            "gridColor": style.GRID,
        },
    )
    y = style.at("row", style.scale(0, max(len(drawn), 1), (0, height)))
    figure = {
        "title": _title(summary, len(computed), len(drawn)),
        "width": NAMES_WIDTH + PLOT_WIDTH,
        "height": height,
        "layer": _layers(drawn, summary, x, y, end),
    }
    return style.whole(figure, description(summary))


def _layers(drawn: list[Row], summary: Summary, x: Spec, y: Spec, end: float) -> list[Spec]:
    bars: list[Spec] = []
    points: list[Spec] = []
    names: list[Spec] = []
    never: list[Spec] = []
    for k, row in enumerate(drawn):
        low, middle, high = (min(day or 0.0, end) for day in (row.low, row.days, row.high))
        bars.append({"day": style.tidy(low), "day2": style.tidy(high), "row": k + 0.5})
        if math.isfinite(row.days or 0.0):
            points.append({"day": style.tidy(middle), "row": k + 0.5})
        else:
            never.append({"day": end, "row": k + 0.5, "text": "nothing fails"})
        text = style.shortened(_name(row, summary), NAMES_WIDTH - 14, style.SIZE_SMALL)
        names.append({"day": -10 * end / PLOT_WIDTH, "row": k + 0.5, "text": text})
    across = {"x": x, "x2": {"field": "day2"}, "y": y}
    parts = [
        style.layer(bars, "rule", across, color=style.LINE, strokeWidth=5),
        style.layer(points, "point", {"x": x, "y": y}, filled=True, size=60, color=style.INK, opacity=1),
    ]
    parts += style.texts(never, x, y, align="right")
    return parts + style.texts(names, x, y, halo=False, align="right")


def _title(summary: Summary, computed: int, drawn: int) -> Spec:
    notes = []
    if summary.samples > 1:
        notes.append(
            f"Points: the middle of {summary.samples} samples. Bars: from what nine in ten of them outlast to what one "
            "in ten outlasts."
        )
    if drawn < computed:
        notes.append(f"The {drawn} that fail soonest, of {computed}.")
    if summary.finished < 1:
        notes.append(f"The sweep is {summary.finished:.0%} finished.")
    return {
        "text": style.balanced(
            f"{summary.plan}: how long each design keeps", style.TEXT_WIDTH, style.SIZE_TITLE, bold=True
        ),
        "subtitle": [
            line for note in notes for line in style.wrapped(note, style.TEXT_WIDTH, style.SIZE_SMALL)
        ],
        "fontSize": style.SIZE_TITLE,
        "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
        "offset": 14,
    }


def _name(row: Row, summary: Summary) -> str:
    said = [
        f"{name.rpartition(': ')[2]} {written}" if name != "product" else written
        for name, written in row.settings
        if len({dict(other.settings)[name] for other in summary.rows}) > 1
    ]
    place = [row.place] if len(summary.places) > 1 or not said else []
    return " · ".join([*place, *said])


def _words(row: Row) -> str:
    if row.days is None or not math.isfinite(row.days):
        return "nothing fails on the journey"
    return f"{row.days:.0f} days"


def _finite(days: float | None) -> float | None:
    return days if days is not None and math.isfinite(days) else None
