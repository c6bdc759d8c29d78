"""Remedies as bars: the days each comes to beside the days wanted, with its setting and its cost."""

from __future__ import annotations

import math

from hardtack.keeping.remedies import Remedies, Remedy, days_words
from hardtack.pictures import style
from hardtack.pictures.style import Spec

ROW = 34.0
NAMES = 300.0
"""Room left of the bars for their names [px]."""
MOST_ROWS = 24


def table(answer: Remedies) -> list[dict[str, object]]:
    """The numbers behind the picture: one row a remedy."""
    return [
        {
            "remedy": one.move.what,
            "from": one.move.now,
            "to": one.setting.words,
            "days": one.outcome.days if math.isfinite(one.outcome.days) else None,
            "gives the wanted days": one.suffices,
            "fails first": one.outcome.first,
            f"cost [{answer.currency or 'money'} per pack]": one.cost.more,
        }
        for one in answer.found
    ]


def description(answer: Remedies) -> str:
    """The picture in sentences, for those who hear it."""
    bars = "; ".join(
        f"{one.move.what} to {one.setting.words} {days_words(one.outcome.days)}" for one in answer.found
    )
    return f"{answer.sentence} Remedies: {bars or 'none'}."


def remedies_picture(answer: Remedies) -> Spec:
    """A bar a remedy, from the days as it stands on; full where it suffices, open where it does not."""
    rows = answer.found[:MOST_ROWS]
    width, height = style.VIEW_WIDTH - NAMES, ROW * max(len(rows), 1)
    top = max(answer.wanted * 1.6, answer.now.days if math.isfinite(answer.now.days) else 0.0)
    step = style.step_for(top, 8)
    x = style.at(
        "days",
        style.scale(0, top, (NAMES, NAMES + width)),
        {
            "values": [k * step for k in range(int(top / step) + 1)],
            "title": "days from packing to the first failure",
            "format": "~r",
        },
    )
    y = style.at("row", style.scale(0, max(len(rows), 1), (0, height)))
    layers: list[Spec] = []
    bars = [_bar(answer, one, k, top) for k, one in enumerate(rows)]
    for enough, look in (
        (True, {"color": style.WATER, "stroke": style.INK}),
        (False, {"color": "white", "stroke": style.LINE}),
    ):
        encoding = {"x": x, "x2": {"field": "to"}, "y": y, "y2": {"field": "below"}}
        layers.append(
            style.layer(
                [bar for bar in bars if bar["enough"] == enough], "rect", encoding, strokeWidth=1, **look
            )
        )
    names, told = [], []
    for k, one in enumerate(rows):
        text = style.shortened(f"{one.move.what}: {one.setting.words}", NAMES - 12, style.SIZE_SMALL)
        names.append({"days": -top * NAMES / width, "row": k + 0.5, "text": text})
        told.append({"days": bars[k]["to"], "row": k + 0.5, "text": _told(one)})
    layers += _wanted(answer, x, y, len(rows))
    layers += style.texts(names, x, y, halo=False)
    layers += style.texts(told, x, y, dx=6)
    figure = {"title": _title(answer), "width": style.VIEW_WIDTH, "height": height, "layer": layers}
    return style.whole(figure, description(answer))


def _bar(answer: Remedies, one: Remedy, k: int, top: float) -> Spec:
    start = min(answer.now.days, top)
    end = min(one.outcome.days, top * 0.86) if one.outcome.days > top * 0.86 else one.outcome.days
    return {
        "days": style.tidy(start),
        "to": style.tidy(end),
        "row": k + 0.2,
        "below": k + 0.8,
        "enough": one.suffices,
    }


def _told(one: Remedy) -> str:
    """What stands at a bar's end: its days, and its cost where that is given."""
    days = days_words(one.outcome.days).removesuffix(" days").replace("more than", ">")
    if one.cost.more is None:
        return days
    return f"{days} · {1e3 * one.cost.more:+.3g} {one.cost.currency}/1000 packs"


def _wanted(answer: Remedies, x: Spec, y: Spec, rows: int) -> list[Spec]:
    """The lines of the days as it stands and of the days wanted."""
    found: list[Spec] = []
    for days, dash in ((answer.now.days, [1, 0]), (answer.wanted, style.LIMIT_DASH)):
        ends = [
            {"days": style.tidy(days), "row": 0.0},
            {"days": style.tidy(days), "row": float(max(rows, 1))},
        ]
        if math.isfinite(days):
            found.append(
                style.layer(ends, "line", {"x": x, "y": y}, color=style.INK, strokeWidth=1.2, strokeDash=dash)
            )
    return found


def _title(answer: Remedies) -> Spec:
    note = (
        f"Bars run from the days as it stands ({days_words(answer.now.days)}, full line) to the days with the remedy; "
        f"dashed: the {answer.wanted:g} days wanted. Filled bars suffice, open ones do not."
    )
    return {
        "text": style.balanced(answer.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
        "subtitle": style.balanced(note, style.TEXT_WIDTH, style.SIZE_SMALL),
        "fontSize": style.SIZE_TITLE,
        "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
        "offset": 14,
    }
