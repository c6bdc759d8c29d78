"""Where words go so that they stand clear of each other and of the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from hardtack.states import Floats


def spread(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Centres of boxes of `sizes` in the order given: as near `wanted` as they can be without touching.

    Least squares under order (pooling of neighbours that would touch), then moved inside [low, high].
    """
    if not wanted:
        return []
    offsets = [0.0]
    for before, size in pairwise(sizes):
        offsets.append(offsets[-1] + (before + size) / 2)
    pools: list[tuple[float, int]] = []
    for wish, offset in zip(wanted, offsets, strict=True):
        mean, count = wish - offset, 1
        while pools and pools[-1][0] > mean:
            other, number = pools.pop()
            mean, count = (mean * count + other * number) / (count + number), count + number
        pools.append((mean, count))
    base = [mean for mean, count in pools for _ in range(count)]
    highest = high - sizes[-1] / 2 - offsets[-1]
    lowest = low + sizes[0] / 2
    return [max(lowest, min(highest, place)) + offset for place, offset in zip(base, offsets, strict=True)]


@dataclass(frozen=True, slots=True)
class Box:
    """A text's place in pixels, y downwards."""

    left: float
    top: float
    width: float
    height: float

    def overlap(self, other: Box) -> float:
        """Shared area [px2]."""
        across = min(self.left + self.width, other.left + other.width) - max(self.left, other.left)
        down = min(self.top + self.height, other.top + other.height) - max(self.top, other.top)
        return max(0.0, across) * max(0.0, down)


def quiet_place(
    line_y: float,
    size: tuple[float, float],
    plot: tuple[float, float],
    curves: Sequence[tuple[Floats, Floats]],
    taken: Sequence[Box],
) -> Box:
    """A box above or below a level line at `line_y` where it covers least of the `curves` (x, y in pixels).

    `plot` is the plot's width and height. Left and above are preferred when all is quiet.
    """
    across, down = plot
    width, height = size
    x = np.arange(0.0, across, 2.0)
    drawn = [np.interp(x, xs, ys, left=np.nan, right=np.nan) for xs, ys in curves]
    best: tuple[float, Box] | None = None
    for side, top in enumerate((line_y - height - 2, line_y + 2)):
        if top < 0 or top + height > down:
            continue
        for left in np.linspace(6.0, max(6.0, across - width - 6.0), 25):
            box = Box(float(left), top, width, height)
            under = (x >= left - 3) & (x <= left + width + 3)
            hits = sum(
                int(np.count_nonzero((ys[under] > top - 2) & (ys[under] < top + height + 2))) for ys in drawn
            )
            cost = hits + sum(box.overlap(other) for other in taken) + 2.0 * side + left / across
            if best is None or cost < best[0]:
                best = (cost, box)
    return best[1] if best else Box(6.0, min(max(line_y - height - 2, 0.0), down - height), width, height)
