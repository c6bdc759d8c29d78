"""One look for every picture: type, greys, dashes, shapes, and how wide a text will be.

Nothing is told by colour alone: lines differ by dash and end in their name, so a picture prints in grey.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

Spec = dict[str, Any]
"""A Vega-Lite specification, or a part of one."""

SCHEMA = "https://vega.github.io/schema/vega-lite/v5.20.json"
FONT = "DejaVu Sans, Verdana, sans-serif"

INK = "#1a1a1a"
SOFT = "#595959"
"""Second voice: still 7 to 1 against white, so small type stays readable."""
LINE = "#8a8a8a"
GRID = "#e3e3e3"
BAND = "#f2f2f2"
AIR = "#d9d9d9"
WATER = "#c3d5e2"
WATER_RISING = "#e6eef4"
WATER_INK = "#1d4766"

PICTURE_WIDTH = 900
PADDING = 14
AXIS = 48
"""Room left of every view for its axis [px]."""
AXIS_TITLE = -38.0
"""Where every upright axis title stands, from the view's left edge [px]."""
VIEW_WIDTH = PICTURE_WIDTH - 2 * PADDING - AXIS - 2  # the axis counts a pixel at each side

TEXT_WIDTH = PICTURE_WIDTH - 2 * PADDING - 20
"""Widest line of a title or note [px]."""

SIZE_TITLE = 15
SIZE_HEAD = 13
SIZE_TEXT = 12
SIZE_SMALL = 11
LINE_HEIGHT = 1.28

DASHES: tuple[list[int], ...] = ([1, 0], [9, 3], [3, 3], [12, 3, 2, 3], [6, 2, 2, 2, 2, 2])
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
LIMIT_DASH = [7, 5]

# Advance widths of DejaVu Sans in hundredths of the size, by the font's own table; others count as 64.
_ADVANCE = {
    sign: width
    for width, signs in {
        28: "'ijlIJ",
        32: " ,.·",
        35: "/:;\\|f-",
        39: "()[]t!",
        44: '"r',
        51: "*_`°–sz?",
        56: "cLFk",
        60: "vxyPTYaoe",
        69: "KAVBRXZC",
        76: "UHNDG&OQ",
        83: "w#+<=>^~±M",
        97: "%mW@",
    }.items()
    for sign in signs
}


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of text [px], near enough to place it."""
    hundredths = sum(_ADVANCE.get(sign, 64) for sign in text)
    return hundredths * size / 100 * (1.12 if bold else 1.0)


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width` [px]; a longer word stays whole.

    A no-break space (U+00A0) holds its words together.
    """
    lines: list[str] = []
    for word in text.split(" ") if text else []:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def balanced(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """As many lines as `wrapped` gives, the last one no mere scrap: at least a third of the widest."""
    lines = wrapped(text, width, size, bold)
    tried = width
    while len(lines) > 1 and text_width(lines[-1], size, bold) < width / 3:
        tried -= 10
        narrower = wrapped(text, tried, size, bold)
        if len(narrower) > len(lines):
            break
        lines = narrower
    return lines


def shortened(text: str, width: float, size: float, bold: bool = False) -> str:
    """The text, cut with an ellipsis where it is wider than `width` [px]."""
    if text_width(text, size, bold) <= width:
        return text
    while text and text_width(text + "…", size, bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def block_height(lines: int, size: float) -> float:
    """Height of so many lines of text [px]."""
    return lines * size * LINE_HEIGHT


def tidy(value: float) -> float:
    """Five significant digits: finer than a picture shows, and the file stays small."""
    return float(f"{value:.5g}")


def step_for(span: float, most: int, steps: Sequence[float] = (1, 2, 5)) -> float:
    """The least of `steps`, at any power of ten, that cuts `span` into at most `most` parts."""
    power = 10.0 ** math.floor(math.log10(span / most))
    enough = [power * factor for factor in (*steps, 10) if span / (power * factor) <= most + 1e-9]
    return enough[0]


def tenths(low: float, high: float) -> tuple[float, float]:
    """Tenths of activity that hold both with a little room, and never fewer than three."""
    bottom, top = max(0, math.floor(10 * (low - 0.02))), min(10, math.ceil(10 * (high + 0.02)))
    while top - bottom < 3:
        bottom, top = max(0, bottom - 1), min(10, top + 1)
    return bottom / 10, top / 10


def scale(low: float, high: float, pixels: tuple[float, float]) -> Spec:
    """A scale from values to pixels that nothing rounds or widens."""
    return {"domain": [low, high], "range": list(pixels), "nice": False, "zero": False}


def at(field: str, scaled: Spec, axis: Spec | None = None) -> Spec:
    """A position channel."""
    return {"field": field, "type": "quantitative", "scale": scaled, "axis": axis}


def layer(rows: Sequence[Spec], mark: str, encoding: Spec, **look: Any) -> Spec:
    """One layer: its rows, its mark with its look, and where things go."""
    return {"data": {"values": list(rows)}, "mark": {"type": mark, **look}, "encoding": encoding}


def texts(rows: Sequence[Spec], x: Spec, y: Spec, *, halo: bool = True, **look: Any) -> list[Spec]:
    """Rows of `x`, `y`, `text` as words, over a white halo so that lines do not cut them."""
    encoding = {"x": x, "y": y, "text": {"field": "text", "type": "nominal"}}
    settings = {"fontSize": SIZE_SMALL, "color": INK, "lineBreak": "\n", "align": "left", **look}
    under = {**settings, "stroke": "white", "strokeWidth": 4, "strokeJoin": "round", "color": "white"}
    layers = [layer(rows, "text", encoding, **settings)]
    return [layer(rows, "text", encoding, **under), *layers] if halo else layers


def config() -> Spec:
    """What every picture shares."""
    words = {"font": FONT, "color": INK}
    return {
        "font": FONT,
        "aria": False,  # the figure as a whole is described; its marks are not read out one by one
        "background": "white",
        "view": {"stroke": None},
        "text": {**words, "baseline": "middle"},
        "title": {
            **words,
            "anchor": "start",
            "fontSize": SIZE_HEAD,
            "fontWeight": "bold",
            "lineHeight": SIZE_HEAD * LINE_HEIGHT,
            "subtitleFont": FONT,
            "subtitleColor": SOFT,
            "subtitleFontSize": SIZE_SMALL,
            "subtitleLineHeight": SIZE_SMALL * LINE_HEIGHT,
            "subtitlePadding": 5,
            "offset": 10,
        },
        "axis": {
            "labelFont": FONT,
            "titleFont": FONT,
            "labelColor": INK,
            "titleColor": INK,
            "labelFontSize": SIZE_SMALL,
            "titleFontSize": SIZE_SMALL,
            "titleFontWeight": "normal",
            "domain": False,
            "grid": False,
            "tickColor": LINE,
            "tickSize": 4,
            "labelPadding": 4,
        },
    }


def whole(view: Spec, description: str) -> Spec:
    """A view as a picture that stands alone."""
    return {
        "$schema": SCHEMA,
        "description": description,
        "padding": PADDING,
        "config": config(),
        **view,
    }


def retitled(spec: Spec, text: str) -> Spec:
    """A picture under a short title, where the sentence that heads it stands beside it already."""
    title = spec.get("title")
    return {**spec, "title": {**title, "text": text}} if isinstance(title, dict) else spec
