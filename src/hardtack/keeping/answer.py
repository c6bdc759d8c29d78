"""The main job: a product in, a keeping statement out."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hardtack.failures import crispness, drying_out, growth_gate
from hardtack.failures.texture import TextureLimit
from hardtack.keeping import sentences
from hardtack.keeping.follow import follow
from hardtack.keeping.history import until, with_moment
from hardtack.keeping.isotherm_error import error_sentence, isotherm_errors
from hardtack.keeping.ladder import ladder_of
from hardtack.keeping.statement import KeepingStatement, LegAccount, Limit
from hardtack.pack import journey_of, pack_of
from hardtack.piece import piece_of
from hardtack.product import Product
from hardtack.states import FailureCourse, Floats, History, Isotherm, Journey, Piece
from hardtack.version import VERSION

SHOWN_BEYOND = 1.15
"""How far past the first failure an open-ended leg is still shown."""

COURSES = {crispness.NAME: crispness.course, drying_out.NAME: drying_out.course}


def keep(product: Product) -> KeepingStatement:
    """When the product first fails on its journey, why, and on which assumptions.

    Raises `HardtackError` when the file and the shelf together do not say enough, and `BalanceError` when
    the water balance does not close to 1e-12 of the piece's water.
    """
    piece, piece_used, remarks = piece_of(product)
    pack, pack_used = pack_of(product)
    journey, journey_used = journey_of(product)
    followed = follow(product, piece, pack, journey)
    errors = isotherm_errors(product, piece, pack, journey)
    isotherms = {layer.name: layer.isotherm for layer in piece.layers}
    limits, history, first_time = followed.limits, followed.history, followed.first_time
    followed_to = float(history.times[-1])
    journey, history = _shown(journey, history, first_time)
    if first_time is not None:
        history = with_moment(history, first_time)
    courses = _courses(history, limits, isotherms)
    first = courses[0]
    end_time = float(history.times[-1]) if first.time is None else first.time
    end = int(np.searchsorted(history.times, end_time))
    legs = _accounts(journey, history, first, end_time)
    rungs, flows = ladder_of(piece, pack, history, followed.stretches[0], end)
    return KeepingStatement(
        product=product.name,
        sentence=sentences.statement_sentence(product.name, first, journey, legs),
        causes=sentences.causes(first, history, piece, end),
        limiting=sentences.limiting(history, pack),
        way=tuple(sentences.leg_line(leg, history.layers, journey.packed_on) for leg in legs),
        courses=courses,
        gates=(growth_gate.gate(history),),
        legs=legs,
        limits=_drawn(limits, isotherms),
        ladder=rungs,
        flows=flows,
        used=(*piece_used, *pack_used, *journey_used, *followed.used),
        cautions=(
            *(error_sentence(error, followed_to) for error in errors),
            *remarks,
            *_range_remarks(piece, history, end),
            *sentences.CAUTIONS,
        ),
        history=history,
        journey=journey,
        piece=piece,
        pack=pack,
        end=end_time,
        end_date=_date(journey.packed_on, end_time),
        version=VERSION,
        isotherm_errors=errors,
    )


def _courses(
    history: History, limits: Sequence[tuple[str, TextureLimit]], isotherms: dict[str, Isotherm]
) -> tuple[FailureCourse, ...]:
    """All failures, the first to come first; those that do not come, by the share of life they used."""
    courses = [COURSES[name](history, limit, isotherms[limit.layer]) for name, limit in limits]
    return tuple(
        sorted(courses, key=lambda c: (c.time if c.time is not None else math.inf, -float(c.share[-1])))
    )


def _shown(journey: Journey, history: History, failed: float | None) -> tuple[Journey, History]:
    """Cut an open-ended last leg a little after the first failure: the rest was only looked ahead."""
    last = journey.legs[-1]
    if not last.open_ended or failed is None:
        return journey, history
    stop = max(failed * SHOWN_BEYOND, last.start + 60.0)
    if stop >= last.end:
        return journey, history
    history = until(history, stop)
    end = float(history.times[-1])
    legs = (*journey.legs[:-1], replace(last, end=end))
    return replace(journey, legs=legs), history


def _accounts(
    journey: Journey, history: History, first: FailureCourse, end_time: float
) -> tuple[LegAccount, ...]:
    """What each leg did, up to the statement's end."""
    accounts: list[LegAccount] = []
    for leg in journey.legs:
        if leg.start >= end_time and accounts:
            break
        stop = min(leg.end, end_time)
        inside = (leg.climate.times >= leg.start) & (leg.climate.times <= stop)
        inside[: int(np.searchsorted(leg.climate.times, stop)) + 1] = True
        T, RH = leg.climate.temperature[inside], leg.climate.humidity[inside]
        accounts.append(
            LegAccount(
                name=leg.name,
                start=leg.start,
                end=stop,
                temperature=(float(T.min()), float(T.max())),
                humidity=(float(RH.min()), float(RH.max())),
                sealed=leg.film_coefficient is None,
                activity_in=_layer_activities(history, leg.start),
                activity_out=_layer_activities(history, stop),
                share=_at(history, first.share, stop) - _at(history, first.share, leg.start),
            )
        )
    return tuple(accounts)


def _at(history: History, values: Floats, time: float) -> float:
    return float(np.interp(time, history.times, values))


def _layer_activities(history: History, time: float) -> tuple[float, ...]:
    return tuple(_at(history, history.activity[:, k], time) for k in range(len(history.layers)))


def _drawn(limits: Sequence[tuple[str, TextureLimit]], isotherms: dict[str, Isotherm]) -> tuple[Limit, ...]:
    return tuple(
        Limit(name, limit.layer, limit.activity_for(isotherms[limit.layer]), limit.temperature)
        for name, limit in limits
    )


def _range_remarks(piece: Piece, history: History, end: int) -> tuple[str, ...]:
    """Say when a layer's isotherm was used outside the range in which it is known."""
    said = []
    for k, layer in enumerate(piece.layers):
        low, high = layer.isotherm.activity_range
        reached = history.activity[: end + 1, k]
        if reached.max() > high or reached.min() < low:
            said.append(
                f"The {layer.name} passed through activities {reached.min():.2f} to {reached.max():.2f}; its isotherm "
                f"({layer.isotherm.name}) is known from {low:.2f} to {high:.2f} only."
            )
    return tuple(said)


def _date(packed_on: str, seconds: float) -> str:
    if not packed_on:
        return ""
    return (datetime.date.fromisoformat(packed_on) + datetime.timedelta(seconds=seconds)).isoformat()
