"""Keeping statements with invented numbers, shaped as the main job shapes them. No product here exists."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from hardtack.keeping.statement import Flow, KeepingStatement, LegAccount, Limit, Rung
from hardtack.sourced import PROVENANCES, Sourced, Used
from hardtack.states import (
    Climate,
    Diffusivity,
    FailureCourse,
    Floats,
    History,
    Isotherm,
    Journey,
    Layer,
    Leg,
    Pack,
    Piece,
)
from hardtack.states import Film as PackFilm

DAY = 86400.0
PACKED = date(2026, 6, 1)


@dataclass(frozen=True)
class Stop:
    """A leg as the tests state it: days, mean and swing of temperature [°C] and of humidity."""

    name: str
    days: float
    temperature: float
    swing: float
    humidity: float
    wetter_by_night: float = 0.0


SEA = Stop("sea container", 21, 30, 15, 0.65, 0.15)
WAREHOUSE = Stop("warehouse", 45, 24, 3, 0.60, 0.03)
SHOP = Stop("shop on the coast", 400, 27, 2, 0.72, 0.05)


@dataclass(frozen=True)
class Part:
    """A layer: activity when packed, where it tends to and in how many days, capacity [mg per 0.01]."""

    name: str
    start: float
    towards: float
    days: float
    capacity: float
    moisture: str


CRACKER = Part("cracker", 0.17, 0.66, 190, 106.0, "2.60 % moisture (wet basis)")
SANDWICH = (
    Part("lower shell", 0.15, 0.50, 40, 70.0, "2.40 % moisture (wet basis)"),
    Part("filling", 0.62, 0.50, 30, 160.0, "11.2 % moisture (wet basis)"),
    Part("upper shell", 0.15, 0.50, 55, 70.0, "2.40 % moisture (wet basis)"),
)


def _legs(stops: tuple[Stop, ...]) -> tuple[Leg, ...]:
    legs = []
    start = 0.0
    for stop in stops:
        end = start + stop.days * DAY
        n = max(1, round(stop.days * 24)) if stop.swing or stop.wetter_by_night else 1
        times = np.linspace(start, end, n + 1)
        beat = np.cos(2 * np.pi * (times / DAY - 14 / 24))
        climate = Climate(
            times, 273.15 + stop.temperature + stop.swing * beat, stop.humidity - stop.wetter_by_night * beat
        )
        legs.append(Leg(stop.name, start, end, climate, open_ended=stop is stops[-1]))
        start = end
    return tuple(legs)


def _activities(parts: tuple[Part, ...], times: Floats) -> Floats:
    days = times / DAY
    return np.stack([p.towards + (p.start - p.towards) * np.exp(-days / p.days) for p in parts], axis=1)


def _history(legs: tuple[Leg, ...], parts: tuple[Part, ...]) -> History:
    times = np.unique(
        np.concatenate(
            [np.linspace(g.start, g.end, max(48, round((g.end - g.start) / DAY)) + 1) for g in legs]
        )
    )
    ends = np.array([leg.end for leg in legs])
    leg_of = np.minimum(np.searchsorted(ends, times), len(legs) - 1)
    a = _activities(parts, times)
    return History(
        layers=tuple(part.name for part in parts),
        times=times,
        moisture=0.15 * a,
        activity=a,
        headspace=a.mean(axis=1) + 0.01,
        temperature=np.array([float(legs[k].climate.temperature.mean()) for k in leg_of]),
        humidity=np.array([float(legs[k].climate.humidity.mean()) for k in leg_of]),
        leg=leg_of,
        crossings=(),
        method="lumped" if len(parts) == 1 else "transport",
        resistance_ratio=45.0 if len(parts) == 1 else 3.1,
        imbalance=2e-14,
        water_gained=np.linspace(0.0, 4e-3, times.size),
    )


def _flows(rungs: tuple[Rung, ...]) -> tuple[Flow, ...]:
    """Neighbours trade; both end layers trade with the headspace."""
    pairs = list(pairwise(rungs))
    if len(rungs) > 3:
        pairs.append((rungs[0], rungs[-2]))
    return tuple(
        Flow(high.name, low.name, 30e-6 / DAY * (high.start - low.start))
        for high, low in (sorted(pair, key=lambda rung: rung.start, reverse=True) for pair in pairs)
        if high.start > low.start
    )


def _isotherm() -> Isotherm:
    return Isotherm("invented", "GAB", {"Xm": 0.04, "C": 10.0, "K": 0.9}, provenance="invented")


def _accounts(
    legs: tuple[Leg, ...], parts: tuple[Part, ...], end: float, share: float
) -> tuple[LegAccount, ...]:
    accounts = []
    for leg in legs:
        if leg.start >= end and leg.start > 0:
            break
        stop = min(leg.end, end)
        inside, out = _activities(parts, np.array([leg.start, stop]))
        accounts.append(
            LegAccount(
                leg.name,
                leg.start,
                stop,
                (float(leg.climate.temperature.min()), float(leg.climate.temperature.max())),
                (float(leg.climate.humidity.min()), float(leg.climate.humidity.max())),
                True,
                tuple(map(float, inside)),
                tuple(map(float, out)),
                share * (stop - leg.start) / end if end else 0.0,
            )
        )
    return tuple(accounts)


def statement(
    product: str,
    parts: tuple[Part, ...],
    stops: tuple[Stop, ...],
    limits: tuple[Limit, ...],
    fails_after: float | None,
) -> KeepingStatement:
    """A statement that fails first by `limits[0]` after so many days, or never."""
    legs = _legs(stops)
    history = _history(legs, parts)
    end = legs[-1].end if fails_after is None else fails_after * DAY
    a_end = _activities(parts, np.array([end]))[0]
    air = stops[-1].humidity
    inside = float(np.interp(0.0, history.times, history.headspace))
    rungs = (
        *(
            Rung(p.name, p.start, float(a), p.capacity * 1e-6, p.moisture)
            for p, a in zip(parts, a_end, strict=True)
        ),
        Rung("headspace", inside, float(np.interp(end, history.times, history.headspace)), 6e-8, ""),
        Rung("outside air", stops[0].humidity, air, float("inf"), ""),
    )
    when = PACKED + timedelta(days=round(end / DAY))
    first = limits[0]
    said = (
        f"{product} keeps {end / DAY:.0f} days, until {when:%d %B %Y}: then the {first.layer} has taken "
        f"up water to {first.activity:.2f} and no longer snaps. The film limits; a film half as open would "
        "nearly double it."
        if fails_after is not None
        else f"{product} outlasts its journey of {end / DAY:.0f} days: nothing fails on the way."
    )
    courses = tuple(
        FailureCourse(
            limit.failure,
            limit.layer,
            np.minimum(1.2, history.times / max(end, 1.0)),
            end if fails_after is not None and limit is first else None,
            f"{limit.layer} at {limit.activity:.2f}",
            "invented",
            "invented",
            "",
            "invented",
            "",
        )
        for limit in limits
    )
    used = tuple(
        Used(f"number {k}", Sourced(1.0, "", PROVENANCES[k % 5]), given=k % 3 > 0) for k in range(13)
    )
    return KeepingStatement(
        product=product,
        sentence=said,
        causes=(),
        limiting="Film-limited, ratio 45:1, an invented ratio. Computed with invented numbers.",
        way=(),
        courses=courses,
        gates=(),
        legs=_accounts(legs, parts, end, 1.0 if fails_after is not None else 0.6),
        limits=limits,
        ladder=rungs,
        flows=_flows(rungs),
        used=used,
        cautions=(),
        history=history,
        journey=Journey(legs, PACKED.isoformat()),
        pieces=(_piece(parts),),
        pack=Pack(PackFilm("invented film", 1e-11, 298.15), 0.066, 2.5e-4, 1.3),
        end=end,
        end_date=when.isoformat(),
        version="0.1.0",
    )


def _piece(parts: tuple[Part, ...]) -> Piece:
    layers = tuple(Layer(p.name, 4e-3, 5e-3, 0.025, _isotherm(), Diffusivity(2e-11)) for p in parts)
    return Piece("slab", layers, 3e-3, (True, True), 26, 7.6e-3)


def crispness(layer: str, activity: float = 0.43) -> Limit:
    """A crispness limit at 25 °C."""
    return Limit("crispness", layer, activity, 298.15, 0.15 * activity)


def cracker() -> KeepingStatement:
    """One layer, three legs, fails on crispness in the shop."""
    return statement(
        "Invented lean cracker", (CRACKER,), (SEA, WAREHOUSE, SHOP), (crispness("cracker"),), 143.3
    )


def sandwich() -> KeepingStatement:
    """Three layers; a shell drinks from the filling and softens, the filling dries."""
    return statement(
        "Invented sandwich biscuit",
        SANDWICH,
        (SEA, WAREHOUSE, SHOP),
        (crispness("lower shell", 0.40), Limit("drying out", "filling", 0.50, 293.15, 0.075)),
        50.0,
    )


def four_layers() -> KeepingStatement:
    """Four layers with long names, six legs, some very short."""
    parts = (
        Part("lower shell", 0.15, 0.48, 60, 70.0, "2.40 % moisture (wet basis)"),
        Part("date filling", 0.62, 0.50, 30, 160.0, "11.2 % moisture (wet basis)"),
        Part("upper shell", 0.15, 0.50, 40, 70.0, "2.40 % moisture (wet basis)"),
        Part("sugar glaze", 0.40, 0.45, 20, 9.0, "1.10 % moisture (wet basis)"),
    )
    stops = (
        Stop("cooling hall", 0.5, 22, 0, 0.50),
        Stop("factory store", 3, 20, 2, 0.55),
        Stop("lorry to the port", 1.5, 26, 8, 0.60, 0.1),
        Stop("sea container", 30, 30, 15, 0.70, 0.15),
        Stop("distribution warehouse", 14, 22, 3, 0.55),
        Stop("shop shelf", 300, 23, 2, 0.60, 0.04),
    )
    limits = (crispness("upper shell", 0.42), Limit("drying out", "date filling", 0.52, 293.15, 0.078))
    return statement("Invented glazed date bar", parts, stops, limits, 62.0)


def of_days(days: float, fails_after: float | None) -> KeepingStatement:
    """One cracker in one open-ended leg of so many days."""
    return statement(
        "Invented lean cracker", (CRACKER,), (replace(SHOP, days=days),), (crispness("cracker"),), fails_after
    )


def never_fails() -> KeepingStatement:
    """One layer that comes through its journey."""
    shop = replace(SHOP, days=30)
    return statement(
        "Invented lean cracker", (CRACKER,), (SEA, WAREHOUSE, shop), (crispness("cracker", 0.55),), None
    )


def unpacked() -> KeepingStatement:
    """One layer on a plate: no pack, and air about it that holds nothing."""
    made = of_days(0.5, 0.1)
    rungs = tuple(replace(rung, capacity=0.0) if rung.name == "headspace" else rung for rung in made.ladder)
    return replace(made, pack=None, ladder=rungs)
