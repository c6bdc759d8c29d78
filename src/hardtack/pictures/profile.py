"""Where the water stands through the piece: activity across the layers at a few moments, with the limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.placing import Box, quiet_place, spread
from hardtack.pictures.profile_layout import Column, Panel, panels, ticks, to_scale
from hardtack.pictures.style import Spec
from hardtack.pictures.words import end_words, failure_words, sentence
from hardtack.states import Floats, of_layer
from hardtack.units import DAY

HEIGHT = 300.0
NAMES_WIDTH = 132.0
AIR_WIDTH, AIR_GAP = 62.0, 16.0
"""Width of the headspace's column, and the room before it [px]."""
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH
SPACING = (0.0, 1 / 9, 4 / 9, 1.0)
"""Moments as shares of the time to the end: their square roots are even, as water moves by the root of time."""
LOOKS: tuple[Spec, ...] = (
    {"strokeDash": [2, 3], "strokeWidth": 1.6},
    {"strokeDash": [7, 3], "strokeWidth": 1.6},
    {"strokeDash": [12, 3, 2, 3], "strokeWidth": 1.8},
    {"strokeDash": [1, 0], "strokeWidth": 2.6},
)
"""How the moments are told apart; the last is the end."""
LIMIT = {"color": style.INK, "strokeDash": style.LIMIT_DASH, "strokeWidth": 1.2}
ROW = style.SIZE_SMALL * style.LINE_HEIGHT


