"""The bake in one figure: heat, water, activity, starch and colour over time; lift against setting over the time in the
oven, with its advice; and the profile that is handed on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.oven.baking import Baked, oven_of
from hardtack.oven.handover import at_packing
from hardtack.oven.words import advice, headline, timing_words
from hardtack.oven.zones import ROOM
from hardtack.pictures import style
from hardtack.pictures.placing import spread
from hardtack.pictures.style import Spec
from hardtack.states import Floats
from hardtack.units import celsius, degrees
from hardtack.version import VERSION

NAMES_WIDTH = 150.0
PLOT_WIDTH = style.VIEW_WIDTH - NAMES_WIDTH
OFF_PLOT = 8.0
ROW = style.SIZE_SMALL * style.LINE_HEIGHT
COOLING_SHOWN = 1.0
"""The cooling is drawn for at most this many times the bake, lest it crowd the oven out."""
NO_LIFT = 0.005
"""Rise in volume, of the dough's, below which no curve of the lift is drawn."""
WHEN_PACKED, WHEN_OUT = "when packed", "leaving the oven"


@dataclass(frozen=True, slots=True)
class _Line:
    name: str
    x: Floats
    y: Floats
    width: float = 2.0
    color: str = style.INK


def oven_picture(baked: Baked) -> Spec:
    """Temperatures, moistures and lift over the bake, the profile below; headed by the bake's sentence."""
    shown = _shown(baked)
    minutes = baked.times[: shown + 1] / 60.0
    oven, plain = minutes[: baked.out + 1], _zones(baked, minutes, named=False)
    figure = {
        "title": {
            "text": style.balanced(headline(baked), style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": style.wrapped(_note(baked), style.TEXT_WIDTH, style.SIZE_SMALL),
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 16,
        "vconcat": [
            _view("Heat", _temperatures(baked, minutes), 170.0, "temperature, °C", "", _zones(baked, minutes)),
            _view("Water", _moistures(baked, minutes), 130.0, "moisture, % wet basis", "", plain),
            _view("Water activity", _activities(baked, minutes), 110.0, "water activity", "", plain),
            _view(
                "Starch, colour, weight", _shares(baked, minutes), 130.0, "%, and L*", "minutes since entering the oven", plain
            ),
            _view(
                "Lift against setting", _lift(baked, oven), 150.0, "share, %", "minutes since entering the oven",
                [*_zones(baked, oven, named=False), *_half_set(baked, oven, 150.0)], " ".join(_lift_words(baked)),
            ),
            _view("From the first end to the last", _profiles(baked), 120.0, "moisture, % wet basis", _across(baked), []),
        ],
    }  # fmt: skip
    return style.whole(figure, description(baked))


def description(baked: Baked) -> str:
    """The picture in sentences, for those who hear it."""
    lift, end = baked.lift, at_packing(baked)
    set_words = (
        "less than half sets" if lift.set_at is None else f"half has set after {lift.set_at / 60:.1f} minutes"
    )
    return (
        f"{headline(baked)} The upper surface reaches {degrees(baked.colour.hottest)}; {set_words}, when "
        f"{100 * lift.useful + 100 * lift.early:.0f} percent of the leavening's gas has come. When packed the centre holds "
        f"{100 * (end.surface + end.difference):.1f} percent moisture and the surface {100 * end.surface:.1f} percent. {' '.join(_lift_words(baked))}"
    )


def _note(baked: Baked) -> str:
    return (
        f"Lightness L* {baked.colour.lightness[-1]:.0f} of 85 by published kinetics. "
        f"Computed by Hardtack {VERSION}; a model is not a validation."
    )


def _shown(baked: Baked) -> int:
    """The last output time that is drawn."""
    end = baked.times[baked.out] * (1.0 + COOLING_SHOWN)
    return int(np.searchsorted(baked.times, end + 1e-9, side="right")) - 1


def _temperatures(baked: Baked, minutes: Floats) -> list[_Line]:
    k, march = minutes.size, baked.march
    lines = [
        _Line("upper surface", minutes, march.surface[:k, 1] - 273.15),
        _Line("coldest place", minutes, baked.core[:k] - 273.15),
    ]
    if baked.product.piece.shape == "slab":
        lines.insert(1, _Line("lower surface", minutes, march.surface[:k, 0] - 273.15, 1.4))
    x, y = [0.0], []
    for zone in oven_of(baked.product).zones:
        y.extend([celsius(zone.temperature.value), celsius((zone.to or zone.temperature).value)])
        x.extend([x[-1] + zone.lasts.value / 60.0] * 2)
    cooling = oven_of(baked.product).cooling
    if cooling is not None:
        room = celsius(cooling.temperature.value if cooling.temperature is not None else ROOM)
        x, y = [*x[:-1], x[-1], float(minutes[-1]), 0.0], [*y, room, room]
    return [*lines, _Line("air", np.array(x[:-1]), np.array(y), 1.0, style.SOFT)]


def _moistures(baked: Baked, minutes: Floats) -> list[_Line]:
    k, march = minutes.size, baked.march
    return [
        _Line("mean", minutes, 100 * wet_basis_of(march.mean_moisture[:k])),
        _Line("coldest place", minutes, 100 * wet_basis_of(march.moisture[:k, baked.core_cell])),
        _Line("upper rim", minutes, 100 * wet_basis_of(march.moisture[:k, -1]), 1.4),
    ]


def _activities(baked: Baked, minutes: Floats) -> list[_Line]:
    k, a = minutes.size, baked.march.activity
    return [
        _Line("coldest place", minutes, a[:k, baked.core_cell]),
        _Line("upper rim", minutes, a[:k, -1], 1.4),
    ]


def _shares(baked: Baked, minutes: Floats) -> list[_Line]:
    """Starch and loss of weight in per cent, lightness in its own unit, on one scale to a hundred."""
    k, march, out = minutes.size, baked.march, baked.out
    weights = march.dry_mass / march.dry_mass.sum()
    start = float(march.mean_moisture[0])
    return [
        _Line("gelatinised, mean", minutes, 100 * baked.gelatinised[:k] @ weights),
        _Line("gelatinised, coldest", minutes, 100 * baked.gelatinised[:k, baked.core_cell], 1.4),
        _Line("lightness L*", minutes[: out + 1], baked.colour.lightness),
        _Line("weight lost", minutes, 100 * (start - march.mean_moisture[:k]) / (1 + start), 1.4),
    ]


def _lift(baked: Baked, minutes: Floats) -> list[_Line]:
    """Both curves, gas and setting, and what lift comes of them, over the time in the oven."""
    lift = baked.lift
    lifted = lift.volume - lift.volume[0]
    lines = [
        _Line("walls set", minutes, 100 * lift.setting),
        _Line("steam in the bubbles", minutes, 100 * lift.steam, 1.4, style.WATER_INK),
    ]
    if lift.timing != "no gas":
        lines.insert(1, _Line("leavening's gas given", minutes, 100 * lift.given))
    if lift.parted is not None:
        lines.append(_Line("sheets set and dry", minutes, 100 * lift.parted.standing, 1.4))
    if lifted.max() > NO_LIFT:
        lines.append(_Line("lift, of its most", minutes, 100 * np.maximum(lifted, 0.0) / lifted.max()))
    return lines


def _lift_words(baked: Baked) -> tuple[str, ...]:
    """When the gas comes against setting, and what to change."""
    return (timing_words(baked.lift), *advice(baked))


def _half_set(baked: Baked, minutes: Floats, height: float) -> list[Spec]:
    """A line at the moment when half of the piece has set, named above the plot."""
    if baked.lift.set_at is None:
        return []
    at = baked.lift.set_at / 60.0
    x = style.at("x", style.scale(0.0, float(minutes[-1]), (0, PLOT_WIDTH)))
    row = [{"x": at, "text": f"half set, {at:.1f} min"}]
    return [
        style.layer(
            row, "rule", {"x": x, "y": {"value": 0}, "y2": {"value": height}}, color=style.INK, strokeDash=style.LIMIT_DASH
        ),
        style.layer(
            row, "text", {"x": x, "y": {"value": -7}, "text": {"field": "text", "type": "nominal"}},
            fontSize=style.SIZE_SMALL, color=style.SOFT, align="left" if at < float(minutes[-1]) / 2 else "right",
        ),
    ]  # fmt: skip


def _profiles(baked: Baked) -> list[_Line]:
    x = 1e3 * baked.march.centres
    lines = [_Line(WHEN_OUT, x, 100 * wet_basis_of(baked.march.moisture[baked.out]), 1.4)]
    if baked.times.size > baked.out + 1:
        lines.insert(0, _Line(WHEN_PACKED, x, 100 * wet_basis_of(baked.march.moisture[-1])))
    return lines


def _across(baked: Baked) -> str:
    ends = "bottom to top" if baked.product.piece.shape == "slab" else "centre to surface"
    return f"mm from {ends}, as baked"


def wet_basis_of(X: Floats) -> Floats:
    """Moisture on wet basis of an array on dry basis."""
    return np.asarray(X / (1.0 + X))


def _zones(baked: Baked, minutes: Floats, *, named: bool = True) -> list[Spec]:
    """Zones as bands, every second one grey; the oven's exit as a rule."""
    marks, names, start = [], [], 0.0
    for zone in oven_of(baked.product).zones:
        end = start + zone.lasts.value / 60.0
        marks.append((start, end))
        names.append(zone.zone)
        start = end
    if minutes[-1] > start + 1e-9:
        marks.append((start, float(minutes[-1])))
        names.append("cooling")
    x = style.at("x", style.scale(0.0, float(minutes[-1]), (0, PLOT_WIDTH)))
    bands = [{"x": a, "x2": b} for a, b in marks[1::2]]
    layers = [
        style.layer(
            bands, "rect", {"x": x, "x2": {"field": "x2"}, "y": {"value": 0}, "y2": {"value": "height"}}, color=style.BAND
        )
    ]  # fmt: skip
    if named:
        per = PLOT_WIDTH / float(minutes[-1])
        rows = [
            {"x": (a + b) / 2, "text": style.shortened(name, (b - a) * per - 4, style.SIZE_SMALL)}
            for (a, b), name in zip(marks, names, strict=True)
            if (b - a) * per > 24
        ]
        encoding = {"x": x, "y": {"value": -7}, "text": {"field": "text", "type": "nominal"}}
        layers.append(
            style.layer(rows, "text", encoding, fontSize=style.SIZE_SMALL, color=style.SOFT, align="center")
        )
    return layers


def _view(
    title: str,
    lines: Sequence[_Line],
    height: float,
    y_title: str,
    x_title: str,
    under: list[Spec],
    said: str = "",
) -> Spec:
    """One plot: lines told apart by dash and named at their end; `said` stands under its title."""
    x_high = max(float(line.x[-1]) for line in lines)
    top = max(float(line.y.max()) for line in lines)
    step = style.step_for(top, 5)
    high = max(step * float(np.ceil(top / step - 1e-3)), step)
    x_step = style.step_for(x_high, 10)
    y = style.at(
        "y",
        style.scale(0, high, (height, 0)),
        {
            "values": [step * k for k in range(int(high / step + 1e-9) + 1)],
            "title": y_title,
            "titleX": style.AXIS_TITLE,
            "minExtent": style.AXIS,
            "maxExtent": style.AXIS,
        },
    )
    x = style.at(
        "x",
        style.scale(0, x_high, (0, PLOT_WIDTH)),
        {"values": [x_step * k for k in range(int(x_high / x_step + 1e-9) + 1)], "title": x_title or None, "titlePadding": 6},
    )  # fmt: skip
    grid = style.layer(
        [{"x": 0.0, "x2": x_high, "y": step * k} for k in range(int(high / step + 1e-9) + 1)],
        "rule",
        {"x": x, "x2": {"field": "x2"}, "y": y},
        color=style.GRID,
    )
    drawn = [
        style.layer(
            [{"x": style.tidy(float(a)), "y": style.tidy(float(b))} for a, b in zip(line.x, line.y, strict=True)],
            "line",
            {"x": x, "y": y},
            color=line.color,
            strokeWidth=line.width,
            strokeDash=style.DASHES[k % len(style.DASHES)],
        )
        for k, line in enumerate(lines)
        if line.name
    ]  # fmt: skip
    return {
        "width": style.VIEW_WIDTH,
        "height": height,
        "title": {
            "text": title,
            "offset": 18 if len(under) > 1 else 6,
            **({"subtitle": style.wrapped(said, style.TEXT_WIDTH, style.SIZE_SMALL)} if said else {}),
        },
        "layer": [_on(x, y, layer) for layer in (*under, grid, *drawn, *_names(lines, height, high, x_high))],
    }


def _on(x: Spec, y: Spec, layer: Spec) -> Spec:
    """The layer with the view's axes on its channels: a channel without one would take them off the whole view."""
    encoding = dict(layer["encoding"])
    for channel, whole in (("x", x), ("y", y)):
        if encoding.get(channel, {}).get("scale") is not None:
            encoding[channel] = {**encoding[channel], "axis": whole["axis"]}
    return {**layer, "encoding": encoding}


def _names(lines: Sequence[_Line], height: float, high: float, x_high: float) -> list[Spec]:
    """Each line's name at the right, tied to its end by a thin line where it had to move."""
    named = sorted((line for line in lines if line.name), key=lambda line: -float(line.y[-1]))
    wanted = [height * (1 - float(line.y[-1]) / high) for line in named]
    spots = spread(wanted, [ROW] * len(named), -4.0, height + 4.0)
    rows, ties = [], []
    per = x_high / PLOT_WIDTH
    at = max(float(line.x[-1]) for line in named) + OFF_PLOT * per
    for line, want, spot in zip(named, wanted, spots, strict=True):
        rows.append({"x": at + 10 * per, "y": high * (1 - spot / height), "text": line.name})
        ties.append(
            {
                "x": float(line.x[-1]),
                "x2": at + 7 * per,
                "y": high * (1 - want / height),
                "y2": high * (1 - spot / height),
            }
        )
    x = style.at("x", style.scale(0, x_high, (0, PLOT_WIDTH)))
    y = style.at("y", style.scale(0, high, (height, 0)))
    encoding = {"x": x, "x2": {"field": "x2"}, "y": y, "y2": {"field": "y2"}}
    return [
        style.layer(ties, "rule", encoding, color=style.LINE, strokeWidth=0.7),
        *style.texts(rows, x, y, halo=False, align="left"),
    ]
