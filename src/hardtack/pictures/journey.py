"""What happens on the way: every layer's activity along the journey, and the temperature below it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from hardtack.keeping.ladder import HEADSPACE
from hardtack.keeping.sentences import span
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.courses import HOUR, Course, climate_courses, drawn_end
from hardtack.pictures.journey_frame import (
    PLOT_WIDTH,
    band,
    course_rows,
    day_at,
    failure_rule,
    leg_bands,
    level_lines,
    mean_line,
    upright,
    x_channel,
)
from hardtack.pictures.journey_head import head
from hardtack.pictures.journey_plot import activity_plot, lines
from hardtack.pictures.style import Spec
from hardtack.pictures.words import failure_words, limit_words, sentence
from hardtack.units import DAY, ZERO_CELSIUS, celsius

HOURS_BELOW = 2 * DAY
"""Journeys shorter than this are told in hours, as the statement does."""
AIR_HEIGHT, AIR_GAP = 96.0, 20.0
"""Height of the strip of temperature, and the clear space at its top [px]."""


def table(statement: KeepingStatement) -> list[dict[str, object]]:
    """The numbers behind the picture, one row a leg: its days, its air, each layer in and out, life used."""
    rows: list[dict[str, object]] = []
    for leg in statement.legs:
        row: dict[str, object] = {
            "leg": leg.name,
            "from day": leg.start / DAY,
            "to day": leg.end / DAY,
            "lowest temperature [°C]": celsius(leg.temperature[0]),
            "highest temperature [°C]": celsius(leg.temperature[1]),
            "lowest humidity": leg.humidity[0],
            "highest humidity": leg.humidity[1],
            "sealed": leg.sealed,
        }
        both = zip(statement.history.layers, leg.activity_in, leg.activity_out, strict=True)
        for name, before, after in both:
            row[f"{name}: water activity in"] = before
            row[f"{name}: water activity out"] = after
        row["share of life used"] = leg.share
        rows.append(row)
    return rows


def description(statement: KeepingStatement) -> str:
    """The picture in sentences, for those who hear it."""
    layers = "; ".join(
        f"{line.name} from {line.course.mean[0]:.2f} to {line.course.mean[-1]:.2f}"
        for line in lines(statement)
        if line.name != HEADSPACE
    )
    legs = ", ".join(f"{leg.name} for {span(leg.end - leg.start)}" for leg in statement.legs)
    limits = "; ".join(limit_words(limit) for limit in statement.limits)
    return (
        f"Journey of {statement.product}. Water activity: {layers}. Legs: {legs}. "
        f"{sentence(limits) + ' ' if limits else ''}{sentence(failure_words(statement))}"
    )


def time_axis(statement: KeepingStatement, end: float) -> Spec:
    """Round days with the date under each when the day of packing is known; hours in the first two days."""
    in_hours = end < HOURS_BELOW
    total = end / (HOUR if in_hours else DAY)
    step = style.step_for(total, 8, (1, 2, 3, 6) if in_hours and total > 6 else (1, 2, 5))
    ticks = [round(k * step, 6) for k in range(math.floor(total / step + 1e-9) + 1)]
    label, title = "format(datum.value, '~r')", "days from packing"
    packed = _packed(statement)
    if in_hours:
        ticks = [tick * HOUR / DAY for tick in ticks]
        label, title = "format(round(2400 * datum.value) / 100, '~r')", "hours from packing"
    elif packed is not None:
        shown = "%-d %b" if total < 300 else "%-d %b %Y"
        day = f"datetime({packed.year}, {packed.month - 1}, {packed.day} + datum.value)"
        label = f"[{label}, timeFormat({day}, '{shown}')]"
        title += f", and the date (packed on {packed.day} {packed:%B} {packed.year})"
    return {
        "values": ticks,
        "labelExpr": label,
        "title": title,
        "titleAnchor": "start",
        "titlePadding": 6,
        "labelLineHeight": 14,
        "labelFlush": False,
    }


def _packed(statement: KeepingStatement) -> date | None:
    return date.fromisoformat(statement.journey.packed_on) if statement.journey.packed_on else None


def _air(statement: KeepingStatement, end: float, temperature: Sequence[Course]) -> Spec:
    """The strip of outside temperature under the plot."""
    celsius_of = [
        Course(c.times, c.low - ZERO_CELSIUS, c.mean - ZERO_CELSIUS, c.high - ZERO_CELSIUS)
        for c in temperature
    ]
    low, high = min(float(c.low.min()) for c in celsius_of), max(float(c.high.max()) for c in celsius_of)
    step = style.step_for(max(high - low, 4.0), 3)
    bottom, top = step * math.floor((low - 0.5) / step), step * math.ceil((high + 0.5) / step)
    ticks = [bottom + k * step for k in range(round((top - bottom) / step) + 1)]
    x = x_channel(end, time_axis(statement, end))
    y = upright(style.scale(bottom, top, (AIR_HEIGHT, AIR_GAP)), ticks, "°C", "~r")
    rows = [row for part, course in enumerate(celsius_of) for row in course_rows(course, part)]
    last = float(celsius_of[-1].mean[-1])
    name = [{"day": day_at(PLOT_WIDTH + 11, end), "v": last, "text": "temperature\noutside"}]
    return {
        "width": style.VIEW_WIDTH,
        "height": AIR_HEIGHT,
        "layer": [
            leg_bands(statement, end, x),
            level_lines(ticks, end, x, y, color=style.GRID),
            band(rows, x, y, style.AIR),
            mean_line(rows, x, y, color=style.INK, strokeWidth=1.2),
            *failure_rule(statement, x),
            *style.texts(name, x, y("v"), halo=False, color=style.SOFT),
        ],
    }


def view(statement: KeepingStatement) -> Spec:
    """The journey as a view to stand in a larger picture."""
    end = drawn_end(statement)
    air = climate_courses(statement)
    headspace = " Thin blue: the headspace." if statement.pack is not None else ""
    return {
        "title": {
            "text": "What happens on the way",
            "subtitle": f"Black lines: the layers.{headspace} Grey: the air outside and its daily swing. "
            "Long thin dashes: limits.",
        },
        "spacing": 0,
        "bounds": "flush",
        "vconcat": [
            head(statement, end),
            activity_plot(statement, end, [humidity for _, humidity in air]),
            _air(statement, end, [temperature for temperature, _ in air]),
        ],
    }


def journey_picture(statement: KeepingStatement) -> Spec:
    """The journey of a statement as a picture of its own."""
    return style.whole(view(statement), description(statement))