def moments(statement: KeepingStatement) -> list[int]:
    """Rows of the history that are drawn: packed, the end of the statement, and two on the way."""
    times = statement.history.times
    return sorted({int(np.argmin(np.abs(times - share * statement.end))) for share in SPACING})


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a cell (a layer where it is followed as one), a column a moment."""
    rows: list[dict[str, object]] = []
    for panel in panels(statement, PLOT_WIDTH):
        for column in panel.columns:
            depth = _depths(column)
            for k, place in enumerate(depth):
                row: dict[str, object] = {"piece": panel.piece.name} if len(statement.pieces) > 1 else {}
                row |= {"layer": column.layer.name, "depth [mm]": float(place)}
                for n in moments(statement):
                    row[f"water activity, {_when(statement, n)}"] = float(_values(statement, column, n)[k])
                rows.append(row)
    return rows


def description(statement: KeepingStatement) -> str:
    """The picture in sentences, for those who hear it."""
    told = [f"Water activity through {statement.product}, layer by layer."]
    for n in moments(statement):
        parts = []
        for panel in panels(statement, PLOT_WIDTH):
            for column in panel.columns:
                values = _values(statement, column, n)
                low, high = float(values[0]), float(values[-1])
                same = f"{low:.2f}" == f"{high:.2f}"
                parts.append(f"{column.layer.name} {low:.2f}" + ("" if same else f" to {high:.2f}"))
        told.append(sentence(f"{_when(statement, n)}: {'; '.join(parts)}"))
    limits = "; ".join(
        f"{of_layer(limit.failure, limit.layer)} at {limit.activity:.2f}" for limit in statement.limits
    )
    return " ".join([*told, *([f"Limits: {limits}."] if limits else []), sentence(failure_words(statement))])


def _values(statement: KeepingStatement, column: Column, n: int) -> Floats:
    """Activity of the column's cells at row `n`; the layer's own where it is followed as one."""
    history = statement.history
    values: Floats = (
        history.profile[n, column.cells] if column.cells.size else history.activity[n, [column.number]]
    )
    return values


def _depths(column: Column) -> Floats:
    share = (column.across - column.left) / (column.right - column.left)
    depths: Floats = (
        column.start + share * (column.end - column.start)
        if column.cells.size
        else np.array([(column.start + column.end) / 2])
    )
    return depths


def _when(statement: KeepingStatement, n: int) -> str:
    seconds = float(statement.history.times[n])
    if seconds == 0:
        return "when packed"
    return f"after {seconds / 3600:.1f} hours" if seconds < 2 * DAY else f"on day {seconds / DAY:.0f}"


@dataclass(frozen=True, slots=True)
class _Canvas:
    """Pixels across, activity upwards from `low` to `high`, with `below` pixels for words under the plot."""

    low: float
    high: float
    below: float

    @property
    def x(self) -> Spec:
        return style.at("x", style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH)))

    @property
    def levels(self) -> list[float]:
        step = 0.1 if self.high - self.low <= 0.6 else 0.2
        first = int(np.ceil(self.low / step - 1e-9))
        return [round(k * step, 1) for k in range(first, int(self.high / step + 1e-9) + 1)]

    def y(self, field: str = "a") -> Spec:
        axis = {
            "values": self.levels,
            "format": ".1f",
            "title": "water activity",
            "titleX": style.AXIS_TITLE,
            "titleY": HEIGHT / 2,
            "minExtent": style.AXIS,
            "maxExtent": style.AXIS,
        }
        return style.at(
            field, style.scale(self.activity(HEIGHT + self.below), self.high, (HEIGHT + self.below, 0)), axis
        )

    def activity(self, pixels: float) -> float:
        """Activity at so many pixels from the top."""
        return self.high - pixels / HEIGHT * (self.high - self.low)

    def down(self, activity: Floats | float) -> Floats:
        """Pixels downwards."""
        return np.asarray(HEIGHT * (self.high - np.asarray(activity)) / (self.high - self.low))

    @property
    def box(self) -> Spec:
        return {"x": self.x, "x2": {"field": "x2"}, "y": self.y(), "y2": {"field": "a2"}}


def _lines(statement: KeepingStatement, placed: Sequence[Panel], n: int) -> list[tuple[Floats, Floats]]:
    """The line of one moment in stretches of (pixels, activity): broken at barriers and between pieces."""
    stretches: list[tuple[Floats, Floats]] = []
    for panel in placed:
        for column in panel.columns:
            values = _values(statement, column, n)
            across = np.r_[column.left, column.across, column.right]
            if column.cells.size:
                values = np.r_[values[0], values, values[-1]]
            else:
                across, values = across[[0, -1]], np.r_[values, values]
            if column.joined and stretches:
                before = stretches.pop()
                # cells of touching layers are joined straight: at their face activity is one
                across = np.r_[before[0][:-1], across[1:]]
                values = np.r_[before[1][:-1], values[1:]]
            stretches.append((across, values))
    return stretches


def profile_picture(statement: KeepingStatement) -> Spec:
    """Activity through every kind of piece at four moments from packing to the end of the statement."""
    room = PLOT_WIDTH - AIR_WIDTH - AIR_GAP
    placed = panels(statement, room)
    drawn = {n: _lines(statement, placed, n) for n in moments(statement)}
    air = {n: float(statement.history.headspace[n]) for n in drawn}
    seen = [values for stretches in drawn.values() for _, values in stretches]
    limits = [limit.activity for limit in statement.limits]
    low = min([*(float(v.min()) for v in seen), *limits, *air.values()])
    high = max([*(float(v.max()) for v in seen), *limits, *air.values()])
    deepest = max(len(_name(column)) for panel in placed for column in panel.columns)
    canvas = _Canvas(*style.tenths(low, high), below=26 + (deepest + 1) * ROW + 8)
    view = {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT + canvas.below,
        "layer": [
            *_ground(canvas, placed, statement),
            *_curves(canvas, drawn, air),
            *_limits(canvas, placed, statement, drawn),
            *_under(canvas, placed, statement),
            *_names(canvas, statement, air),
        ],
        "title": {
            "text": style.balanced(
                f"{statement.product}: water activity through the piece, from packing to the end {end_words(statement)}",
                style.TEXT_WIDTH,
                style.SIZE_TITLE,
                bold=True,
            ),
            "subtitle": style.wrapped(_note(statement, placed), style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 16,
        },
    }
    return style.whole(view, description(statement))


def _note(statement: KeepingStatement, placed: Sequence[Panel]) -> str:
    told = [f"{failure_words(statement)}.", "Each line is one moment, named at the right."]
    if statement.history.profile.shape[1] == 0:
        told.append("The film resists far more than the inside: one activity for the whole piece.")
    if statement.limits:
        told.append("Long thin dashes: limits, at their own temperature; activity is at that of the day.")
    if any(panel.strips for panel in placed):
        told.append("Grey strips: barriers.")
    if not to_scale(placed):
        told.append("Layers are not drawn to one scale: read the millimetres.")
    return " ".join(told)


def _name(column: Column) -> list[str]:
    return style.wrapped(column.layer.name, column.right - column.left - 6, style.SIZE_SMALL, bold=True)


def _ground(canvas: _Canvas, placed: Sequence[Panel], statement: KeepingStatement) -> list[Spec]:
    """Level lines, the layers' edges, barriers as strips with their names, and the headspace's column."""
    left, right = PLOT_WIDTH - AIR_WIDTH, PLOT_WIDTH
    spans = [(panel.left, panel.right) for panel in placed] + [(left, right)]
    grid = [
        {"x": start, "x2": end, "a": level, "a2": level} for level in canvas.levels for start, end in spans
    ]
    edges = sorted(
        {edge for panel in placed for column in panel.columns for edge in (column.left, column.right)}
    )
    walls = [{"x": x, "x2": x, "a": canvas.low, "a2": canvas.high} for x in edges]
    strips = [strip for panel in placed for strip in panel.strips]
    rects = [{"x": s.left, "x2": s.right, "a": canvas.low, "a2": canvas.high} for s in strips]
    names = [
        {
            "x": (s.left + s.right) / 2,
            "a": canvas.activity(HEIGHT - 6),
            "text": style.shortened(s.barrier.name, HEIGHT - 12, style.SIZE_SMALL - 1),
        }
        for s in strips
    ]
    box = [{"x": left, "x2": right, "a": canvas.low, "a2": canvas.high}]
    return [
        style.layer([{}], "rule", {"x": {"value": 0}, "x2": {"value": "width"}}, color="white"),
        style.layer(box, "rect", canvas.box, color=style.BAND),
        style.layer(grid, "rule", canvas.box, color=style.GRID),
        style.layer(rects, "rect", canvas.box, color=style.AIR),
        style.layer(walls, "rule", canvas.box, color=style.LINE),
        *style.texts(
            names, canvas.x, canvas.y(), halo=False, angle=270, fontSize=style.SIZE_SMALL - 1, align="left"
        ),
    ]


def _curves(
    canvas: _Canvas, drawn: dict[int, list[tuple[Floats, Floats]]], air: dict[int, float]
) -> list[Spec]:
    """The moments' lines, and their level in the headspace."""
    parts = []
    for look, (n, stretches) in zip(_looks(len(drawn)), drawn.items(), strict=True):
        rows = [
            {"x": style.tidy(x), "a": style.tidy(a), "part": part}
            for part, (across, values) in enumerate(stretches)
            for x, a in zip(across, values, strict=True)
        ]
        rows += [
            {"x": x, "a": style.tidy(air[n]), "part": len(stretches)}
            for x in (PLOT_WIDTH - AIR_WIDTH, PLOT_WIDTH)
        ]
        encoding = {"x": canvas.x, "y": canvas.y(), "detail": {"field": "part", "type": "nominal"}}
        parts.append(style.layer(rows, "line", encoding, color=style.INK, **look))
    return parts


