"""A complaint's causes as bars of belief, and under them what each measurement would tell apart."""

from __future__ import annotations

from hardtack.keeping.complaint import Complaint
from hardtack.pictures import style
from hardtack.pictures.style import Spec

ROW = 32.0
NAMES = 300.0
SHOWN = 6


def table(answer: Complaint) -> list[dict[str, object]]:
    """The numbers behind the picture: causes, then measurements."""
    rows: list[dict[str, object]] = [
        {"cause": one.name, "before": one.before, "after": one.after, "fits best as": one.best}
        for one in answer.causes
    ]
    return rows + [{"measure": one.what, "names the right one": one.right} for one in answer.telling]


def description(answer: Complaint) -> str:
    """The picture in sentences, for those who hear it."""
    said = "; ".join(f"{one.name} {one.after:.0%}" for one in answer.causes)
    return f"{answer.sentence} Shares of belief: {said}."


def complaint_picture(answer: Complaint) -> Spec:
    """Bars of belief, with a tick where each stood beforehand; then bars of how surely a measurement decides."""
    causes = [(f"{one.name}: {one.best}", one.after, f"{one.after:.0%}", one.before) for one in answer.causes]
    telling = [
        (one.what, one.right, f"{one.right:.0%}: {one.first} or {one.second}", 0.5)
        for one in answer.telling[:SHOWN]
    ]
    parts = [_bars("Share of belief; the tick is where it stood beforehand", causes)]
    if telling:
        first, second = (one.name for one in answer.causes[:2])
        head = f"Chance to name the right one of {first} and {second}; the tick is a coin"
        parts.append(_bars(head, telling))
    figure = {
        "title": {
            "text": style.balanced(answer.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.balanced(
                f"{answer.product}, day {answer.day:.0f}: {', '.join(answer.found)}. {answer.remarks[-1]}",
                style.TEXT_WIDTH,
                style.SIZE_SMALL,
            ),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 14,
        },
        "spacing": 24,
        "vconcat": parts,
    }
    return style.whole(figure, description(answer))


def _bars(head: str, rows: list[tuple[str, float, str, float]]) -> Spec:
    width, height = style.VIEW_WIDTH - NAMES, ROW * len(rows)
    x = style.at("x", style.scale(0, 1.35, (NAMES, NAMES + width)))
    y = style.at("row", style.scale(0, len(rows), (0, height)))
    encoding = {"x": x, "x2": {"field": "to"}, "y": y, "y2": {"field": "below"}}
    bars = [
        {"x": 0.0, "to": style.tidy(value), "row": k + 0.2, "below": k + 0.8}
        for k, (_, value, _, _) in enumerate(rows)
    ]
    ticks = [
        {"x": style.tidy(tick), "row": k + end, "k": k}
        for k, (_, _, _, tick) in enumerate(rows)
        for end in (0.1, 0.9)
    ]
    left = -1.35 * NAMES / width
    names = []
    for k, (name, _, _, _) in enumerate(rows):
        words = style.balanced(name, NAMES - 10, style.SIZE_SMALL)
        # the first of several lines stands so much higher that all are centred on the bar
        up = style.block_height(len(words) - 1, style.SIZE_SMALL) / 2 / ROW
        names.append({"x": left, "row": k + 0.5 - up, "text": "\n".join(words)})
    told = [
        {"x": max(value, tick), "row": k + 0.5, "text": words}
        for k, (_, value, words, tick) in enumerate(rows)
    ]
    detail = {"field": "k", "type": "nominal"}
    layers = [
        style.layer(bars, "rect", encoding, color=style.WATER, stroke=style.INK, strokeWidth=0.8),
        style.layer(ticks, "line", {"x": x, "y": y, "detail": detail}, color=style.INK, strokeWidth=1.6),
        *style.texts(names, x, y, halo=False),
        *style.texts(told, x, y, dx=6),
    ]
    return {"title": head, "width": style.VIEW_WIDTH, "height": height, "layer": layers}
