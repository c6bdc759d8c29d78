"""The activity ladder: where water runs. A tank for each place; height is activity, width is capacity."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.ladder_layout import (
    CHANNEL,
    NARROWEST_TANK,
    SAME,
    UNIT,
    Arrow,
    Column,
    Label,
    arrows,
    columns,
    words,
)
from hardtack.pictures.style import Spec
from hardtack.pictures.words import end_words, failure_words, flow_words, sentence

LINES_APART = 14.0


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a place, and the water it gives when packed [mg/day]."""
    placed = columns(statement)
    running = arrows(statement, placed)
    limits = {limit.layer: limit.activity for limit in reversed(statement.limits)}
    return [
        {
            "place": column.rung.name,
            "water activity when packed": column.rung.start,
            "water activity at the end": column.rung.end,
            "limit": limits.get(column.rung.name),
            "water for 0.01 of activity [mg]": None if column.unlimited else column.rung.capacity * 1e6,
            "moisture": column.rung.moisture,
            "gives [mg/day]": {
                arrow.sink.rung.name: arrow.milligrams_a_day
                for arrow in running
                if arrow.source.rung.name == column.rung.name
            },
        }
        for column in placed
    ]


def description(statement: KeepingStatement) -> str:
    """The picture in sentences, for those who hear it."""
    placed = columns(statement)
    levels = "; ".join(
        f"{column.rung.name} {column.rung.start:.2f} when packed, {column.rung.end:.2f} at the end"
        for column in placed
    )
    running = "; ".join(
        f"from {arrow.source.rung.name} to {arrow.sink.rung.name}, {flow_words(arrow.milligrams_a_day)}"
        for arrow in arrows(statement, placed)
    )
    return (
        f"Activity ladder of {statement.product}. Water activity: {levels}. "
        f"Water runs when packed {running or 'nowhere, all levels are equal'}. "
        f"{sentence(failure_words(statement))}"
    )


@dataclass(frozen=True, slots=True)
class _Canvas:
    """The view's channels: pixels across, activity upwards."""

    x: Spec
    y: Spec
    height: float

    @property
    def both(self) -> Spec:
        return {"x": self.x, "y": self.y}

    @property
    def span(self) -> Spec:
        return {**self.both, "x2": {"field": "x2"}, "y2": {"field": "y2"}}

    @property
    def path(self) -> Spec:
        order = {"field": "order", "type": "quantitative"}
        return {**self.both, "detail": {"field": "part", "type": "nominal"}, "order": order}


def _canvas(above: float, below: float) -> _Canvas:
    height = above + UNIT + below
    axis = {
        "values": [0, 0.2, 0.4, 0.6, 0.8, 1],
        "format": ".1f",
        "title": "water activity",
        "titleX": style.AXIS_TITLE,
        "titleY": above + UNIT / 2,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    across = style.at("x", style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH)))
    upwards = style.at("y", style.scale(-below / UNIT, 1 + above / UNIT, (height, 0.0)), axis)
    return _Canvas(across, upwards, height)


def _flat(left: float, right: float, activity: float) -> Spec:
    return {"x": left, "x2": right, "y": activity, "y2": activity}


def _tanks(canvas: _Canvas, placed: Sequence[Column]) -> list[Spec]:
    fills, rising, walls = [], [], []
    for column in placed:
        rung, left, right = column.rung, column.tank_left, column.tank_right
        fills.append({"x": left, "x2": right, "y": 0, "y2": rung.start})
        if rung.end > rung.start + SAME:
            rising.append({"x": left, "x2": right, "y": rung.start, "y2": rung.end})
        if not column.unlimited:
            corners = ((left, 1), (left, 0), (right, 0), (right, 1))
            walls += [{"x": x, "y": y, "order": k, "part": rung.name} for k, (x, y) in enumerate(corners)]
    grid = [_flat(0, style.VIEW_WIDTH, fifth / 5) for fifth in range(6)]
    return [
        style.layer(grid, "rule", canvas.span, color=style.GRID),
        style.layer(fills, "rect", canvas.span, color=style.WATER),
        style.layer(rising, "rect", canvas.span, color=style.WATER_RISING),
        style.layer(walls, "line", canvas.path, color=style.INK, strokeWidth=1.5, strokeJoin="miter"),
    ]


def _levels(canvas: _Canvas, statement: KeepingStatement, placed: Sequence[Column]) -> list[Spec]:
    """Level lines, and a thick tick outside both walls at each limit."""
    packed = [_flat(c.left, c.right, c.rung.start) for c in placed]
    ended = [_flat(c.left, c.right, c.rung.end) for c in placed if abs(c.rung.end - c.rung.start) > SAME]
    ticks = [
        _flat(wall - 5, wall + 5, limit.activity)
        for limit in statement.limits
        for c in placed
        if c.rung.name == limit.layer
        for wall in (c.tank_left - 4, c.tank_right + 4)
    ]
    return [
        style.layer(packed, "rule", canvas.span, color=style.INK, strokeWidth=2.4),
        style.layer(ended, "rule", canvas.span, color=style.INK, strokeWidth=1.6, strokeDash=[5, 3]),
        style.layer(ticks, "rule", canvas.span, color=style.INK, strokeWidth=4.5),
    ]