def _looks(count: int) -> tuple[Spec, ...]:
    """The end keeps its look, however few moments there are."""
    return (*LOOKS[: count - 1], LOOKS[-1])


def _limits(
    canvas: _Canvas,
    placed: Sequence[Panel],
    statement: KeepingStatement,
    drawn: dict[int, list[tuple[Floats, Floats]]],
) -> list[Spec]:
    """Each limit across its layer, with its words where least is drawn."""
    rules: list[Spec] = []
    words: list[Spec] = []
    columns = {column.layer.name: column for panel in placed for column in panel.columns}
    taken: list[Box] = []
    for limit in statement.limits:
        column = columns[limit.layer]
        width = column.right - column.left
        rules.append({"x": column.left, "x2": column.right, "a": limit.activity, "a2": limit.activity})
        lines = style.wrapped(
            f"{limit.failure}: limit\u00a0{limit.activity:.2f}", width - 14, style.SIZE_SMALL
        )
        size = (max(style.text_width(line, style.SIZE_SMALL) for line in lines), len(lines) * ROW)
        curves = [
            (across - column.left, canvas.down(values))
            for stretches in drawn.values()
            for across, values in stretches
        ]
        here = [Box(box.left - column.left, box.top, box.width, box.height) for box in taken]
        box = quiet_place(float(canvas.down(limit.activity)), size, (width, HEIGHT), curves, here)
        taken.append(Box(box.left + column.left, box.top, box.width, box.height))
        words.append(
            {
                "x": column.left + box.left,
                "a": canvas.activity(box.top + ROW / 2),
                "text": "\n".join(lines),
            }
        )
    return [
        style.layer(rules, "rule", canvas.box, **LIMIT),
        *style.texts(words, canvas.x, canvas.y(), lineHeight=ROW),
    ]


