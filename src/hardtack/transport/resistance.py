"""Resistances to water, in activity: what a layer, a barrier and a whole piece put in its way.

These are for telling which side limits and for drawing; the march computes with the cells' own.
"""

from __future__ import annotations

import math

from hardtack.states import Barrier, Diffusivity, Layer, Piece
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


def barrier_resistance(piece: Piece, barrier: Barrier, T: float) -> float:
    """Through one barrier of all pieces [1/(kg/s)]."""
    heat = math.exp(-barrier.E / GAS_CONSTANT * (1.0 / T - 1.0 / barrier.T_ref))
    return 1.0 / (barrier.permeance * heat * float(saturation_pressure(T)) * piece.area * piece.count)


def inside_resistance(piece: Piece, moistures: tuple[float, ...], T: float) -> float:
    """From the mean of the piece to its open surface [1/(kg/s)].

    The series resistance R of all parts, over 3 for one open end and over 12 for two: the quasi-steady
    values of a slab (its mean lags its surface by L/(3 kappa A) from one side). Infinite when no end is open.
    """
    through = 0.0
    layers = iter(moistures)
    for part in piece.parts:
        if isinstance(part, Layer):
            through += layer_resistance(piece, part, next(layers), T)
        else:
            through += barrier_resistance(piece, part, T)
    ends = sum(piece.open_ends)
    return math.inf if ends == 0 else through / (3.0 if ends == 1 else 12.0)
