"""Isotherms of one product's layers with their states: as packed, and sealed together at rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.water_report import ROOM, LayerWater, WaterReport
from hardtack.pictures import style
from hardtack.pictures.placing import Box, spread
from hardtack.pictures.style import Spec
from hardtack.states import Floats
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import activity_limit, moisture

HEIGHT = 400.0
NAMES_WIDTH = 150.0
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH
OFF_PLOT = 8.0
"""From the plot's edge to the names [px]."""
LONG = 60
"""Letters beyond which the words of a glass are broken into lines."""
GLASS_WORDS = len("Tg of the  comes down to 25 °C at 0.00")
WORDS_WIDTH = 240.0
"""Widest name beside a shape, and widest line of words on the axis [px]."""
POINTS = 181
ROW = style.SIZE_SMALL * style.LINE_HEIGHT
"""Height of a line of small text [px]."""
TIED = 16.0
"""Words further than this from their shape are tied to it by a line [px]."""
LEAST_WET, MOST_WET = 0.75, 0.95
"""Activities up to which the plot reaches at least and at most: further up moisture leaves every scale."""
DRY_ROOM = 0.4
"""Activity shown at least below the driest state; a plot that would start below 0.2 starts at 0."""


@dataclass(frozen=True, slots=True)
class _Line:
    """One isotherm of the picture, for the layers that share it and their state."""

    names: tuple[str, ...]
    layer: LayerWater
    rest: float | None
    a: Floats
    percent: Floats
    """Moisture [% dry basis] over the activities `a`."""

    @property
    def label(self) -> str:
        return ", ".join(self.names)


@dataclass(frozen=True, slots=True)
class _Plot:
    """The ranges shown: activity dry..wet, moisture 0..high [% dry basis]."""

    dry: float
    wet: float
    high: float

    @property
    def x(self) -> Spec:
        ticks = [round(0.1 * k, 1) for k in range(round(10 * self.dry), int(10 * self.wet + 1e-9) + 1)]
        axis = {"values": ticks, "format": ".1f", "title": "water activity at 25 °C", "titlePadding": 8}
        return style.at("a", style.scale(self.dry, self.wet, (0, PLOT_WIDTH)), axis)

    @property
    def ticks(self) -> list[float]:
        step = style.step_for(self.high, 8)
        return [step * k for k in range(int(self.high / step + 1e-9) + 1)]

    def y(self, field: str) -> Spec:
        """The upright channel of a field."""
        axis = {
            "values": self.ticks,
            "title": "moisture, % dry basis (g water per 100 g dry solid)",
            "titleX": style.AXIS_TITLE,
            "minExtent": style.AXIS,
            "maxExtent": style.AXIS,
        }
        return style.at(field, style.scale(0, self.high, (HEIGHT, 0)), axis)

    def right(self, a: Floats | float) -> Floats:
        """Pixels from the left."""
        return np.asarray(PLOT_WIDTH * (np.asarray(a) - self.dry) / (self.wet - self.dry))

    def activity(self, pixels: float) -> float:
        """Activity at so many pixels from the left."""
        return self.dry + pixels / PLOT_WIDTH * (self.wet - self.dry)

    def down(self, percent: Floats | float) -> Floats:
        """Pixels from the top."""
        return np.asarray(HEIGHT * (1.0 - np.asarray(percent) / self.high))


