"""A pull schedule in one picture: how well the date is known as the trial goes on, and which packs to open when."""

from __future__ import annotations

import datetime

from hardtack.measurements.plan import Plan, Pull
from hardtack.pictures import style
from hardtack.pictures.style import Spec

HEIGHT, LANE = 200.0, 76.0
_ROOM = 1.06
"""Of the days after the last pull, so that its words stand within the picture."""


def plan_picture(plan: Plan) -> Spec:
    """The spread of the date over the days of the trial, and below it the pulls, a lane for every place."""
    last = max(pull.day for pull in plan.pulls) * _ROOM
    figure: Spec = {
        "title": {
            "text": style.balanced(plan.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.balanced(_NOTE, style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 22,
        "vconcat": [_narrowing(plan, last), _lanes(plan, last)],
    }
    return style.whole(figure, description(plan))


_NOTE = (
    "Line: the date's spread (one standard deviation, days) once the packs of that day are measured, too. "
    "Shapes: packs to open, by place."
)


def description(plan: Plan) -> str:
    """The picture in sentences, for those who hear it."""
    told = [
        plan.sentence,
        f"Before the first pull the date is known to ± {plan.before:.1f} days.",
        *(
            f"Day {pull.day:.0f}{f' ({pull.date})' if pull.date else ''}: {_packs(pull)} from {pull.place}, measure the "
            f"{pull.layer}; then ± {pull.sd:.1f} days."
            for pull in plan.pulls
        ),
    ]
    return " ".join(told)


def _packs(pull: Pull) -> str:
    return f"{pull.packs} pack" if pull.packs == 1 else f"{pull.packs} packs"


def _days(last: float, title: str = "") -> Spec:
    step = style.step_for(last, 10, (1, 2, 5, 7))
    ticks = [style.tidy(step * k) for k in range(int(last / step) + 1)]
    axis: Spec = {"values": ticks, "title": title or None, "titlePadding": 8, "labels": bool(title)}
    return style.at("x", style.scale(0.0, last, (0.0, style.VIEW_WIDTH)), axis)


def _narrowing(plan: Plan, last: float) -> Spec:
    """A flight of steps down: every day of pulls narrows the date."""
    top = 1.15 * plan.before
    step = style.step_for(top, 5)
    axis: Spec = {
        "values": [style.tidy(step * k) for k in range(int(top / step) + 1)],
        "title": "the date is known to ± days", "titleX": style.AXIS_TITLE,
        "minExtent": style.AXIS, "maxExtent": style.AXIS,
    }  # fmt: skip
    y = style.at("y", style.scale(0.0, top, (HEIGHT, 0.0)), axis)
    after = {pull.day: pull.sd for pull in plan.pulls}  # in order of days: the last pull of a day holds
    corners, sd = [(0.0, plan.before)], plan.before
    for day, then in after.items():
        corners += [(day, sd), (day, then)]
        sd = then
    corners.append((last, sd))
    rows = [{"x": style.tidy(day), "y": style.tidy(value), "n": n} for n, (day, value) in enumerate(corners)]
    x = _days(last)
    line = {"x": x, "y": y, "order": {"field": "n", "type": "quantitative"}}
    above = 11 * top / HEIGHT
    before = f"± {plan.before:.1f} before the trial"
    # below the line, so that the words of a step nearby have the room above
    words = [{"x": 0.0, "y": min([plan.before, *list(after.values())[:1]]) - above, "text": before}]
    words += [{"x": day, "y": value + above, "text": f"± {value:.1f}"} for day, value in _apart(after, last)]
    return {
        "width": style.VIEW_WIDTH,
        "height": HEIGHT,
        "layer": [
            style.layer(rows, "line", line, color=style.INK, strokeWidth=1.8),
            *style.texts(words, x, y, dx=3),
        ],
    }


def _apart(after: dict[float, float], last: float) -> list[tuple[float, float]]:
    """The steps whose words do not touch those of the step after; the last one always has its words."""
    room = style.text_width("± 000.0  ", style.SIZE_SMALL) * last / style.VIEW_WIDTH
    kept: list[tuple[float, float]] = []
    for day, value in reversed(after.items()):
        if not kept or kept[-1][0] - day >= room:
            kept.append((day, value))
    return kept


def _lanes(plan: Plan, last: float) -> Spec:
    """One lane for each place, and each layer measured there."""
    several = len({pull.layer for pull in plan.pulls}) > 1
    names = list(dict.fromkeys(_lane(pull, several) for pull in plan.pulls))
    height = LANE * len(names)
    x = _days(last, "days from packing")
    y = style.at("y", style.scale(0.0, height, (0.0, height)))
    lines, titles, layers, words = [], [], [], []
    for n, name in enumerate(names):
        middle = LANE * n + 28
        lines.append({"x": 0.0, "x2": last, "y": middle})
        titles.append({"x": 0.0, "y": middle - 17, "text": name})
        here = [pull for pull in plan.pulls if _lane(pull, several) == name]
        points = [{"x": pull.day, "y": middle} for pull in here]
        look = {"shape": style.SHAPES[n % len(style.SHAPES)], "size": 110, "stroke": style.INK, "opacity": 1}
        layers.append(style.layer(points, "point", {"x": x, "y": y}, fill=style.INK, **look))
        for pull in here:
            words.append({"x": pull.day, "y": middle + 11, "text": f"{_packs(pull)}\n{_short(pull.date)}"})
    rule = style.layer(
        lines, "rule", {"x": x, "x2": {"field": "x2"}, "y": y}, color=style.LINE, strokeWidth=1
    )
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": [
            rule,
            *layers,
            *style.texts(titles, x, y, halo=False, fontWeight="bold"),
            *style.texts(words, x, y, halo=False, align="center", baseline="top"),
        ],
    }


def _lane(pull: Pull, several: bool) -> str:
    return f"{pull.place}, the {pull.layer}" if several else pull.place


def _short(date: str) -> str:
    """Day and month of a date, to stand below a number of packs."""
    if not date:
        return ""
    day = datetime.date.fromisoformat(date)
    return f"{day.day} {_MONTHS[day.month - 1]}"


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
