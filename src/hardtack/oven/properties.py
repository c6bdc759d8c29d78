"""Heat, density and conductivity of a dough from its composition, and how vapour moves in it.

Component functions of Choi and Okos (1986); specific heats by mass share, volumes added, conductivities side by side by
volume share. Pores come in with the march, by Maxwell-Eucken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hardtack.errors import NotOnShelf
from hardtack.reference import Row, lookup
from hardtack.sourced import Sourced, Used
from hardtack.transport.bake_march import BakeMaterial
from hardtack.transport.bake_table import BakeTable
from hardtack.water.composition import Composition

MIDDLE = 80.0
"""Temperature [degC] at which specific heats and densities are taken: the middle of a bake; assumed. From 20 to
150 degC the specific heat of starch changes by 8 %."""


@dataclass(frozen=True, slots=True)
class Factors:
    """What the plant's measurements make of the defaults: factors on heat transfer and on the two vapour paths."""

    heat: float = 1.0
    dry_path: float = 1.0
    wet_path: float = 1.0


def components(composition: Composition) -> Mapping[str, float]:
    """Dry matter as shares of protein, fat, carbohydrate, fibre and ash, adding up to one."""
    masses = {
        "protein": composition.wheat_protein + composition.egg_protein + composition.milk_protein,
        "fat": composition.fat,
        "carbohydrate": composition.starch
        + composition.dextrin
        + sum(composition.sugars.values())
        + sum(composition.polyols.values())
        + composition.other,
        "fibre": composition.fibre,
        "ash": composition.ash + sum(composition.salts.values()),
    }
    total = sum(masses.values())
    return {name: mass / total for name, mass in masses.items()}


def conductivity(component: str, c: float) -> float:
    """Conductivity [W/m/K] of a component at c [degC]."""
    return _at(_quadratic(component, "k"), c)


def density(component: str, c: float) -> float:
    """Density [kg/m3] of a component at c [degC]."""
    return _at(_quadratic(component, "rho"), c)


def specific_heat(component: str, c: float) -> float:
    """Specific heat [J/kg/K] of a component at c [degC]."""
    return 1e3 * _at(_quadratic(component, "cp"), c)


@dataclass(frozen=True, slots=True)
class Mixture:
    """A mixture without pores: density [kg/m3], specific heat [J/kg/K], conductivities [W/m/K]."""

    density: float
    specific_heat: float
    parallel: float
    series: float


def mixture(shares: Mapping[str, float], c: float) -> Mixture:
    """Components by mass share (adding up to one) at c [degC]: 1/rho = sum x/rho, cp = sum x cp, k = sum phi k."""
    volumes = {name: share / density(name, c) for name, share in shares.items()}
    whole = sum(volumes.values())
    side = sum(volume / whole * conductivity(name, c) for name, volume in volumes.items())
    behind = sum(volume / whole / conductivity(name, c) for name, volume in volumes.items())
    heat = sum(share * specific_heat(name, c) for name, share in shares.items())
    return Mixture(1.0 / whole, heat, side, 1.0 / behind)


def transport_row(kind: str | None) -> Row:
    """How vapour moves in that kind of product, else as in bread."""
    try:
        return lookup("oven transport", kind or "default")
    except NotOnShelf:
        return lookup("oven transport", "default")


def material_of(
    composition: Composition,
    table: BakeTable,
    kind: str | None,
    factors: Factors | None = None,
    opening: tuple[float, float] = (0.0, 1.0),
    *,
    cells_of: str = "air",
) -> tuple[BakeMaterial, tuple[Used, ...]]:
    """What the march needs of a dough with this dry matter and isotherm table, and the numbers it leans on.

    Its pores open between the temperatures [K] of `opening`, from the start where none are given; until then they hold
    `cells_of`, air or carbon dioxide.
    """
    factors = factors or Factors()
    dry = components(composition)
    solid = mixture(dry, MIDDLE)
    volumes = {name: share / density(name, MIDDLE) for name, share in dry.items()}
    whole = sum(volumes.values())
    row, air = transport_row(kind), lookup("oven transport", "air")
    cell_gas = (
        1.0 if cells_of == "air" else lookup("oven transport", "gas of leavened cells")["in_carbon_dioxide"]
    )
    quadratics = [(volume / whole, _quadratic(name, "k")) for name, volume in volumes.items()]
    a, b, c = (sum(share * quadratic[k] for share, quadratic in quadratics) for k in range(3))
    material = BakeMaterial(
        table=table,
        heat_solid=solid.specific_heat,
        heat_water=specific_heat("water", MIDDLE),
        density_solid=solid.density,
        density_water=density("water", MIDDLE),
        conductivity_solid=(a, b, c),
        conductivity_water=_quadratic("water", "k"),
        conductivity_air=air["k_air"],
        vapour_in_air=air["vapour_in_air"],
        dry_path=row["dry_path"] * factors.dry_path,
        wet_path=row["wet_path"] * factors.wet_path,
        wet_from=row["wet_from"],
        liquid=row["liquid"],
        liquid_energy=row["E"],
        opens=opening[0],
        open=opening[1],
        cell_gas=cell_gas,
    )
    used = _used(row, solid)
    if cell_gas != 1.0:
        ratio = lookup("oven transport", "gas of leavened cells").values["in_carbon_dioxide"]
        used = (*used, Used("vapour in the carbon dioxide of closed cells over that in air", ratio, False))
    return material, used


def _used(row: Row, solid: Mixture) -> tuple[Used, ...]:
    source = lookup("component functions", "carbohydrate").source.citation
    known: Sequence[tuple[str, float, str]] = (
        ("specific heat of the dry matter", solid.specific_heat, "J/kg/K"),
        ("density of the dry matter", solid.density, "kg/m3"),
        ("conductivity of the dry matter", solid.parallel, "W/m/K"),
    )
    told = {
        "dry_path": "vapour in dry pores over free air",
        "wet_path": "vapour across wet walls over free air",
        "liquid": "diffusivity of liquid water in the dough",
    }
    return (
        *(
            Used(f"{what} at {MIDDLE:.0f} °C", Sourced(value, unit, "seen", source), False)
            for what, value, unit in known
        ),
        *(Used(f"{words} ({row.name})", row.values[symbol], False) for symbol, words in told.items()),
    )


def _quadratic(component: str, symbol: str) -> tuple[float, float, float]:
    row = lookup("component functions", component)
    return row[f"{symbol}_a"], row[f"{symbol}_b"], row[f"{symbol}_c"]


def _at(quadratic: tuple[float, float, float], c: float) -> float:
    a, b, d = quadratic
    return a + c * (b + c * d)
