"""Where the layers of the profile stand: pixels across, each layer wide enough to be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import style
from hardtack.states import Barrier, Floats, Layer, Piece

LEAST_LAYER = 96.0
"""A thin layer is drawn this wide at least, where there is room [px]."""
BARRIER, BETWEEN = 17.0, 34.0
"""Width of a barrier's strip, and room between two kinds of piece [px]."""


@dataclass(frozen=True, slots=True)
class Column:
    """One layer of one kind of piece: where it stands [px], how deep [mm], its cells [px] in the history."""

    layer: Layer
    number: int
    left: float
    right: float
    start: float
    end: float
    cells: NDArray[np.int64]
    across: Floats
    joined: bool
    """Whether the layer before touches it, with no barrier between."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A barrier: where it stands [px]."""

    barrier: Barrier
    left: float
    right: float


@dataclass(frozen=True, slots=True)
class Panel:
    """One kind of piece, from its left edge to its right."""

    piece: Piece
    columns: tuple[Column, ...]
    strips: tuple[Strip, ...]
    left: float
    right: float


def panels(statement: KeepingStatement, room: float) -> list[Panel]:
    """The kinds of piece side by side over `room` pixels."""
    pieces = statement.pieces
    barriers = sum(len(piece.parts) - len(piece.layers) for piece in pieces)
    layers = [layer for piece in pieces for layer in piece.layers]
    widths = iter(
        shared(
            [layer.thickness for layer in layers],
            room - BARRIER * barriers - BETWEEN * (len(pieces) - 1),
        )
    )
    placed: list[Panel] = []
    left, number = 0.0, 0
    for piece in pieces:
        panel = _panel(statement, piece, left, number, [next(widths) for _ in piece.layers])
        placed.append(panel)
        left, number = panel.right + BETWEEN, number + len(piece.layers)
    return placed


def shared(thicknesses: Sequence[float], room: float) -> list[float]:
    """Widths in proportion to the thicknesses, none below `LEAST_LAYER` as long as there is room for it."""
    least = min(LEAST_LAYER, room / len(thicknesses))
    held: set[int] = set()
    while True:
        free = [k for k in range(len(thicknesses)) if k not in held]
        left = room - least * len(held)
        total = sum(thicknesses[k] for k in free)
        narrow = {k for k in free if left * thicknesses[k] / total < least * (1 - 1e-9)}
        if not narrow:
            return [
                least if k in held else left * thickness / total for k, thickness in enumerate(thicknesses)
            ]
        held |= narrow


def to_scale(placed: Sequence[Panel]) -> bool:
    """Whether a millimetre is as wide in every layer."""
    scales = [
        (column.right - column.left) / column.layer.thickness for panel in placed for column in panel.columns
    ]
    return max(scales) < 1.02 * min(scales)


def _panel(
    statement: KeepingStatement, piece: Piece, left: float, first: int, widths: Sequence[float]
) -> Panel:
    history = statement.history
    x, depth, watery, number = left, 0.0, 0.0, first
    columns: list[Column] = []
    strips: list[Strip] = []
    touching = False
    for part in piece.parts:
        if isinstance(part, Barrier):
            strips.append(Strip(part, x, x + BARRIER))
            x, depth, touching = x + BARRIER, depth + 1e3 * part.thickness, False
            continue
        width = widths[number - first]
        # positions of the history count layers only, not the barriers between them
        cells = np.flatnonzero(history.profile_layer == number)
        share = (history.profile_positions[cells] - watery) / part.thickness
        thickness = 1e3 * part.thickness
        columns.append(
            Column(
                layer=part,
                number=number,
                left=x,
                right=x + width,
                start=depth,
                end=depth + thickness,
                cells=cells,
                across=np.asarray(x + width * share),
                joined=touching,
            )
        )
        x, depth, watery = x + width, depth + thickness, watery + part.thickness
        number, touching = number + 1, True
    return Panel(piece, tuple(columns), tuple(strips), left, x)


def ticks(panel: Panel) -> list[tuple[float, float]]:
    """Millimetres to write under a panel and where [px]: its ends, its layers' edges, round ones between."""
    wanted: list[tuple[float, float]] = [
        (panel.columns[-1].right, panel.columns[-1].end),
        (panel.columns[0].left, panel.columns[0].start),
    ]
    for column in panel.columns:
        wanted += [(column.left, column.start), (column.right, column.end)]
    for column in panel.columns:
        width, thick = column.right - column.left, column.end - column.start
        step = style.step_for(thick, max(1, int(width / 60)))
        first = int(column.start / step) + 1
        wanted += [
            (column.left + (k * step - column.start) / thick * width, k * step)
            for k in range(first, int(column.end / step) + 1)
        ]
    kept: list[tuple[float, float]] = []
    for x, depth in wanted:
        if all(abs(x - other) >= 30 for other, _ in kept):
            kept.append((x, depth))
    return sorted(kept)
