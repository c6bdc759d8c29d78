"""March a piece through an oven and out of it: names, units and the audit around the compiled loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats, Shape
from hardtack.transport.bake_table import COLDEST, SPACING, BakeTable
from hardtack.transport.compiler import compiled
from hardtack.transport.grid import cells, graded_faces
from hardtack.transport.rosenbrock import RODAS3, Scheme
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import STANDARD_PRESSURE, saturation_pressure

BALANCE_LIMIT = 1e-12
ATTEMPTS = 20_000
SAME_TIME = 1e-6
"""Times [s] closer than this are one."""
EPS, LEAST_EPS = 3e-3, 1e-3
"""Share of the pressure by which vapour stays below it before bulk flow takes over: below 1e-3 every solver
tried stalls (measured)."""
MOISTURE_PER_KELVIN = 2e-3
"""Error allowed in moisture [kg/kg dry] for each kelvin allowed in temperature."""
LEWIS = 6.8e-4
"""Mass over heat transfer [kg K/J], per unit of psi: (M_w / M_air) / (cp_air Le^(2/3)) with cp 1010 J/kg/K and Le
0.87 (Chilton and Colburn's analogy): h times this is the flux, at any temperature."""
_POWERS: dict[Shape, tuple[float, float]] = {
    "slab": (-1.0, 0.0),
    "cylinder": (0.0, 0.5),
    "sphere": (1.0 / 3.0, 2.0 / 3.0),
}
"""How inner conductance and outer area go with volume: a slab grows in thickness, a cylinder in radius."""


@dataclass(frozen=True, slots=True)
class BakeMaterial:
    """What is baked. Heats [J/kg/K], densities of solid and water [kg/m3], conductivities of dense solid and of water
    [W/m/K] as quadratics in degC. `dry_path` and `wet_path` are the vapour's diffusivity in the pores over that in free air
    where the walls are dry and where they are wet, half way at the moisture `wet_from`. `liquid` is the diffusivity of
    liquid water at 25 degC [m2/s] with its activation energy [J/mol].
    """

    table: BakeTable
    heat_solid: float
    heat_water: float
    density_solid: float
    density_water: float
    conductivity_solid: tuple[float, float, float]
    conductivity_water: tuple[float, float, float]
    conductivity_air: float
    vapour_in_air: float
    """Diffusivity of vapour in air at 0 degC [m2/s]."""
    dry_path: float
    wet_path: float
    wet_from: float
    liquid: float
    liquid_energy: float
    opens: float = 0.0
    open: float = 1.0
    """Temperatures [K] between which pores open: before, vapour carries heat through them but no water."""
    cell_gas: float = 1.0
    """Diffusivity of vapour in the gas of closed cells over that in air."""


@dataclass(frozen=True, slots=True)
class BakePiece:
    """A piece as the cells see it: `thickness` [m] from the first end to the last (the radius when round), `area` [m2]
    of the face (round: the outer surface), `dry_mass` [kg], all at the volume that `stretch` 1 means.
    """

    shape: Shape
    thickness: float
    area: float
    dry_mass: float
    moisture: float
    temperature: float


@dataclass(frozen=True, slots=True)
class EndAir:
    """What one end meets: air [K] and its vapour pressure [Pa], h [W/m2/K], walls [K] with the emissivity, a contact
    (band, pan, stone) [K] with its coefficient, and the share of the end open to vapour.
    """

    air: float
    vapour_pressure: float
    h: float
    wall: float
    emissivity: float
    contact: float
    h_contact: float
    open: float


@dataclass(frozen=True, slots=True)
class Spell:
    """A spell of `duration` [s]: both ends and the piece's volume (over that of the grid), at its start and at its end."""

    duration: float
    first: tuple[EndAir, EndAir]
    last: tuple[EndAir, EndAir]
    stretch: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class BakeMarch:
    """What happened, at `times` [k, s] in `n` cells: moisture [k, n], temperature [k, n, K], activity [k, n], both
    surfaces [k, 2, K]; water [kg] and heat [J] that came in through either end so far [k, 2, 2].

    `dry_mass` and `centres` are of the cells. The imbalances are of water and of energy, relative to content.
    """

    times: Floats
    moisture: Floats
    temperature: Floats
    activity: Floats
    surface: Floats
    inflow: Floats
    dry_mass: Floats
    centres: Floats
    steps: int
    attempts: int
    water_imbalance: float
    energy_imbalance: float

    @property
    def mean_moisture(self) -> Floats:
        """Mean moisture of the piece [k, kg/kg dry]."""
        mean: Floats = self.moisture @ self.dry_mass / self.dry_mass.sum()
        return mean


def bake_march(
    piece: BakePiece,
    material: BakeMaterial,
    spells: tuple[Spell, ...],
    times: Floats,
    *,
    cells_across: int = 40,
    tolerance: float = 0.2,
    eps: float = EPS,
    pressure: float = STANDARD_PRESSURE,
    scheme: Scheme = RODAS3,
    moisture: Floats | None = None,
) -> BakeMarch:
    """March from `times[0]` = 0 over rising `times` [s] through the spells in order.

    `tolerance` is the local error allowed in temperature [K] per step (and 0.002 kg/kg of moisture for each
    kelvin). `moisture` [cells] starts the cells otherwise than evenly. Raises `HardtackError` when the spells do
    not cover the times, an input cannot be, or the attempt cap is hit; `BalanceError` when water or energy do not
    close to 1e-12 of the content: neither ever passes silently.
    """
    _check(piece, spells, times, eps)
    n = cells_across
    faces = graded_faces(0.0, piece.thickness, n, first=piece.shape == "slab", last=True)
    cut = cells(piece.shape, faces, piece.area, piece.thickness)
    grid = np.zeros((30, n + 1))  # CELL_ROWS of the kernel, which is imported only to run
    dry = piece.dry_mass * cut.volume / cut.volume.sum()
    grid[0, :n], grid[1, :n], grid[2, :n], grid[3, :n] = dry, cut.volume, cut.r_minus, cut.r_plus
    X = np.full(n, piece.moisture) if moisture is None else moisture
    state = np.zeros((4, n))
    state[0] = dry * X
    state[1] = dry * (material.heat_solid + X * material.heat_water) * (piece.temperature - ZERO_CELSIUS)
    kept = (
        *(np.zeros((times.size, n)) for _ in range(3)),
        np.zeros((times.size, 2)),
        np.zeros((times.size, 2, 2)),
    )
    curves, constants = material.table.curves, _constants(material, piece, eps, pressure)
    start = state.copy()
    air = _air(spells, pressure, times)
    steps, attempts = _run(state, times, grid, constants, curves, air, scheme, tolerance, kept)
    entered = kept[4][-1].sum(axis=1)
    water = _imbalance(start[0], state[0] - state[2], entered[0], start[0].sum())
    held = max(float(np.abs(start[1]).sum()), float(np.abs(state[1]).sum()), abs(float(entered[1])))
    energy = _imbalance(start[1], state[1] - state[3], entered[1], held)
    if not (water <= BALANCE_LIMIT and energy <= BALANCE_LIMIT):
        raise BalanceError(
            f"water off by {water:.2e} and energy by {energy:.2e} of the piece's content",
            "please report this run",
        )
    X, T, a, surface, inflow = kept
    return BakeMarch(
        times, X, T, a, surface, inflow, dry, cut.centre, steps, attempts, float(water), float(energy)
    )


def boiling_point(activity: float, pressure: float = STANDARD_PRESSURE) -> float:
    """Temperature [K] at which a_w p_sat(T) reaches the pressure [Pa], by bisection; 50 to 200 degC."""
    low, high = ZERO_CELSIUS + 50.0, ZERO_CELSIUS + 200.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if activity * saturation_pressure(middle) < pressure else (low, middle)
    return (low + high) / 2.0


def _imbalance(before: Floats, after: Floats, entered: float, content: float) -> float:
    import math

    return abs(math.fsum([*after, *(-before), -float(entered)])) / content


def _check(piece: BakePiece, spells: tuple[Spell, ...], times: Floats, eps: float) -> None:
    sizes = {
        "thickness": piece.thickness,
        "area": piece.area,
        "dry mass": piece.dry_mass,
        "moisture": piece.moisture,
    }
    for what, value in sizes.items():
        if not 0.0 < value < np.inf:
            raise HardtackError(
                f"a piece with a {what} of {value:g} cannot be baked", "give a number above zero"
            )
    if times.size < 2 or times[0] != 0.0 or not np.all(np.diff(times) > 0):
        raise HardtackError("the output times must rise from 0", "sort them and drop repeated ones")
    lasts = sum(spell.duration for spell in spells)
    if not spells or times[-1] > lasts * (1 + 1e-12):
        raise HardtackError(
            f"the oven is known for {lasts:g} s, asked for {times[-1]:g} s",
            "let the zones cover the whole bake",
        )
    if not eps >= LEAST_EPS:
        raise HardtackError(
            f"an eps of {eps:g} stalls every solver", f"take {EPS:g}, and not less than {LEAST_EPS:g}"
        )
    for spell in spells:
        if not (min(spell.stretch) > 0.1 and max(spell.stretch) < 100.0):
            raise HardtackError(
                f"a volume of {spell.stretch} of the dough's cannot be", "give factors such as (1.0, 2.5)"
            )


def _run(
    state: Floats,
    times: Floats,
    grid: Floats,
    constants: Floats,
    curves: Floats,
    air: tuple[Floats, Floats, Floats],
    scheme: Scheme,
    tolerance: float,
    kept: tuple[Any, ...],
) -> tuple[int, int]:
    """Call the kernel: steps and attempts.

    `state` [4, cells] holds water [kg] and enthalpy [J] of every cell, and what compensated sums carry for either;
    `kept` takes moisture, temperature, activity, surfaces and inflow at every output.
    """
    if not compiled():
        raise HardtackError(
            "the oven's march of heat and water needs numba, which is not installed here",
            "install numba, or begin at the piece with its measured moisture",
        )
    from hardtack.transport import bake_kernel as kernel

    n, stages = state.shape[1], scheme.m.size
    coefficients = (
        scheme.gamma, scheme.a, scheme.c, scheme.m, scheme.e, scheme.alpha, scheme.gamma_sum, scheme.fresh,
        scheme.order,
    )  # fmt: skip
    work = (
        grid,
        np.zeros((kernel.FACE_ROWS, n + 1)),
        np.zeros((n, 8)),
        np.zeros((stages, 2, n + 1)),
        np.zeros((2, n)),
        np.zeros(kernel.ENV_SIZE),
    )
    code, done, steps, attempts = kernel.bake_kernel(
        state,
        times,
        np.zeros((2, 4)),
        work,
        constants,
        curves,
        air,
        coefficients,
        np.array([tolerance, tolerance * MOISTURE_PER_KELVIN]),
        ATTEMPTS,
        kept,
    )
    if code != kernel.DONE:
        reached = times[max(done - 1, 0)]
        raise HardtackError(
            f"the bake could not be followed beyond {reached / 60.0:.1f} min ({attempts} step attempts, "
            f"{'the cap' if code == kernel.TOO_MANY else 'the step became tiny'})",
            "look for an extreme thickness, density, temperature or coefficient; a larger eps eases the boiling",
        )
    return int(steps), int(attempts)


def _constants(material: BakeMaterial, piece: BakePiece, eps: float, pressure: float) -> Floats:
    """The material's numbers in the kernel's order."""
    from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER

    table = material.table
    free = material.vapour_in_air * pressure * MOLAR_MASS_WATER / (GAS_CONSTANT * ZERO_CELSIUS)
    return np.array(
        [
            material.heat_solid, material.heat_water, 1.0 / material.density_solid, 1.0 / material.density_water,
            material.conductivity_air, material.dry_path * free, material.liquid, material.liquid_energy, table.X_half, table.intervals, COLDEST,
            SPACING, *material.conductivity_solid, *material.conductivity_water, pressure, eps,
            *_POWERS[piece.shape], piece.area, LEWIS, material.wet_path * free, material.wet_from,
            material.opens, 1.0 / (material.open - material.opens), material.cell_gas,
        ]
    )  # fmt: skip


def _air(spells: tuple[Spell, ...], pressure: float, times: Floats) -> tuple[Floats, Floats, Floats]:
    """Edges [s] and the air's quantities at the start and the end of every spell, as the kernel takes them.

    An edge that misses an output time by rounding only is put on it, lest a step of nothing lie between.
    """
    edges = np.concatenate([[0.0], np.cumsum([spell.duration for spell in spells])])
    near = times[np.argmin(np.abs(times[:, None] - edges), axis=0)]
    edges = np.where(np.abs(near - edges) < SAME_TIME, near, edges)
    left = [
        [*_end(spell.first[0], pressure), *_end(spell.first[1], pressure), spell.stretch[0]]
        for spell in spells
    ]
    right = [
        [*_end(spell.last[0], pressure), *_end(spell.last[1], pressure), spell.stretch[1]] for spell in spells
    ]
    return edges, np.ascontiguousarray(np.array(left).T), np.ascontiguousarray(np.array(right).T)


def _end(end: EndAir, pressure: float) -> tuple[float, ...]:
    y = end.vapour_pressure / pressure
    if not 0.0 <= y < 0.999:
        raise HardtackError(
            f"a vapour pressure of {end.vapour_pressure:.0f} Pa cannot be in air of {pressure:.0f} Pa",
            "lower the humidity: at 100 degC and above even pure steam is far from 100 % relative humidity",
        )
    return (
        end.air,
        -float(np.log1p(-y)),
        end.h,
        end.wall,
        end.emissivity,
        end.h_contact,
        end.contact,
        end.open,
    )
