"""A dough's picture: what it and its baked piece are made of, and its gas from bench to oven."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hardtack.dough.baked import COMPONENTS
from hardtack.dough.fermentation import Fermented
from hardtack.dough.rising import Rise, litres
from hardtack.keeping.dough_report import DoughReport, DoughSheet
from hardtack.keeping.dough_words import baked_words, proof_words, sentence
from hardtack.pictures import style
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.states import Floats
from hardtack.units import celsius

NAMES_WIDTH = 170.0
PLOT = style.VIEW_WIDTH - NAMES_WIDTH
BENCH = 0.2
"""Share of the width for the bench; the oven has the rest."""
BAR, GAP = 12.0, 7.0
LEFT = 140.0
"""Width of the components' names [px]."""
GAS_HEIGHT, CELLS_HEIGHT = 190.0, 120.0
TICKS = (40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0)
LEAST = 5e-4
"""Components below this share of dough and piece are left out of the bars."""


def dough_picture(report: DoughReport) -> Spec:
    """Bars of composition and lines of gas, for every dough of the file."""
    views: list[Spec] = []
    for sheet in report.sheets:
        views.append(_bars(sheet))
        if sheet.proved is not None and sheet.proved.stages:
            views.append(_proof(sheet.proved))
        if float(sheet.rise.carbon_dioxide[-1]) > 0:
            views.append(_gas(sheet.rise))
        if float(sheet.rise.carbon_dioxide[-1]) > 0 or sheet.rise.by_yeast > 0:
            views.append(_cells(sheet.rise))
    figure = {
        "title": {
            "text": style.balanced(report.product, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "fontSize": style.SIZE_TITLE,
            "offset": 14,
        },
        "spacing": 26,
        "vconcat": views,
    }
    return style.whole(figure, description(report))


def description(report: DoughReport) -> str:
    """The picture in sentences, for those who hear it."""
    told = [report.product + "."]
    for sheet in report.sheets:
        told += [sentence(sheet), baked_words(sheet), _made_of("dough", sheet.parts, 1.0)]
        if sheet.baked is not None:
            told.append(_made_of("baked piece", sheet.baked.parts, sheet.baked.mass))
        end = float(sheet.rise.carbon_dioxide[-1])
        if end > 0:
            oven = int(np.searchsorted(sheet.rise.times, sheet.rise.oven_at))
            told.append(
                f"Gas of the leaveners climbs from {litres(float(sheet.rise.carbon_dioxide[oven])):.2g} litres per kilogram "
                f"at the end of the bench to {litres(end):.2g} at {celsius(float(sheet.rise.T[-1])):.0f} degrees Celsius."
            )
    return " ".join(text for text in told if text)


def _made_of(name: str, parts: object, mass: float) -> str:
    assert hasattr(parts, "items")
    told = [f"{part} {100 * kg / mass:.1f}" for part, kg in parts.items() if kg / mass >= LEAST]
    return f"Of 100 grams of {name}: {', '.join(told)}."


def _bars(sheet: DoughSheet) -> Spec:
    """One row a component: an open bar for the dough, a filled one for the baked piece."""
    baked = sheet.baked
    names = [
        name
        for name in COMPONENTS
        if sheet.parts[name] >= LEAST or (baked is not None and baked.parts[name] / baked.mass >= LEAST)
    ]
    rows: list[Spec] = []
    words: list[Spec] = []
    labels: list[Spec] = []
    height = len(names) * (2 * BAR + GAP)
    for k, name in enumerate(names):
        top = k * (2 * BAR + GAP)
        labels.append({"x": LEFT - 8, "y": top + BAR, "text": name})
        values = [("dough", sheet.parts[name])]
        if baked is not None:
            values.append(("baked", baked.parts[name] / baked.mass))
        for n, (kind, share) in enumerate(values):
            end = LEFT + share * (PLOT - LEFT) / _longest(sheet)
            rows.append(
                {
                    "x": LEFT,
                    "x2": style.tidy(end),
                    "y": top + n * BAR,
                    "y2": top + (n + 1) * BAR,
                    "kind": kind,
                }
            )
            words.append({"x": end + 5, "y": top + (n + 0.5) * BAR, "text": f"{100 * share:.1f}"})
    x, y = (
        style.at("x", style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH))),
        style.at("y", style.scale(0, height, (0, height))),
    )
    boxes = {"x": x, "x2": {"field": "x2"}, "y": y, "y2": {"field": "y2"}}
    legend = "Open bars: dough as mixed" + ("; filled bars: the baked piece." if baked is not None else ".")
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": [
            style.layer(
                [r for r in rows if r["kind"] == "dough"], "rect", boxes, fill="white", stroke=style.SOFT
            ),
            style.layer(
                [r for r in rows if r["kind"] == "baked"], "rect", boxes, fill=style.SOFT, stroke=style.SOFT
            ),
            *style.texts(labels, x, y, halo=False, align="right"),
            *style.texts(words, x, y, halo=False, fontSize=style.SIZE_SMALL - 1),
        ],
        "title": {
            "text": style.balanced(sentence(sheet), style.TEXT_WIDTH, style.SIZE_HEAD, bold=True),
            "subtitle": [
                *style.wrapped(
                    f"{baked_words(sheet)} Numbers are g per 100 g. {legend}".strip(),
                    style.TEXT_WIDTH,
                    style.SIZE_SMALL,
                )
            ],
        },
    }


