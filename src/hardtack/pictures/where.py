"""Where it can be sold: lines of equal days over temperature and humidity of the store, places among them."""

from __future__ import annotations

import math

import numpy as np

from hardtack.keeping.where import Place, Where
from hardtack.pictures import style
from hardtack.pictures.contours import Point, contour
from hardtack.pictures.placing import Box, spread
from hardtack.pictures.style import Spec
from hardtack.states import Floats
from hardtack.units import celsius

HEIGHT = 430.0
NAMES_WIDTH = 190.0
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH
LEVELS = (7, 14, 21, 30, 45, 60, 90, 120, 180, 270, 365, 540, 730)
"""Days the lines may stand for; at most eight of them are drawn."""
MOST_LINES = 8


def table(where: Where) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a climate of the grid, then one a place."""
    rows: list[dict[str, object]] = [
        {
            "temperature [°C]": celsius(float(T)),
            "humidity": float(RH),
            "days": float(where.days[i, j]) if math.isfinite(where.days[i, j]) else None,
        }
        for i, T in enumerate(where.temperatures)
        for j, RH in enumerate(where.humidities)
    ]
    rows += [
        {
            "place": place.name,
            "temperature [°C]": celsius(place.temperature),
            "humidity": place.humidity,
            "days": place.days,
        }
        for place in where.places
    ]
    return rows


def description(where: Where) -> str:
    """The picture in sentences, for those who hear it."""
    known = where.days[np.isfinite(where.days)]
    span = f"from {known.min():.0f} to {known.max():.0f} days" if known.size else "longer than three years"
    places = "; ".join(f"{place.name} {_days(place)}" for place in where.places)
    return (
        f"Days {where.product} keeps over temperature and relative humidity of the leg {where.leg}: {span} where it "
        f"fails within three years. {'Places: ' + places + '.' if places else ''}"
    )


def where_picture(where: Where) -> Spec:
    """Lines of equal days over the store's climates; places with their days at the mean of their air."""
    x_ticks = [100 * float(RH) for RH in where.humidities]
    T = np.array([celsius(float(t)) for t in where.temperatures])
    low, high = float(T[0]), float(T[-1])
    x = style.at(
        "RH",
        style.scale(100 * float(where.humidities[0]), 100 * float(where.humidities[-1]), (0, PLOT_WIDTH)),
        {"values": x_ticks, "title": "relative humidity of the store [%]", "format": "~r", "titlePadding": 6},
    )
    y_axis = {
        "values": [float(t) for t in np.arange(5 * math.ceil(low / 5), high + 0.1, 5)],
        "title": "temperature of the store [°C]",
        "format": "~r",
        "titleX": style.AXIS_TITLE,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    y = style.at("T", style.scale(low, high, (HEIGHT, 0)), y_axis)
    layers: list[Spec] = []
    labels: list[Spec] = []
    marked = [place for place in where.places if _inside(where, place, low, high)]
    taken = [_dot_box(where, place, low, high) for place in marked]
    for level, line in _lines(where, T):
        spot = _label_spot(f"{level} d", line, where, low, high, taken)
        if spot is None:
            continue  # lines too close to tell apart
        rows = [{"RH": style.tidy(p[0]), "T": style.tidy(p[1]), "n": k} for k, p in enumerate(line)]
        order = {"field": "n", "type": "quantitative"}
        layers.append(
            style.layer(rows, "line", {"x": x, "y": y, "order": order}, color=style.INK, strokeWidth=1.3)
        )
        labels.append({"RH": spot[0], "T": spot[1], "text": f"{level} d"})
    dots = [{"RH": 100 * place.humidity, "T": celsius(place.temperature)} for place in marked]
    layers.append(
        style.layer(
            dots, "point", {"x": x, "y": y}, filled=True, size=46, color=style.WATER_INK, shape="circle"
        )
    )
    layers += style.texts(labels, x, y, align="center", fontWeight="bold")
    layers += _named(where, marked, x, y, low, high)
    figure = {"title": _title(where, marked), "width": style.VIEW_WIDTH, "height": HEIGHT, "layer": layers}
    return style.whole(figure, description(where))


def _title(where: Where, marked: list[Place]) -> Spec:
    text = f"How long {where.product} keeps, by the climate of “{where.leg}”"
    return {
        "text": style.balanced(text, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
        "subtitle": [
            line
            for note in _notes(where, marked)
            for line in style.balanced(note, style.TEXT_WIDTH, style.SIZE_SMALL)
        ],
        "fontSize": style.SIZE_TITLE,
        "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
        "offset": 14,
    }


def _notes(where: Where, marked: list[Place]) -> list[str]:
    notes = [
        "Lines: days from packing to the first failure at constant climate. "
        "Between the climates computed (5 °C and 10 % apart) they are drawn straight; left of the last line it keeps longer still."
    ]
    if marked:
        notes.append(
            "Points: places at the mean of their own air, with the days their own course of days and seasons gives."
        )
    return notes + list(where.remarks)


def _inside(where: Where, place: Place, low: float, high: float) -> bool:
    return (
        low <= celsius(place.temperature) <= high
        and where.humidities[0] <= place.humidity <= where.humidities[-1]
    )


def _lines(where: Where, T: Floats) -> list[tuple[int, list[Point]]]:
    """The lines of the levels that cross the grid, the longest piece of each."""
    pace = 1.0 / where.days  # nothing fails at no pace; between, the pace goes about straight with the drive
    x = 100 * where.humidities
    drawn = []
    for level in LEVELS:
        lines = contour(x, T, pace, 1.0 / level)
        if lines:
            drawn.append((level, max(lines, key=len)))
    while len(drawn) > MOST_LINES:
        drawn = drawn[::2]
    return drawn


def _pixels(where: Where, point: Point, low: float, high: float) -> tuple[float, float]:
    """Where a point (RH [%], T [degC]) lies in the plot [px], y downwards."""
    span = float(where.humidities[-1] - where.humidities[0])
    x = (point[0] / 100 - float(where.humidities[0])) / span * PLOT_WIDTH
    return x, HEIGHT * (high - point[1]) / (high - low)


def _dot_box(where: Where, place: Place, low: float, high: float) -> Box:
    x, y = _pixels(where, (100 * place.humidity, celsius(place.temperature)), low, high)
    return Box(x - 6, y - 6, 12, 12)


def _label_spot(
    text: str, line: list[Point], where: Where, low: float, high: float, taken: list[Box]
) -> Point | None:
    """A point of the line, the nearest to its middle, where its label stands clear of those before; None if nowhere."""
    width, height = style.text_width(text, style.SIZE_SMALL, bold=True) + 8, 2 * style.SIZE_SMALL
    for point in sorted(line[1:-1] or line, key=lambda p: abs(line.index(p) - len(line) // 2)):
        across, down = _pixels(where, point, low, high)
        box = Box(across - width / 2, down - height / 2, width, height)
        if all(box.overlap(other) == 0.0 for other in taken):
            taken.append(box)
            return point
    return None


def _days(place: Place) -> str:
    return "more than 3 years" if place.days is None else f"{place.days:.0f} d"


def _named(where: Where, marked: list[Place], x: Spec, y: Spec, low: float, high: float) -> list[Spec]:
    """Names of the places in a column at the right, each tied to its point."""
    if not marked:
        return []
    row = style.SIZE_SMALL * style.LINE_HEIGHT
    ordered = sorted(marked, key=lambda place: -place.temperature)
    wanted = [HEIGHT * (high - celsius(place.temperature)) / (high - low) for place in ordered]
    tops = spread(wanted, [row] * len(wanted), 0.0, HEIGHT)
    per_pixel = (100 * float(where.humidities[-1] - where.humidities[0])) / PLOT_WIDTH
    edge = 100 * float(where.humidities[-1])
    texts, ties = [], []
    for place, top in zip(ordered, tops, strict=True):
        T = high - top * (high - low) / HEIGHT
        texts.append({"RH": edge + 22 * per_pixel, "T": T, "text": f"{place.name}, {_days(place)}"})
        ties += [
            {"RH": 100 * place.humidity, "T": celsius(place.temperature), "k": place.name, "n": 0},
            {"RH": edge + 18 * per_pixel, "T": T, "k": place.name, "n": 1},
        ]
    encoding = {
        "x": x,
        "y": y,
        "detail": {"field": "k", "type": "nominal"},
        "order": {"field": "n", "type": "quantitative"},
    }
    return [
        style.layer(ties, "line", encoding, color=style.LINE, strokeWidth=0.6),
        *style.texts(texts, x, y, halo=False),
    ]
