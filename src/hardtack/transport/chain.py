"""Pieces to a chain of cells: the plain arrays the compiled march works on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hardtack.errors import HardtackError
from hardtack.states import Barrier, Floats, Layer, Openings, Piece
from hardtack.transport.grid import Cells, cells, graded_faces
from hardtack.transport.side_links import gathering, rim_paths
from hardtack.water.isotherm import activity_limit
from hardtack.water.tables import activity_table

Ints = NDArray[np.int64]

TABLE_NODES = 513
TEMPERATURE_SPACING = 2.5
VAPOUR_IN_AIR = 2.5e-5
"""Diffusivity of water vapour in still air at 25 degC [m2/s] (Massman 1998, Atmos. Environ. 32:1111, from memory):
D(X) of a layer rises to this at its reference temperature and no further, however wet the layer."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Cells of all pieces in one gas space, as arrays; the gas space is the node after the last cell.

    `spans` are the cell ranges of the layers. `constants` [layers, 10] hold density [kg dry/m3], the five of
    the diffusivity (D_ref, slope, X_ref, T_ref, E), the vapour permeability, X_half and the intervals per unit
    of s of the layer's `curves` [layers, temperatures, nodes, 4], and the log of the largest D over D_ref. The
    curves are cubics of activity in each interval of s = X / (X + X_half), the last one the straight
    continuation, at evenly spaced `temperatures` [K].

    Two cells of one layer are joined by `within` [cells, m] (to the next cell; 0 across layers). All else is a
    joint: `joint_nodes` [joints, 2] with `halves` [joints, 2], the half resistance [1/m] in either node, and the cells
    of a layer whose rim is open, each joined to the gas space. `barriers` [barriers, 4] lie in the joints
    `barrier_joint`: resistance [s Pa/kg] at a reference temperature [K], activation energy [J/mol], and 1 where it has
    holes; `narrows` [joints, 2] is then the resistance [1/m] in either node of what gathers to them, beside it.
    """

    names: tuple[str, ...]
    spans: Ints
    dry_mass: Floats
    constants: Floats
    curves: Floats
    temperatures: Floats
    headspace: float
    within: Floats
    joint_nodes: Ints
    halves: Floats
    narrows: Floats
    barrier_joint: Ints
    barriers: Floats
    start_moisture: Floats
    centres: Floats


@dataclass(frozen=True, slots=True)
class _Row:
    """One piece cut: its cells, and the barriers met at a face (-1: the first end; n-1: after cell n-1)."""

    piece: Piece
    cells: Cells
    edges: Floats
    barriers: dict[int, list[Barrier]]
    per_layer: int


def table_temperatures(low: float, high: float) -> Floats:
    """Temperatures of the curves: one when the journey is isothermal, else every 2.5 K, at least 3."""
    if high - low < 1e-9:
        return np.array([low])
    n = max(3, int(np.ceil((high - low) / TEMPERATURE_SPACING)) + 1)
    return np.linspace(low, high, n)


def chain(
    pieces: Sequence[Piece],
    headspace: float,
    temperatures: tuple[float, float],
    *,
    cells_per_layer: int = 20,
) -> Chain:
    """Cut the layers of all pieces into cells. `headspace` [m3]; `temperatures` [K] the journey's extremes.

    Raises `HardtackError` on pieces no water could be followed through: no layer, a size or mass not above
    zero, a layer without any path for water, a round piece open at its centre.
    """
    _check(pieces, headspace)
    kelvins = table_temperatures(*temperatures)
    rows = [_cut(piece, cells_per_layer) for piece in pieces]
    layers = [(row, k, layer) for row in rows for k, layer in enumerate(row.piece.layers)]
    n = len(layers) * cells_per_layer
    constants, curves, dry = [], [], []
    for row, k, layer in layers:
        volume = row.cells.volume[k * cells_per_layer : (k + 1) * cells_per_layer]
        density = layer.dry_mass / float(volume.sum())
        x_half, intervals, curve = _curves(layer, kelvins)
        D = layer.diffusivity
        law = [D.D_ref, D.slope, D.X_ref, D.T_ref, D.E]
        constants.append(
            [density, *law, layer.vapour_permeability, x_half, intervals, np.log(VAPOUR_IN_AIR / D.D_ref)]
        )
        curves.append(curve)
        dry.append(volume * density * row.piece.count)
    first = np.arange(0, n, cells_per_layer)
    joints = _joints(rows, gas=n)
    return Chain(
        names=tuple(layer.name for _, _, layer in layers),
        spans=np.stack([first, first + cells_per_layer], axis=1),
        dry_mass=np.concatenate(dry),
        constants=np.array(constants),
        curves=np.ascontiguousarray(np.stack(curves)),
        temperatures=kelvins,
        headspace=headspace,
        within=np.concatenate([_within(row) for row in rows]),
        joint_nodes=np.array(joints.nodes, dtype=np.int64).reshape(-1, 2),
        halves=np.array(joints.halves, dtype=float).reshape(-1, 2),
        narrows=np.array(joints.narrows, dtype=float).reshape(-1, 2),
        barrier_joint=np.array(joints.of_barrier, dtype=np.int64),
        barriers=np.array(joints.barriers, dtype=float).reshape(-1, 4),
        start_moisture=np.repeat([layer.moisture for _, _, layer in layers], cells_per_layer),
        centres=np.concatenate([row.cells.centre for row in rows]),
    )


def _check(pieces: Sequence[Piece], headspace: float) -> None:
    """Refuse what would divide by zero or let no water pass."""
    _above_zero("gas space", {"volume": headspace})
    for piece in pieces:
        if not piece.layers:
            raise HardtackError(
                "a piece without layers holds no water to follow", "give it at least one layer"
            )
        if piece.shape != "slab" and piece.open_ends[0]:
            raise HardtackError(f"the centre of a {piece.shape} cannot be open", "open its second end only")
        _above_zero("piece", {"area": piece.area, "count": piece.count})
        for part in piece.parts:
            if isinstance(part, Barrier):
                _above_zero(part.name, {"permeance": part.permeance})
                if part.openings is not None:
                    _check_openings(part.name, part.openings)
                continue
            sizes = {"thickness": part.thickness, "dry mass": part.dry_mass, "moisture": part.moisture}
            _above_zero(part.name, sizes | {"diffusivity": part.diffusivity.D_ref})


def _check_openings(name: str, openings: Openings) -> None:
    if not 0.0 <= openings.share <= 1.0:
        raise HardtackError(f"{name}: open to {openings.share:g} of its face", "give a share from 0 to 1")
    _above_zero(name, {"width of an opening": openings.width})


def _above_zero(name: str, values: dict[str, float]) -> None:
    for what, value in values.items():
        if not 0.0 < value < np.inf:
            raise HardtackError(f"{name}: {what} = {value:g}", f"the {what} must be a number above zero")


def _cut(piece: Piece, per_layer: int) -> _Row:
    """Edges of a piece's cells, finer where a layer meets another or the gas space."""
    edges: list[Floats] = [np.zeros(1)]
    barriers: dict[int, list[Barrier]] = {}
    last = len(piece.layers) - 1
    done = 0
    for part in piece.parts:
        if isinstance(part, Barrier):
            barriers.setdefault(done * per_layer - 1, []).append(part)
            continue
        start = float(edges[-1][-1])
        finer_first, finer_last = done > 0 or piece.open_ends[0], done < last or piece.open_ends[1]
        layer = graded_faces(start, part.thickness, per_layer, first=finer_first, last=finer_last)
        edges.append(layer[1:])
        done += 1
    edge = np.concatenate(edges)
    return _Row(piece, cells(piece.shape, edge, piece.area, float(edge[-1])), edge, barriers, per_layer)


