"""Resistances to water, in activity: what a layer, a barrier and a whole piece put in its way.

These are for telling which side limits and for drawing; the march computes with the cells' own.
"""

from __future__ import annotations

import math

import numpy as np

from hardtack.states import Barrier, Diffusivity, Layer, Piece
from hardtack.transport.side_links import gathering, rim_paths
from hardtack.water.air import GAS_CONSTANT, saturation_pressure
from hardtack.water.isotherm import activity, slope


def diffusivity_at(law: Diffusivity, X: float, T: float) -> float:
    """D(X, T) [m2/s] of the law's docstring."""
    heat = math.exp(-law.E / GAS_CONSTANT * (1.0 / T - 1.0 / law.T_ref))
    return law.D_ref * math.exp(law.slope * (X - law.X_ref)) * heat


def layer_volume(piece: Piece, layer: Layer) -> float:
    """Volume of one layer of one piece [m3], from its place in the row and the piece's shape."""
    inner = 0.0
    for part in piece.parts:
        if part is layer:
            break
        inner += part.thickness
    outer, radius = inner + layer.thickness, piece.thickness
    power = {"slab": 1, "cylinder": 2, "sphere": 3}[piece.shape]
    return piece.area * radius / power * ((outer / radius) ** power - (inner / radius) ** power)


def permeability(piece: Piece, layer: Layer, X: float, T: float) -> float:
    """kappa = rho_s D dX/da + delta p_sat [kg/m/s per unit activity] of a layer at moisture X."""
    density = layer.dry_mass / layer_volume(piece, layer)
    a = float(activity(layer.isotherm, X, T))
    solid = density * diffusivity_at(layer.diffusivity, X, T) * float(slope(layer.isotherm, a, T))
    return solid + layer.vapour_permeability * float(saturation_pressure(T))


def layer_resistance(piece: Piece, layer: Layer, X: float, T: float) -> float:
    """Through one layer of all pieces, end to end [1/(kg/s)]; round pieces are taken at their mean area."""
    area = layer_volume(piece, layer) / layer.thickness
    return layer.thickness / (permeability(piece, layer, X, T) * area * piece.count)


def rim_conductance(piece: Piece, layer: Layer, X: float, T: float) -> float:
    """From the mean of one layer of all pieces to its open rim [kg/s per unit activity]; 0 where none is open."""
    if layer.rim == 0.0:
        return 0.0
    path = rim_paths(piece, layer.rim, np.array([layer_volume(piece, layer)]))[0]
    return float(path) * permeability(piece, layer, X, T)


def barrier_resistance(piece: Piece, barrier: Barrier, T: float) -> float:
    """Through one barrier of all pieces [1/(kg/s)], by its holes too, with the layers beside it as packed."""
    heat = math.exp(-barrier.E / GAS_CONSTANT * (1.0 / T - 1.0 / barrier.T_ref))
    area = piece.area * piece.count
    whole = barrier.permeance * heat * float(saturation_pressure(T)) * area
    openings = barrier.openings
    if openings is None or openings.share == 0.0:
        return 1.0 / whole
    if openings.share == 1.0:
        return 0.0
    at = next(i for i, part in enumerate(piece.parts) if part is barrier)
    beside = [
        part for part in (*piece.parts[:at][-1:], *piece.parts[at + 1 : at + 2]) if isinstance(part, Layer)
    ]
    narrows = gathering(openings) / area * sum(1.0 / permeability(piece, x, x.moisture, T) for x in beside)
    return 1.0 / (whole * (1.0 - openings.share) + 1.0 / narrows)


def inside_resistance(piece: Piece, moistures: tuple[float, ...], T: float) -> float:
    """From the mean of the piece to its open surface [1/(kg/s)].

    The series resistance R of all parts, over 3 for one open end and over 12 for two: the quasi-steady
    values of a slab (its mean lags its surface by L/(3 kappa A) from one side). Open rims lead beside it. Infinite when
    nothing is open.
    """
    through, beside = 0.0, 0.0
    layers = iter(moistures)
    for part in piece.parts:
        if isinstance(part, Layer):
            X = next(layers)
            through += layer_resistance(piece, part, X, T)
            beside += rim_conductance(piece, part, X, T)
        else:
            through += barrier_resistance(piece, part, T)
    ends = sum(piece.open_ends)
    out = beside + (0.0 if ends == 0 else (3.0 if ends == 1 else 12.0) / through)
    return math.inf if out == 0.0 else 1.0 / out
