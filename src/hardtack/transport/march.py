"""March a chain of cells through its surroundings: names and units around the compiled loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats
from hardtack.transport.chain import Chain
from hardtack.transport.rosenbrock import RODAS3, Scheme
from hardtack.transport.surroundings import Surroundings

BALANCE_LIMIT = 1e-12
ATTEMPTS_PER_RUN = 2_000_000


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
    the run relative to the piece's water. `temperature` [n, K] is that of the last step before each output.
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
        columns = [
            self.water[:, i:j].sum(axis=1) / chain.dry_mass[i:j].sum() for i, j in chain.spans
        ]
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
    march; without it the cells start at the chain's moistures and the gas space in balance with nothing
    (its water is that of the mean activity of the end cells). Raises `HardtackError` when the attempt cap
    is hit and `BalanceError` when the water balance fails: neither ever passes silently.
    """
    from hardtack.transport import kernel

    first, last, level, up = _watch_arrays(chain, watches)
    crossed = np.full(len(watches), -1.0)
    n, k = chain.dry_mass.size + 1, times.size
    M = (start_state(chain, air, float(times[0])) if start is None else start).copy()
    M_first = M.copy()
    water, activity = np.zeros((k, n)), np.zeros((k, n))
    inflow, temperature = np.zeros(k), np.zeros(k)
    code, done, steps, attempts, _ = kernel.march_kernel(
        M, times, chain.dry_mass, chain.material, chain.constants, chain.table, chain.T0, chain.dT,
        chain.headspace, chain.faces, chain.face_r2, chain.links, chain.link_cell,
        air.edges, air.left, air.right, air.sums, air.step_limit, air.weight, air.T_weight,
        np.full(scheme.m.size, scheme.gamma), scheme.a, scheme.c, scheme.m, scheme.e, scheme.alpha,
        scheme.gamma_sum, scheme.order, first, last, level, up, crossed, stop_when_all_crossed,
        tolerance, 10.0, ATTEMPTS_PER_RUN, water, activity, inflow, temperature,
    )  # fmt: skip
    if code != kernel.DONE:
        raise HardtackError(
            f"the water could not be followed beyond day {times[done - 1] / 86400:.2f} "
            f"({attempts} step attempts, {'the cap' if code == kernel.TOO_MANY else 'the step became tiny'})",
            "look for a layer with an extreme diffusivity, thickness or isotherm constant",
        )
    pieces_water = float(M_first[:-1].sum())
    imbalance = abs(float(water[done - 1].sum() - M_first.sum() - inflow[done - 1])) / pieces_water
    if not imbalance <= BALANCE_LIMIT:
        raise BalanceError(f"water balance off by {imbalance:.2e} of the piece's water", "please report this run")
    return March(
        times[:done], water[:done], activity[:done], temperature[:done], inflow[:done],
        np.where(crossed >= 0, crossed, np.nan), steps, attempts, imbalance,
    )  # fmt: skip


def start_state(chain: Chain, air: Surroundings, t: float) -> Floats:
    """Water [kg] at the start: cells at their moisture, the gas space at the mean activity of the end cells."""
    from hardtack.transport import kernel

    T = float(air.left[2, min(int(np.searchsorted(air.edges, t, side="right")) - 1, air.left.shape[1] - 1)])
    M = np.empty(chain.dry_mass.size + 1)
    M[:-1] = chain.dry_mass * chain.start_moisture
    M[-1] = 0.0
    activities = kernel.activities(
        M, chain.dry_mass, chain.material, chain.constants, chain.table, chain.T0, chain.dT, chain.headspace, T
    )
    linked = activities[chain.link_cell]
    M[-1] = float(np.mean(linked)) * chain.headspace * kernel.vapour_density(T)
    return M


def _watch_arrays(chain: Chain, watches: Sequence[Watch]) -> tuple[np.ndarray, ...]:  # type: ignore[type-arg]
    spans = [chain.spans[chain.names.index(watch.layer)] for watch in watches]
    return (
        np.array([span[0] for span in spans], dtype=np.int64),
        np.array([span[1] for span in spans], dtype=np.int64),
        np.array([watch.moisture for watch in watches], dtype=np.float64),
        np.array([watch.rising for watch in watches], dtype=np.bool_),
    )
