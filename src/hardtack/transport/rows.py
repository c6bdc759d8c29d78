"""Scenarios as rows of arrays: chains changed by what was drawn, and their first water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hardtack.states import Floats
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.surroundings import Surroundings
from hardtack.water.air import saturation_pressure, vapour_density

if TYPE_CHECKING:
    from hardtack.transport.many import Draws


@dataclass(frozen=True, slots=True)
class Rows:
    """Fields of `Chain` with the scenarios as first axis; `which` [S] of the `chains` each is one of."""

    chains: Sequence[Chain]
    which: Ints
    constants: Floats
    dry_mass: Floats
    start_moisture: Floats
    barriers: Floats
    headspace: Floats


def unchanged(chain: Chain) -> Rows:
    """One scenario, of the chain as it stands."""
    return Rows(
        (chain,),
        np.zeros(1, dtype=np.int64),
        chain.constants[None],
        chain.dry_mass[None],
        chain.start_moisture[None],
        chain.barriers[None],
        np.array([chain.headspace]),
    )


def changed(chains: Sequence[Chain], which: Ints, draws: Draws, numbers: Ints) -> Rows:
    """The chains, of one number of cells, joints and barriers, as the scenarios of these `numbers` have them.

    An isotherm times f is the same curve over X / (X + f X_half).
    """
    constants, dry, start, barriers = (
        np.stack([getattr(chain, name) for chain in chains])[which]
        for name in ("constants", "dry_mass", "start_moisture", "barriers")
    )
    for k, (name, (first, last)) in enumerate(zip(chains[0].names, chains[0].spans, strict=True)):
        if name in draws.diffusivity:
            f = draws.diffusivity[name][numbers]
            constants[:, k, [1, 6]] *= f[:, None]
            constants[:, k, 9] -= np.log(f)
        if name in draws.isotherm:
            constants[:, k, 7] *= draws.isotherm[name][numbers]
        if name in draws.moisture:
            start[:, first:last] *= draws.moisture[name][numbers, None]
        if name in draws.dry_mass:
            constants[:, k, 0] *= draws.dry_mass[name][numbers]
            dry[:, first:last] *= draws.dry_mass[name][numbers, None]
    for b, factors in draws.barriers.items():
        barriers[:, b, 0] /= factors[numbers]
    headspace = np.array([chain.headspace for chain in chains])[which]
    if draws.headspace is not None:
        headspace = headspace * draws.headspace[numbers]
    return Rows(chains, which, constants, dry, start, barriers, headspace)


def at_rest(rows: Rows, airs: Sequence[Surroundings], air_of: Ints, t: float) -> Floats:
    """First water [S, cells+1, kg]: of the cells at their moisture, of the gas space as `march.at_rest` says."""
    outside = np.stack([_outside(air, t) for air in airs])[air_of]
    T = outside[:, 2]
    water = np.zeros((T.size, rows.dry_mass.shape[1] + 1))
    water[:, :-1] = rows.dry_mass * rows.start_moisture
    a = np.where(outside[:, 0] > 0.0, outside[:, 1] / np.where(outside[:, 0] > 0.0, outside[:, 0], 1.0), 0.0)
    for k, chain in enumerate(rows.chains):
        here = np.flatnonzero(rows.which == k)
        by_gas = chain.joint_nodes[:, 1] == water.shape[1] - 1
        if by_gas.any() and here.size:
            ease = 1.0 / chain.halves[by_gas, 0]
            seen = [_activity(rows, chain, here, int(cell), T[here]) for cell in chain.joint_nodes[by_gas, 0]]
            a[here] = sum(share * one for share, one in zip(ease / ease.sum(), seen, strict=True))
    water[:, -1] = a * rows.headspace * outside[:, 3]
    return water


def _outside(air: Surroundings, t: float) -> Floats:
    """g, b and T of the air at a time, and the density of saturated vapour at T."""
    k = min(int(np.searchsorted(air.edges, t, side="right")) - 1, air.left.shape[1] - 1)
    share = (t - air.edges[k]) / (air.edges[k + 1] - air.edges[k])
    g, b, T = (float(x) for x in air.left[:, k] + share * (air.right[:, k] - air.left[:, k]))
    return np.array([g, b, T, float(vapour_density(float(saturation_pressure(T)), T))])


def _activity(rows: Rows, chain: Chain, here: Ints, cell: int, T: Floats) -> Floats:
    """Activity of a cell in the scenarios `here`, all of one chain: straight between the curves' temperatures."""
    layer = int(np.searchsorted(chain.spans[:, 1], cell, side="right"))
    X = rows.start_moisture[here, cell]
    u = X / (X + rows.constants[here, layer, 7]) * rows.constants[here, layer, 8]
    k = np.minimum(u.astype(np.int64), chain.curves.shape[2] - 1)
    kelvin, last = chain.temperatures, chain.temperatures.size - 1
    x = np.clip((T - kelvin[0]) / (kelvin[1] - kelvin[0]), 0.0, last) if last > 0 else np.zeros(T.size)
    low = np.minimum(x.astype(np.int64), max(last - 1, 0))
    cubics = chain.curves[layer]
    w, y = (x - low)[:, None], u - k
    c = ((1.0 - w) * cubics[low, k] + w * cubics[np.minimum(low + 1, last), k]).T
    a: Floats = c[0] + y * (c[1] + y * (c[2] + y * c[3]))
    return a
