"""The product's whole model with some of its properties moved: what a storage trial fits and a plan weighs.

Every course here is marched, never taken from the quadrature, so that a moved property makes no step where the
two would meet.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.texture import limit_moisture
from hardtack.keeping.follow import follow
from hardtack.keeping.history import STILL_AIR_GAP, history_of
from hardtack.keeping.judged import Judged
from hardtack.keeping.limits import texture_failures
from hardtack.pack import journey_of, pack_of, stretches_of
from hardtack.piece import piece_of
from hardtack.product import Product
from hardtack.product.schema import LayerSpec
from hardtack.states import Climate, Floats, Isotherm, Journey, Layer, Leg, Pack, Piece
from hardtack.units import DAY, celsius
from hardtack.water.isotherm import moisture

FACTORS: Mapping[str, str] = {
    "permeance": "factor on the whole pack's permeance",
    "isotherm": "factor on every moisture of the isotherm",
    "diffusivity": "factor on the diffusivity of the layer",
}
"""What can be moved, each by a factor on what the product file gives."""


@dataclass(frozen=True, slots=True)
class Air:
    """Air of constant `temperature` [K] and `humidity` in which packs stand."""

    temperature: float
    humidity: float

    def __str__(self) -> str:
        return f"{celsius(self.temperature):.0f}\u00a0°C, {self.humidity:.0%}"


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """A product as the transport core takes it. `layer` is the place of the layer that is looked at."""

    product: Product
    piece: Piece
    pack: Pack
    journey: Journey
    layer: int

    @property
    def isotherm(self) -> Isotherm:
        """The isotherm of the layer."""
        return self.piece.layers[self.layer].isotherm


def model_of(product: Product, layer: str) -> Model:
    """The model of a packed product. Raises `HardtackError` when it has no pack or no such layer."""
    piece, _, _ = piece_of(product)
    pack, _ = pack_of(product)
    journey, _ = journey_of(product)
    if pack is None:
        raise HardtackError("the product lies unpacked: no permeance to fit", "give the product its pack")
    names = [part.name for part in piece.layers]
    if layer not in names:
        raise HardtackError(f"no layer {layer!r}", f"layers are: {', '.join(names)}")
    return Model(product, piece, pack, journey, names.index(layer))


def pair_given(model: Model) -> bool:
    """Whether the file gives moisture and activity of the layer, a pair through which its isotherm is moved."""
    name = model.piece.layers[model.layer].name
    spec = next(part for part in model.product.piece.layers if part.name == name)
    return isinstance(spec, LayerSpec) and spec.moisture is not None and spec.activity is not None


def moved(model: Model, factors: Mapping[str, float]) -> Model:
    """The model with `FACTORS` on it."""
    layer = model.piece.layers[model.layer]
    D = layer.diffusivity
    new = replace(
        layer,
        isotherm=replace(layer.isotherm, scale=layer.isotherm.scale * factors.get("isotherm", 1.0)),
        diffusivity=replace(D, D_ref=D.D_ref * factors.get("diffusivity", 1.0)),
    )
    pack = replace(model.pack, whole_pack_factor=model.pack.whole_pack_factor * factors.get("permeance", 1.0))
    return replace(with_layer(model, new), pack=pack)


def with_layer(model: Model, layer: Layer) -> Model:
    """The model with its layer exchanged."""
    old = model.piece.layers[model.layer]
    parts = tuple(layer if part is old else part for part in model.piece.parts)
    return replace(model, piece=replace(model.piece, parts=parts))


def standing(air: Air, duration: float) -> Journey:
    """Packs left in one air for `duration` [s]."""
    ends = np.array([0.0, duration])
    climate = Climate(ends, np.full(2, air.temperature), np.full(2, air.humidity))
    return Journey((Leg("trial", 0.0, duration, climate),))


def moisture_course(model: Model, times: Floats, journey: Journey | None = None) -> Floats:
    """Mean moisture [kg/kg dry] of the layer at times [s] from packing, on its journey or another."""
    return np.asarray(moisture_courses(model, times, journey)[:, model.layer])


def moisture_courses(model: Model, times: Floats, journey: Journey | None = None) -> Floats:
    """The same of every layer [times, layers]."""
    from hardtack.transport.chain import chain
    from hardtack.transport.march import march
    from hardtack.transport.surroundings import surroundings

    stretches = stretches_of(journey or model.journey, model.pack, (model.piece,))
    T = np.concatenate([stretch.T for stretch in stretches])
    headspace = model.pack.headspace or model.piece.area * model.piece.count * STILL_AIR_GAP
    cells = chain([model.piece], headspace, (float(T.min()), float(T.max())))
    wanted, back = np.unique(np.concatenate([[0.0], times]), return_inverse=True)
    if wanted.size == 1:
        return np.tile([part.moisture for part in model.piece.layers], (times.size, 1))
    run = march(cells, surroundings(stretches), wanted, tolerance=1e-5)
    return np.asarray(run.layer_moisture(cells)[back[1:]])


def limits_of(model: Model) -> tuple[Judged, ...]:
    """The limits of texture the product is judged by. Raises `HardtackError` when there is none."""
    found = tuple(
        verdict
        for verdict in texture_failures(model.product, (model.piece,))
        if isinstance(verdict, Judged) and verdict.limit is not None
    )
    if not found:
        raise HardtackError(
            f"{model.product.name} is judged by no limit of texture",
            "add one under 'limits' of the product file",
        )
    return found


def first_failure(model: Model) -> float | None:
    """Days to the first failure of any kind on the product's journey; None when none comes."""
    time = follow(model.product, (model.piece,), model.pack, model.journey).first_time
    return None if time is None else time / DAY


def first_limit_met(model: Model, shift: float = 0.0) -> float | None:
    """Days to the first limit of texture, its activity moved by `shift`; None when none is met."""
    found = first_to_fail(model, shift)
    return None if found is None else found[1]


def first_to_fail(model: Model, shift: float = 0.0) -> tuple[Judged, float] | None:
    """The limit of texture that is met first, and its days; as above."""
    limits = limits_of(model)
    watches = [(one.layer, _moved_limit(one, model, shift), one.rising) for one in limits]
    stretches = stretches_of(model.journey, model.pack, (model.piece,))
    history = history_of((model.piece,), model.pack, model.journey, stretches, watches)
    met = [
        (crossing.time, one)
        for crossing, one in zip(history.crossings, limits, strict=True)
        if crossing.time is not None
    ]
    if not met:
        return None
    time, one = min(met, key=lambda pair: pair[0])
    return one, time / DAY


def _moved_limit(one: Judged, model: Model, shift: float) -> float:
    assert one.limit is not None  # limits_of leaves out what has none
    iso = next(part.isotherm for part in model.piece.layers if part.name == one.layer)
    if shift == 0.0:
        return limit_moisture(one.limit, iso)
    return float(moisture(iso, one.limit.activity_for(iso) + shift, one.limit.temperature))
