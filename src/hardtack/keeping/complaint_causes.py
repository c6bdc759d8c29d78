"""Causes of a complaint as variants of one built product: what leaks, what was packed, where it stood, how old it is."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.cases import Case, case_of
from hardtack.keeping.judged import ROOM
from hardtack.product import Product
from hardtack.product.found_spec import Found
from hardtack.reference import Row, lookup, reclosing, rows
from hardtack.states import Climate, Film, Journey, Layer, Leak, Leg, Opened, Piece
from hardtack.units import DAY, wet_basis
from hardtack.water.isotherm import activity

CAUSES = "complaint causes"
DRY = 0.6
"""Activity below which a layer was baked dry: a short or long bake is told of these; of all where there are none."""
WETTEST_AIR = 0.98


@dataclass(frozen=True, slots=True)
class Variant:
    """One way it may have been: the case to follow, its age [s], the hole [m; 0 none] and the film over the file's."""

    case: Case
    age: float
    words: str
    hole: float = 0.0
    film: float = 1.0


Cause = Callable[[Row, float, float], Variant]
"""A row of the shelf and two numbers between 0 and 1 that say where in its range, to a variant."""


def base_case(product: Product, found: Found) -> Case:
    """The product as the file has it, its journey as the complaint tells it: cut off at the day, in the leg it came from.

    Raises `HardtackError` as `keep`, and when the leg is not in the journey or begins after the day.
    """
    case = case_of(product)
    return replace(case, journey=_until(case.journey, found.day.value, found.leg))


def _until(journey: Journey, day: float, leg: str | None) -> Journey:
    """The journey to the day [s]; a leg named is the last, and its own air goes on as it was on its last day."""
    names = [one.name for one in journey.legs]
    if leg is not None and leg not in names:
        raise HardtackError(f"the journey has no leg “{leg}”", f"its legs are: {', '.join(names)}")
    legs: list[Leg] = []
    for one in journey.legs:
        last = one.name == leg or (leg is None and (one.end >= day or one is journey.legs[-1]))
        if one.start >= day:
            raise HardtackError(
                f"the leg “{one.name}” begins on day {one.start / DAY:.0f}, after the complaint's day {day / DAY:.0f}",
                "put day or leg right",
            )
        legs.append(_piece_of(one, one.start, day if last else one.end))
        if last:
            break
    return replace(journey, legs=tuple(legs))


def _piece_of(leg: Leg, start: float, end: float) -> Leg:
    """The leg from `start` to `end` [s]; beyond its record its air stays as at the record's end."""
    times = leg.climate.times
    inner = times[(times > start) & (times < end)]
    at = np.concatenate([[start], inner, [end]])
    air = Climate(
        at,
        np.interp(at, times, leg.climate.temperature),
        np.interp(at, times, leg.climate.humidity),
    )
    return replace(leg, start=start, end=end, climate=air, open_ended=False)


def causes_of(found: Found, case: Case) -> tuple[tuple[Row, Cause], ...]:
    """The causes that apply, or those the complaint names. Raises `HardtackError` for one that is not on the shelf."""
    made: Mapping[str, Cause] = _made(case, found)
    names = found.causes or tuple(row.name for row in rows(CAUSES))
    kept = [lookup(CAUSES, name) for name in names]
    if not any(row.name == "as declared" for row in kept):
        kept.insert(0, lookup(CAUSES, "as declared"))
    return tuple((row, made[row.name]) for row in kept if row.name in made)


def _made(case: Case, found: Found) -> dict[str, Cause]:
    """How each cause is made, for those that can be with this product."""
    age = found.day.value

    def plain(changed: Case, words: str, hole: float = 0.0, film: float = 1.0) -> Variant:
        return Variant(changed, age, words, hole, film)

    def bake(row: Row, u: float, sign: float) -> Variant:
        points = _between(row, u)
        return plain(
            _packed_at(case, sign * points / 100.0), f"packed {sign * points:+.1f} points of moisture"
        )

    def warmer(row: Row, u: float, v: float) -> Variant:
        kelvin = row["warmer_low"] + u * (row["warmer_high"] - row["warmer_low"])
        changed, leg = _air(case, v, kelvin, 0.0)
        return plain(changed, f"“{leg}” {kelvin:.0f} K warmer")

    def damper(row: Row, u: float, v: float) -> Variant:
        points = row["low"] + u * (row["high"] - row["low"])
        changed, leg = _air(case, v, 0.0, points / 100.0)
        return plain(changed, f"“{leg}” {points:.0f} points damper")

    def older(row: Row, u: float, _: float) -> Variant:
        factor = _between(row, u)
        longer = replace(case, journey=_older(case.journey, factor))
        return Variant(longer, factor * age, f"{factor * age / DAY:.0f} days old")

    causes: dict[str, Cause] = {
        "as declared": lambda row, u, v: plain(case, "as the file says"),
        "short bake": lambda row, u, v: bake(row, u, 1.0),
        "long bake": lambda row, u, v: bake(row, u, -1.0),
        "hot leg": warmer,
        "damp leg": damper,
        "older than told": older,
    }
    if case.pack is not None:
        causes |= _pack_causes(case, plain)
    if len(case.pieces) == 1 and case.pieces[0].count > 1 and case.pack is not None:
        causes["fewer pieces"] = lambda row, u, v: _fewer(case, row, u, plain)
    return causes


