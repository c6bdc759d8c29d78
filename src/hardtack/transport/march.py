"""March a chain of cells through its surroundings: names and units around the compiled loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats
from hardtack.transport import rows
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.compiler import compiled
from hardtack.transport.rosenbrock import RODAS3, RODAS4_CONTINUOUS, Scheme
from hardtack.transport.surroundings import Surroundings

BALANCE_LIMIT = 1e-12
ATTEMPTS_PER_RUN = 2_000_000
TEMPERATURE_SLACK = 1e-6

FEW = 4
"""Pieces of still air that make a march of few, long steps: fewer than one for so many outputs."""
NO_STEPS = np.zeros(0)

Arrays = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Watch:
    """A mean moisture [kg/kg] of one layer to look out for, rising or falling through it."""

    layer: str
    moisture: float
    rising: bool


@dataclass(frozen=True, slots=True)
class March:
    """States over the output times [s]: water [n, cells+1, kg] (gas space last), activity [n, cells+1].

    `crossings` hold the time of each watch, NaN when not met. `imbalance` is the largest water balance error
    at any output, relative to the water of the cells at the start. `temperature` [n, K] is that at each output.
    """

    times: Floats
    water: Floats
    activity: Floats
    temperature: Floats
    inflow: Floats
    crossings: Floats
    steps: int
    attempts: int
    imbalance: float

    def layer_moisture(self, chain: Chain) -> Floats:
        """Mean moisture of every layer [n, layers, kg/kg]."""
        columns = [self.water[:, i:j].sum(axis=1) / chain.dry_mass[i:j].sum() for i, j in chain.spans]
        return np.stack(columns, axis=1)


def march(
    chain: Chain,
    air: Surroundings,
    times: Floats,
    *,
    watches: Sequence[Watch] = (),
    stop_when_all_crossed: bool = False,
    tolerance: float = 1e-4,
    scheme: Scheme | None = None,
    start: Floats | None = None,
) -> March:
    """March from `times[0]` to `times[-1]`, stopping exactly at every time, or reading it off within a step where the scheme
    has continuous output. Without a `scheme`, `suited` chooses.

    `tolerance` is the local error in activity allowed per step. `start` [cells+1, kg] continues an earlier
    march; without it the cells start at the chain's moistures and the gas space at the mean activity of the
    cells that see it. Raises `HardtackError` when the air does not cover the times or leaves the chain's
    temperatures, and when the attempt cap is hit; `BalanceError` when the water balance fails: neither ever
    passes silently.
    """
    check(chain, air, times)
    n, k = chain.dry_mass.size, times.size
    kept = (np.zeros((k, n + 1)), np.zeros((k, n + 1)), np.zeros(k), np.zeros(k))
    water, activity, inflow, temperature = kept
    crossed = np.full(len(watches), np.nan)
    code, done, steps, attempts = follow(
        at_rest(chain, air, float(times[0])) if start is None else _checked(start, n),
        times,
        chain,
        air,
        scheme or suited(air, times),
        watched(chain, watches),
        crossed,
        stop_when_all_crossed,
        tolerance,
        kept,
    )
    if code != 0:
        raise HardtackError(
            f"the water could not be followed beyond day {times[done - 1] / 86400:.2f} "
            f"({attempts} step attempts, {'the cap' if code == 1 else 'the step became tiny'})",
            "look for a layer with an extreme diffusivity, thickness or isotherm constant",
        )
    imbalance = audit(water[:done], inflow[:done])
    if not imbalance <= BALANCE_LIMIT:
        raise BalanceError(
            f"water balance off by {imbalance:.2e} of the piece's water", "please report this run"
        )
    return March(
        times=times[:done],
        water=water[:done],
        activity=activity[:done],
        temperature=temperature[:done],
        inflow=inflow[:done],
        crossings=crossed,
        steps=steps,
        attempts=attempts,
        imbalance=imbalance,
    )


def suited(air: Surroundings, times: Floats) -> Scheme:
    """The scheme for this air: of steps that run past the outputs where it stands still for long, else of many short ones."""
    still = bool(np.all(air.left == air.right)) and FEW * (air.edges.size - 1) < times.size
    return RODAS4_CONTINUOUS if still else RODAS3


def follow(
    start: Floats,
    times: Floats,
    chain: Chain,
    air: Surroundings,
    scheme: Scheme,
    watches: Arrays,
    crossed: Floats,
    stop: bool,
    tolerance: float,
    kept: Arrays,
    film: float = 1.0,
    trace: tuple[Floats, Floats] = (NO_STEPS, NO_STEPS),
) -> tuple[int, int, int, int]:
    """Call the kernel, or its twin where there is no compiler: code, outputs done, steps, attempts.

    `start` [cells+1, kg] is the water of cells and gas space. `watches` are first cell, last cell, moisture, rising;
    `crossed` takes their times, NaN until met. `kept` (water, activity, inflow, temperature) takes the outputs. `film`
    is a factor on the air's conductance. `trace` are room for the steps taken [s], negative where the film was taken for
    dry, and steps to take instead of its own, without error control.
    """
    if not compiled():
        from hardtack.transport import twin

        return twin.follow(
            start, times, chain, air, scheme, watches, crossed, stop, tolerance, kept, film, ATTEMPTS_PER_RUN
        )
    from hardtack.transport import kernel

    height = 7 + 2 * scheme.m.size + (3 if scheme.continuous.size else 0)
    state = np.zeros((height, start.size + 1))
    state[0, :-1] = start
    code, done, steps, attempts = kernel.march_kernel(
        state,
        times,
        _model(chain, film, swings=air.swings),
        (air.edges, air.left, air.right, air.sums, air.step_limit, air.ends),
        _coefficients(scheme),
        watches,
        crossed,
        stop,
        tolerance * scheme.strictness,
        ATTEMPTS_PER_RUN,
        np.zeros(6),
        trace,
        kept,
    )
    return int(code), int(done), int(steps), int(attempts)


def audit(water: Floats, inflow: Floats) -> float:
    """Largest error of the water balance over all outputs, relative to the water in the cells at the start.

    The water of cells and gas space is summed as it stands; what came through the film was added up by itself.
    """
    whole = water.sum(axis=1)
    return float(np.abs(whole - whole[0] - inflow).max() / water[0, :-1].sum())


def check(chain: Chain, air: Surroundings, times: Floats) -> None:
    """Raise `HardtackError` when the times do not rise, or the air does not cover them or leaves the temperatures."""
    if times.size < 1 or not (times[1:] > times[:-1]).all():
        raise HardtackError("the output times must rise", "sort them and drop repeated ones")
    if not (air.edges[0] <= times[0] and times[-1] <= air.edges[-1]):
        raise HardtackError(
            f"the air is known from {air.edges[0]:g} to {air.edges[-1]:g} s, asked for {times[0]:g} to {times[-1]:g} s",
            "let the climate cover the whole journey",
        )
    low, high = air.coldest, air.hottest
    if low < chain.temperatures[0] - TEMPERATURE_SLACK or high > chain.temperatures[-1] + TEMPERATURE_SLACK:
        raise HardtackError(
            f"the air runs from {low:.2f} to {high:.2f} K, the layers were prepared for "
            f"{chain.temperatures[0]:.2f} to {chain.temperatures[-1]:.2f} K",
            "cut the chain for the extremes of the journey",
        )


def at_rest(chain: Chain, air: Surroundings, t: float) -> Floats:
    """Water of the cells at their moisture, and of the gas space at the mean activity of the cells that see it.

    A cell counts the more the shorter and wider its way to the gas, so that a little open rim does not count like a
    face. Where none sees it, at the activity of the outside air.
    """
    nought = np.zeros(1, dtype=np.int64)
    water: Floats = rows.at_rest(rows.unchanged(chain), (air,), nought, t)[0]
    return water


def _checked(start: Floats, n: int) -> Floats:
    if start.shape != (n + 1,) or not (start[:-1].sum() > 0 and start.min() >= -1e-15 * start.sum()):
        raise HardtackError(
            "the start does not fit the chain",
            "give the water of each cell, then of the gas space, none below zero",
        )
    return start


@cache
def _coefficients(scheme: Scheme) -> Arrays:
    return (
        scheme.gamma, scheme.a, scheme.c, scheme.m, scheme.e, scheme.alpha, scheme.gamma_sum, scheme.fresh,
        scheme.order, scheme.continuous,
    )  # fmt: skip


def _model(chain: Chain, film: float, *, swings: bool) -> Arrays:
    """The chain as the kernel's arrays. What is not named here is the kernel's scratch.

    cells    rows: dry mass and its inverse [kg], conductance to the next cell over permeability [m]
    layers   density, the five of D(X, T), vapour permeability, X_half, intervals of the curves per unit of s
    spans    first cell, and the one after the last, of each layer
    joints   rows: half resistances [1/m] in the first and in the second node, and what narrows the way to a barrier's holes
    nodes    first node and its layer, second node and its layer (for the gas space, any) of each joint
    barriers joint, resistance [s Pa/kg], its temperature [K], activation energy [J/mol], 1 where it has holes
    curves   [layers, temperatures, nodes, 4] cubics of activity, see `Chain`
    now      gas volume [m3], first temperature and spacing of the curves [K], factor on the film's conductance
    spells   None in air of which no step meets more than one temperature
    """
    from hardtack.transport import kernel

    n, layers, joints = chain.dry_mass.size, len(chain.names), chain.halves.shape[0]
    cells = np.zeros((kernel.CELL_ROWS, n + 2))
    cells[kernel.DRY, :n], cells[kernel.DRY_INVERSE, :n] = chain.dry_mass, 1.0 / chain.dry_mass
    cells[kernel.WITHIN, :n] = chain.within
    properties = np.zeros((layers, kernel.LAYER_COLUMNS))
    properties[:, : kernel.SOLID] = chain.constants
    halves = np.zeros((kernel.JOINT_ROWS, joints))
    halves[kernel.HALF_1 : kernel.NARROWS_1] = chain.halves.T
    halves[kernel.NARROWS_1 : kernel.SHIELD] = chain.narrows.T
    barriers = np.empty((chain.barrier_joint.size, 1 + chain.barriers.shape[1]))
    barriers[:, 0], barriers[:, 1:] = chain.barrier_joint, chain.barriers
    T = chain.temperatures
    now = np.full(kernel.NOW_SIZE, np.nan)
    now[: kernel.T_NOW] = chain.headspace, T[0], T[1] - T[0] if T.size > 1 else np.inf, film
    spells = np.zeros((kernel.SPELLS, kernel.SPELL_COLUMNS + 2 * (layers + joints))) if swings else None
    return cells, properties, chain.spans, halves, joint_table(chain), barriers, chain.curves, now, spells


def joint_table(chain: Chain) -> Ints:
    """First node and its layer, second node and its layer, of each joint [joints, 4]; for the gas space, any layer."""
    nodes = np.empty((chain.joint_nodes.shape[0], 4), dtype=np.int64)
    nodes[:, ::2] = chain.joint_nodes
    nodes[:, 1::2] = np.searchsorted(chain.spans[:, 1], chain.joint_nodes, side="right") % len(chain.names)
    return nodes


def watched(chain: Chain, watches: Sequence[Watch]) -> Arrays:
    """First cell, the one after the last, moisture and direction of every watch. Raises for a layer there is none of."""
    for watch in watches:
        if watch.layer not in chain.names:
            raise HardtackError(f"no layer {watch.layer!r} to watch", f"layers are {', '.join(chain.names)}")
    spans = np.array([chain.spans[chain.names.index(watch.layer)] for watch in watches], dtype=np.int64)
    spans = spans.reshape(-1, 2)
    return (
        spans[:, 0].copy(),
        spans[:, 1].copy(),
        np.array([watch.moisture for watch in watches], dtype=np.float64),
        np.array([watch.rising for watch in watches], dtype=np.bool_),
    )
