"""The two kinds of stale as opposite arrows: the crumb firms by its starch, the crust softens by water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import CRISPNESS, CRUST
from hardtack.keeping.sentences import moment
from hardtack.keeping.stale import TwoStales
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.journey import time_axis
from hardtack.pictures.journey_frame import (
    NAMES_WIDTH,
    PLOT_WIDTH,
    Scaled,
    day_at,
    leg_bands,
    level_lines,
    upright,
    x_channel,
)
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.pictures.words import end_words
from hardtack.states import FailureCourse, Floats
from hardtack.units import DAY

HEIGHT, WATER_HEIGHT, WATER_TOP = 270.0, 120.0, 26.0
ROW = style.SIZE_SMALL * style.LINE_HEIGHT
BEYOND = 1.25
"""How far past the later of both limits the axis of days goes."""
HEAD_LENGTH = 13.0
LOW, SPAN = -0.1, 1.2
"""Lowest height of the plot of arrows, and how much it shows: room for words beyond 0 and 1."""
LEVELS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, slots=True)
class _Arrow:
    """One layer's way: `going` from..to words; `used` [n] share of that life at `times` [s]."""

    layer: str
    going: tuple[str, str]
    by: str
    times: Floats
    used: Floats
    upwards: bool

    @property
    def height(self) -> Floats:
        """Where it stands between soft or leathery (0) and firm or crisp (1)."""
        return self.used if self.upwards else 1.0 - self.used