def _curves(layer: Layer, kelvins: Floats) -> tuple[float, float, Floats]:
    """X_half, intervals per unit of s, and the cubic a = c0 + c1 y + c2 y2 + c3 y3 of every interval."""
    table = activity_table(layer.isotherm, kelvins, TABLE_NODES)
    intervals = (TABLE_NODES - 1) / table.s_max
    curve = np.zeros((*table.a.shape, 4))
    curve[..., 0], curve[..., 1] = table.a, table.dads / intervals
    rise = np.diff(table.a, axis=1)
    left, right = curve[:, :-1, 1], curve[:, 1:, 1]
    curve[:, :-1, 2] = 3.0 * rise - 2.0 * left - right
    curve[:, :-1, 3] = left + right - 2.0 * rise
    # beyond the last node a straight line that ends, with all water in the world, at the isotherm's limit
    limit = np.array([activity_limit(layer.isotherm, float(T)) for T in kelvins])
    curve[:, -1, 1] = (limit - table.a[:, -1]) / (1.0 - table.s_max) / intervals
    return table.X_half, intervals, curve


def _within(row: _Row) -> Floats:
    """Conductance over permeability [m] from each cell to the next of the same layer."""
    resistance = row.cells.r_plus[:-1] + row.cells.r_minus[1:]
    within = np.append(row.piece.count / resistance, 0.0)
    within[row.per_layer - 1 :: row.per_layer] = 0.0
    return within


