"""March a chain of cells through its surroundings: names and units around the compiled loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats
from hardtack.transport.chain import Chain
from hardtack.transport.rosenbrock import RODAS3, Scheme
from hardtack.transport.surroundings import Surroundings

BALANCE_LIMIT = 1e-12
ROUNDED_LIMIT = 1e-6  # a hundredth of the default tolerance
ATTEMPTS_PER_RUN = 2_000_000
TEMPERATURE_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Watch:
    """A mean moisture [kg/kg] of one layer to look out for, rising or falling through it."""

    layer: str
    moisture: float
    rising: bool


@dataclass(frozen=True, slots=True)
class March:
    """States over the output times [s]: water [n, cells+1, kg] (gas space last), activity [n, cells+1].

    `crossings` hold the time of each watch, NaN when not met. `imbalance` is the water balance error over
    the run relative to the piece's water, `rounded` the sum of what each step put back into the cells for
    round-off, likewise (near 1e-13; more where conductances are huge). `temperature` [n, K] is that at each output, or the mean of the last
    step before it where steps span several pieces of air.
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
    rounded: float

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
    scheme: Scheme = RODAS3,
    start: Floats | None = None,
) -> March:
    """March from `times[0]` to `times[-1]`, stopping exactly at every time.

    `tolerance` is the local error in activity allowed per step. `start` [cells+1, kg] continues an earlier
    march; without it the cells start at the chain's moistures and the gas space at the mean activity of the
    cells that see it. Raises `HardtackError` when the air does not cover the times or leaves the chain's
    temperatures, and when the attempt cap is hit; `BalanceError` when the water balance fails: neither ever
    passes silently.
    """
    from hardtack.transport import kernel

    _check(chain, air, times)
    n, k = chain.dry_mass.size, times.size
    M = _start(chain, start)
    crossed = np.full(len(watches), np.nan)
    water, activity, inflow, temperature = (
        np.zeros((k, n + 1)),
        np.zeros((k, n + 1)),
        np.zeros(k),
        np.zeros(k),
    )
    code, done, steps, attempts, rounded = kernel.march_kernel(
        M, times, _row(chain), _tables(chain),
        (air.edges, air.left, air.right, air.sums), (air.step_limit, air.ends),
        (scheme.gamma, scheme.a, scheme.c, scheme.m, scheme.e, scheme.alpha, scheme.gamma_sum, scheme.fresh),
        scheme.order, _watch_arrays(chain, watches), crossed, stop_when_all_crossed, tolerance, ATTEMPTS_PER_RUN,
        (water, activity, inflow, temperature),
    )  # fmt: skip
    if code != kernel.DONE:
        raise HardtackError(
            f"the water could not be followed beyond day {times[done - 1] / 86400:.2f} "
            f"({attempts} step attempts, {'the cap' if code == kernel.TOO_MANY else 'the step became tiny'})",
            "look for a layer with an extreme diffusivity, thickness or isotherm constant",
        )
    held = float(water[0, :-1].sum())
    imbalance = abs(float(water[done - 1].sum() - water[0].sum() - inflow[done - 1])) / held
    if not (imbalance <= BALANCE_LIMIT and rounded / held <= ROUNDED_LIMIT):
        raise BalanceError(
            f"water balance off by {imbalance:.2e} of the piece's water ({rounded / held:.2e} was put back for "
            "round-off)",
            "please report this run",
        )
    return March(
        times[:done], water[:done], activity[:done], temperature[:done], inflow[:done], crossed, steps, attempts,
        imbalance, rounded / held,
    )  # fmt: skip


def _check(chain: Chain, air: Surroundings, times: Floats) -> None:
    if times.size < 1 or not np.all(np.diff(times) > 0):
        raise HardtackError("the output times must rise", "sort them and drop repeated ones")
    if not (air.edges[0] <= times[0] and times[-1] <= air.edges[-1]):
        raise HardtackError(
            f"the air is known from {air.edges[0]:g} to {air.edges[-1]:g} s, asked for {times[0]:g} to {times[-1]:g} s",
            "let the climate cover the whole journey",
        )
    low, high = (min(air.left[2].min(), air.right[2].min()), max(air.left[2].max(), air.right[2].max()))
    if low < chain.temperatures[0] - TEMPERATURE_SLACK or high > chain.temperatures[-1] + TEMPERATURE_SLACK:
        raise HardtackError(
            f"the air runs from {low:.2f} to {high:.2f} K, the layers were prepared for "
            f"{chain.temperatures[0]:.2f} to {chain.temperatures[-1]:.2f} K",
            "cut the chain for the extremes of the journey",
        )


def _start(chain: Chain, start: Floats | None) -> Floats:
    """Water of cells and gas space, and none let in yet. A gas space not given is left to the kernel."""
    if start is None:
        return np.concatenate([chain.dry_mass * chain.start_moisture, [np.nan, 0.0]])
    if start.shape != (chain.dry_mass.size + 1,) or not np.all(start[:-1] > 0):
        raise HardtackError(
            "the start does not fit the chain", "give water above zero for each cell, then for the gas space"
        )
    return np.append(start, 0.0)


def _row(chain: Chain) -> tuple[Any, ...]:
    layer_of = np.repeat(np.arange(len(chain.names)), np.diff(chain.spans, axis=1)[:, 0])
    return (
        chain.dry_mass, 1.0 / chain.dry_mass, layer_of, chain.spans, chain.constants, chain.within,
        chain.joint_nodes, chain.halves, chain.barrier_joint, chain.barriers, chain.headspace,
    )  # fmt: skip


def _tables(chain: Chain) -> tuple[Floats, float, float]:
    T = chain.temperatures
    return chain.curves, float(T[0]), float(T[1] - T[0]) if T.size > 1 else 1.0


def _watch_arrays(chain: Chain, watches: Sequence[Watch]) -> tuple[Any, ...]:
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
