"""A fit in one picture: measured points, the fitted curve with its 90 % interval, and the residuals below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.measurements.fit_answer import Curve, FitAnswer, Points
from hardtack.pictures import style
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec

HEIGHT, RESIDUAL_HEIGHT = 340.0, 96.0
NAMES_WIDTH = 150.0
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH
OFF_PLOT = 8.0
_MARK_ROWS = 3
"""Lines of words above the plot among which neighbouring marks are shared out."""


@dataclass(frozen=True, slots=True)
class _Axis:
    """One axis: its ends, its ticks, its title, and its pixels."""

    low: float
    high: float
    title: str
    pixels: tuple[float, float]

    @property
    def ticks(self) -> list[float]:
        step = style.step_for(self.high - self.low, 8 if self.pixels[0] == 0 or self.pixels[1] == 0 else 5)
        first = int(np.ceil(self.low / step - 1e-9))
        return [style.tidy(step * k) for k in range(first, int(np.floor(self.high / step + 1e-9)) + 1)]

    def channel(self, field: str, upright: bool = False) -> Spec:
        axis: Spec = {"values": self.ticks, "title": self.title or None, "titlePadding": 8}
        if upright:
            axis |= {"titleX": style.AXIS_TITLE, "minExtent": style.AXIS, "maxExtent": style.AXIS}
        return style.at(field, style.scale(self.low, self.high, self.pixels), axis)

    def place(self, value: float) -> float:
        """Pixels of a value."""
        share = (value - self.low) / (self.high - self.low)
        return self.pixels[0] + share * (self.pixels[1] - self.pixels[0])

    def value(self, pixels: float) -> float:
        """The value at so many pixels."""
        share = (pixels - self.pixels[0]) / (self.pixels[1] - self.pixels[0])
        return self.low + share * (self.high - self.low)


def fit_picture(answer: FitAnswer) -> Spec:
    """Points, curve, interval and residuals, headed by the answer's sentence."""
    drawing = answer.drawing
    x = _across(answer)
    y = _up(answer)
    series = list(dict.fromkeys([*(c.name for c in drawing.curves), *(p.name for p in drawing.points)]))
    main: Spec = {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT,
        "layer": [
            *(_band(x, y, c) for c in drawing.curves if c.low is not None),
            _grid(x, y),
            *_marks(x, y, answer),
            *(_curve(x, y, c, series.index(c.name)) for c in drawing.curves),
            *(layer for p in drawing.points for layer in _points(x, y, p, series.index(p.name))),
            *_names(x, y, answer, series),
        ],
    }
    views = [main]
    if any(p.predicted is not None for p in drawing.points):
        views.append(_residuals(x, answer, series))
    note = _note(answer)
    figure: Spec = {
        "title": {
            "text": style.balanced(answer.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.balanced(note, style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 26,
        "vconcat": views,
    }
    return style.whole(figure, description(answer))


def description(answer: FitAnswer) -> str:
    """The picture in sentences, for those who hear it."""
    drawing = answer.drawing
    told = [answer.sentence, f"The picture shows {drawing.y_title} against {drawing.x_title}."]
    for part in drawing.points:
        if part.x.size == 0:
            continue
        told.append(
            f"{part.name}: {part.x.size} points from {part.x.min():.4g} to {part.x.max():.4g}, "
            f"{part.y[np.argmin(part.x)]:.4g} at the first and {part.y[np.argmax(part.x)]:.4g} at the last."
        )
        if part.apart:
            told.append(f"{len(part.apart)} of them stand apart.")
    told += [f"Marked: {mark.text}." for mark in drawing.marks]
    return " ".join(told)


def _note(answer: FitAnswer) -> str:
    drawing = answer.drawing
    files = ", ".join(table.file.rpartition("/")[2] for table in answer.tables)
    if not answer.estimates:
        return f"Shapes: as the sheet states them. From: {files}."
    note = "Shapes: measured; lines: fitted"
    if any(c.low is not None for c in drawing.curves):
        note += "; grey: 90 % interval of the curve"
    if any(p.apart for p in drawing.points):
        apart = "outside the steady part" if answer.kind == "film" else "stand apart, still in the fit"
        note += f"; open shapes: {apart}"
    return f"{note}. Measured here: {files}."


def _parts(answer: FitAnswer) -> list[Points | Curve]:
    return [*answer.drawing.points, *answer.drawing.curves]


def _ends(values: Sequence[float], room: float) -> tuple[float, float]:
    low, high = min(values), max(values)
    span = (high - low) or abs(high) or 1.0
    return low - room * span, high + room * span


def _across(answer: FitAnswer) -> _Axis:
    drawing = answer.drawing
    held = [float(v) for part in _parts(answer) for v in part.x]
    held += [mark.x for mark in drawing.marks]
    low, high = _ends(held, 0.02)
    low = 0.0 if min(held) >= 0 and min(held) < 0.35 * max(held) else low
    return _Axis(low, high, drawing.x_title, (0.0, PLOT_WIDTH))


def _up(answer: FitAnswer) -> _Axis:
    drawing = answer.drawing
    points = [float(v) for p in drawing.points for v in p.y]
    curves = [float(v) for c in drawing.curves for v in c.y]
    bands = [float(v) for c in drawing.curves for side in (c.low, c.high) if side is not None for v in side]
    held = [*points, *curves]
    low, high = min(held), max(held)
    span = (high - low) or abs(high) or 1.0
    # a band that runs away is cut, so that the points stay legible
    held += [min(max(v, low - 0.3 * span), high + 0.3 * span) for v in bands]
    low, high = _ends(held, 0.05)
    low = 0.0 if 0 <= min(held) < 0.4 * max(held) else low
    return _Axis(low, high, drawing.y_title, (HEIGHT, 0.0))


def _grid(x: _Axis, y: _Axis) -> Spec:
    rows = [{"x": x.low, "x2": x.high, "y": value} for value in y.ticks]
    encoding = {"x": x.channel("x"), "x2": {"field": "x2"}, "y": y.channel("y", upright=True)}
    return style.layer(rows, "rule", encoding, color=style.GRID)


def _band(x: _Axis, y: _Axis, c: Curve) -> Spec:
    assert c.low is not None  # asked for only where there is one
    assert c.high is not None
    rows = [
        {"x": style.tidy(float(a)), "y": style.tidy(float(np.clip(bottom, y.low, y.high))),
         "y2": style.tidy(float(np.clip(top, y.low, y.high)))}
        for a, bottom, top in zip(c.x, c.low, c.high, strict=True)
    ]  # fmt: skip
    encoding = {"x": x.channel("x"), "y": y.channel("y", upright=True), "y2": {"field": "y2"}}
    return style.layer(rows, "area", encoding, color=style.AIR, opacity=0.55)


def _curve(x: _Axis, y: _Axis, c: Curve, k: int) -> Spec:
    rows = [
        {"x": style.tidy(float(a)), "y": style.tidy(float(b))}
        for a, b in zip(c.x, c.y, strict=True)
        if y.low <= b <= y.high
    ]
    encoding = {"x": x.channel("x"), "y": y.channel("y", upright=True)}
    dash = style.DASHES[k % len(style.DASHES)]
    return style.layer(rows, "line", encoding, color=style.INK, strokeWidth=1.6, strokeDash=dash)


def _points(x: _Axis, y: _Axis, p: Points, k: int) -> list[Spec]:
    encoding = {"x": x.channel("x"), "y": y.channel("y", upright=True)}
    layers = []
    for apart, fill in ((False, style.INK), (True, "white")):
        rows = [
            {"x": style.tidy(float(a)), "y": style.tidy(float(b))}
            for n, (a, b) in enumerate(zip(p.x, p.y, strict=True))
            if (n in p.apart) == apart
        ]
        if rows:
            look = {"shape": style.SHAPES[k % len(style.SHAPES)], "size": 42, "stroke": style.INK}
            layers.append(
                style.layer(rows, "point", encoding, fill=fill, strokeWidth=1.2, opacity=0.85, **look)
            )
    return layers


def _marks(x: _Axis, y: _Axis, answer: FitAnswer) -> list[Spec]:
    marks = answer.drawing.marks
    if not marks:
        return []
    encoding = {"x": x.channel("x"), "y": {"value": 0}, "y2": {"value": "height"}}
    rows = [{"x": mark.x} for mark in marks]
    rule = style.layer(
        rows, "rule", encoding, color=style.WATER_INK, strokeWidth=1.4, strokeDash=style.LIMIT_DASH
    )
    words = []
    for k, mark in enumerate(sorted(marks, key=lambda mark: mark.x)):
        wide = style.text_width(mark.text, style.SIZE_SMALL)
        left = min(x.place(mark.x), style.VIEW_WIDTH - wide)
        up = 9 + 14 * (min(len(marks), _MARK_ROWS) - 1 - k % _MARK_ROWS)
        words.append({"x": x.value(left), "y": y.value(-up), "text": mark.text})
    at = (x.channel("x"), y.channel("y", upright=True))
    return [rule, *style.texts(words, *at, halo=False, color=style.WATER_INK)]


def _names(x: _Axis, y: _Axis, answer: FitAnswer, series: Sequence[str]) -> list[Spec]:
    """Each series' name at its end, with its shape before it, moved apart where they would touch."""
    drawing = answer.drawing
    ends: dict[str, float] = {}
    for part in _parts(answer):
        if part.x.size:
            ends[part.name] = y.place(float(np.clip(part.y[int(np.argmax(part.x))], y.low, y.high)))
    measured = {part.name for part in drawing.points}
    ordered = sorted(ends, key=lambda name: ends[name])
    room = NAMES_WIDTH - OFF_PLOT - 16
    blocks = [style.wrapped(name, room, style.SIZE_SMALL, bold=True) for name in ordered]
    sizes = [style.block_height(len(block), style.SIZE_SMALL) + 2 for block in blocks]
    middles = spread([ends[name] for name in ordered], sizes, -6.0, HEIGHT + 6.0)
    words, layers = [], []
    row = style.SIZE_SMALL * style.LINE_HEIGHT
    encoding = {"x": x.channel("x"), "y": y.channel("y", upright=True)}
    for name, block, middle in zip(ordered, blocks, middles, strict=True):
        first = middle - (len(block) - 1) * row / 2
        words.append(
            {"x": x.value(PLOT_WIDTH + OFF_PLOT + 14), "y": y.value(first), "text": "\n".join(block)}
        )
        if name in measured:
            sign = [{"x": x.value(PLOT_WIDTH + OFF_PLOT + 4), "y": y.value(first)}]
            shape = style.SHAPES[series.index(name) % len(style.SHAPES)]
            layers.append(style.layer(sign, "point", encoding, shape=shape, size=42, fill=style.INK, stroke=style.INK,
                                      opacity=1))  # fmt: skip
    at = (x.channel("x"), y.channel("y", upright=True))
    return [*layers, *style.texts(words, *at, halo=False, fontWeight="bold", lineHeight=row)]


def _residuals(x: _Axis, answer: FitAnswer, series: Sequence[str]) -> Spec:
    drawing = answer.drawing
    held = [
        Points(p.name, p.x, p.y - p.predicted, p.apart) for p in drawing.points if p.predicted is not None
    ]
    most = max((float(np.max(np.abs(p.y))) for p in held if p.y.size), default=1.0) or 1.0
    unit = f", {drawing.residual_title}" if drawing.residual_title else ""
    y = _Axis(-1.15 * most, 1.15 * most, "", (RESIDUAL_HEIGHT, 0.0))
    across = _Axis(x.low, x.high, "", x.pixels)
    zero = style.layer(
        [{"x": x.low, "x2": x.high, "y": 0.0}],
        "rule",
        {"x": across.channel("x"), "x2": {"field": "x2"}, "y": y.channel("y", upright=True)},
        color=style.LINE,
    )
    layers = [zero, *(layer for p in held for layer in _points(across, y, p, series.index(p.name)))]
    title = {
        "text": f"residuals: measured less fitted{unit}",
        "fontSize": style.SIZE_SMALL,
        "fontWeight": "normal",
    }
    return {"width": style.VIEW_WIDTH, "height": RESIDUAL_HEIGHT, "title": title, "layer": layers}