def both(statement: KeepingStatement) -> TwoStales:
    """The statement's two kinds of stale.

    Raises `HardtackError` when firming was not judged: without it there is but one kind.
    """
    if statement.stale is None:
        raise HardtackError(
            f"no picture of two kinds of stale for {statement.product}: firming was not judged",
            "it is for bread and its like; ask for it with `firming:` under `failures:` in the product file",
        )
    return statement.stale


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture, over the times followed."""
    stale = both(statement)
    crust = _crust_course(statement, stale)
    rows: list[dict[str, object]] = []
    for n, time in enumerate(statement.history.times):
        row: dict[str, object] = {"day": float(time) / DAY}
        row[f"{stale.crumb}: share of life used by firming"] = float(stale.firming[n])
        if crust is not None:
            row[f"{stale.crust}: share of life used by water"] = float(crust.share[n])
        row[f"water out of the {stale.crumb} [g per pack]"] = 1e3 * float(stale.water_out_of_crumb[n])
        if stale.crust:
            row[f"water into the {stale.crust} [g per pack]"] = 1e3 * float(stale.water_into_crust[n])
        rows.append(row)
    return rows


def description(statement: KeepingStatement) -> str:
    """The picture in sentences, for those who hear it."""
    told = [f"Two kinds of stale of {statement.product}."]
    for arrow in _arrows(statement, both(statement)):
        way = "up" if arrow.upwards else "down"
        told.append(
            f"Arrow {way}: the {arrow.layer} goes from {arrow.going[0]} to {arrow.going[1]} by {arrow.by}; "
            f"{_reached(statement, arrow)}."
        )
    return " ".join([*told, *both(statement).words])


def _reached(statement: KeepingStatement, arrow: _Arrow) -> str:
    end = float(arrow.times[-1])
    when = moment(end, statement.journey.packed_on) if end > 0 else "when packed"
    used = float(arrow.used[-1])
    return f"at its limit {when}" if used >= 1.0 else f"{used:.0%} of the way to its limit {when}"


def _crust_course(statement: KeepingStatement, stale: TwoStales) -> FailureCourse | None:
    """The course by which the crust was judged, if it was."""
    return next(
        (c for c in statement.courses if c.layer == stale.crust and c.name in (CRUST, CRISPNESS)), None
    )


def _arrows(statement: KeepingStatement, stale: TwoStales) -> list[_Arrow]:
    known = statement.history.times
    found = [_arrow(stale.crumb, ("soft", "firm"), "its starch setting again", known, stale.firming, True)]
    crust = _crust_course(statement, stale)
    if crust is not None:
        found.append(_arrow(stale.crust, ("crisp", "leathery"), "water", known, crust.share, False))
    return found


def _arrow(layer: str, going: tuple[str, str], by: str, known: Floats, used: Floats, upwards: bool) -> _Arrow:
    """The way up to the limit, or to the end of what was followed."""
    over = np.flatnonzero(used >= 1.0)
    if over.size == 0:
        return _Arrow(layer, going, by, known, np.clip(used, 0.0, 1.0), upwards)
    n = int(over[0])
    met = 0.0 if n == 0 else float(np.interp(1.0, used[n - 1 : n + 1], known[n - 1 : n + 1]))
    return _Arrow(layer, going, by, np.r_[known[:n], met], np.clip(np.r_[used[:n], 1.0], 0, 1), upwards)


def stales_picture(statement: KeepingStatement) -> Spec:
    """Both arrows over the water that moves. Raises `HardtackError` when firming was not judged."""
    stale = both(statement)
    arrows = _arrows(statement, stale)
    last = float(statement.history.times[-1])
    end = min(last, max(BEYOND * max(float(arrow.times[-1]) for arrow in arrows), min(last, 3600.0)))
    view = {
        "title": {
            "text": style.balanced(
                f"{statement.product}: " + _title(arrows, stale),
                style.TEXT_WIDTH,
                style.SIZE_TITLE,
                bold=True,
            ),
            "subtitle": [
                line
                for words in (
                    f"As it stands {end_words(statement)}, the end of the statement:",
                    *stale.words,
                    *_without(arrows, stale),
                )
                for line in style.wrapped(words, style.TEXT_WIDTH, style.SIZE_SMALL)
            ],
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 16,
        },
        "spacing": 0,
        "bounds": "flush",
        "vconcat": [_ways(statement, arrows, end), _water(statement, stale, end)],
    }
    return style.whole(view, description(statement))


def _title(arrows: Sequence[_Arrow], stale: TwoStales) -> str:
    if len(arrows) == 2:
        return "two kinds of stale run in opposite directions"
    return f"the {stale.crumb} goes stale by firming"


def _without(arrows: Sequence[_Arrow], stale: TwoStales) -> list[str]:
    if stale.crust and len(arrows) == 1:
        return [f"The {stale.crust} has no arrow: no limit of its crispness was judged."]
    return []


def _ways(statement: KeepingStatement, arrows: Sequence[_Arrow], end: float) -> Spec:
    """The plot of the arrows: at the top what is firm and crisp, at the bottom what is soft and leathery."""
    x = x_channel(end)

    def y(field: str) -> Spec:
        return style.at(field, style.scale(LOW, LOW + SPAN, (HEIGHT, 0)))

    parts = [
        leg_bands(statement, end, x),
        level_lines(LEVELS, end, x, y, color=style.GRID),
    ]
    for arrow, dash in zip(arrows, style.DASHES, strict=False):
        parts += _shaft(arrow, end, x, y, dash)
    return {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT,
        "layer": [*parts, *_scales(arrows, end, x, y), *_said(statement, arrows, end, x, y)],
    }


def _down(height: Floats | float) -> Floats:
    return np.asarray(HEIGHT * (LOW + SPAN - np.asarray(height)) / SPAN)


def _shaft(arrow: _Arrow, end: float, x: Spec, y: Scaled, dash: list[int]) -> list[Spec]:
    """The line, and a head of two strokes along its last stretch."""
    rows = [
        {"day": style.tidy(t / DAY), "v": style.tidy(v)}
        for t, v in zip(arrow.times, arrow.height, strict=True)
    ]
    across = arrow.times / end * PLOT_WIDTH
    down = _down(arrow.height)
    tip = np.array([across[-1], down[-1]])
    far = np.hypot(across - tip[0], down - tip[1])
    before = np.flatnonzero(far >= HEAD_LENGTH)
    shaft: list[Spec] = [
        style.layer(rows, "line", {"x": x, "y": y("v")}, color=style.INK, strokeWidth=2.6, strokeDash=dash)
    ]
    if before.size == 0:
        return shaft
    back = np.array([across[before[-1]], down[before[-1]]]) - tip
    back *= HEAD_LENGTH / float(np.hypot(*back))
    strokes = []
    for turn in (0.45, -0.45):
        barb = tip + back + turn * np.array([-back[1], back[0]])
        strokes.append(
            {
                "day": style.tidy(tip[0] / PLOT_WIDTH * end / DAY),
                "v": style.tidy(float(arrow.height[-1])),
                "day2": style.tidy(float(barb[0]) / PLOT_WIDTH * end / DAY),
                "v2": style.tidy(LOW + SPAN - float(barb[1]) * SPAN / HEIGHT),
            }
        )
    to = {"x": x, "x2": {"field": "day2"}, "y": y("v"), "y2": {"field": "v2"}}
    look = {"color": style.INK, "strokeWidth": 2.6, "strokeCap": "round"}
    return [*shaft, style.layer(strokes, "rule", to, **look)]


def _scales(arrows: Sequence[_Arrow], end: float, x: Spec, y: Scaled) -> list[Spec]:
    """Share of life used: upwards at the left for the crumb, downwards at the right for the crust."""
    parts: list[Spec] = []
    for arrow in arrows:
        place = day_at(-8 if arrow.upwards else PLOT_WIDTH + 8, end)
        marks = [
            {"day": place, "v": level, "text": f"{(level if arrow.upwards else 1 - level):.0%}"}
            for level in LEVELS
        ]
        align = "right" if arrow.upwards else "left"
        parts += style.texts(marks, x, y("v"), halo=False, align=align, color=style.SOFT)
        title = [
            {
                "day": day_at(-style.AXIS + 7 if arrow.upwards else PLOT_WIDTH + 60, end),
                "v": 0.5,
                "text": f"{arrow.layer}: life used by {'firming' if arrow.upwards else 'water'}",
            }
        ]
        parts += style.texts(title, x, y("v"), halo=False, align="center", angle=270 if arrow.upwards else 90)
    return parts


def _said(
    statement: KeepingStatement, arrows: Sequence[_Arrow], end: float, x: Spec, y: Scaled
) -> list[Spec]:
    """What each layer was over or under its arrow's foot, and what it has become at the head, and when.

    Words at the limits stand in a row over the plot or under it; those of a head on its way stand before it.
    """
    levels: dict[float, list[tuple[float, str]]] = {0.0: [], 1.0: []}
    midway: list[Spec] = []
    for arrow in arrows:
        levels[float(round(arrow.height[0]))].append((0.0, f"{arrow.layer} {arrow.going[0]}"))
        across, tip = float(arrow.times[-1]) / end * PLOT_WIDTH, float(arrow.height[-1])
        text = f"{arrow.layer} {arrow.going[1]}, {_reached(statement, arrow)}"
        if float(arrow.used[-1]) >= 1.0:
            levels[float(round(tip))].append((across, text))
        else:
            text = f"towards {arrow.going[1]}: {_reached(statement, arrow)}"
            beside = 16 / HEIGHT if arrow.upwards else -16 / HEIGHT
            midway.append({"day": day_at(across - 8, end), "v": tip + beside, "text": text})
    rows: list[Spec] = []
    for level, words in levels.items():
        words.sort()
        widths = [style.text_width(text, style.SIZE_TEXT, bold=True) + 16 for _, text in words]
        wanted = [
            across + (width / 2 if across == 0 else 0)
            for (across, _), width in zip(words, widths, strict=True)
        ]
        centres = spread(wanted, widths, 0.0, PLOT_WIDTH)
        v = level + (12 if level else -12) * SPAN / HEIGHT
        rows += [
            {"day": day_at(centre, end), "v": v, "text": text}
            for centre, (_, text) in zip(centres, words, strict=True)
        ]
    look: Spec = {"fontWeight": "bold", "fontSize": style.SIZE_TEXT}
    return [
        *style.texts(rows, x, y("v"), align="center", halo=False, **look),
        *style.texts(midway, x, y("v"), align="right", **look),
    ]


def _water(statement: KeepingStatement, stale: TwoStales, end: float) -> Spec:
    """The water that left the crumb and that entered the crust."""
    known = statement.history.times
    times = np.unique(np.r_[0.0, known[(known > 0) & (known < end)], end])
    courses = [(f"out of the {stale.crumb}", stale.water_out_of_crumb, style.DASHES[0])]
    if stale.crust:
        courses.append((f"into the {stale.crust}", stale.water_into_crust, style.DASHES[1]))
    grams = [(name, 1e3 * np.interp(times, known, values), dash) for name, values, dash in courses]
    low = min(0.0, *(float(v.min()) for _, v, _ in grams))
    high = max(0.0, *(float(v.max()) for _, v, _ in grams))
    step = style.step_for(max(high - low, 1e-6), 3)
    bottom, top = step * np.floor(low / step + 1e-9), step * np.ceil(high / step - 1e-9)
    top = top if top > bottom else bottom + step
    ticks = [float(bottom + k * step) for k in range(round((top - bottom) / step) + 1)]
    x = x_channel(end, time_axis(statement, end))
    y = upright(style.scale(float(bottom), float(top), (WATER_HEIGHT, WATER_TOP)), ticks, "g per pack", "~g")
    parts = [leg_bands(statement, end, x), level_lines(ticks, end, x, y, color=style.GRID)]
    for _, values, dash in grams:
        rows = [{"day": style.tidy(t / DAY), "v": style.tidy(v)} for t, v in zip(times, values, strict=True)]
        look = {"color": style.WATER_INK, "strokeWidth": 1.8, "strokeDash": dash}
        parts.append(style.layer(rows, "line", {"x": x, "y": y("v")}, **look))
    ordered = sorted(grams, key=lambda entry: -float(entry[1][-1]))
    down = [
        WATER_HEIGHT - (float(v[-1]) - bottom) / (top - bottom) * (WATER_HEIGHT - WATER_TOP)
        for _, v, _ in ordered
    ]
    blocks = [
        style.wrapped(f"{name} {float(v[-1]):.3g}\u00a0g", NAMES_WIDTH - 12, style.SIZE_SMALL)
        for name, v, _ in ordered
    ]
    middles = spread(down, [len(block) * ROW + 2 for block in blocks], 0.0, WATER_HEIGHT + 20)
    names = []
    for block, middle in zip(blocks, middles, strict=True):
        first = middle - (len(block) - 1) * ROW / 2
        value = bottom + (WATER_HEIGHT - first) / (WATER_HEIGHT - WATER_TOP) * (top - bottom)
        names.append({"day": day_at(PLOT_WIDTH + 8, end), "v": float(value), "text": "\n".join(block)})
    head = [
        {
            "day": 0,
            "v": float(top + (top - bottom) * 15 / (WATER_HEIGHT - WATER_TOP)),
            "text": "water moved since packing",
        }
    ]
    parts += style.texts(names, x, y("v"), halo=False, color=style.WATER_INK, lineHeight=ROW)
    parts += style.texts(head, x, y("v"), halo=False, color=style.SOFT)
    return {"width": style.VIEW_WIDTH, "height": WATER_HEIGHT, "layer": parts}