@dataclass(frozen=True, slots=True)
class _Joints:
    """What is joined otherwise than cell to cell; see `Chain`."""

    nodes: list[tuple[int, int]] = field(default_factory=list)
    halves: list[tuple[float, float]] = field(default_factory=list)
    narrows: list[tuple[float, float]] = field(default_factory=list)
    of_barrier: list[int] = field(default_factory=list)
    barriers: list[tuple[float, float, float, float]] = field(default_factory=list)


def _joints(rows: Iterable[_Row], gas: int) -> _Joints:
    """Where layer meets layer, where an open end or rim meets the gas space, and the barriers lying there."""
    joints = _Joints()
    base = 0
    for row in rows:
        n, count = row.cells.volume.size, row.piece.count
        before, after = row.cells.r_minus / count, row.cells.r_plus / count
        met: list[tuple[int, tuple[int, int], tuple[float, float]]] = []
        if row.piece.open_ends[0]:
            met.append((-1, (base, gas), (before[0], 0.0)))
        for face in range(row.per_layer - 1, n - 1, row.per_layer):
            met.append((face, (base + face, base + face + 1), (after[face], before[face + 1])))
        if row.piece.open_ends[1]:
            met.append((n - 1, (base + n - 1, gas), (after[n - 1], 0.0)))
        for face, pair, half in met:
            area = _face_area(row, face) * count
            narrows = _lay(joints, row.barriers.get(face, []), area)
            joints.nodes.append(pair)
            joints.halves.append(half)
            joints.narrows.append((narrows, narrows))
        _open_rims(joints, row, base, gas)
        base += n
    return joints


def _lay(joints: _Joints, barriers: Iterable[Barrier], area: float) -> float:
    """Put the barriers in the joint that is next, on `area` [m2]; returned is what narrows the way to their holes [1/m].

    Raises `HardtackError` when two of them have holes: whether they lie on one another nobody said.
    """
    narrows = 0.0
    for barrier in barriers:
        share = barrier.openings.share if barrier.openings is not None else 0.0
        if share == 1.0:
            continue  # nothing of it is left
        if barrier.openings is not None and share > 0.0:
            if narrows > 0.0:
                raise HardtackError(
                    f"{barrier.name} and another barrier on the same face both have openings",
                    "give the two as one barrier with one coverage",
                )
            narrows = gathering(barrier.openings) / area
        resistance = 1.0 / (barrier.permeance * area * (1.0 - share))
        joints.of_barrier.append(len(joints.nodes))
        joints.barriers.append((resistance, barrier.T_ref, barrier.E, float(share > 0.0)))
    return narrows


def _open_rims(joints: _Joints, row: _Row, base: int, gas: int) -> None:
    """Join every cell of a layer whose rim is open to the gas space."""
    for k, layer in enumerate(row.piece.layers):
        if layer.rim == 0.0:
            continue
        first = k * row.per_layer
        paths = rim_paths(row.piece, layer.rim, row.cells.volume[first : first + row.per_layer])
        for i, path in enumerate(paths):
            joints.nodes.append((base + first + i, gas))
            joints.halves.append((1.0 / float(path), 0.0))
            joints.narrows.append((0.0, 0.0))


def _face_area(row: _Row, face: int) -> float:
    """Area [m2] of one piece at a face; the barrier's own thickness does not widen a round piece."""
    power = {"slab": 0, "cylinder": 1, "sphere": 2}[row.piece.shape]
    return float(row.piece.area * (row.edges[face + 1] / row.edges[-1]) ** power)