def _pipes(canvas: _Canvas, running: Sequence[Arrow]) -> list[Spec]:
    """Shafts, and heads of two strokes that keep their angle at any size."""
    shafts, heads = [], []
    for number, arrow in enumerate(running):
        shafts += [
            {"x": x, "y": y / UNIT, "order": order, "part": number}
            for order, (x, y) in enumerate(arrow.corners)
        ]
        (x1, y1), (x2, y2) = arrow.corners[-2:]
        length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
        ux, uy = 10 * (x2 - x1) / length, 10 * (y2 - y1) / length
        heads += [
            {"x": x2, "y": y2 / UNIT, "x2": x2 - ux + turn * uy, "y2": (y2 - uy - turn * ux) / UNIT}
            for turn in (0.45, -0.45)
        ]
    look = {"color": style.WATER_INK, "strokeWidth": 2, "strokeCap": "round"}
    return [
        style.layer(shafts, "line", canvas.path, **look),
        style.layer(heads, "rule", canvas.span, **look),
    ]


def _rows(labels: Sequence[Label], *, centred: bool = False) -> list[Spec]:
    """Labels as rows; a block hangs from the middle of its first line."""
    return [
        {
            "x": label.left + (label.box.width / 2 if centred else 0),
            "y": (label.middle + label.text.count("\n") * LINES_APART / 2) / UNIT,
            "text": label.text,
        }
        for label in labels
    ]


def _names(canvas: _Canvas, placed: Sequence[Column]) -> tuple[list[Spec], float]:
    """Name, moisture and capacity under each tank, and the height they take [px]."""
    names, notes = [], []
    deepest = 0.0
    for column, following in zip(placed, [*placed[1:], None], strict=True):
        reach = (following.left if following else style.VIEW_WIDTH) - column.left - 10
        name = style.wrapped(column.rung.name, reach, style.SIZE_TEXT, bold=True)
        held = re.sub(r"\([^)]*\)", lambda basis: basis[0].replace(" ", "\u00a0"), column.rung.moisture)
        capacity = "unlimited" if column.unlimited else f"{_milligrams(column.rung.capacity)} per 0.01"
        lines = style.wrapped(held, reach, style.SIZE_SMALL) + style.wrapped(
            capacity, reach, style.SIZE_SMALL
        )
        under = 10 + style.block_height(len(name), style.SIZE_TEXT)
        names.append({"x": column.left, "y": -10 / UNIT, "text": "\n".join(name)})
        notes.append({"x": column.left, "y": -under / UNIT, "text": "\n".join(lines)})
        deepest = max(deepest, under + len(lines) * LINES_APART)
    look: Spec = {"baseline": "top", "halo": False}
    return [
        *style.texts(names, canvas.x, canvas.y, fontWeight="bold", fontSize=style.SIZE_TEXT, **look),
        *style.texts(notes, canvas.x, canvas.y, color=style.SOFT, lineHeight=LINES_APART, **look),
    ], deepest


def _milligrams(capacity: float) -> str:
    milligrams = capacity * 1e6
    if milligrams < 0.005:
        return "next to nothing"
    return f"{milligrams:.2g} mg" if milligrams < 99.5 else f"{milligrams:,.0f} mg"


def _wider(placed: Sequence[Column]) -> str:
    names = [c.rung.name for c in placed if not c.unlimited and c.tank <= NARROWEST_TANK]
    return f" ({', '.join(names)}: less than drawn)" if names else ""


def view(statement: KeepingStatement) -> Spec:
    """The ladder as a view to stand in a larger picture."""
    placed = columns(statement)
    running = arrows(statement, placed)
    said = words(statement, placed, running)
    above = 12 + CHANNEL * sum(arrow.overhead for arrow in running)
    _, below = _names(_canvas(0, 0), placed)
    canvas = _canvas(above, below)
    x, y = canvas.x, canvas.y
    figures: Spec = {"halo": False, "fontSize": style.SIZE_TEXT}
    lines: Spec = {"lineHeight": LINES_APART, "fontWeight": "bold"}
    return {
        "title": {
            "text": "Where the water runs: the activity ladder",
            "subtitle": style.balanced(
                f"Solid line: level when packed; dashed: at the end, {end_words(statement)}. "
                "Arrows: water running when packed, from higher to lower. "
                f"Width of a tank: the water that moves its level by 0.01{_wider(placed)}. "
                "Levels are at the day's temperature, limits at their own.",
                style.TEXT_WIDTH,
                style.SIZE_SMALL,
            ),
        },
        "width": style.VIEW_WIDTH,
        "height": canvas.height,
        "layer": [
            *_tanks(canvas, placed),
            *_pipes(canvas, running),
            *_levels(canvas, statement, placed),
            *style.texts(_rows(said.packed), x, y, fontWeight="bold", **figures),
            *style.texts(_rows(said.ended), x, y, **figures),
            *style.texts(_rows(said.limits), x, y, halo=False, **lines),
            *style.texts(
                _rows(said.flows, centred=True), x, y, align="center", color=style.WATER_INK, **lines
            ),
            *_names(canvas, placed)[0],
        ],
    }


def ladder_picture(statement: KeepingStatement) -> Spec:
    """The activity ladder of a statement as a picture of its own."""
    return style.whole(view(statement), description(statement))
