"""Lines of equal value over a grid, by straight interpolation along its edges (marching squares)."""

from __future__ import annotations

import numpy as np

from hardtack.states import Floats

Point = tuple[float, float]


def contour(x: Floats, y: Floats, z: Floats, level: float) -> list[list[Point]]:
    """The lines on which z[i, j] at (x[j], y[i]) equals `level`: each a list of points, in order.

    A saddle is cut by the mean of its corners. Values that are not finite bear no line.
    """
    pieces: list[tuple[Point, Point]] = []
    for i in range(y.size - 1):
        for j in range(x.size - 1):
            pieces += _cell(x[j : j + 2], y[i : i + 2], z[i : i + 2, j : j + 2], level)
    return _joined(pieces)


def _cell(x: Floats, y: Floats, z: Floats, level: float) -> list[tuple[Point, Point]]:
    corners = ((0, 0), (0, 1), (1, 1), (1, 0))
    values = [float(z[corner]) for corner in corners]
    if not np.all(np.isfinite(values)):
        return []
    crossings: list[Point] = []
    for k, (a, b) in enumerate(zip(corners, (*corners[1:], corners[0]), strict=True)):
        za, zb = values[k], values[(k + 1) % 4]
        if (za > level) == (zb > level):
            continue
        w = (level - za) / (zb - za)
        crossings.append(
            (
                float(x[a[1]] + w * (x[b[1]] - x[a[1]])),
                float(y[a[0]] + w * (y[b[0]] - y[a[0]])),
            )
        )
    if len(crossings) == 2:
        return [(crossings[0], crossings[1])]
    if len(crossings) == 4:
        first, second, third, fourth = crossings
        if (sum(values) / 4 > level) == (values[0] > level):
            return [(first, second), (third, fourth)]
        return [(fourth, first), (second, third)]
    return []


def _joined(pieces: list[tuple[Point, Point]]) -> list[list[Point]]:
    """Pieces end to end as long lines."""
    lines: list[list[Point]] = []
    left = [list(piece) for piece in pieces if not _same(*piece)]  # a corner just touched gives no line
    while left:
        line = left.pop()
        grown = True
        while grown:
            grown = False
            for k, other in enumerate(left):
                if _same(line[-1], other[0]):
                    line += other[1:]
                elif _same(line[-1], other[-1]):
                    line += other[-2::-1]
                elif _same(line[0], other[-1]):
                    line = other[:-1] + line
                elif _same(line[0], other[0]):
                    line = other[:0:-1] + line
                else:
                    continue
                left.pop(k)
                grown = True
                break
        lines.append(line)
    return lines


def _same(a: Point, b: Point) -> bool:
    return abs(a[0] - b[0]) < 1e-9 and abs(a[1] - b[1]) < 1e-9
