"""Isotherms moved by their own error: through the measured pair where there is one, at a few levels to go between."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from hardtack.dough import moved_in_activity
from hardtack.keeping.doubt import Unsure
from hardtack.product import LayerSpec
from hardtack.states import Floats, Isotherm, Layer
from hardtack.transport.chain import Chain
from hardtack.water.isotherm import activity, activity_limit, moisture

LEVELS = np.linspace(-4.0, 4.0, 17)
"""Standard deviations at which a moved isotherm is computed; between two of them it is taken straight."""
_GRID = np.concatenate([np.arange(0.01, 0.1, 0.01), np.arange(0.1, 0.976, 0.025)])


@dataclass(frozen=True, slots=True)
class MovedIsotherms:
    """One unsure isotherm of some layers: at every level the isotherm of each of the layers, in their order.

    `place` is its place in the list of what is unsure.
    """

    place: int
    layers: tuple[str, ...]
    levels: tuple[tuple[Isotherm, ...], ...]
    sd: float
    """Of the logarithm of the factor; 0 for an isotherm from a formula, whose law is of standard deviations."""

    def coordinates(self, values: Floats) -> Floats:
        """Values of the law in standard deviations, kept within the levels."""
        steps = np.log(values) / self.sd if self.sd else values
        return np.clip(steps, LEVELS[0], LEVELS[-1])


def known_pair(spec: LayerSpec, layer: Layer) -> tuple[float, ...]:
    """The activity of a measured pair at the isotherm's own temperature; nothing without a pair."""
    if spec.moisture is None or spec.activity is None:
        return ()
    return (float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature)),)


def scales(unsure: Unsure, specs: dict[str, LayerSpec], layers: dict[str, Layer]) -> bool:
    """Whether an unsure isotherm moves by one factor on all its moistures: from no formula, and no pair holds it."""
    return all(
        layers[name].isotherm.activity_sd is None and not known_pair(specs[name], layers[name])
        for name in unsure.of
    )


def moved_isotherms(
    place: int, unsure: Unsure, specs: dict[str, LayerSpec], layers: dict[str, Layer]
) -> MovedIsotherms:
    """An unsure isotherm at every level."""
    formula = layers[unsure.of[0]].isotherm.activity_sd is not None
    sd = 0.0 if formula else unsure.law.sd
    levels = tuple(
        tuple(
            moved(layers[name].isotherm, float(c), sd, known_pair(specs[name], layers[name]))
            for name in unsure.of
        )
        for c in LEVELS
    )
    return MovedIsotherms(place, unsure.of, levels, sd)


def moved(iso: Isotherm, c: float, sd: float, known: tuple[float, ...]) -> Isotherm:
    """The isotherm off by `c` standard deviations: in activity from a formula (`sd` 0), else in the log of moisture.

    A measured pair stays on it: above the pair the factor is on the water beyond the pair's own, below it the curve
    bends so that it still ends at nothing. So the error grows away from the pair, and moisture rises with activity
    whatever the factor.
    """
    if not sd:
        assert iso.activity_sd is not None  # an isotherm from a formula states it
        return moved_in_activity(iso, c * iso.activity_sd, known)
    if not known:
        return replace(iso, scale=iso.scale * math.exp(c * sd))
    if iso.enthalpies:  # a table has no constants for that law to act on: its pair holds it
        return iso
    T = iso.reference_temperature
    a = _GRID[activity_limit(iso, T) - 1e-3 > _GRID]
    X, X0 = np.asarray(moisture(iso, a, T)), float(moisture(iso, known[0], T))
    factor = math.exp(c * sd)
    wetter = X0 + (X - X0) * factor
    drier = X0 * np.maximum(X / X0, 1e-12) ** (1.0 / factor)
    moved_X = np.where(a > known[0], wetter, drier)
    # the points stand before the scale, for the heat's own moisture goes with it
    points = tuple(zip(a.tolist(), (moved_X / iso.scale).tolist(), strict=True))
    return replace(iso, form="table", parameters={}, points=points)


def between(levels: Floats, c: Floats) -> Floats:
    """Values [levels, samples] at each sample's own coordinate: straight between the levels."""
    at, w = _between(c)
    column = np.arange(c.size)
    return np.asarray((1.0 - w) * levels[at, column] + w * levels[at + 1, column])


def blended(chain: Chain, levels: list[Chain], moves: list[tuple[tuple[int, ...], float]]) -> Chain:
    """The chain with the curves of some layers (numbers) at coordinates between the levels."""
    curves, constants = chain.curves.copy(), chain.constants.copy()
    for layers, c in moves:
        at, w = _between(np.array(c))
        low, high = levels[int(at)], levels[int(at) + 1]
        for k in layers:
            curves[k] = (1.0 - w) * low.curves[k] + w * high.curves[k]
            constants[k, 7:9] = (1.0 - w) * low.constants[k, 7:9] + w * high.constants[k, 7:9]
    return replace(chain, curves=curves, constants=constants)


def _between(c: Floats) -> tuple[np.ndarray, Floats]:
    step = LEVELS[1] - LEVELS[0]
    u = (c - LEVELS[0]) / step
    at = np.minimum(u.astype(np.int64), LEVELS.size - 2)
    return at, u - at