def _longest(sheet: DoughSheet) -> float:
    shares = list(sheet.parts.values())
    if sheet.baked is not None:
        shares += [kg / sheet.baked.mass for kg in sheet.baked.parts.values()]
    return max(shares) * 1.08


def _right(rise: Rise) -> Floats:
    """Pixels from the left of every moment: bench at the mixer's end, then the oven."""
    oven = np.clip((rise.times - rise.oven_at) / (rise.times[-1] - rise.oven_at), 0.0, 1.0)
    bench = np.clip(rise.times / rise.oven_at, 0.0, 1.0)
    pixels: Floats = PLOT * (BENCH * bench + (1.0 - BENCH) * oven)
    return pixels


def _axis(rise: Rise, y: Spec, high: float, height: float) -> list[Spec]:
    """The oven's door as a rule, and temperatures with minutes below."""
    start, end = celsius(float(rise.T[1])), celsius(float(rise.T[-1]))
    marks = [(BENCH * PLOT, f"into the oven\n{start:.0f} °C")]
    for at in TICKS:
        share = (at - start) / (end - start)
        if 0.08 < share < 0.97:
            minutes = share * float(rise.times[-1] - rise.oven_at) / 60
            marks.append((PLOT * (BENCH + (1 - BENCH) * share), f"{at:.0f} °C\n{minutes:.2g} min"))
    marks.append((PLOT, f"{end:.0f} °C\n{float(rise.times[-1] - rise.oven_at) / 60:.3g} min"))
    kept = [
        mark
        for k, mark in enumerate(marks)
        if k in (0, len(marks) - 1) or (mark[0] - marks[0][0] > 55 and PLOT - mark[0] > 50)
    ]
    x, below = _x("x"), -high * 16 / height
    texts: list[Spec] = [{"x": place, "v": below, "text": text} for place, text in kept]
    bench: Spec = {"x": 0, "v": below, "text": f"bench, {rise.oven_at / 60:.3g} min"}
    upright = {"x": x, "y": y, "y2": {"field": "top"}}
    rules = [{"x": place, "v": 0, "top": high} for place, _ in kept]
    door = [{"x": BENCH * PLOT, "v": 0, "top": high}]
    line = style.SIZE_SMALL * style.LINE_HEIGHT
    return [
        style.layer(rules, "rule", upright, color=style.GRID),
        style.layer(door, "rule", upright, color=style.LINE, strokeDash=style.LIMIT_DASH),
        *style.texts(texts, x, y, halo=False, align="center", lineHeight=line, color=style.SOFT),
        *style.texts([bench], x, y, halo=False, color=style.SOFT),
    ]


def _x(field: str) -> Spec:
    return style.at(field, style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH)))


