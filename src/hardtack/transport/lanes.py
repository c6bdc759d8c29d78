"""Many scenarios of one structure in lanes of the processor's vectors: names and layout around `lanes_kernel.py`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hardtack.states import Floats
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.march import ATTEMPTS_PER_RUN, _coefficients, joint_table
from hardtack.transport.rosenbrock import Scheme
from hardtack.transport.rows import Rows
from hardtack.transport.surroundings import Surroundings

NO_STEPS = np.zeros((0, 0))
DONE = 0
"""Code of a scenario that was followed to its end."""


@dataclass(frozen=True, slots=True)
class Results:
    """Where the lanes write, by number of the scenario; what is not kept has no rows."""

    crossings: Floats
    imbalance: Floats
    steps: Ints
    attempts: Ints
    code: Ints
    moisture: Floats
    headspace: Floats
    inflow: Floats
    temperature: Floats
    activity: Floats
    water: Floats


def likeness(chain: Chain) -> tuple[object, ...]:
    """What chains must share to be marched side by side."""
    return (
        chain.spans.tobytes(),
        chain.joint_nodes.tobytes(),
        chain.barrier_joint.tobytes(),
        chain.curves.shape,
        (chain.constants[:, 2] == 0.0).tobytes(),
        (chain.constants[:, 6] > 0.0).tobytes(),
    )


def march_lot(
    number: Ints, rows: Rows, airs: Sequence[Surroundings], air_of: Ints, starts: Floats, films: Floats, limits: Floats,
    watches: tuple[Ints, Any], times: Floats, scheme: Scheme, results: Results,
    *, stop: bool, tolerance: float, given: Floats = NO_STEPS,
) -> None:  # fmt: skip
    """March scenarios of one `likeness`, those of `results` with these numbers.

    For each its row, the number of its air, its first water [S, cells+1, kg], the factor on its film, and the limits
    [S, watches, kg/kg] of the watches: layer and whether it rises. `given` [S, steps] are steps [s] to take without error
    control. A scenario that lanes do not hold to its end has code 3.
    """
    from hardtack.transport import lanes_rows
    from hardtack.transport.lanes_kernel import march_lanes
    from hardtack.transport.vector import WIDTH

    one = rows.chains[0]
    n, layers, joints = one.dry_mass.size, len(one.names), one.halves.shape[0]
    sizes = [
        (n + 2) * lanes_rows.CELL_ROWS, layers * lanes_rows.LAYER_ROWS, joints * lanes_rows.JOINT_ROWS,
        one.barriers.shape[0] * lanes_rows.BARRIER_ROWS, lanes_rows.NOW_ROWS,
    ]  # fmt: skip
    places = np.cumsum([0, *sizes])
    nodes = joint_table(one)
    opened = nodes[nodes[:, 2] == n, 0]
    structure = (one.spans, nodes, one.barrier_joint, one.constants[:, 2] == 0.0, one.constants[:, 6] > 0.0)
    shape = (
        n,
        one.curves.shape[2] - 1,
        int(opened.min()) if opened.size else n,
        one.curves.shape[1],
        scheme.continuous.shape[0],
    )
    curves = [np.ascontiguousarray(chain.curves) for chain in rows.chains]
    kept, addresses = _addresses(airs)
    kelvins = np.array([(chain.temperatures[0], _spacing(chain)) for chain in rows.chains])
    queue = (
        starts,
        rows.dry_mass,
        np.stack([chain.within for chain in rows.chains])[rows.which],
        rows.constants,
        np.stack([chain.halves for chain in rows.chains])[rows.which],
        rows.barriers,
        np.column_stack([rows.headspace, kelvins[rows.which], films]),
        np.array([curve.ctypes.data for curve in curves])[rows.which],
        air_of,
        limits,
    )
    march_lanes(
        _aligned(int(places[-1]), WIDTH), np.zeros((lanes_rows.COUNTS + 3 * layers, WIDTH), dtype=np.int64),
        np.zeros(lanes_rows.FLAGS, dtype=np.int64), structure, shape, tuple(int(p) for p in places[1:5]), times,
        _coefficients(scheme), addresses, queue, number, watches, stop, tolerance * scheme.strictness, ATTEMPTS_PER_RUN,
        given, np.zeros(6),
        (
            results.crossings, results.imbalance, results.steps, results.attempts, results.code, results.moisture,
            results.headspace, results.inflow, results.temperature, results.activity, results.water,
        ),
    )  # fmt: skip
    del kept


def _spacing(chain: Chain) -> float:
    T = chain.temperatures
    return float(T[1] - T[0]) if T.size > 1 else np.inf


def _aligned(rows: int, width: int) -> Floats:
    """Zeros [rows, width] that begin where a line of the processor's cache does."""
    room = np.zeros(rows * width + 8)
    first = -(room.ctypes.data // 8) % 8
    return room[first : first + rows * width].reshape(rows, width)


def _addresses(airs: Sequence[Surroundings]) -> tuple[list[Floats], Ints]:
    """Where the arrays of every air lie, and their number of pieces; and the arrays, to be kept while these are used."""
    kept = [
        [
            np.ascontiguousarray(a)
            for a in (air.edges, air.left, air.right, air.sums, air.step_limit, air.ends)
        ]
        for air in airs
    ]
    rows = [[*(array.ctypes.data for array in arrays), arrays[4].size] for arrays in kept]
    return [array for arrays in kept for array in arrays], np.array(rows, dtype=np.int64)
