"""From the oven to storage: the baked layers with their moistures, and what to look at when the pieces are packed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import NotOnShelf
from hardtack.oven.awaited import computed_layers
from hardtack.oven.baking import Baked, depth
from hardtack.product import Product
from hardtack.product.schema import LayerSpec
from hardtack.reference import Row, lookup
from hardtack.sourced import Sourced
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS, wet_basis
from hardtack.water.isotherm import activity

_POWER = {"slab": 1, "cylinder": 2, "sphere": 3}
ROOM = ZERO_CELSIUS + 25.0
"""Temperature [K] at which activities of baked layers are told."""
CRUST_ABOVE = 373.15 + 5.0
"""A place hotter than this [K] at the oven's exit has dried to crust: wet crumb boils below it; assumed."""


@dataclass(frozen=True, slots=True)
class BakedLayer:
    """A layer as baked: dry mass [kg], moisture [kg/kg dry], its water activity at 25 degC by the dough's isotherm, thickness
    [m], density as packed [kg/m3]."""

    name: str
    dry_mass: float
    moisture: float
    activity: float
    thickness: float
    density: float


@dataclass(frozen=True, slots=True)
class AtPacking:
    """The piece when packed: centre [K], and moistures on wet basis: mean, driest surface, wettest place; the
    `difference` is centre less surface.

    `cool_after` is the time [s] in cooling until the centre is at `packed_at` [K], None when it does not come there.
    `checking` says what the rule of thumb makes of the difference, None where the piece is too moist for it.
    """

    centre: float
    mean: float
    surface: float
    difference: float
    packed_at: float
    cool_after: float | None
    checking: str | None
    rule: Row


def shares_of(baked: Baked) -> tuple[tuple[str, ...], Floats]:
    """Names of the baked layers, and what share of each one's dry mass lies in each cell [layers, n]; the whole piece where
    no layer waits for the bake.
    """
    march, specs = baked.march, computed_layers(baked.product)
    if not specs:
        return ("whole piece",), (march.dry_mass / march.dry_mass.sum())[None, :]
    cells = _cumulative(march.dry_mass) / march.dry_mass.sum()
    edges = _edges(baked)
    low = np.maximum(cells[:-1], edges[:-1, None])
    high = np.minimum(cells[1:], edges[1:, None])
    held = np.maximum(high - low, 0.0)
    return tuple(spec.name for spec in specs), np.asarray(held / held.sum(axis=1, keepdims=True))


def _edges(baked: Baked) -> Floats:
    """Where the layers end, as shares of dry mass from the first end (the centre of a round piece)."""
    thickness = np.array([spec.thickness.value for spec in computed_layers(baked.product)])
    ends = np.concatenate([[0.0], np.cumsum(thickness)]) / thickness.sum()
    return np.asarray(ends ** _POWER[baked.product.piece.shape])


def layers_of(baked: Baked) -> tuple[BakedLayer, ...]:
    """The baked profile cut into the file's layers by their thicknesses, from the first end (centre when round).

    Water and dry mass are shared exactly: the sums over layers are those over cells.
    """
    specs = computed_layers(baked.product)
    march, shares = baked.march, _edges(baked)
    thickness = np.array([spec.thickness.value for spec in specs])
    dry = _cumulative(march.dry_mass)
    water = _cumulative(march.dry_mass * march.moisture[-1])
    masses = np.diff(np.interp(shares, dry / dry[-1], dry))
    waters = np.diff(np.interp(shares, dry / dry[-1], water))
    volumes = np.diff(shares) * baked.baked_volume
    return tuple(
        BakedLayer(
            spec.name, float(m), float(w / m), float(activity(baked.isotherm, float(w / m), ROOM)),
            float(t * depth(baked.product) / thickness.sum()), float((m + w) / v),
        )
        for spec, m, w, t, v in zip(specs, masses, waters, thickness, volumes, strict=True)
    )  # fmt: skip


