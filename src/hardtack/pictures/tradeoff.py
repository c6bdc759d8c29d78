"""Two inputs against each other: lines of equal days, the frontier of the wanted days, what fails first where."""

from __future__ import annotations

import math

import numpy as np

from hardtack.keeping.tradeoff import Axis, Tradeoff
from hardtack.pictures import style
from hardtack.pictures.contours import Point, contour
from hardtack.pictures.style import Spec

HEIGHT = 420.0
LEGEND = 200.0
PLOT_WIDTH = style.VIEW_WIDTH - LEGEND
LEVELS = (2, 3, 5, 7, 10, 14, 21, 30, 45, 60, 90, 120, 150, 180, 240, 300, 365, 540, 730)
MOST_LINES = 8
SOON = 20.0
"""Days."""
FRONTIER_SPACE = 0.3
"""A line of days nearer to the wanted days than this share is left to the frontier."""


def table(answer: Tradeoff) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a point of the map, then one a point of the frontier."""
    a, b = (axis.title for axis in (answer.a, answer.b))
    rows: list[dict[str, object]] = [
        {
            a: float(x),
            b: float(y),
            "days": float(answer.days[i, j]) if math.isfinite(answer.days[i, j]) else None,
            "fails first": answer.first[i][j] or None,
        }
        for i, x in enumerate(answer.a.values)
        for j, y in enumerate(answer.b.values)
    ]
    return rows + [{a: x, b: y, "days": answer.wanted, "frontier": True} for x, y in answer.frontier]


def description(answer: Tradeoff) -> str:
    """The picture in sentences, for those who hear it."""
    names = list(dict.fromkeys(name for row in answer.first for name in row if name))
    return f"{answer.sentence} What fails first somewhere on the map: {'; '.join(names) or 'nothing'}."


def tradeoff_picture(answer: Tradeoff) -> Spec:
    """Lines of equal days over both inputs; a mark at every point computed, by what fails first there."""
    x = _position("b", answer.b, (0.0, PLOT_WIDTH))
    y = _position("a", answer.a, (HEIGHT, 0.0))
    layers: list[Spec] = []
    labels: list[Spec] = []
    order = {"field": "n", "type": "quantitative"}
    for level, line in _lines(answer):
        rows = [{"b": style.tidy(p[0]), "a": style.tidy(p[1]), "n": k} for k, p in enumerate(line)]
        layers.append(
            style.layer(rows, "line", {"x": x, "y": y, "order": order}, color=style.LINE, strokeWidth=1.2)
        )
        _label(labels, rows, f"{level} d", answer)
    layers += _marks(answer, x, y)
    if answer.frontier:
        rows = [{"b": style.tidy(q), "a": style.tidy(p), "n": k} for k, (p, q) in enumerate(answer.frontier)]
        layers.append(
            style.layer(rows, "line", {"x": x, "y": y, "order": order}, color=style.INK, strokeWidth=2.6)
        )
        labels[:] = [one for one in labels if not _near(one, rows[len(rows) // 2], answer)]
        _label(labels, rows, f"{answer.wanted:g} d wanted", answer)
    layers.append(_now(answer, x, y))
    layers += style.texts(labels, x, y, align="center", fontWeight="bold")
    layers += _legend(answer, x, y)
    figure = {"title": _title(answer), "width": style.VIEW_WIDTH, "height": HEIGHT, "layer": layers}
    return style.whole(figure, description(answer))


def _label(labels: list[Spec], rows: list[Spec], text: str, answer: Tradeoff) -> None:
    """Name a line near its middle, where no other name stands; a line too close to others goes without."""
    for row in sorted(rows, key=lambda row: abs(row["n"] - len(rows) // 2)):
        if not any(_near(one, row, answer) for one in labels):
            labels.append({"b": row["b"], "a": row["a"], "text": text})
            return


def _near(one: Spec, other: Spec, answer: Tradeoff) -> bool:
    across = abs(one["b"] - other["b"]) / float(answer.b.values[-1] - answer.b.values[0]) * PLOT_WIDTH
    down = abs(one["a"] - other["a"]) / float(answer.a.values[-1] - answer.a.values[0]) * HEIGHT
    return bool(across < 70 and down < 16)


def _position(field: str, axis: Axis, pixels: tuple[float, float]) -> Spec:
    low, high = float(axis.values[0]), float(axis.values[-1])
    step = style.step_for(high - low, 8)
    ticks = np.arange(math.ceil(low / step - 1e-9) * step, high + 1e-9 * step, step)
    look: Spec = {
        "values": [style.tidy(float(t)) for t in ticks],
        "title": axis.title,
        "format": "~r",
    }
    if field == "a":
        look |= {"titleX": style.AXIS_TITLE, "minExtent": style.AXIS, "maxExtent": style.AXIS}
    return style.at(field, style.scale(low, high, pixels), look)


def _lines(answer: Tradeoff) -> list[tuple[int, list[Point]]]:
    """Lines of equal days, the longest piece of each; those too near the frontier are left out."""
    # between the points the pace goes nearly straight; SOON keeps it finite where it fails at once
    pace = 1.0 / (answer.days + SOON)
    drawn = []
    for level in LEVELS:
        if answer.frontier and answer.wanted and abs(level / answer.wanted - 1.0) < FRONTIER_SPACE:
            continue
        lines = contour(answer.b.values, answer.a.values, pace, 1.0 / (level + SOON))
        if lines:
            drawn.append((level, max(lines, key=len)))
    while len(drawn) > MOST_LINES:
        drawn = drawn[::2]
    return drawn


def _names(answer: Tradeoff) -> list[str]:
    """What fails first somewhere, nothing last."""
    return sorted(dict.fromkeys(name for row in answer.first for name in row), key=lambda name: not name)


def _marks(answer: Tradeoff, x: Spec, y: Spec) -> list[Spec]:
    layers = []
    for k, name in enumerate(_names(answer)):
        rows = [
            {"b": float(q), "a": float(p)}
            for i, p in enumerate(answer.a.values)
            for j, q in enumerate(answer.b.values)
            if answer.first[i][j] == name
        ]
        layers.append(_shape(rows, x, y, k))
    return layers


def _shape(rows: list[Spec], x: Spec, y: Spec, k: int) -> Spec:
    shape = style.SHAPES[k % len(style.SHAPES)]
    return style.layer(rows, "point", {"x": x, "y": y}, shape=shape, size=26, color=style.SOFT, filled=k == 0)


def _now(answer: Tradeoff, x: Spec, y: Spec) -> Spec:
    """Where the file stands."""
    inside = all(axis.values[0] <= axis.now <= axis.values[-1] for axis in (answer.a, answer.b))
    rows = [{"b": answer.b.now, "a": answer.a.now}] if inside else []
    return style.layer(
        rows, "point", {"x": x, "y": y}, shape="diamond", size=150, color=style.WATER_INK, filled=True
    )


def _legend(answer: Tradeoff, x: Spec, y: Spec) -> list[Spec]:
    """What the marks mean, at the right."""
    per_pixel_b = float(answer.b.values[-1] - answer.b.values[0]) / PLOT_WIDTH
    per_pixel_a = float(answer.a.values[-1] - answer.a.values[0]) / HEIGHT
    right, top = float(answer.b.values[-1]), float(answer.a.values[-1])
    layers, texts = [], []
    entries = [name or "nothing within three years" for name in _names(answer)]
    for k, name in enumerate(("as the file stands", *entries)):
        at = {"b": right + 20 * per_pixel_b, "a": top - (10 + 22 * k) * per_pixel_a}
        if k == 0:
            layers.append(
                style.layer(
                    [at],
                    "point",
                    {"x": x, "y": y},
                    shape="diamond",
                    size=150,
                    color=style.WATER_INK,
                    filled=True,
                )
            )
        else:
            layers.append(_shape([at], x, y, k - 1))
        words = style.shortened(name, LEGEND - 40, style.SIZE_SMALL)
        texts.append({**at, "b": right + 32 * per_pixel_b, "text": words})
    return [*layers, *style.texts(texts, x, y, halo=False)]


def _title(answer: Tradeoff) -> Spec:
    note = "Lines: days from packing to the first failure. Marks: points computed, by what fails first there."
    return {
        "text": style.balanced(answer.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
        "subtitle": style.balanced(" ".join((note, *answer.remarks)), style.TEXT_WIDTH, style.SIZE_SMALL),
        "fontSize": style.SIZE_TITLE,
        "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
        "offset": 14,
    }
