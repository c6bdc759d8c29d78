"""What the evidence cases can ask about the oven.

Where a source gives the oven's setting but not the piece, an invented piece of the usual size stands in: the case says so.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from hardtack.evidence.predict import Predictor
from hardtack.evidence.predict_bakes import bread, pore_vapour, porous
from hardtack.oven.baking import bake
from hardtack.product import loads
from hardtack.reference import lookup
from hardtack.transport.bake_march import boiling_point
from hardtack.units import STEFAN_BOLTZMANN, ZERO_CELSIUS, celsius, wet_basis
from hardtack.water.air import latent_heat

_PIECE = """
hardtack: 1
name: stand-in
kind: cracker
origin: invented, stand-in for a piece the source does not describe
formulas:
  dough:
    basis: baker's percent
    ingredients:
      - {{ingredient: biscuit flour, amount: 100 %}}
      - {{ingredient: water, amount: {water} %}}
      - {{ingredient: palm oil, amount: 10 %}}
      - {{ingredient: salt, amount: 1.5 %}}
      - {{ingredient: baking soda, amount: 0.6 %}}
      - {{ingredient: cream of tartar, amount: 1.0 %}}
oven:
  formula: dough
  dough mass: {mass} g
  dough thickness: 2.0 mm
  oven: {oven}
  lying on: {lying}{preheated}
  zones:
{zones}
  cooling: {{lasts: {cooling} min, temperature: 25 degC, humidity: 50 %, convection: {air}}}
piece: {{shape: slab, {size}, count: 1, layers: [{{name: piece, formula: dough}}]}}
journey: [{{leg: none, lasts: 1 days, temperature: 25 degC, humidity: 50 %, unpacked: true}}]
"""


_SIZES = {
    "": (5.0, "thickness: 4.5 mm, length: 50 mm, width: 50 mm, mass: 3.5 g"),
    # the process guide of snack crackers: 48 mm, 4.9 mm, 3.0 g at 1.5 to 2.0 %; its dough holds 20 % here
    "snack cracker": (3.0 * 0.9825 / 0.80, "thickness: 4.9 mm, diameter: 48 mm, mass: 3.0 g"),
}


def _stand_in(
    water: float,
    zones: str,
    time: float,
    oven: str,
    lying: str,
    mesh: str = "",
    air: str = "room air",
    cooling: float = 10.0,
    piece: str = "",
    blown: int = 0,
) -> str:
    """The stand-in's file: zones as temperatures in degC with equal shares of `time` [s]; `mesh` is the temperature of what
    lies below when the piece enters, where it is preheated. From the zone `blown` on, turbulence moves the air. `piece` is
    invented unless named.
    """
    temperatures = [float(part) for part in zones.split("/")]
    lines = "\n".join(
        f"    - {{zone: z{k}, lasts: {time / len(temperatures):.4f} s, temperature: {T:g} degC, dew point: 60 degC"
        + (", convection: turbulence}" if blown and k + 1 >= blown else "}")
        for k, T in enumerate(temperatures)
    )
    # 11.85 % water in the flour: added water so that the dough holds `water` on wet basis
    solids = 100 * (1 - 0.1185) + 10 + 1.5 + 1.6
    added = solids * water / (1 - water) - 100 * 0.1185
    mass, size = _SIZES[piece]
    preheated = f"\n  band enters: {mesh}" if mesh else ""
    return _PIECE.format(
        water=f"{added:.3f}", mass=f"{mass:.4f}", size=size, oven=oven, lying=lying, preheated=preheated, zones=lines,
        cooling=cooling, air=air,
    )  # fmt: skip


def exit_moisture(
    water: float,
    zones: str,
    time: float,
    oven: str,
    lying: str,
    mesh: str = "",
    piece: str = "",
    blown: int = 0,
) -> float:
    """Moisture at the oven's exit [% wet basis] of the stand-in cracker."""
    file = _stand_in(water, zones, time, oven, lying, mesh, piece=piece, blown=blown)
    return 100 * float(wet_basis(bake(loads(file)).exit_moisture))