def with_bake(product: Product, baked: Baked) -> Product:
    """The product file with the bake's results in place of what it left out: moistures, shares and the piece's mass.

    The formula's branch becomes desorption unless the file says otherwise: a baked piece has come down from dough.
    Where other layers stand beside the baked ones, mass and shares stay the file's.
    """
    layers = {layer.name: layer for layer in layers_of(baked)}
    alone = len(layers) == sum(isinstance(part, LayerSpec) for part in product.piece.layers)
    mass = sum(layer.dry_mass * (1.0 + layer.moisture) for layer in layers.values())
    parts = []
    for part in product.piece.layers:
        if part.name in layers and isinstance(part, LayerSpec):
            layer = layers[part.name]
            changes: dict[str, object] = {"moisture": _computed(layer.moisture, "kg/kg dry")}
            if alone:
                changes["share"] = _computed(layer.dry_mass * (1.0 + layer.moisture) / mass, "")
            part = part.model_copy(update=changes)
        parts.append(part)
    piece = product.piece.model_copy(update={"layers": tuple(parts)})
    if alone:
        piece = piece.model_copy(
            update={"mass": replace(_computed(mass, "kg"), written=f"{1e3 * mass:.3g} g")}
        )
    assert product.oven is not None  # there are baked layers
    formulas = dict(product.formulas)
    spec = formulas[product.oven.formula]
    if spec.branch is None:
        formulas[product.oven.formula] = spec.model_copy(update={"branch": "desorption"})
    if product.one_piece is not None:
        where: dict[str, object] = {"one_piece": piece}
    else:
        where = {"several_pieces": (piece, *product.several_pieces[1:])}
    return product.model_copy(update={**where, "formulas": formulas})


def at_packing(baked: Baked) -> AtPacking:
    """What the piece is like at the end of the file's cooling, and the trade's rules for it."""
    X, T, kind = baked.march.moisture[-1], baked.march.temperature[-1], baked.product.kind
    try:
        rule = lookup("baked ends", kind or "default")
    except NotOnShelf:
        rule = lookup("baked ends", "default")
    if "packed" not in rule.values:
        bready = kind in ("bread", "white bread", "loaf", "bun", "roll")
        rule = lookup("baked ends", "rye or wheat loaf" if bready else "biscuit")
    cool = baked.march.temperature[baked.out :].max(axis=1) <= rule["packed"]
    after = (
        float(baked.times[baked.out + int(np.argmax(cool))] - baked.times[baked.out]) if cool.any() else None
    )
    centre = int(np.argmin(np.abs(baked.march.centres - _middle(baked))))
    surface = (
        float(wet_basis(X[-1]))
        if baked.product.piece.shape != "slab"
        else float(wet_basis((X[0] + X[-1]) / 2))
    )
    mean = float(wet_basis(baked.moisture))
    difference = float(wet_basis(X[centre])) - surface
    return AtPacking(
        float(T.max()), mean, surface, difference, rule["packed"], after, _checking(mean, difference), rule
    )


def crust(baked: Baked) -> float | None:
    """Thickness [m] of the crust at the last end when leaving the oven; None where no crumb is left inside."""
    hot = baked.march.temperature[baked.out] > CRUST_ABOVE
    wet = baked.march.moisture[baked.out] > 0.25
    if not wet.any() or not hot[-1]:
        return None
    first = int(np.where(~hot)[0].max())
    return depth(baked.product) - float(baked.march.centres[first : first + 2].mean())


def _checking(mean: float, difference: float) -> str | None:
    row = lookup("checking", "hard biscuit")
    most, span = row["difference"], row.values["mean"]
    assert span.high is not None  # a range on the shelf
    if mean > 2.0 * wet_basis(span.high):
        return None
    if abs(difference) <= most:
        said = "within"
    elif difference > 0:
        said = "beyond: the rim gains from the centre and cracks may come in the first days; bake drier in the middle"
    else:
        said = "beyond: the rim has taken up water in cooling and presses on the centre; cool in drier or stiller air"
    return (
        f"centre less surface {100 * difference:+.1f} points of moisture when packed; the rule of thumb is at most "
        f"{100 * most:.0f} point with a mean of 2 to 3 % (Dunn and Bailey 1928): {said}"
    )


def _middle(baked: Baked) -> float:
    return depth(baked.product) / 2 if baked.product.piece.shape == "slab" else 0.0


def _cumulative(values: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(values)])


def _computed(value: float, unit: str) -> Sourced:
    written = f"{100 * wet_basis(value):.2f} %wb" if unit == "kg/kg dry" else f"{100 * value:.3g} %"
    return Sourced(value, unit, "assumed", "computed by the bake (`hardtack oven`)", written=written)