def _under(canvas: _Canvas, placed: Sequence[Panel], statement: KeepingStatement) -> list[Spec]:
    """Millimetres, names of the layers, and what each panel is."""
    marks: list[Spec] = []
    names: list[Spec] = []
    notes: list[Spec] = []
    for panel in placed:
        marks += [
            {"x": x, "a": canvas.activity(HEIGHT + 10), "text": f"{depth:.3g}"} for x, depth in ticks(panel)
        ]
        names += [
            {
                "x": (column.left + column.right) / 2,
                "a": canvas.activity(HEIGHT + 28),
                "text": "\n".join(_name(column)),
            }
            for column in panel.columns
        ]
        start = "mm from the centre" if panel.piece.shape != "slab" else "mm through the piece"
        head = f"{panel.piece.name}: " if len(placed) > 1 else ""
        notes.append({"x": panel.left, "a": canvas.activity(HEIGHT + canvas.below - 8), "text": head + start})
    air = "headspace" if statement.pack is not None else "air about"
    names.append({"x": PLOT_WIDTH - AIR_WIDTH / 2, "a": canvas.activity(HEIGHT + 28), "text": air})
    centred: Spec = {"halo": False, "align": "center"}
    return [
        *style.texts(marks, canvas.x, canvas.y(), color=style.SOFT, **centred),
        *style.texts(names, canvas.x, canvas.y(), fontWeight="bold", lineHeight=ROW, **centred),
        *style.texts(notes, canvas.x, canvas.y(), halo=False, color=style.SOFT),
    ]


def _names(canvas: _Canvas, statement: KeepingStatement, air: dict[int, float]) -> list[Spec]:
    """Each moment in words at the right of its level in the headspace."""
    wanted = sorted(air.items(), key=lambda item: -item[1])
    last = max(air)
    sizes = [ROW + 2] * len(wanted)
    middles = spread([float(canvas.down(a)) for _, a in wanted], sizes, 0.0, HEIGHT)
    rows: list[Spec] = []
    ties: list[Spec] = []
    for (n, a), middle in zip(wanted, middles, strict=True):
        place = canvas.activity(middle)
        rows.append({"x": PLOT_WIDTH + 18, "a": place, "text": _when(statement, n), "end": n == last})
        ties.append({"x": PLOT_WIDTH + 2, "x2": PLOT_WIDTH + 15, "a": a, "a2": place})
    return [
        style.layer(ties, "rule", canvas.box, color=style.LINE),
        *style.texts([r for r in rows if not r["end"]], canvas.x, canvas.y(), halo=False),
        *style.texts([r for r in rows if r["end"]], canvas.x, canvas.y(), halo=False, fontWeight="bold"),
    ]
