"""The activity ladder: where water runs. A tank for each place; height is water activity, width is capacity."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.keeping.statement import KeepingStatement, Rung
from hardtack.pictures import style
from hardtack.pictures.style import Spec
from hardtack.pictures.words import day_words, end_words, failure_words, flow_words, sentence
from hardtack.units import DAY

UNIT = 264.0
"""Pixels from activity 0 to 1."""
LEAST_COLUMN = 82.0
WIDEST_TANK = 220.0
NARROWEST_TANK = 12.0
LEAST_GAP, MOST_GAP = 88.0, 150.0
MARGIN = 14.0
OVERHEAD = 26.0
"""Height of one channel for water that passes over a neighbour [px]."""
SAME = 5e-4
"""Levels nearer than this are drawn as one, and no arrow runs between them."""


@dataclass(frozen=True, slots=True)
class Column:
    """A rung and its place [px]: the column its level lines span, and the tank in its middle."""

    rung: Rung
    left: float
    right: float
    tank_left: float
    tank_right: float

    @property
    def unlimited(self) -> bool:
        """Outside air: no end of water, so no walls."""
        return self.rung.capacity <= 0.0

    @property
    def middle(self) -> float:
        """Middle of the column [px]."""
        return (self.left + self.right) / 2


@dataclass(frozen=True, slots=True)
class Arrow:
    """Water running down from one column to another [mg/day]."""

    source: Column
    sink: Column
    milligrams_a_day: float


def columns(statement: KeepingStatement) -> list[Column]:
    """Places of the rungs from left to right; the outside air takes the room that is left."""
    rungs = statement.ladder
    capacities = [rung.capacity for rung in rungs]
    most = max(capacities)
    gaps = len(rungs) - 1
    # the tanks share what least gaps and least columns leave; the largest grows first
    small = sum(1 for capacity in capacities if capacity < most / 2)
    room = style.VIEW_WIDTH - 2 * MARGIN - gaps * LEAST_GAP - small * LEAST_COLUMN
    widest = min(WIDEST_TANK, room / max(1, len(rungs) - small))
    tanks = [max(NARROWEST_TANK, widest * capacity / most) if most > 0 else widest for capacity in capacities]
    widths = [max(LEAST_COLUMN, tank) for tank in tanks]
    left_over = style.VIEW_WIDTH - 2 * MARGIN - sum(widths)
    gap = max(60.0, min(MOST_GAP, left_over / max(1, gaps)))
    placed = []
    left = MARGIN
    for rung, width, tank in zip(rungs, widths, tanks, strict=True):
        right = style.VIEW_WIDTH - MARGIN if rung is rungs[-1] and rung.capacity <= 0 else left + width
        drawn = right - left if rung.capacity <= 0 else tank
        inset = (right - left - drawn) / 2
        placed.append(Column(rung, left, right, left + inset, right - inset))
        left = right + gap
    return placed


def arrows(statement: KeepingStatement, placed: list[Column]) -> list[Arrow]:
    """The flows, each turned so that it runs from the higher activity to the lower, whoever is named first."""
    by_name = {column.rung.name: column for column in placed}
    found = []
    for flow in statement.flows:
        ends = sorted(
            (by_name[flow.source], by_name[flow.sink]), key=lambda column: column.rung.start, reverse=True
        )
        rate = abs(flow.rate) * 1e6 * DAY
        if ends[0].rung.start - ends[1].rung.start > SAME and rate > 0:
            found.append(Arrow(ends[0], ends[1], rate))
    return found


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a place, and the water it gives [mg/day]."""
    placed = columns(statement)
    running = arrows(statement, placed)
    return [
        {
            "place": column.rung.name,
            "water activity when packed": column.rung.start,
            "water activity at the end": column.rung.end,
            "limit": next(
                (limit.activity for limit in statement.limits if limit.layer == column.rung.name), None
            ),
            "water for 0.01 of activity [mg]": None if column.unlimited else column.rung.capacity * 1e6,
            "moisture": column.rung.moisture,
            "gives water to [mg/day]": {
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
        f"Activity ladder of {statement.product}: {levels}. "
        f"Water runs when packed {running or 'nowhere: all levels are equal'}. "
        f"{sentence(failure_words(statement))}"
    )


def _channels(placed: list[Column], running: list[Arrow]) -> list[Arrow]:
    """Arrows that pass over a neighbour, the shortest lowest."""
    index = {column.rung.name: number for number, column in enumerate(placed)}
    reach = {
        number: abs(index[arrow.source.rung.name] - index[arrow.sink.rung.name])
        for number, arrow in enumerate(running)
    }
    return [running[number] for number in sorted(reach, key=lambda n: reach[n]) if reach[number] > 1]


@dataclass(frozen=True, slots=True)
class _Canvas:
    """Channels that turn pixels across and activity upwards into the view."""

    x: Spec
    y: Spec
    height: float

    def across(self, second: str = "") -> Spec:
        return {"x": self.x, "x2": {"field": second}} if second else {"x": self.x}

    def both(self) -> Spec:
        return {"x": self.x, "y": self.y}

    def span(self) -> Spec:
        return {"x": self.x, "y": self.y, "x2": {"field": "x2"}, "y2": {"field": "y2"}}

    def path(self) -> Spec:
        order = {"field": "order", "type": "quantitative"}
        return {**self.both(), "detail": {"field": "part", "type": "nominal"}, "order": order}


def _canvas(above: float, below: float) -> _Canvas:
    height = above + UNIT + below
    y = style.scale(-below / UNIT, 1 + above / UNIT, (height, 0.0))
    axis = {
        "values": [0, 0.2, 0.4, 0.6, 0.8, 1],
        "format": ".1f",
        "title": "water activity",
        "titleAnchor": "start",
        "titleX": -AXIS_TITLE,
        "titleY": above + UNIT * 0.69,
        "titleAngle": -90,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    return _Canvas(
        style.at("x", style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH))), style.at("y", y, axis), height
    )


AXIS_TITLE = 38.0


def _tanks(canvas: _Canvas, placed: list[Column]) -> list[Spec]:
    fills, rising, walls = [], [], []
    for column in placed:
        rung = column.rung
        span = {"x": column.tank_left, "x2": column.tank_right}
        fills.append(span | {"y": 0, "y2": rung.start})
        if rung.end > rung.start + SAME:
            rising.append(span | {"y": rung.start, "y2": rung.end})
        if not column.unlimited:
            corners = ((column.tank_left, 1), (column.tank_left, 0), (column.tank_right, 0), (column.tank_right, 1))
            walls += [
                {"x": x, "y": y, "order": order, "part": rung.name} for order, (x, y) in enumerate(corners)
            ]
    grid = [{"x": 0, "x2": style.VIEW_WIDTH, "y": tenth / 5, "y2": tenth / 5} for tenth in range(6)]
    return [
        style.layer(grid, "rule", canvas.span(), color=style.GRID),
        style.layer(fills, "rect", canvas.span(), color=style.WATER),
        style.layer(rising, "rect", canvas.span(), color=style.WATER_RISING),
        style.layer(walls, "line", canvas.path(), color=style.INK, strokeWidth=1.5, strokeJoin="miter"),
    ]


def _levels(canvas: _Canvas, placed: list[Column]) -> list[Spec]:
    """Level lines and their numbers: packed at the left, end at the right, each on its outer side."""
    start, end, start_words, end_words_ = [], [], [], []
    nudge = 9 / UNIT
    for column in placed:
        rung = column.rung
        line = {"x": column.left, "x2": column.right}
        rises = rung.end >= rung.start
        start.append(line | {"y": rung.start, "y2": rung.start})
        below = rises and rung.start > 0.06
        start_words.append(
            {"x": column.left + 3, "y": rung.start + (-nudge if below else nudge), "text": f"{rung.start:.2f}"}
        )
        if abs(rung.end - rung.start) > SAME:
            end.append(line | {"y": rung.end, "y2": rung.end})
            end_words_.append(
                {"x": column.right - 3, "y": rung.end + (nudge if rises else -nudge), "text": f"{rung.end:.2f}"}
            )
    x, y = canvas.x, canvas.y
    return [
        style.layer(start, "rule", canvas.span(), color=style.INK, strokeWidth=2.4),
        style.layer(end, "rule", canvas.span(), color=style.INK, strokeWidth=1.6, strokeDash=[5, 3]),
        *style.texts(start_words, x, y, halo=False, fontWeight="bold", fontSize=style.SIZE_TEXT),
        *style.texts(end_words_, x, y, halo=False, align="right", fontSize=style.SIZE_TEXT),
    ]


def _limits(canvas: _Canvas, statement: KeepingStatement, placed: list[Column]) -> list[Spec]:
    ticks, said = [], []
    for limit in statement.limits:
        for column in placed:
            if column.rung.name != limit.layer:
                continue
            level = {"y": limit.activity, "y2": limit.activity}
            ticks += [
                {"x": wall - 7, "x2": wall + 7} | level for wall in (column.tank_left, column.tank_right)
            ]
            up = limit.activity >= column.rung.start
            said.append(
                {
                    "x": column.left + 11,
                    "y": limit.activity + (9 if up else -9) / UNIT,
                    "text": f"limit {limit.activity:.2f}",
                }
            )
    return [
        style.layer(ticks, "rule", canvas.span(), color=style.INK, strokeWidth=4),
        *style.texts(said, canvas.x, canvas.y, halo=False),
    ]


def _arrow_paths(placed: list[Column], running: list[Arrow]) -> list[tuple[Arrow, list[tuple[float, float]]]]:
    """Each arrow's corners: straight between neighbours, up and over others."""
    over = _channels(placed, running)
    paths = []
    for arrow in running:
        source, sink = arrow.source, arrow.sink
        if arrow in over:
            ceiling = 1 + (over.index(arrow) + 0.65) * OVERHEAD / UNIT
            side = 10.0 if sink.middle > source.middle else -10.0
            out, down = source.middle + side, sink.middle - side
            corners = [(out, source.rung.start), (out, ceiling), (down, ceiling), (down, sink.rung.start)]
        elif sink.left > source.left:
            corners = [(source.right + 4, source.rung.start), (sink.left - 4, sink.rung.start)]
        else:
            corners = [(source.left - 4, source.rung.start), (sink.right + 4, sink.rung.start)]
        paths.append((arrow, corners))
    return paths


def _arrows(canvas: _Canvas, placed: list[Column], running: list[Arrow]) -> list[Spec]:
    shafts, heads, said = [], [], []
    for number, (arrow, corners) in enumerate(_arrow_paths(placed, running)):
        shafts += [
            {"x": x, "y": y, "order": order, "part": number} for order, (x, y) in enumerate(corners)
        ]
        (x1, y1), (x2, y2) = corners[-2:]
        across, up = x2 - x1, (y2 - y1) * UNIT
        length = (across**2 + up**2) ** 0.5
        ux, uy = across / length, up / length
        # a head drawn as strokes keeps its angle at any size
        for turn in (0.45, -0.45):
            heads.append(
                {
                    "x": x2,
                    "y": y2,
                    "x2": x2 - 10 * (ux - turn * uy),
                    "y2": y2 - 10 * (uy + turn * ux) / UNIT,
                }
            )
        said.append(_flow_label(arrow, corners))
    look = {"color": style.WATER_INK, "strokeWidth": 2, "strokeCap": "round"}
    return [
        style.layer(shafts, "line", canvas.path(), **look),
        style.layer(heads, "rule", canvas.span(), **look),
        *style.texts(said, canvas.x, canvas.y, align="center", color=style.WATER_INK, fontWeight="bold"),
    ]


def _flow_label(arrow: Arrow, corners: list[tuple[float, float]]) -> Spec:
    """The flow's words: above a flat shaft, across the middle of a steep one."""
    (x1, y1), (x2, y2) = corners[1:3] if len(corners) == 4 else corners
    y = (y1 + y2) / 2
    if abs(y2 - y1) * UNIT < 36:
        y = max(y1, y2) + 10 / UNIT
    return {"x": (x1 + x2) / 2, "y": y, "text": flow_words(arrow.milligrams_a_day)}


def _names(canvas: _Canvas, placed: list[Column]) -> tuple[list[Spec], float]:
    """Name, moisture and capacity under each tank, and the height they take [px]."""
    names, notes = [], []
    deepest = 0.0
    for column, following in zip(placed, [*placed[1:], None], strict=True):
        reach = (following.left if following else style.VIEW_WIDTH) - column.left - 10
        name = style.wrapped(column.rung.name, reach, style.SIZE_TEXT, bold=True)
        lines = style.wrapped(column.rung.moisture, reach, style.SIZE_SMALL)
        if column.unlimited:
            lines.append("no end of water")
        else:
            lines += style.wrapped(f"{_milligrams(column.rung.capacity)} per 0.01", reach, style.SIZE_SMALL)
        top = 10.0
        name_height = style.block_height(len(name), style.SIZE_TEXT)
        names.append({"x": column.left, "y": -top / UNIT, "text": "\n".join(name)})
        notes.append({"x": column.left, "y": -(top + name_height) / UNIT, "text": "\n".join(lines)})
        deepest = max(deepest, top + name_height + style.block_height(len(lines), style.SIZE_SMALL))
    look = {"baseline": "top", "halo": False}
    return [
        *style.texts(names, canvas.x, canvas.y, fontWeight="bold", fontSize=style.SIZE_TEXT, **look),
        *style.texts(notes, canvas.x, canvas.y, color=style.SOFT, lineHeight=14, **look),
    ], deepest


def _milligrams(capacity: float) -> str:
    milligrams = capacity * 1e6
    return f"{milligrams:.2g} mg" if milligrams < 99.5 else f"{milligrams:,.0f} mg"


def view(statement: KeepingStatement) -> Spec:
    """The ladder as a view to stand in a larger picture."""
    placed = columns(statement)
    running = arrows(statement, placed)
    above = OVERHEAD * len(_channels(placed, running)) + 12
    _, below = _names(_canvas(0, 0), placed)
    canvas = _canvas(above, below)
    lines = [
        f"Solid line: level when packed. Dashed: level at the end, {end_words(statement)}. "
        "Arrows: water running when packed, from the higher level to the lower.",
        "Width of a tank: the water that moves its level by 0.01 of activity "
        f"(never narrower than {NARROWEST_TANK:.0f} points).",
    ]
    return {
        "title": {"text": "Where the water runs: the activity ladder", "subtitle": lines},
        "width": style.VIEW_WIDTH,
        "height": canvas.height,
        "layer": [
            *_tanks(canvas, placed),
            *_limits(canvas, statement, placed),
            *_levels(canvas, placed),
            *_arrows(canvas, placed, running),
            *_names(canvas, placed)[0],
        ],
    }


def ladder(statement: KeepingStatement) -> Spec:
    """The activity ladder of a statement as a picture of its own."""
    return style.whole(view(statement), description(statement))
