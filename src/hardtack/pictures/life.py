"""How life is used up over the days: one line a failure, one dash a version. Small, for beside a form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.states import FailureCourse
from hardtack.units import DAY

WIDTH, HEIGHT = 300.0, 210.0
NAMES = 190.0
POINTS = 60
"""Points of a line: more are not seen at this size."""
MOST_LINES = 4
LEAST_SHARE = 0.02
"""A failure that has used less of its life than this at the end has no line."""


@dataclass(frozen=True, slots=True)
class Version:
    """A statement and what to call it; the name is empty when there is only one."""

    name: str
    statement: KeepingStatement


def drawn(version: Version) -> tuple[FailureCourse, ...]:
    """The failures that have a line, first failure first."""
    used = [c for c in version.statement.courses if float(np.max(c.share)) >= LEAST_SHARE]
    return tuple(used[:MOST_LINES]) or version.statement.courses[:1]


def table(versions: Sequence[Version]) -> list[dict[str, object]]:
    """The numbers behind the picture: each failure of each version."""
    return [
        {
            **({"version": version.name} if version.name else {}),
            "failure": f"{course.name} of the {course.layer}",
            "on day": None if course.time is None else course.time / DAY,
            "share of life used at the end": float(course.share[-1]),
            "limit": course.limit,
        }
        for version in versions
        for course in version.statement.courses
    ]


def description(versions: Sequence[Version]) -> str:
    """The picture in sentences, for those who hear it."""
    said = []
    for row in table(versions):
        head = f"{row['version']}: " if "version" in row else ""
        day = row["on day"]
        when = "does not fail within the journey" if day is None else f"fails on day {float(str(day)):.0f}"
        said.append(f"{head}{row['failure']} {when}.")
    return "Share of life used over the days. " + " ".join(said)


def life_picture(versions: Sequence[Version]) -> Spec:
    """Share of life used against days from packing, for one statement or for several to compare."""
    end = max(float(version.statement.history.times[-1]) for version in versions) / DAY
    ticks = style.step_for(end, 5)
    x = style.at(
        "day",
        style.scale(0, end, (0, WIDTH)),
        {
            "values": [ticks * k for k in range(int(end / ticks + 1e-9) + 1)],
            "title": "days from packing",
            "format": ",d" if ticks >= 1 else ".2~g",
        },
    )
    y = style.at(
        "used",
        style.scale(0, 1.08, (HEIGHT, 0)),
        {"values": [0, 0.25, 0.5, 0.75, 1], "format": ".0%", "title": "share of life used"},
    )
    layers = [_level(x, y, end)]
    ends: list[tuple[Spec, list[str]]] = []
    for k, version in enumerate(versions):
        for j, course in enumerate(drawn(version)):
            rows = _rows(version.statement, course)
            dash = style.DASHES[k if len(versions) > 1 else j % len(style.DASHES)]
            layers.append(
                style.layer(
                    rows,
                    "line",
                    {"x": x, "y": y},
                    color=style.INK if j == 0 else style.SOFT,
                    strokeWidth=2.2 if j == 0 else 1.2,
                    strokeDash=dash,
                )
            )
            ends.append((rows[-1], _words(version, course)))
    layers += _names(ends, x, y, end)
    figure = {"width": WIDTH, "height": HEIGHT, "layer": layers}
    return style.whole(figure, description(versions)) | {"padding": 6}


def _rows(statement: KeepingStatement, course: FailureCourse) -> list[Spec]:
    """The course up to its end or to failure, thinned to what is seen."""
    days = statement.history.times / DAY
    stop = days[-1] if course.time is None else course.time / DAY
    at = np.unique(np.append(np.linspace(0.0, stop, POINTS), stop))
    used = np.clip(np.interp(at, days, course.share), 0.0, 1.05)
    return [
        {"day": style.tidy(d), "used": style.tidy(u)} for d, u in zip(at.tolist(), used.tolist(), strict=True)
    ]


def _level(x: Spec, y: Spec, end: float) -> Spec:
    """The level at which life is used up."""
    rows = [{"day": 0, "day2": end, "used": 1}]
    encoding = {"x": x, "x2": {"field": "day2"}, "y": y}
    return style.layer(rows, "rule", encoding, color=style.LINE, strokeDash=style.LIMIT_DASH)


def _words(version: Version, course: FailureCourse) -> list[str]:
    when = "not within the journey"
    if course.time is not None:
        days = course.time / DAY
        when = f"day {days:.0f}" if days >= 2 else f"{24 * days:.1f} hours"
    head = f"{version.name}: " if version.name else ""
    line = f"{head}{course.name}"
    return [style.shortened(line, NAMES - 24, style.SIZE_SMALL), f"{course.layer}, {when}"]


def _names(ends: Sequence[tuple[Spec, list[str]]], x: Spec, y: Spec, end: float) -> list[Spec]:
    """Every line's name at the right, tied to the line's end."""
    order = sorted(range(len(ends)), key=lambda k: -float(ends[k][0]["used"]))
    height = 2 * style.SIZE_SMALL * style.LINE_HEIGHT + 4
    wanted = [HEIGHT * (1 - float(ends[k][0]["used"]) / 1.08) for k in order]
    places = spread(wanted, [height] * len(order), 0.0, HEIGHT)
    ties, texts = [], []
    for k, place in zip(order, places, strict=True):
        row, words = ends[k]
        level = (1 - place / HEIGHT) * 1.08
        ties.append({"day": row["day"], "used": row["used"], "day2": end * 1.03, "used2": level})
        shown = style.shortened(words[1], NAMES - 24, style.SIZE_SMALL)
        texts.append({"day": end * 1.045, "used": level, "text": f"{words[0]}\n{shown}"})
    tie = {"x": x, "y": y, "x2": {"field": "day2"}, "y2": {"field": "used2"}}
    words_at = {"x": x, "y": y, "text": {"field": "text", "type": "nominal"}}
    return [
        style.layer(ties, "rule", tie, color=style.LINE, strokeWidth=0.8),
        style.layer(ties, "point", {"x": x, "y": y}, color=style.INK, filled=True, size=26, opacity=1),
        style.layer(
            texts,
            "text",
            words_at,
            align="left",
            baseline="middle",
            lineBreak="\n",
            fontSize=style.SIZE_SMALL,
            color=style.INK,
            lineHeight=style.SIZE_SMALL * style.LINE_HEIGHT,
        ),
    ]
