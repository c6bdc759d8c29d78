"""Airs one around another: names and checks around the compiled march.

Node k holds water as vapour of its air and on what stands in it, M_k(a_k, T); it takes up g_k (a_k+1 - a_k) from the
one around it, and hands on to the n_k it holds what each of them takes up. Implicit steps; every passage is one number,
so what is held in all is what came in from outside less what was taken out, to round-off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats

POINTS = 401
"""Points of a table of water held over activity 0 to 1."""
ACTIVITY = np.linspace(0.0, 1.0, POINTS)


@dataclass(frozen=True, slots=True)
class Node:
    """One air: `table` [POINTS, kg] of what stands in it over `ACTIVITY`; `room` [n, kg] of vapour at saturation, and its
    conductance outwards `g` [n, kg/s], at the times; how many of the node within it `holds`."""

    table: Floats
    room: Floats
    g: Floats
    holds: float = 1.0


@dataclass(frozen=True, slots=True)
class Nested:
    """Airs over `times` [s, n]: `activity` [nodes, n], innermost first, and `came` [nodes, n, kg], what each took up from
    around it since the first time. `held` [nodes, kg] is what each holds at the end, added up step by step."""

    times: Floats
    activity: Floats
    came: Floats
    held: Floats


def water_held(node: Node, a: Floats) -> Floats:
    """Water in one node [n, kg] at activities `a` [n], read off its table; beyond 1 what lies as water in it."""
    from hardtack.transport.nested_kernel import WET

    stands = np.interp(a, ACTIVITY, node.table)
    return np.asarray(stands + node.room * (np.minimum(a, 1.0) + np.maximum(a - 1.0, 0.0) / WET))


def nested(
    times: Floats, nodes: Sequence[Node], around: Floats, held: Sequence[float], given: Floats
) -> Nested:
    """Follow the airs over `times` [s, n] in air of activity `around` [n], from the water `held` [nodes, kg].

    `given` [nodes, n, kg] is taken out of each node in every step besides, for one of what it holds. Raises
    `HardtackError` when a step has no solution: an air with neither room nor passage.
    """
    from hardtack.transport.nested_kernel import nested_airs

    count, n = len(nodes), times.size
    a, came, end = np.zeros((count, n)), np.zeros((count, n)), np.array(held, dtype=np.float64)
    code = nested_airs(
        times,
        np.stack([node.room for node in nodes]),
        np.stack([node.table for node in nodes]),
        np.stack([node.g for node in nodes]),
        np.array([node.holds for node in nodes], dtype=np.float64),
        np.ascontiguousarray(around, dtype=np.float64),
        np.ascontiguousarray(given, dtype=np.float64),
        end,
        a,
        came,
        np.zeros((3, count)),
    )
    if code != 0 or not np.all(np.isfinite(a)):
        raise HardtackError(
            "the air of an outer pack could not be followed",
            "look for an outer pack with next to no air, or a film that lets nearly everything through",
        )
    return Nested(times, a, np.cumsum(came, axis=1), end)
