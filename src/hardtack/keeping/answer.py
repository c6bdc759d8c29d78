"""The main job: a product in, a keeping statement out."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.failures.texture import limit_moisture
from hardtack.keeping import sentences
from hardtack.keeping.cautions import compiler_remarks, range_remarks, record_remarks, swing_remarks
from hardtack.keeping.chain import chain, not_by_the_pack
from hardtack.keeping.follow import Followed, follow
from hardtack.keeping.gates import gates_of
from hardtack.keeping.history import at_rows, until, with_moment
from hardtack.keeping.isotherm_error import error_sentence, isotherm_errors
from hardtack.keeping.judged import Judged, all_layers
from hardtack.keeping.ladder import ladder_of
from hardtack.keeping.pack_told import pack_told
from hardtack.keeping.stale import two_stales
from hardtack.keeping.statement import KeepingStatement, LegAccount, Limit
from hardtack.oven.storage import settled
from hardtack.pack import journey_of, pack_of
from hardtack.piece import pieces_of
from hardtack.product import Product
from hardtack.sourced import Used
from hardtack.states import FailureCourse, Floats, History, Journey, Piece
from hardtack.version import VERSION

SHOWN_BEYOND = 1.15
"""How far past the first failure an open-ended leg is still shown."""


@dataclass(frozen=True, slots=True)
class AtOnce:
    """A statement that does not say yet what the errors of computed isotherms do, and what following those needs.

    `product` has its bake's results; `journey` is whole; `followed_to` [s] is how far it was followed.
    """

    statement: KeepingStatement
    product: Product
    journey: Journey
    followed_to: float


def keep(product: Product) -> KeepingStatement:
    """When the product first fails on its journey, why, and on which assumptions.

    Raises `HardtackError` when the file and the shelf together do not say enough, and `BalanceError` when
    the water balance does not close to 1e-12 of the piece's water.
    """
    return with_isotherm_errors(keep_at_once(product))


def with_isotherm_errors(known: AtOnce) -> KeepingStatement:
    """The whole statement: with what the stated error of every isotherm computed from a formula does to the date."""
    said = known.statement
    errors = isotherm_errors(known.product, said.pieces, said.pack, known.journey)
    told = tuple(error_sentence(error, known.followed_to) for error in errors)
    return replace(said, cautions=(*told, *said.cautions), isotherm_errors=errors)


def keep_at_once(product: Product) -> AtOnce:
    """As `keep`, without following what the errors of computed isotherms do, which takes several times as long."""
    product, bake_used, bake_said = settled(product)
    pieces, piece_used, remarks = pieces_of(product)
    pack, pack_used = pack_of(product)
    journey, journey_used = journey_of(product)
    followed = follow(product, pieces, pack, journey)
    whole, followed_to = journey, float(followed.history.times[-1])
    journey, history = _shown(journey, followed)
    judged = tuple(one for one, _ in followed.judged)
    courses = tuple(at_rows(course, followed.history.times, history) for _, course in followed.judged)
    first = courses[0]
    end_time = float(history.times[-1]) if first.time is None else first.time
    end = int(np.searchsorted(history.times, end_time))
    legs = _accounts(journey, history, first, end_time)
    rungs, flows = ladder_of(pieces, pack, history, followed.stretches[0], end)
    chains = tuple(chain(course, pieces, pack, history, journey, end) for course in courses)
    numbers = tuple(one.used for one in judged)
    statement = KeepingStatement(
        product=product.name,
        sentence=sentences.statement_sentence(product.name, first, journey, legs),
        chain=chains[0],
        causes=(
            *sentences.causes(first, history, end),
            *pack_told(product, pieces, pack, journey, history, end),
        ),
        limiting=sentences.limiting(history, pack) + not_by_the_pack(first, pieces, history, end),
        way=tuple(sentences.leg_line(leg, history.layers, journey.packed_on) for leg in legs),
        courses=courses,
        chains=chains,
        numbers=numbers,
        not_judged=followed.not_judged,
        stale=two_stales(courses, pieces, history, end),
        clashes=_clashes(courses),
        gates=gates_of(product, pieces, history),
        legs=legs,
        limits=_drawn(judged, pieces),
        ladder=rungs,
        flows=flows,
        used=_all_used(bake_used, piece_used, pack_used, journey_used, *numbers),
        cautions=(
            *bake_said,
            *remarks,
            *compiler_remarks(history),
            *range_remarks(pieces, history, end),
            *record_remarks(product),
            *swing_remarks(journey, courses, end_time),
            *sentences.cautions(courses, followed.not_judged),
        ),
        history=history,
        journey=journey,
        pieces=pieces,
        pack=pack,
        end=end_time,
        end_date=_date(journey.packed_on, end_time),
        version=VERSION,
    )
    return AtOnce(statement, product, whole, followed_to)


def _all_used(*parts: tuple[Used, ...]) -> tuple[Used, ...]:
    """Every number once, in order."""
    return tuple(dict.fromkeys(used for part in parts for used in part))


def _clashes(courses: Sequence[FailureCourse]) -> tuple[str, ...]:
    if len(courses) < 2:
        return ()
    from hardtack.failures.pairs import warnings

    return warnings(courses)


def _shown(journey: Journey, followed: Followed) -> tuple[Journey, History]:
    """The history with a row at the first failure; an open-ended last leg is cut a little after it."""
    history, failed = followed.history, followed.first_time
    if failed is None:
        return journey, history
    last = journey.legs[-1]
    stop = max(failed * SHOWN_BEYOND, last.start + 60.0)
    if last.open_ended and stop < last.end:
        history = until(history, stop)
        legs = (*journey.legs[:-1], replace(last, end=float(history.times[-1])))
        journey = replace(journey, legs=legs)
    return journey, with_moment(history, failed)


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


def _drawn(judged: Sequence[Judged], pieces: tuple[Piece, ...]) -> tuple[Limit, ...]:
    isotherms = {layer.name: layer.isotherm for layer in all_layers(pieces)}
    return tuple(
        Limit(
            one.name,
            one.layer,
            one.limit.activity_for(isotherms[one.layer]),
            one.limit.temperature,
            limit_moisture(one.limit, isotherms[one.layer]),
        )
        for one in judged
        if one.limit is not None
    )


def _date(packed_on: str, seconds: float) -> str:
    if not packed_on:
        return ""
    return (datetime.date.fromisoformat(packed_on) + datetime.timedelta(seconds=seconds)).isoformat()
