"""The activity ladder: where each place stands when packed and at the end, and the water between them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hardtack.keeping.statement import Flow, Rung
from hardtack.states import Barrier, History, Layer, Pack, Piece
from hardtack.transport.resistance import barrier_resistance, layer_resistance, rim_conductance
from hardtack.transport.surroundings import Stretch
from hardtack.units import wet_basis
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity, slope

HEADSPACE = "headspace"
ABOUT = "air about the pieces"
"""What the headspace is called when there is no pack."""
OUTSIDE = "outside air"


def ladder_of(
    pieces: Sequence[Piece], pack: Pack | None, history: History, stretch: Stretch, end: int
) -> tuple[tuple[Rung, ...], tuple[Flow, ...]]:
    """Rungs from the first layer to the outside air, and the flows among them when packed.

    `stretch` is the first leg's air; `end` the index of the history at which the statement ends. A flow runs
    from the middle of one place to the middle of the next, through half of each and the barrier between; the
    headspace takes the activity at which what comes in goes out.
    """
    T, g = float(stretch.T[0]), float(stretch.g[0])
    a_out = float(stretch.a_out[0])
    air = HEADSPACE if pack is not None else ABOUT
    layers = [(layer, piece.count) for piece in pieces for layer in piece.layers]
    starts = [float(activity(layer.isotherm, layer.moisture, T)) for layer, _ in layers]
    between, surface = _conductances(pieces, T)
    pulls = [(G, starts[k]) for k, G in surface] + [(g, a_out)]
    a_head = float(sum(G * a for G, a in pulls) / sum(G for G, _ in pulls))
    flows = [_flow(layers[k][0].name, starts[k], layers[k + 1][0].name, starts[k + 1], G) for k, G in between]
    for k, (layer, _) in enumerate(layers):
        G = sum(G for at, G in surface if at == k)
        if G > 0:
            flows.append(_flow(layer.name, starts[k], air, a_head, G))
    flows.append(_flow(air, a_head, OUTSIDE, a_out, g))
    rungs = [
        Rung(
            name=layer.name,
            start=starts[k],
            end=float(history.activity[end, k]),
            capacity=layer.dry_mass * count * float(slope(layer.isotherm, starts[k], T)) / 100,
            moisture=f"{100 * wet_basis(layer.moisture):.1f} → {100 * wet_basis(float(history.moisture[end, k])):.1f} % wb",
        )
        for k, (layer, count) in enumerate(layers)
    ]
    room = pack.headspace if pack else 0.0
    per_hundredth = room * float(vapour_density(float(saturation_pressure(T)), T)) / 100
    rungs.append(Rung(air, a_head, float(history.headspace[end]), per_hundredth, ""))
    rungs.append(Rung(OUTSIDE, a_out, float(history.humidity[end]), math.inf, ""))
    return tuple(rungs), tuple(flow for flow in flows if flow.rate > 0)


Joints = list[tuple[int, float]]
"""Number of a layer, counted through all pieces, and a conductance [kg/s per unit activity]."""


def _conductances(pieces: Sequence[Piece], T: float) -> tuple[Joints, Joints]:
    """From a layer to the next of its piece, and from layers at open ends and with open rims to the headspace."""
    between: Joints = []
    surface: Joints = []
    first = 0
    for piece in pieces:
        halves = [layer_resistance(piece, layer, layer.moisture, T) / 2 for layer in piece.layers]
        gaps = [0.0] * (len(halves) + 1)
        at = 0
        for part in piece.parts:
            if isinstance(part, Layer):
                at += 1
            elif isinstance(part, Barrier):
                gaps[at] += barrier_resistance(piece, part, T)
        between += [(first + k, 1.0 / (halves[k] + gaps[k + 1] + halves[k + 1])) for k in range(at - 1)]
        if piece.open_ends[0]:
            surface.append((first, 1.0 / (gaps[0] + halves[0])))
        if piece.open_ends[1]:
            surface.append((first + at - 1, 1.0 / (gaps[-1] + halves[-1])))
        rims = [rim_conductance(piece, layer, layer.moisture, T) for layer in piece.layers]
        surface += [(first + k, G) for k, G in enumerate(rims) if G > 0]
        first += at
    return between, surface


def _flow(name: str, a: float, other: str, a_other: float, G: float) -> Flow:
    """From the higher activity to the lower."""
    return Flow(name, other, G * (a - a_other)) if a >= a_other else Flow(other, name, G * (a_other - a))
