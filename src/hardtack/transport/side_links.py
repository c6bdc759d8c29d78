"""Side links: how water leaves a layer by its rim, and how it gathers to the holes of a barrier.

**Rim.** A layer of permeability kappa that gives its water off evenly, while its edge is held, lags behind the edge by
w/kappa with w the solution of laplace(w) = -1 over the face, w = 0 along the edge. From the layer's mean to its edge the
conductance is therefore kappa V / mean(w), V the layer's volume. mean(w) is R^2/8 for a disc, b^2/12 for a strip of
width b, and for a rectangle J/(4 A) with the torsion constant J of the same section (Timoshenko & Goodier, Theory of
Elasticity, art. 109, from memory). Where a share of the edge is open, in many places, that share of the conductance
counts. This is the slow exchange; of the first hours, while the edge alone has dried, it lets too little through.

**Holes and cracks.** Water must gather to an opening. Added to the layer's own resistance 1/(kappa A) per metre is a
length on either side: for round holes of diameter d and open share o

    (pi d / 8 o) (1 - 1.40978 e + 0.34406 e^3 + 0.0435 e^5 + 0.02271 e^7), e = sqrt(o)

(one hole in a wide plane is 1/(2 d kappa); the bracket is for the neighbours: Negus & Yovanovich, ASME 84-HT-84 (1984),
from memory), and for cracks of width d, straight and side by side,

    (d / (pi o)) ln(1 / sin(pi o / 2))      (Carslaw & Jaeger, Conduction of Heat in Solids, sect. 16.5; from memory).

The tests hold both against a solution of Laplace's equation. What lies inside the opening itself is air and lets
through hundreds of times more.
"""

from __future__ import annotations

import math

from hardtack.errors import HardtackError
from hardtack.states import Floats, Openings, Piece


def path_to_rim(length: float, width: float) -> float:
    """mean(w) [m2] of a rectangular face, open all round its edge."""
    a, b = max(length, width), min(length, width)
    terms = math.fsum(math.tanh(n * math.pi * a / (2 * b)) / float(n) ** 5 for n in range(1, 200, 2))
    return b**2 / 12 * (1.0 - 192 * b / (math.pi**5 * a) * terms)


def path_to_round_rim(face_area: float) -> float:
    """mean(w) [m2] of a round face, open all round: R^2/8."""
    return face_area / (8 * math.pi)


def path_to_ends(length: float) -> float:
    """mean(w) [m2] of a cylinder's layers, whose rim is at both cut ends: length^2/12."""
    return length**2 / 12


def rim_paths(piece: Piece, rim: float, volume: Floats) -> Floats:
    """Conductance over permeability [m] from each cell of a layer to the gas space, all pieces together.

    `volume` [m3] of the cells of one piece; `rim` is the open share of the layer's edge. Raises `HardtackError` when the
    share is none, or the piece has no rim.
    """
    if not 0.0 <= rim <= 1.0:
        raise HardtackError(f"a rim open to {rim:g} of its edge", "give a share from 0 to 1")
    if not piece.to_rim > 0.0:
        raise HardtackError(
            "a rim on a piece without an edge", "give slabs and cylinders a rim, spheres none"
        )
    paths: Floats = volume * (rim * piece.count / piece.to_rim)
    return paths


def gathering(openings: Openings) -> float:
    """Length [m] by which water's way to a face grows on either side, over its permeability and the whole face."""
    o, d = openings.share, openings.width
    if openings.kind == "holes":
        e = math.sqrt(o)
        neighbours = 1.0 + e * (-1.40978 + e**2 * (0.34406 + e**2 * (0.0435 + e**2 * 0.02271)))
        return math.pi * d / (8 * o) * neighbours
    return d / (math.pi * o) * math.log(1.0 / math.sin(math.pi * o / 2))
