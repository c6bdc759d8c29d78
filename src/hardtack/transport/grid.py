"""Layers to cells: exact volumes and exact half-cell resistances for slab, cylinder and sphere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats, Shape


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells of one layer: `volume` [m3], geometric half resistances [1/m] to either face, centres [m].

    A flux through a face is permeability / half resistance times the potential difference; the half
    resistance is the integral of dx / area from the centre to the face.
    """

    volume: Floats
    r_minus: Floats
    r_plus: Floats
    centre: Floats


def graded_faces(start: float, thickness: float, n: int, *, first: bool, last: bool) -> Floats:
    """Face positions of n cells over a layer, finer towards the ends named (where potentials turn sharply).

    Both ends: faces at (1 - cos)/2; one end: quarter cosine; none: uniform. Smooth gradings keep second
    order in space.
    """
    x = np.linspace(0.0, 1.0, n + 1)
    if first and last:
        x = (1.0 - np.cos(np.pi * x)) / 2.0 * 0.9 + x * 0.1
    elif last:
        x = np.sin(np.pi / 2 * x) * 0.9 + x * 0.1
    elif first:
        x = (1.0 - np.cos(np.pi / 2 * x)) * 0.9 + x * 0.1
    return start + thickness * x


def cells(shape: Shape, faces: Floats, area: float, radius: float) -> Cells:
    """Cells between `faces` [m, n+1]. Slab: `area` [m2] is the face; round: the outer surface at `radius`."""
    left, right = faces[:-1], faces[1:]
    mid = (left + right) / 2
    if shape == "slab":
        half = (right - left) / 2 / area
        return Cells(volume=area * (right - left), r_minus=half, r_plus=half, centre=mid)
    with np.errstate(divide="ignore"):
        if shape == "cylinder":
            span = area / radius  # 2 pi length, from outer area = 2 pi length radius
            return Cells(
                volume=span / 2 * (right**2 - left**2),
                r_minus=np.where(left > 0, np.log(mid / np.where(left > 0, left, 1.0)), np.inf) / span,
                r_plus=np.log(right / mid) / span,
                centre=mid,
            )
        span = area / radius**2  # 4 pi, for a whole sphere
        return Cells(
            volume=span / 3 * (right**3 - left**3),
            r_minus=np.where(left > 0, 1.0 / np.where(left > 0, left, 1.0) - 1.0 / mid, np.inf) / span,
            r_plus=(1.0 / mid - 1.0 / right) / span,
            centre=mid,
        )
