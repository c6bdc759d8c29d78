"""What the evidence cases can ask of whole bakes: of the pieces in `stand_ins.toml`, each baked once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from hardtack.evidence.predict import Predictor
from hardtack.oven.baking import Baked, bake
from hardtack.oven.colour import lightness
from hardtack.oven.handover import CRUST_ABOVE
from hardtack.oven.properties import Mixture, mixture
from hardtack.oven.starch import Solids, gelatinised
from hardtack.product import loads
from hardtack.reference import lookup
from hardtack.units import ZERO_CELSIUS, celsius, wet_basis
from hardtack.water.air import (
    GAS_CONSTANT,
    MOLAR_MASS_WATER,
    STANDARD_PRESSURE,
    latent_heat,
    saturation_pressure,
)

GAINED = 0.005
"""Rise of the centre's moisture [kg/kg dry] from which it counts as gaining water."""


@cache
def baked(piece: str) -> Baked:
    """The bake of one of the stand-ins."""
    text = (resources.files("hardtack.evidence") / "stand_ins.toml").read_text(encoding="utf-8")
    return bake(loads(_file(piece, tomllib.loads(text)[piece])))


def _file(name: str, spec: Mapping[str, Any]) -> str:
    """The stand-in as a product file."""
    dough = "\n".join(
        f"      - {{ingredient: {key!r}, amount: {share} %}}" for key, share in spec["dough"].items()
    )
    enters = "\n".join(f"  {key}: {value}" for key, value in spec["enters"].items())
    zones = "\n".join(
        f"    - {{zone: z{k}, lasts: {time}, temperature: {air}, dew point: {dew}}}"
        for k, (time, air, dew) in enumerate(spec["zones"])
    )
    time, air, humidity = spec["cooling"]
    piece = "\n".join(f"  {key}: {value}" for key, value in spec["piece"].items())
    return f"""hardtack: 1
name: {name}
kind: {spec["kind"]}
origin: invented, stand-in for a piece the source does not describe
formulas:
  dough:
    basis: baker's percent
    ingredients:
{dough}
oven:
  formula: dough
{enters}
  zones:
{zones}
  cooling: {{lasts: {time}, temperature: {air}, humidity: {humidity}}}
piece:
{piece}
  layers: [{{name: piece, formula: dough}}]
journey: [{{leg: none, lasts: 1 days, temperature: 25 degC, humidity: 50 %, unpacked: true}}]
"""


def packed_moisture(piece: str) -> float:
    """Mean moisture when packed [% wet basis]."""
    return 100 * float(wet_basis(baked(piece).moisture))


def whole_loss(piece: str) -> float:
    """Weight lost in the oven and in cooling [% of the dough]."""
    done = baked(piece)
    return 100 * (done.loss + done.cooling_loss)


def core_at_exit(piece: str) -> float:
    """Coldest place at the oven's exit [degC]."""
    done = baked(piece)
    return celsius(float(done.core[done.out]))


def moisture_inside(piece: str) -> float:
    """Mean moisture at the exit [% wet basis] of all that has not dried to crust."""
    return _part(baked(piece), hot=False)


def moisture_of_crust(piece: str) -> float:
    """Mean moisture at the exit [% wet basis] of what is hotter than wet crumb can be."""
    return _part(baked(piece), hot=True)


def _part(done: Baked, hot: bool) -> float:
    march, out = done.march, done.out
    chosen = (march.temperature[out] > CRUST_ABOVE) == hot
    dry = march.dry_mass[chosen]
    return 100 * float(wet_basis(march.moisture[out][chosen] @ dry / dry.sum()))


def share_until(piece: str, T: float) -> float:
    """Share of the bake [%] after which the centre passes T."""
    done = baked(piece)
    return 100 * float(
        np.interp(T, done.core[: done.out + 1], done.times[: done.out + 1]) / done.times[done.out]
    )


def gain_from(piece: str) -> float:
    """Temperature of the centre [degC] when it begins to gain water."""
    done = baked(piece)
    centre = done.march.moisture[: done.out + 1, done.core_cell]
    return celsius(float(done.core[int(np.argmax(centre > centre[0] + GAINED))]))


def spring_ends(piece: str) -> float:
    """Minutes until the piece has nineteen twentieths of its rise in the oven."""
    done = baked(piece)
    rise = np.maximum.accumulate(done.lift.volume) - done.lift.volume[0]
    return float(done.times[int(np.argmax(rise >= 0.95 * rise[-1]))]) / 60.0


