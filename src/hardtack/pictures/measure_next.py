"""What to measure next in one picture: the days each measurement gives, and what makes the date unsure."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.keeping.measure_next import Measurement, Next, UnsureShare
from hardtack.keeping.next_words import gain_words, what_for, work_words
from hardtack.pictures import style
from hardtack.pictures.style import Spec

LINE, NAMES = 34.0, 380.0
MOST = 12


def table(found: Next) -> list[dict[str, object]]:
    """The numbers behind the picture: the measurements, then the shares of the variance."""
    measured: list[dict[str, object]] = [
        {
            "measurement": one.name, "for": what_for(one), "good to": one.error, "firmer by, days": one.gain,
            "day then": one.day, "work, days": one.effort, "wait, days": one.wait, "days per day of work": one.per_effort,
        }
        for one in found.measurements
    ]  # fmt: skip
    parts: list[dict[str, object]] = [
        {
            "number": part.name,
            "spread": part.told,
            "what": part.spread,
            "alone": part.first,
            "with others": part.total,
        }
        for part in found.shares
    ]
    return measured + parts


def description(found: Next) -> str:
    """The picture in sentences, for those who hear it."""
    said = [found.sentence]
    said += [
        f"{one.name} for {what_for(one)}: {gain_words(one)}, {work_words(one)}." for one in _drawn(found)
    ]
    said += [
        f"{part.name}: {max(0.0, part.first):.0%} alone, {part.total:.0%} with others."
        for part in found.shares[:MOST]
    ]
    return " ".join(said)


def _drawn(found: Next) -> tuple[Measurement, ...]:
    return found.measurements[:MOST]


def next_picture(found: Next) -> Spec:
    """Bars of days for each measurement with its work beside it, over bars of the variance's shares."""
    note = (
        "Above: days by which the stated date would firm up, with the work it takes. Below: share of the variance of the "
        "date's logarithm, full for the number alone, outlined with all it acts together with."
    )
    figure: Spec = {
        "title": {
            "text": style.balanced(found.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.balanced(note, style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 26,
        "vconcat": [_measurements(_drawn(found)), _shares(found.shares[:MOST])],
    }
    return style.whole(figure, description(found))


def _across(top: float, title: str, *, percent: bool) -> Spec:
    step = style.step_for(top, 6)
    axis: Spec = {
        "values": [style.tidy(step * k) for k in range(int(top / step + 1e-9) + 1)], "title": title, "titlePadding": 8,
    }  # fmt: skip
    if percent:
        axis["format"] = ".0%"
    return style.at("x", style.scale(0.0, top, (NAMES, style.VIEW_WIDTH)), axis)


def _measurements(several: Sequence[Measurement]) -> Spec:
    gains = [max(0.0, one.gain or 0.0) for one in several]
    top = 1.3 * max([*gains, 1e-3])
    x = _across(top, "the stated date would be later by, days", percent=False)
    height = LINE * max(len(several), 1)
    y = style.at("y", style.scale(0.0, height, (0.0, height)))
    bars, names, words = [], [], []
    for n, (one, gain) in enumerate(zip(several, gains, strict=True)):
        middle = LINE * (n + 0.5)
        bars.append({"x": 0.0, "x2": style.tidy(gain), "y": middle - 8, "y2": middle + 8})
        below = style.shortened(f"{what_for(one)}", NAMES - 16, style.SIZE_SMALL)
        names.append(
            {
                "x": 0.0,
                "y": middle,
                "text": f"{style.shortened(one.name, NAMES - 16, style.SIZE_SMALL)}\n{below}",
            }
        )
        words.append({"x": style.tidy(gain), "y": middle, "text": f"{gain_words(one)}; {work_words(one)}"})
    return _lines(bars, names, words, x, y, height)


def _shares(parts: Sequence[UnsureShare]) -> Spec:
    top = 1.3 * max([*(part.total for part in parts), *(part.first for part in parts), 0.01])
    x = _across(top, "share of the variance", percent=True)
    height = LINE * 0.8 * max(len(parts), 1)
    y = style.at("y", style.scale(0.0, height, (0.0, height)))
    bars, whole, names, words = [], [], [], []
    for n, part in enumerate(parts):
        middle = LINE * 0.8 * (n + 0.5)
        bars.append({"x": 0.0, "x2": style.tidy(max(0.0, part.first)), "y": middle - 5, "y2": middle + 5})
        whole.append({"x": 0.0, "x2": style.tidy(max(0.0, part.total)), "y": middle - 8, "y2": middle + 8})
        names.append(
            {"x": 0.0, "y": middle, "text": style.shortened(part.name, NAMES - 16, style.SIZE_SMALL)}
        )
        far = max(part.first, part.total, 0.0)
        words.append({"x": style.tidy(far), "y": middle, "text": f"{part.total:.0%}, {part.spread}"})
    view = _lines(bars, names, words, x, y, height)
    place = {"x": x, "x2": {"field": "x2"}, "y": y, "y2": {"field": "y2"}}
    outline = style.layer(whole, "rect", place, fill=None, stroke=style.INK, strokeWidth=1)
    return {**view, "layer": [*view["layer"], outline]}


def _lines(
    bars: Sequence[Spec], names: Sequence[Spec], words: Sequence[Spec], x: Spec, y: Spec, height: float
) -> Spec:
    place = {"x": x, "x2": {"field": "x2"}, "y": y, "y2": {"field": "y2"}}
    height_of_line = style.SIZE_SMALL * style.LINE_HEIGHT
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "layer": [
            style.layer(bars, "rect", place, color=style.SOFT),
            *style.texts(names, x, y, halo=False, align="right", dx=-8, lineHeight=height_of_line),
            *style.texts(words, x, y, halo=False, align="left", dx=6, lineHeight=height_of_line),
        ],
    }