def cooling_ratio(water: float, zones: str, time: float, oven: str, lying: str, mesh: str, air: str) -> float:
    """Time to cool from 100 to 30 degC everywhere, in that kind of air of 25 degC, over the time of the bake."""
    done = bake(loads(_stand_in(water, zones, time, oven, lying, mesh, air, cooling=20 * time / 60)))
    hottest = done.march.temperature[done.out :].max(axis=1)
    if hottest[-1] > ZERO_CELSIUS + 30.0:
        return float("inf")
    at = np.interp([-(ZERO_CELSIUS + 100.0), -(ZERO_CELSIUS + 30.0)], -hottest, done.times[done.out :])
    return float(at[1] - at[0]) / time


def heat_per_kilogram(water: float, zones: str, time: float, oven: str, lying: str, mesh: str = "") -> float:
    """Heat that the piece takes up in the oven [kWh per kg baked]: what conduction brings, without the vapour's own."""
    done = bake(loads(_stand_in(water, zones, time, oven, lying, mesh)))
    march, out = done.march, done.out
    left = -float(march.inflow[out, 0].sum())
    hot = ZERO_CELSIUS + 110.0
    carried = left * (4190.0 * (hot - ZERO_CELSIUS) + float(latent_heat(hot)))
    heat = float(march.inflow[out, 1].sum()) + carried
    return heat / (done.dry_mass * (1.0 + done.exit_moisture)) / 3.6e6


def heat_transfer(oven: str, wall: float, surface: float) -> float:
    """Convection and radiation together [W/m2/K] in that kind of oven."""
    row = lookup("oven transfer", oven)
    return row["h"] + _radiant(row["emissivity"], wall, surface)


def radiant_share(oven: str, wall: float, surface: float) -> float:
    """Share of radiation in it [%]."""
    return (
        100
        * _radiant(lookup("oven transfer", oven)["emissivity"], wall, surface)
        / heat_transfer(oven, wall, surface)
    )


def _radiant(emissivity: float, wall: float, surface: float) -> float:
    return emissivity * STEFAN_BOLTZMANN * (wall**2 + surface**2) * (wall + surface)


def other_time(row: str, T: float) -> float:
    """D [min] at T by the row's D at its hottest temperature and its printed z."""
    known = lookup("oven lethality", row)
    return known["D"] / 60 * float(10.0 ** ((known["T"] - T) / known["z"]))


def vapour_share(low: float, high: float, porosity: float, water: float) -> float:
    """Share of evaporation and condensation in the effective conductivity of a leavened dough with closed cells [%], the mean
    from `low` to `high`; bread's wet path.
    """
    shares = []
    for T in np.linspace(low, high, 42):
        k, gas = bread(water, float(T)).parallel, lookup("oven transport", "air")["k_air"]
        whole = porous(k, gas + pore_vapour(float(T), water, "carbon dioxide"), porosity)
        shares.append(100 * (1.0 - porous(k, gas, porosity) / whole))
    return float(np.mean(shares))


_BAKES = {"water": "share", "time": "duration"}

PREDICTORS: Mapping[str, Predictor] = {
    "boiling point": Predictor(lambda a: celsius(boiling_point(a)), {"a": "activity"}),
    "moisture at the oven's exit": Predictor(exit_moisture, _BAKES),
    "cooling time over baking time": Predictor(cooling_ratio, _BAKES),
    "heat taken up in the oven": Predictor(heat_per_kilogram, _BAKES),
    "heat transfer of an oven": Predictor(heat_transfer, {"wall": "temperature", "surface": "temperature"}),
    "share of radiation": Predictor(radiant_share, {"wall": "temperature", "surface": "temperature"}),
    "D by D and z": Predictor(other_time, {"T": "temperature"}),
    "share of vapour in conductivity": Predictor(
        vapour_share, {"low": "temperature", "high": "temperature", "porosity": "share", "water": "share"}
    ),
}
