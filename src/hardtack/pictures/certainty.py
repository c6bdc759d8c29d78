"""How sure a date is, in one picture: packs still good over the days, when samples fail, and the courses with their bands."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hardtack.keeping.certainty import Band, Certainty
from hardtack.keeping.certainty_words import days_words, range_words
from hardtack.pictures import style
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.states import Floats

GOOD, DATES, COURSE = 230.0, 90.0, 170.0
BARS = 40
MOST_LAYERS = 4


def table(sure: Certainty) -> list[dict[str, object]]:
    """The numbers behind the picture, day by day: packs still good, and the courses with their bands."""
    rows: list[dict[str, object]] = []
    for k, day in enumerate(sure.band_days.tolist()):
        row: dict[str, object] = {
            "day": day,
            f"packs good with {sure.confidence:.0%} confidence": _at(day, sure.good_days, sure.good_low),
            "packs good, middle": _at(day, sure.good_days, sure.good_median),
            "packs good, other end": _at(day, sure.good_days, sure.good_high),
        }
        for band in (sure.life, *sure.bands):
            what = "share of life used" if band is sure.life else "activity"
            for name, values in (
                ("as in the file", band.plain),
                ("10 %", band.low),
                ("median", band.median),
                ("90 %", band.high),
            ):
                row[f"{what}, {band.name}, {name}"] = float(values[k])
        rows.append(row)
    return rows


def _at(day: float, days: Floats, values: Floats) -> float:
    return float(np.interp(day, days, values))


def description(sure: Certainty) -> str:
    """The picture in sentences, for those who hear it."""
    ends = f"{100 * sure.life.low[-1]:.0f} and {100 * sure.life.high[-1]:.0f} %"
    day = days_words(sure.day, sure.end)
    return (
        f"{sure.sentence} {range_words(sure)} A falling line shows the share of packs still good over the days, with a band for "
        f"what is not known; its lower edge meets {sure.share:.0%} at {day}. Bars show how many samples fail when. Below, the "
        f"share of life used by {sure.life.name} and the activity of the layers run with bands that hold eight samples in ten: "
        f"at the picture's end the life used lies between {ends}."
    )


def certainty_picture(sure: Certainty) -> Spec:
    """Packs still good with the band of not knowing, dates of the samples, and the courses with their bands."""
    last = float(sure.good_days[-1])
    figure: Spec = {
        "title": {
            "text": style.balanced(sure.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.balanced(_note(sure), style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 24,
        "vconcat": [
            _good(sure, last),
            _dates(sure, last),
            _courses(sure, [sure.life], last, "share of life used", True),
            _courses(sure, sure.bands[:MOST_LAYERS], last, "water activity", False),
        ],
    }
    return style.whole(figure, description(sure))


def _note(sure: Certainty) -> str:
    return (
        f"{range_words(sure)} Bands above: what is not known, {1 - sure.confidence:.0%} to {sure.confidence:.0%}. Bands below: "
        f"eight samples in ten. Full lines: the middle; dashed: as the file has it. {sure.samples} samples, seed {sure.seed}."
    )


def _days(last: float, title: str = "") -> Spec:
    step = style.step_for(last, 10)
    ticks = [style.tidy(step * k) for k in range(int(last / step + 1e-9) + 1)]
    axis: Spec = {"values": ticks, "title": title or None, "titlePadding": 8, "labels": bool(title)}
    return style.at("day", style.scale(0.0, last, (0.0, style.VIEW_WIDTH)), axis)


def _level(at: float, last: float, x: Spec, y: Spec) -> Spec:
    """A dashed line at a height, from packing to the last day."""
    return style.layer(
        [{"day": 0.0, "day2": last, "y": at}],
        "rule",
        {"x": x, "x2": {"field": "day2"}, "y": y},
        color=style.LINE,
        strokeDash=style.LIMIT_DASH,
    )


def _upright(
    field: str, top: float, height: float, title: str, *, percent: bool, bottom: float = 0.0
) -> Spec:
    step = style.step_for(top - bottom, 5)
    first = math.ceil(bottom / step - 1e-9)
    axis: Spec = {
        "values": [style.tidy(step * k) for k in range(first, int(top / step + 1e-9) + 1)],
        "title": title, "titleX": style.AXIS_TITLE, "minExtent": style.AXIS, "maxExtent": style.AXIS,
    }  # fmt: skip
    if percent:
        axis["format"] = ".0%"
    return style.at(field, style.scale(bottom, top, (height, 0.0)), axis)


def _band_rows(days: Floats, low: Floats, middle: Floats, high: Floats) -> list[Spec]:
    return [
        {"day": style.tidy(d), "low": style.tidy(a), "y": style.tidy(m), "high": style.tidy(b)}
        for d, a, m, b in zip(days.tolist(), low.tolist(), middle.tolist(), high.tolist(), strict=True)
        if all(math.isfinite(v) for v in (a, m, b))
    ]


def _banded(rows: Sequence[Spec], x: Spec, y: Spec, shade: str) -> list[Spec]:
    """A band with its edges drawn, so that it is seen in grey, and its middle."""
    edges = [
        style.layer(rows, "line", {"x": x, "y": {**y, "field": edge}}, color=style.SOFT, strokeWidth=0.8)
        for edge in ("low", "high")
    ]
    area = {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}}
    return [
        style.layer(rows, "area", area, color=shade, opacity=0.75, line=False),
        *edges,
        style.layer(rows, "line", {"x": x, "y": y}, color=style.INK, strokeWidth=2.0),
    ]


def _good(sure: Certainty, last: float) -> Spec:
    x = _days(last)
    y = _upright("y", 1.0, GOOD, "packs still good", percent=True)
    rows = _band_rows(sure.good_days, sure.good_low, sure.good_median, sure.good_high)
    layers = _banded(rows, x, y, style.WATER)
    layers.append(_level(sure.share, last, x, y))
    if sure.day is not None and sure.day <= last:
        drop = [{"day": sure.day, "y": 0.0, "y2": sure.share}]
        at = [{"day": sure.day, "y": sure.share}]
        layers.append(
            style.layer(
                drop, "rule", {"x": x, "y": y, "y2": {"field": "y2"}}, color=style.INK, strokeWidth=1.4
            )
        )
        layers.append(
            style.layer(at, "point", {"x": x, "y": y}, color=style.INK, filled=True, size=60, opacity=1)
        )
        layers += _words(sure, last, x, y)
    if sure.plain is not None and sure.plain <= last:
        plain = [{"day": sure.plain, "y": 0.0, "y2": 1.0}]
        layers.append(
            style.layer(
                plain,
                "rule",
                {"x": x, "y": y, "y2": {"field": "y2"}},
                color=style.SOFT,
                strokeDash=[3, 3],
                strokeWidth=1.2,
            )
        )
    return {"width": style.VIEW_WIDTH, "height": GOOD, "layer": layers}


def _words(sure: Certainty, last: float, x: Spec, y: Spec) -> list[Spec]:
    assert sure.day is not None  # drawn only where it is
    right = sure.day > 0.6 * last
    stated = [
        {
            "day": sure.day,
            "y": 0.1,
            "text": f"{days_words(sure.day, sure.end)}: {sure.share:.0%} of packs,\n{sure.confidence:.0%} confidence",
        }
    ]
    words = _texts(stated, x, y, align="right" if right else "left", dx=-7 if right else 7)
    if sure.plain is not None and sure.plain <= last:
        left = sure.plain > 0.6 * last
        plain = [{"day": sure.plain, "y": 0.94, "text": f"plain date, {days_words(sure.plain, sure.end)}"}]
        words += _texts(plain, x, y, align="right" if left else "left", dx=-7 if left else 7)
    return words


def _texts(rows: Sequence[Spec], x: Spec, y: Spec, **look: object) -> list[Spec]:
    """Words with a white halo, placed by day."""
    encoding = {"x": x, "y": y, "text": {"field": "text", "type": "nominal"}}
    settings = {"fontSize": style.SIZE_SMALL, "lineBreak": "\n", **look}
    under = {**settings, "stroke": "white", "strokeWidth": 4, "strokeJoin": "round", "color": "white"}
    return [
        style.layer(rows, "text", encoding, **under),
        style.layer(rows, "text", encoding, color=style.INK, **settings),
    ]


def _dates(sure: Certainty, last: float) -> Spec:
    """How many of the samples fail when; what fails later or not at all is said at the right."""
    edges = np.linspace(0.0, last, BARS + 1)
    counts, _ = np.histogram(sure.dates[np.isfinite(sure.dates)], edges)
    shares = counts / max(sure.dates.size, 1)
    top = 1.15 * float(shares.max()) if shares.max() > 0 else 1.0
    x = _days(last)
    y = _upright("y", top, DATES, "samples failing", percent=True)
    gap = 0.08 * (edges[1] - edges[0])
    rows = [
        {"day": style.tidy(a + gap), "day2": style.tidy(b - gap), "y": style.tidy(share), "y0": 0.0}
        for a, b, share in zip(edges[:-1].tolist(), edges[1:].tolist(), shares.tolist(), strict=True)
    ]
    bars = {"x": x, "x2": {"field": "day2"}, "y": y, "y2": {"field": "y0"}}
    layers = [style.layer(rows, "rect", bars, color=style.SOFT)]
    later = 1.0 - float(shares.sum())
    if later > 0.001:
        words = [{"day": last, "y": 0.85 * top, "text": f"{later:.0%} later or not at all"}]
        layers += _texts(words, x, y, align="right", dx=-4)
    return {"width": style.VIEW_WIDTH, "height": DATES, "layer": layers}


def _courses(sure: Certainty, bands: Sequence[Band], last: float, title: str, percent: bool) -> Spec:
    held = [float(np.nanmax(np.r_[band.high, band.plain])) for band in bands]
    least = [float(np.nanmin(np.r_[band.low, band.plain])) for band in bands]
    top, bottom = (min(1.5, max(1.05, *held)), 0.0) if percent else style.tenths(min(least), max(held))[::-1]
    x = _days(last, "" if percent else "days from packing")
    y = _upright("y", top, COURSE, title, percent=percent, bottom=bottom)
    layers: list[Spec] = []
    names = []
    for n, band in enumerate(bands):
        keep = band.high <= top if percent else np.ones(band.high.size, dtype=bool)
        stop = int(np.argmin(keep)) if not keep.all() else keep.size
        days = sure.band_days
        high = np.minimum(band.high, top)
        middle = np.where(band.median <= top, band.median, np.nan)
        layers += _banded(
            _band_rows(days, np.minimum(band.low, top), middle, high),
            x,
            y,
            style.AIR if n % 2 else style.WATER,
        )
        plain = [
            {"day": style.tidy(d), "y": style.tidy(v)}
            for d, v in zip(days.tolist(), band.plain.tolist(), strict=True)
            if v <= top
        ]
        layers.append(
            style.layer(plain, "line", {"x": x, "y": y}, color=style.INK, strokeWidth=1.2, strokeDash=[3, 3])
        )
        place = min(max(stop - 1, 1), days.size - 1) * 2 // 3
        names.append(
            {
                "day": float(days[place]),
                "y": float(np.clip(band.median[place], bottom, top)),
                "text": band.name,
            }
        )
    layers += _texts(_apart(names, bottom, top), x, y, align="left", dx=8, dy=-10, fontWeight="bold")
    if percent:
        layers.append(_level(1.0, last, x, y))
    return {"width": style.VIEW_WIDTH, "height": COURSE, "layer": layers}


def _apart(names: Sequence[Spec], bottom: float, top: float) -> list[Spec]:
    """The bands' names, moved up or down as far as they need so as not to lie on one another."""
    per_pixel = (top - bottom) / COURSE
    order = sorted(range(len(names)), key=lambda k: -float(names[k]["y"]))
    wanted = [(top - float(names[k]["y"])) / per_pixel for k in order]
    height = style.SIZE_SMALL * style.LINE_HEIGHT
    places = spread(wanted, [height] * len(order), 12.0, COURSE)
    return [{**names[k], "y": top - place * per_pixel} for k, place in zip(order, places, strict=True)]