def _proof(proved: Fermented) -> Spec:
    """Carbon dioxide of yeast, added up over the stages; each stage begins at a rule with its name."""
    ends = np.concatenate(([0.0], np.cumsum([stage.duration for stage in proved.stages])))
    made = np.concatenate(([0.0], np.cumsum([stage.made for stage in proved.stages])))
    high = 1.1 * litres(float(made[-1]))
    step = style.step_for(high, 4)
    ticks = [step * k for k in range(int(high / step + 1e-9) + 1)]
    axis = {
        "values": ticks,
        "title": "CO₂ made, L per kg",
        "titleX": style.AXIS_TITLE,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    y = style.at("v", style.scale(0, high, (CELLS_HEIGHT, 0)), axis)
    pixels = PLOT * ends / ends[-1]
    rows = [{"x": style.tidy(float(p)), "v": litres(float(m))} for p, m in zip(pixels, made, strict=True)]
    rules = [{"x": float(p), "v": 0, "top": high} for p in pixels]
    below = -high * 16 / CELLS_HEIGHT
    texts: list[Spec] = []
    for stage, left, right in zip(proved.stages, pixels[:-1], pixels[1:], strict=True):
        lines = [stage.stage, f"{celsius(stage.T):.0f} °C, {_time(stage.duration)}"]
        width = max(style.text_width(line, style.SIZE_SMALL) for line in lines)
        if width < right - left + 20:
            texts.append({"x": float(left + right) / 2, "v": below, "text": "\n".join(lines)})
        else:
            texts.append(
                {
                    "x": float(left + right) / 2,
                    "v": below,
                    "text": style.shortened(stage.stage, float(right - left), style.SIZE_SMALL),
                }
            )
    height = style.SIZE_SMALL * style.LINE_HEIGHT
    end = [{"x": PLOT + 8, "v": litres(float(made[-1])), "text": f"made, {litres(float(made[-1])):.2g}"}]
    return {
        "width": style.VIEW_WIDTH,
        "height": CELLS_HEIGHT,
        "layer": [
            style.layer(rules, "rule", {"x": _x("x"), "y": y, "y2": {"field": "top"}}, color=style.GRID),
            style.layer(rows, "line", {"x": _x("x"), "y": y}, color=style.INK, strokeWidth=2.2),
            *style.texts(texts, _x("x"), y, halo=False, align="center", lineHeight=height, color=style.SOFT),
            *style.texts(end, _x("x"), y, halo=False),
        ],
        "title": {
            "text": "Gas of yeast over its stages",
            "subtitle": style.wrapped(
                f"At 25 °C, per kg of the whole dough. {proof_words(proved)} of it stand in the cells at the end "
                "of proof.",
                style.TEXT_WIDTH,
                style.SIZE_SMALL,
            ),
        },
    }


def _time(seconds: float) -> str:
    return f"{seconds / 3600:.3g} h" if seconds >= 7200 else f"{seconds / 60:.3g} min"


def _gas(rise: Rise) -> Spec:
    """Carbon dioxide given so far, in all and by its ways."""
    ways: list[tuple[str, Floats]] = [
        ("by acid", rise.by_acid), ("soda by heat", rise.by_heat), ("ammonium bicarbonate", rise.by_ammonium),
    ]  # fmt: skip
    ways = [
        (name, way)
        for name, way in ways
        if float(way[-1]) > 0.005 * (float(rise.carbon_dioxide[-1]) + rise.by_yeast)
    ]
    if rise.by_yeast > 0:
        ways.append(("yeast, left at proof", np.full_like(rise.times, rise.by_yeast)))
    lines = [("all", rise.carbon_dioxide + rise.by_yeast)] if len(ways) > 1 else []
    lines += ways
    title = "CO₂, L per kg of dough (at 25 °C)"
    note = "Given so far. How it comes within the bench is not known; oven times are of the dough's own straight climb."
    return _panel(
        rise,
        [(name, litres(1.0) * way) for name, way in lines],
        title,
        GAS_HEIGHT,
        ("Gas given from bench to oven", note),
    )


def _cells(rise: Rise) -> Spec:
    title = "cells, L per kg of dough"
    note = "What the gas could fill: CO₂ not dissolved, mixed-in air, steam. The line ends where expansion ends; crumb sets before."
    return _panel(
        rise,
        [("cells", 1e3 * rise.cells)],
        title,
        CELLS_HEIGHT,
        ("Room the gas takes at the dough's temperature", note),
    )


def _panel(
    rise: Rise, lines: Sequence[tuple[str, Floats]], title: str, height: float, words: tuple[str, str]
) -> Spec:
    high = 1.1 * max(float(np.nanmax(values)) for _, values in lines)
    step = style.step_for(high, 5)
    ticks = [step * k for k in range(int(high / step + 1e-9) + 1)]
    axis = {
        "values": ticks,
        "title": title,
        "titleX": style.AXIS_TITLE,
        "minExtent": style.AXIS,
        "maxExtent": style.AXIS,
    }
    y = style.at("v", style.scale(0, high, (height, 0)), axis)
    pixels = _right(rise)
    parts: list[Spec] = _axis(rise, y, high, height)
    ends: list[tuple[str, float]] = []
    for k, (name, values) in enumerate(lines):
        shown = [
            (float(p), float(v)) for p, v in zip(pixels, values, strict=True) if not math.isnan(float(v))
        ]
        rows = [{"x": style.tidy(p), "v": style.tidy(v)} for p, v in shown]
        if name not in ("cells", "yeast, left at proof"):
            rows = [{"x": 0.0, "v": 0.0 if name != "all" else style.tidy(litres(rise.by_yeast))}, *rows[1:]]
        dash = style.DASHES[k % len(style.DASHES)]
        parts.append(
            style.layer(
                rows,
                "line",
                {"x": _x("x"), "y": y},
                color=style.INK,
                strokeWidth=2.2 if k == 0 else 1.4,
                strokeDash=dash,
            )
        )
        ends.append((name, shown[-1][1]))
    tops = [height * (1 - v / high) for _, v in ends]
    order = sorted(range(len(ends)), key=lambda k: tops[k])
    row = style.SIZE_SMALL * style.LINE_HEIGHT + 1
    places = spread([tops[k] for k in order], [row] * len(order), 0.0, height)
    named = [
        {"x": PLOT + 8, "v": high * (1 - place / height), "text": f"{ends[k][0]}, {ends[k][1]:.2g}"}
        for k, place in zip(order, places, strict=True)
    ]
    parts += style.texts(named, _x("x"), y, halo=False)
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": parts,
        "title": {"text": words[0], "subtitle": style.wrapped(words[1], style.TEXT_WIDTH, style.SIZE_SMALL)},
    }