def _pack_causes(case: Case, plain: Callable[..., Variant]) -> dict[str, Cause]:
    pack = case.pack
    assert pack is not None

    def leaking(row: Row, u: float, _: float) -> Variant:
        width = math.exp(
            math.log(row["width_low"]) + u * (math.log(row["width_high"]) - math.log(row["width_low"]))
        )
        holed = replace(pack, leaks=(*pack.leaks, Leak(width, row["depth"])))
        return plain(replace(case, pack=holed), f"a hole of {1e3 * width:.2g} mm", width)

    def seals(row: Row, u: float, _: float) -> Variant:
        factor = _between(row, u)
        poor = replace(pack, whole_pack_factor=factor * pack.whole_pack_factor)
        return plain(replace(case, pack=poor), f"whole-pack factor {poor.whole_pack_factor:.2g}")

    def film(row: Row, u: float, _: float) -> Variant:
        factor = _between(row, u)
        wrong = replace(pack, film=scaled(pack.film, factor))
        return plain(replace(case, pack=wrong), f"a film that passes {factor:.2g} times", 0.0, factor)

    def opened(row: Row, u: float, _: float) -> Variant:
        share = (row["low"] + u * (row["high"] - row["low"])) / 100.0
        changed, day = _opened(case, share, row["open_each_day"])
        return plain(changed, f"opened on day {day / DAY:.0f}")

    return {
        "leaking seal": leaking,
        "poor folds or seals of all packs": seals,
        "wrong film": film,
        "opened early": opened,
    }


def _between(row: Row, u: float) -> float:
    """From the least to the greatest, evenly in the logarithm."""
    return math.exp(math.log(row["low"]) + u * (math.log(row["high"]) - math.log(row["low"])))


def scaled(film: Film, factor: float) -> Film:
    """A film that passes so many times as much, of gases too."""
    return replace(
        film,
        permeance=film.permeance * factor,
        plies=tuple(scaled(ply, factor) for ply in film.plies),
        oxygen=None if film.oxygen is None else film.oxygen * factor,
        carbon_dioxide=None if film.carbon_dioxide is None else film.carbon_dioxide * factor,
    )


def _dry_layers(case: Case) -> set[str]:
    layers = [layer for piece in case.pieces for layer in piece.layers]
    dry = {layer.name for layer in layers if float(activity(layer.isotherm, layer.moisture, ROOM)) < DRY}
    return dry or {layer.name for layer in layers}


def with_moistures(case: Case, change: Callable[[Layer], float]) -> Case:
    """The case with layers packed at other moistures [kg/kg dry]; every layer's mass as packed stays."""

    def part(one: object) -> object:
        if not isinstance(one, Layer):
            return one
        X = change(one)
        return replace(one, moisture=X, dry_mass=one.dry_mass * (1.0 + one.moisture) / (1.0 + X))

    def piece(one: Piece) -> Piece:
        return replace(one, parts=tuple(part(p) for p in one.parts))  # type: ignore[misc]

    return replace(case, pieces=tuple(piece(one) for one in case.pieces))


def _packed_at(case: Case, more: float) -> Case:
    """Dry layers packed at so much more moisture, wet basis; never drier than bone dry nor wetter than the isotherm."""
    dry = _dry_layers(case)

    def change(layer: Layer) -> float:
        if layer.name not in dry:
            return layer.moisture
        wet = max(wet_basis(layer.moisture) + more, 0.002)
        X = wet / (1.0 - wet)
        return X if float(activity(layer.isotherm, X, ROOM)) < 0.99 else layer.moisture

    return with_moistures(case, change)


def _air(case: Case, v: float, kelvin: float, points: float) -> tuple[Case, str]:
    """One leg in other air: which one, by `v`, in proportion to how long each lasts."""
    legs = case.journey.legs
    at = v * legs[-1].end
    k = next((n for n, leg in enumerate(legs) if at <= leg.end), len(legs) - 1)
    air = legs[k].climate
    changed = replace(
        air,
        temperature=air.temperature + kelvin,
        humidity=np.minimum(air.humidity + points, np.maximum(air.humidity, WETTEST_AIR)),
    )
    legs = (*legs[:k], replace(legs[k], climate=changed), *legs[k + 1 :])
    return replace(case, journey=replace(case.journey, legs=legs)), legs[k].name


def _older(journey: Journey, factor: float) -> Journey:
    """The last leg so much longer that the whole is `factor` times as long."""
    last = journey.legs[-1]
    return replace(journey, legs=(*journey.legs[:-1], _piece_of(last, last.start, factor * last.end)))


def _opened(case: Case, share: float, each_day: float) -> tuple[Case, float]:
    """Opened after `share` of the time, and folded over."""
    legs: list[Leg] = []
    day = share * case.journey.legs[-1].end
    use = Opened(
        share=each_day / DAY,
        air_changes=reclosing("mouth of a bag")["air_changes"],
        reclosed=reclosing("folded over")["factor"],
    )
    for leg in case.journey.legs:
        if leg.end <= day:
            legs.append(leg)
            continue
        if leg.start < day:
            legs.append(_piece_of(leg, leg.start, day))
        legs.append(replace(_piece_of(leg, max(leg.start, day), leg.end), opened=leg.opened or use, outer=0))
    return replace(case, journey=replace(case.journey, legs=tuple(legs))), day


def _fewer(case: Case, row: Row, u: float, plain: Callable[..., Variant]) -> Variant:
    piece = case.pieces[0]
    share = (row["low"] + u * (row["high"] - row["low"])) / 100.0
    count = max(1, min(piece.count - 1, round(share * piece.count)))
    return plain(replace(case, pieces=(replace(piece, count=count),)), f"{count} pieces in the pack")


def mean_air(case: Case, age: float) -> tuple[float, float]:
    """Mean temperature [K] and humidity of the journey until the age [s]."""
    T = RH = 0.0
    for leg in case.journey.legs:
        piece = _piece_of(leg, leg.start, min(leg.end, age)).climate
        T += float(np.trapezoid(piece.temperature, piece.times))
        RH += float(np.trapezoid(piece.humidity, piece.times))
    return T / age, RH / age
