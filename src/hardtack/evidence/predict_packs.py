"""What the evidence cases can ask of packs and journeys: published keeping times and capacities, as one number each."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from hardtack import reference
from hardtack.evidence.predict import Predictor
from hardtack.pack.desiccant import desiccant_isotherm
from hardtack.pack.film import permeance_at, permeance_from_rate
from hardtack.states import Film, Isotherm
from hardtack.transport.lumped import approach
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity, moisture, slope

ROOM = 298.15
NEVER = 100.0
"""Stands for the ratio of a life that has no end."""
LONGEST_DAYS = 1095.0
"""Stands for the days of a life that has no end: as long as a product is followed."""


def _life(isotherm: Isotherm, X: float, X_limit: float, dry_over_g: float, T: float, RH: float) -> float:
    """Seconds from moisture X to X_limit [kg/kg] behind a film, by the lumped quadrature; `dry_over_g` is m/g [s]."""
    course = approach(
        float(activity(isotherm, X, T)),
        RH,
        dry_over_g,
        lambda a: np.asarray(slope(isotherm, a, T), dtype=np.float64),
    )
    reached = course.time_to(float(activity(isotherm, X_limit, T)))
    return float("inf") if reached is None else reached


def life_as_printed(
    A: float,
    B: float,
    K: float,
    X: float,
    X_limit: float,
    permeance: float,
    area: float,
    dry: float,
    T: float,
    RH: float,
) -> float:
    """Days to a critical moisture with the isotherm X = A a / ((1 - K a)(1 + B a)) as a thesis prints its GAB."""
    C = 1.0 + B / K
    gab = Isotherm(
        "as printed",
        "GAB",
        MappingProxyType({"Xm": A / (C * K), "C": C, "K": K}),
        reference_temperature=T,
        activity_range=(0.05, 0.95),
    )
    g = permeance * area * float(saturation_pressure(T))
    return _life(gab, X, X_limit, dry / g, T, RH) / DAY


def life_on_a_line(
    X_end: float,
    slope: float,
    X: float,
    X_limit: float,
    permeance: float,
    area: float,
    dry: float,
    T: float,
    RH: float,
) -> float:
    """Days to a critical moisture on a straight isotherm of that slope, through X_end at the humidity outside."""
    start, limit = (RH - (X_end - moist) / slope for moist in (X, X_limit))
    g = permeance * area * float(saturation_pressure(T))
    reached = approach(start, RH, dry / g, lambda a: np.full_like(a, slope)).time_to(limit)
    return NEVER if reached is None else reached / DAY


def halsey_ratio(P1: float, P2: float, X: float, X_limit: float, T: float, RH: float, over: float) -> float:
    """Life at RH over life at the humidity `over`, with log10 ln(1/a) = P1 + P2 log10 X as printed."""
    points = tuple(
        (float(a), float((np.log(1.0 / a) / 10.0**P1) ** (1.0 / P2))) for a in np.linspace(0.02, 0.95, 94)
    )
    halsey = Isotherm("Halsey as printed", "table", points=points, reference_temperature=T)
    return _life(halsey, X, X_limit, 1.0, T, RH) / _life(halsey, X, X_limit, 1.0, T, over)


def climate_ratio(
    isotherm: str, film: str, start: float, limit: float, T: float, RH: float, over_T: float, over_RH: float
) -> float:
    """Life of a shelf product in a shelf film in one climate over its life in another.

    From activity `start` to `limit` at 25 degC, everything else from the shelf; `NEVER` where it keeps for good.
    """
    iso, own = reference.isotherm(isotherm), _film(film)
    X, X_limit = (float(moisture(iso, a, ROOM)) for a in (start, limit))

    def life(T: float, RH: float) -> float:
        g = float(permeance_at(own, T)) * float(saturation_pressure(T))
        return _life(iso, X, X_limit, 1.0 / g, T, RH)

    return min(life(T, RH) / life(over_T, over_RH), NEVER)


def life_in_a_pack(
    isotherm: str, film: str, start: float, limit: float, area: float, dry: float, T: float, RH: float
) -> float:
    """Days a shelf product keeps in a shelf film of `area` [m2] about `dry` [kg], as in `climate_ratio`."""
    iso, own = reference.isotherm(isotherm), _film(film)
    X, X_limit = (float(moisture(iso, a, ROOM)) for a in (start, limit))
    g = float(permeance_at(own, T)) * area * float(saturation_pressure(T))
    return min(_life(iso, X, X_limit, dry / g, T, RH) / DAY, LONGEST_DAYS)


def thickness_ratio(film: str, thickness: float, over: float) -> float:
    """Life in a film of one thickness over that in the same film at another: permeance goes as one over thickness."""
    own = reference.film(film)["thickness"]
    return (thickness / own) / (over / own)


def desiccant_water(desiccant: str, mass: float, a: float) -> float:
    """Water [g] that `mass` [kg] of dry desiccant holds at activity `a` and 25 degC."""
    return 1e3 * mass * float(moisture(desiccant_isotherm(desiccant), a, ROOM))


def water_in_air(volume: float, T: float, RH: float) -> float:
    """Water vapour [g] in that volume of air."""
    return 1e3 * volume * float(vapour_density(RH * float(saturation_pressure(T)), T))


def _film(name: str) -> Film:
    row = reference.film(name)
    permeance = permeance_from_rate(
        row["transmission"], row["temperature"], row["humidity_wet"], row["humidity_dry"]
    )
    return Film(name, permeance, row["temperature"], row["E"])


PREDICTORS: Mapping[str, Predictor] = {
    "life as printed": Predictor(
        life_as_printed,
        {
            "A": "number", "B": "number", "K": "number", "X": "moisture", "X_limit": "moisture",
            "permeance": "permeance", "area": "area", "dry": "mass", "T": "temperature", "RH": "humidity",
        },
    ),
    "ratio of lives, Halsey as printed": Predictor(
        halsey_ratio,
        {
            "P1": "number", "P2": "number", "X": "moisture", "X_limit": "moisture", "T": "temperature",
            "RH": "humidity", "over": "humidity",
        },
    ),
    "ratio of lives by climate": Predictor(
        climate_ratio,
        {
            "start": "activity", "limit": "activity", "T": "temperature", "RH": "humidity",
            "over_T": "temperature", "over_RH": "humidity",
        },
    ),
    "life in a pack": Predictor(
        life_in_a_pack,
        {
            "start": "activity", "limit": "activity", "area": "area", "dry": "mass", "T": "temperature",
            "RH": "humidity",
        },
    ),
    "ratio of lives by thickness": Predictor(thickness_ratio, {"thickness": "length", "over": "length"}),
    "water in a desiccant": Predictor(desiccant_water, {"mass": "mass", "a": "activity"}),
    "water in shut-in air": Predictor(
        water_in_air, {"volume": "volume", "T": "temperature", "RH": "humidity"}
    ),
    "life on a straight line": Predictor(
        life_on_a_line,
        {
            "X_end": "moisture", "slope": "number", "X": "moisture", "X_limit": "moisture",
            "permeance": "permeance", "area": "area", "dry": "mass", "T": "temperature", "RH": "humidity",
        },
    ),
    "permeance in SI": Predictor(lambda permeance: 1e12 * permeance, {"permeance": "permeance"}),
    "transmission in SI": Predictor(lambda rate: 1e3 * DAY / 24.0 * rate, {"rate": "transmission rate"}),
}  # fmt: skip