def isotherm_picture(report: WaterReport) -> Spec:
    """Every layer's isotherm at 25 °C, its state as packed, and the common activity of several layers."""
    lines, plot = _lines(report)
    view = {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT,
        "layer": [
            *_errors(plot, lines),
            _grid(plot),
            *_common(plot, report),
            *(part for k, line in enumerate(lines) for part in _line(plot, line, k)),
            *_softening(plot, lines, report.rest.activity if report.rest else None),
            *_names(plot, lines),
            *_states(plot, lines, report.rest.activity if report.rest else None),
        ],
        "title": {
            "text": style.balanced(_title(report), style.VIEW_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.wrapped(_note(report), style.VIEW_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 22,
        },
    }
    return style.whole(view, description(report))


def description(report: WaterReport) -> str:
    """The picture in sentences, for those who hear it."""
    told = [_title(report)]
    for layer in report.layers:
        told.append(
            f"The {layer.name} holds {100 * layer.moisture:.1f} percent water on dry basis at water activity "
            f"{layer.activity:.2f}."
        )
    if report.rest is not None:
        for layer, X in zip(report.layers, report.rest.moistures, strict=True):
            told.append(f"At rest the {layer.name} holds {100 * X:.1f} percent.")
    return " ".join(told)


def _title(report: WaterReport) -> str:
    if report.rest is None:
        (layer,) = report.layers
        return f"{report.product}: the {layer.name} stands at water activity {layer.activity:.2f} as packed"
    common = f"{report.rest.activity:.2f}"
    return f"{report.product}: left to rest together, all come to share water activity {common}"


def _note(report: WaterReport) -> str:
    computed = [layer for layer in report.layers if layer.isotherm.activity_sd is not None]
    note = "Isotherms at 25 °C. Filled shapes: as packed"
    note += "; open shapes: sealed together at rest, no water lost. " if report.rest is not None else ". "
    if computed:
        widest = max(layer.isotherm.activity_sd or 0.0 for layer in computed)
        note += f"Grey bands: error of isotherms computed from a formula, up to ±{widest:.2g} in activity."
    return note


def _lines(report: WaterReport) -> tuple[list[_Line], _Plot]:
    """One line for layers alike in isotherm and state, and the ranges that hold what matters."""
    rests: Sequence[float | None] = report.rest.moistures if report.rest else (None,) * len(report.layers)
    states = [layer.activity for layer in report.layers]
    wet = min(MOST_WET, max(LEAST_WET, math.ceil(20 * (max(states) + 0.02)) / 20))
    dry = math.floor(10 * (min(states) - DRY_ROOM)) / 10
    dry = dry if dry >= 0.2 else 0.0
    groups: dict[tuple[str, str, float, float], list[tuple[LayerWater, float | None]]] = {}
    for layer, rest in zip(report.layers, rests, strict=True):
        alike = (layer.isotherm.name, layer.formula, layer.moisture, layer.activity)
        groups.setdefault(alike, []).append((layer, rest))
    lines = []
    for members in groups.values():
        layer, rest = members[0]
        a = np.linspace(dry, min(wet, activity_limit(layer.isotherm, ROOM) - 1e-6), POINTS)[1:]
        percent = 100.0 * moisture(layer.isotherm, a, ROOM)
        lines.append(_Line(tuple(each.name for each, _ in members), layer, rest, a, percent))
    shown = [100 * layer.moisture for layer in report.layers]
    high = 1.06 * max([*shown, *(float(line.percent[-1]) for line in lines)])
    return lines, _Plot(dry, wet, high)


def _rows(a: Floats, percent: Floats) -> list[Spec]:
    return [{"a": style.tidy(float(x)), "X": style.tidy(float(y))} for x, y in zip(a, percent, strict=True)]


def _errors(plot: _Plot, lines: Sequence[_Line]) -> list[Spec]:
    """The stated error as a band beside each isotherm from a formula, fading at both ends."""
    bands = []
    for line in lines:
        error = line.layer.isotherm.activity_sd
        if error is None:
            continue
        move = error * np.minimum(1.0, np.minimum(line.a, 1.0 - line.a) / (2.0 * error))
        rows = [
            {"a": style.tidy(max(plot.dry, low)), "a2": style.tidy(min(plot.wet, high)), "X": style.tidy(y)}
            for low, high, y in zip(line.a - move, line.a + move, line.percent, strict=True)
        ]
        encoding = {"x": plot.x, "x2": {"field": "a2"}, "y": plot.y("X")}
        bands.append(style.layer(rows, "area", encoding, orient="horizontal", color=style.AIR, opacity=0.55))
    return bands


def _grid(plot: _Plot) -> Spec:
    rows = [{"a": plot.dry, "a2": plot.wet, "X": value} for value in plot.ticks]
    encoding = {"x": plot.x, "x2": {"field": "a2"}, "y": plot.y("X")}
    return style.layer(rows, "rule", encoding, color=style.GRID)


def _common(plot: _Plot, report: WaterReport) -> list[Spec]:
    """The common activity as an upright line with its words above the plot."""
    if report.rest is None:
        return []
    a = report.rest.activity
    encoding = {"x": plot.x, "y": {"value": 0}, "y2": {"value": "height"}}
    rule = style.layer([{"a": a}], "rule", encoding, color=style.WATER_INK, strokeWidth=1.5)
    words = [{"a": a, "X": plot.high * (1 + 9 / HEIGHT), "text": f"common activity at rest {a:.2f}"}]
    return [
        rule,
        *style.texts(words, plot.x, plot.y("X"), halo=False, align="center", color=style.WATER_INK),
    ]


def _line(plot: _Plot, line: _Line, k: int) -> list[Spec]:
    """The isotherm, with a shape for the state as packed and an open one for the state at rest."""
    dash, shape = style.DASHES[k % len(style.DASHES)], style.SHAPES[k % len(style.SHAPES)]
    where = {"x": plot.x, "y": plot.y("X")}
    look = {"color": style.INK, "strokeWidth": 2, "strokeDash": dash}
    parts = [style.layer(_rows(line.a, line.percent), "line", where, **look)]
    mark = {"shape": shape, "size": 90, "stroke": style.INK, "strokeWidth": 1.8, "opacity": 1}
    packed = [{"a": line.layer.activity, "X": 100 * line.layer.moisture}]
    parts.append(style.layer(packed, "point", where, fill=style.INK, **mark))
    if line.rest is not None:
        rest = [{"a": _activity_at(line, line.rest), "X": 100 * line.rest}]
        parts.append(style.layer(rest, "point", where, fill="white", **mark))
    return parts


def _activity_at(line: _Line, X: float) -> float:
    """Where a moisture stands on the drawn curve."""
    return float(np.interp(100 * X, line.percent, line.a))


def _softening(plot: _Plot, lines: Sequence[_Line], common: float | None) -> list[Spec]:
    """A dashed line from the axis up to the isotherm where its glass softens at 25 °C.

    Its words stand to the right, or left where they would cross the common activity or leave the plot.
    """
    rows: list[Spec] = []
    words: dict[str, list[Spec]] = {"left": [], "right": []}
    for line in lines:
        glass = line.layer.glass
        if glass is None or glass.activity is None or glass.moisture is None:
            continue
        if not plot.dry < glass.activity <= plot.wet:
            continue
        rows.append({"a": glass.activity, "X": 100 * glass.moisture, "low": 0.0})
        text = f"Tg of the {line.label} comes down to {celsius(ROOM):.0f} °C at {glass.activity:.2f}"
        told = style.wrapped(text, WORDS_WIDTH, style.SIZE_SMALL) if len(text) > LONG else [text]
        start = float(plot.right(glass.activity))
        end = start + 5 + max(style.text_width(part, style.SIZE_SMALL) for part in told)
        crossed = common is not None and start < float(plot.right(common)) < end
        align = "right" if (crossed or end > PLOT_WIDTH) and 2 * start > end else "left"
        place = start + (5 if align == "left" else -5)
        up = 9 + (len(told) - 1) * ROW
        words[align].append(
            {"a": plot.activity(place), "X": plot.high * up / HEIGHT, "text": "\n".join(told)}
        )
    encoding = {"x": plot.x, "y": plot.y("X"), "y2": {"field": "low"}}
    rule = style.layer(rows, "rule", encoding, color=style.SOFT, strokeDash=style.LIMIT_DASH, strokeWidth=1.2)
    if not rows:
        return []
    return [
        rule,
        *style.texts(words["left"], plot.x, plot.y("X"), color=style.SOFT, lineHeight=ROW),
        *style.texts(words["right"], plot.x, plot.y("X"), color=style.SOFT, lineHeight=ROW, align="right"),
    ]


def _names(plot: _Plot, lines: Sequence[_Line]) -> list[Spec]:
    """Each isotherm's name at its end, moved apart where they would touch."""
    room = NAMES_WIDTH - OFF_PLOT - 4
    ordered = sorted(lines, key=lambda line: -float(line.percent[-1]))
    blocks = [style.wrapped(line.label, room, style.SIZE_SMALL, bold=True) for line in ordered]
    sizes = [style.block_height(len(block), style.SIZE_SMALL) + 2 for block in blocks]
    middles = spread([float(plot.down(line.percent[-1])) for line in ordered], sizes, -6.0, HEIGHT + 6.0)
    out = plot.activity(PLOT_WIDTH + OFF_PLOT)
    rows = []
    for block, middle in zip(blocks, middles, strict=True):
        first = middle - (len(block) - 1) * style.SIZE_SMALL * style.LINE_HEIGHT / 2
        rows.append({"a": out, "X": plot.high * (1 - first / HEIGHT), "text": "\n".join(block)})
    height = style.SIZE_SMALL * style.LINE_HEIGHT
    return style.texts(rows, plot.x, plot.y("X"), halo=False, fontWeight="bold", lineHeight=height)


def _states(plot: _Plot, lines: Sequence[_Line], common: float | None) -> list[Spec]:
    """The numbers of each state beside its shape, where least is drawn."""
    curves = [(plot.right(line.a), plot.down(line.percent)) for line in lines]
    if common is not None:
        height = np.arange(0.0, HEIGHT, 4.0)
        curves.append((np.full_like(height, plot.right(common)), height))
    floor = HEIGHT - 18 - (ROW if any(len(line.label) > LONG - GLASS_WORDS for line in lines) else 0)
    points = [(line.layer.activity, line.layer.moisture, line, "packed: ") for line in lines]
    points += [
        (_activity_at(line, line.rest), line.rest, line, "at rest: ")
        for line in lines
        if line.rest is not None
    ]
    spots = [(float(plot.right(a)), float(plot.down(100 * X))) for a, X, _, _ in points]
    taken = [Box(x - 7, y - 7, 14, 14) for x, y in spots]
    rows: list[Spec] = []
    ties: list[Spec] = []
    for (a, X, line, head), (x, y) in zip(points, spots, strict=True):
        told = style.wrapped(line.label, WORDS_WIDTH, style.SIZE_SMALL) if len(lines) > 1 else []
        told.append(f"{head}{a:.2f}, {100 * X:.1f} % db ({100 * wet_basis(X):.1f} % wb)")
        width = max(style.text_width(text, style.SIZE_SMALL) for text in told)
        box = _beside((x, y), (width, len(told) * ROW), curves, taken, floor)
        taken.append(box)
        first = box.top + ROW / 2
        place = {"a": plot.activity(box.left), "X": plot.high * (1 - first / HEIGHT)}
        rows.append({**place, "text": "\n".join(told)})
        near = (min(max(x, box.left), box.left + width), min(max(y, box.top), box.top + box.height))
        if math.dist(near, (x, y)) > TIED:
            tie = {"a": a, "a2": plot.activity(near[0]), "X": 100 * X}
            ties.append({**tie, "X2": plot.high * (1 - near[1] / HEIGHT)})
    to = {"x": plot.x, "x2": {"field": "a2"}, "y": plot.y("X"), "y2": {"field": "X2"}}
    return [
        style.layer(ties, "rule", to, color=style.LINE),
        *style.texts(rows, plot.x, plot.y("X"), lineHeight=ROW),
    ]


def _beside(
    spot: tuple[float, float],
    size: tuple[float, float],
    curves: Sequence[tuple[Floats, Floats]],
    taken: Sequence[Box],
    floor: float,
) -> Box:
    """A box near the spot [px] that covers least of the curves and of what is taken."""
    (x, y), (width, height) = spot, size
    best: tuple[float, Box] | None = None
    for far in (0.0, 14.0, 28.0, 44.0, 64.0, 90.0, 120.0, 160.0, 200.0):
        for left in (x + 11, x - width - 11, x - width / 2):
            for top in (y + 4 + far, y - height - 4 - far):
                box = Box(left, top, width, height)
                outside = left < 2 or left + width > PLOT_WIDTH or top < 2 or top + height > floor
                cost = 1e5 * outside + far + sum(box.overlap(other) for other in taken)
                cost += 20.0 * sum(
                    np.count_nonzero(
                        (xs > left - 3) & (xs < left + width + 3) & (ys > top - 3) & (ys < top + height + 3)
                    )
                    for xs, ys in curves
                )
                if best is None or cost < best[0]:
                    best = (float(cost), box)
    assert best is not None  # the loop tries several places
    return best[1]