def darkens_at(rate: float, a: float) -> float:
    """Temperature [degC] at which a surface of activity `a`, heated from 20 degC at `rate` [K/s], has lost one unit of
    L* by the law of lightness."""
    T = np.linspace(ZERO_CELSIUS + 20.0, ZERO_CELSIUS + 220.0, 2001)
    L = lightness((T - T[0]) / rate, T, np.full_like(T, a))
    return celsius(float(T[int(np.argmax(L[0] - L >= 1.0))]))


def gelatinised_share(water: float, T: float, time: float) -> float:
    """Share of wheat starch gelatinised [%] after `time` [s] at T with `water` [g per g of starch]."""
    return 100 * float(_held(water, T, np.linspace(0.0, time, 601))[-1])


def time_to_reach(water: float, T: float, share: float) -> float:
    """Minutes until `share` of what that temperature and water allow is gelatinised."""
    times = np.linspace(0.0, 7200.0, 7201)
    alpha = _held(water, T, times)
    return float(np.interp(share * alpha[-1], alpha, times)) / 60.0


def _held(water: float, T: float, times: np.ndarray) -> np.ndarray:
    shape = (times.size, 1)
    return gelatinised(Solids(1.0, 0.0, 0.0), times, np.full(shape, T), np.full(shape, water))[:, 0]


def thermal_diffusivity(porosity: float, water: float, T: float) -> float:
    """Thermal diffusivity of bread [mm2/s] at that porosity, with `water` on wet basis and what vapour carries through its
    open pores, as while it is heated.
    """
    solid = bread(water, T)
    gas = lookup("oven transport", "air")["k_air"]
    k = porous(solid.parallel, gas, porosity) + porosity * pore_vapour(T, water, "air")
    return 1e6 * k / ((1.0 - porosity) * solid.density * solid.specific_heat)


def bread(water: float, T: float) -> Mixture:
    """Bread or its dough without pores, with `water` on wet basis."""
    dry = {"carbohydrate": 0.85, "protein": 0.14, "fat": 0.01}
    return mixture({**{name: share * (1 - water) for name, share in dry.items()}, "water": water}, celsius(T))


def pore_vapour(T: float, water: float, gas: str) -> float:
    """What vapour adds to the conductivity of a pore [W/m/K] by bread's paths: latent heat times vapour conductivity times
    dpsi/dT, at the activity of crumb (0.96) or, from 25 % water down, in proportion to it.
    """
    row, air = lookup("oven transport", "bread"), lookup("oven transport", "air")
    wet = (water / (1.0 - water) / row["wet_from"]) ** 4
    path = row["dry_path"] + (row["wet_path"] - row["dry_path"]) * wet / (1.0 + wet)
    if gas != "air":
        path *= lookup("oven transport", "gas of leavened cells")["in_carbon_dioxide"]
    a = 0.96 * min(1.0, water / 0.25)
    y = a * saturation_pressure(np.array([T - 0.5, T + 0.5])) / STANDARD_PRESSURE
    diffusivity = path * air["vapour_in_air"] * (T / ZERO_CELSIUS) ** 1.75
    density = STANDARD_PRESSURE * MOLAR_MASS_WATER / (GAS_CONSTANT * T)
    return float(latent_heat(T) * diffusivity * density * np.diff(-np.log(1.0 - y))[0])


def porous(k: float, gas: float, porosity: float) -> float:
    """Conductivity [W/m/K] of a solid with pores of a gas in it, by Maxwell and Eucken."""
    less = porosity * (k - gas)
    return k * (2 * k + gas - 2 * less) / (2 * k + gas + less)


PREDICTORS: Mapping[str, Predictor] = {
    "moisture when packed": Predictor(packed_moisture, {}),
    "loss of weight in oven and cooling": Predictor(whole_loss, {}),
    "centre at the oven's exit": Predictor(core_at_exit, {}),
    "moisture inside at the exit": Predictor(moisture_inside, {}),
    "moisture of the crust at the exit": Predictor(moisture_of_crust, {}),
    "share of the bake until the centre is at": Predictor(share_until, {"T": "temperature"}),
    "centre gains water from": Predictor(gain_from, {}),
    "end of the oven spring": Predictor(spring_ends, {}),
    "surface darkens at": Predictor(darkens_at, {"a": "activity"}),
    "share gelatinised": Predictor(gelatinised_share, {"T": "temperature", "time": "duration"}),
    "time to the terminal extent": Predictor(time_to_reach, {"T": "temperature"}),
    "thermal diffusivity of bread": Predictor(
        thermal_diffusivity, {"porosity": "share", "water": "share", "T": "temperature"}
    ),
}
