"""From the product file's piece to the frozen `Piece`: sizes, dry masses, moistures, isotherms, barriers."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hardtack import reference
from hardtack.piece.materials import ROOM, assumed, diffusivity_of, isotherm_of, need
from hardtack.product import Product
from hardtack.product.schema import BarrierSpec, LayerSpec, PieceSpec
from hardtack.sourced import Used
from hardtack.states import Barrier, Layer, Piece
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import moisture, reconcile

SHIFT_WORTH_SAYING = 0.01


def piece_of(product: Product) -> tuple[Piece, tuple[Used, ...], tuple[str, ...]]:
    """Build the piece. Returns it with every number used and remarks (an isotherm moved).

    Raises `HardtackError` when a size is missing or the shelf lacks what the file leaves out.
    """
    spec = product.piece
    used: list[Used] = [Used("mass of one piece", spec.mass, True)]
    remarks: list[str] = []
    parts: list[Layer | Barrier] = []
    for part in spec.layers:
        if isinstance(part, BarrierSpec):
            barrier, numbers = _barrier(part)
            parts.append(barrier)
            used.extend(numbers)
        else:
            layer, numbers, said = _layer(part, spec, product.kind)
            parts.append(layer)
            used.extend(numbers)
            remarks.extend(said)
    count = 1 if spec.count is None else round(spec.count.value)
    if spec.count is None:
        used.append(Used("pieces in a pack", assumed(1.0, "", "1", "no count given"), False))
    piece = Piece(
        shape=spec.shape,
        parts=tuple(parts),
        area=_area(spec, sum(part.thickness for part in parts)),
        open_ends=spec.ends,
        count=count,
        mass=spec.mass.value,
    )
    return piece, tuple(used), tuple(remarks)


def _area(spec: PieceSpec, depth: float) -> float:
    """Face of a slab, or outer surface of a round piece [m2]."""
    if spec.shape == "sphere":
        return 4 * math.pi * depth**2
    if spec.shape == "cylinder":
        need(spec.length is not None, "a cylinder needs its length", "add 'length: 80 mm' to the piece")
        assert spec.length is not None
        return 2 * math.pi * depth * spec.length.value
    if spec.face_area is not None:
        return spec.face_area.value
    if spec.length is not None and spec.width is not None:
        return spec.length.value * spec.width.value
    need(spec.diameter is not None, "the slab's face is not given", "add length and width, diameter, or face area")
    assert spec.diameter is not None
    return math.pi / 4 * spec.diameter.value**2


def _layer(spec: LayerSpec, piece: PieceSpec, kind: str | None) -> tuple[Layer, list[Used], list[str]]:
    words = _words(spec.name, kind, spec.isotherm if isinstance(spec.isotherm, str) else None)
    iso, iso_used = isotherm_of(spec, words)
    D, D_used = diffusivity_of(spec, [*words, "biscuit"])
    used = [*iso_used, *D_used]
    remarks: list[str] = []
    T = spec.activity_at.value if spec.activity_at else ROOM
    if spec.activity is not None:
        used.append(Used(f"water activity of {spec.name} when packed", spec.activity, True))
        if spec.activity_at is None:
            used.append(
                Used(f"temperature of that reading of {spec.name}", assumed(T, "K", "25 °C", "not stated"), False)
            )
    if spec.moisture is not None:
        X = spec.moisture.value
        used.append(Used(f"moisture of {spec.name} when packed", spec.moisture, True))
        if spec.activity is not None:
            iso, factor = reconcile(iso, X, spec.activity.value, T)
            if abs(factor - 1.0) > SHIFT_WORTH_SAYING:
                remarks.append(
                    f"The isotherm of the {spec.name} ({iso.name}) was moved through the measured pair "
                    f"({spec.activity.value:.2f} at {celsius(T):.0f} °C, {100 * wet_basis(X):.2f} % wet basis): "
                    f"all its moistures times {factor:.2f}."
                )
    else:
        assert spec.activity is not None  # the product file has one or the other
        X = float(moisture(iso, spec.activity.value, T))
    if spec.vapour_permeability is not None:
        used.append(Used(f"vapour permeability of {spec.name}", spec.vapour_permeability, True))
    layer = Layer(
        name=spec.name,
        thickness=spec.thickness.value,
        dry_mass=piece.mass.value * spec.share.value / (1.0 + X),
        moisture=X,
        isotherm=iso,
        diffusivity=D,
        vapour_permeability=spec.vapour_permeability.value if spec.vapour_permeability else 0.0,
        pH=spec.pH.value if spec.pH else None,
    )
    return layer, used, remarks


def _words(name: str, kind: str | None, isotherm: str | None) -> Sequence[str]:
    """Names under which the shelf may know a layer, the most particular first."""
    return list(dict.fromkeys(word for word in (isotherm, name, kind) if word))


def _barrier(spec: BarrierSpec) -> tuple[Barrier, list[Used]]:
    given = spec.barrier
    thickness = given.thickness.value if given.thickness else 0.0
    T = given.at.value if given.at else ROOM
    E = given.activation_energy.value if given.activation_energy else 0.0
    used = [Used(f"thickness of {spec.name}", given.thickness, True)] if given.thickness else []
    if given.material is not None:
        row = reference.lookup("barriers", given.material)
        used.append(Used(f"permeability of {spec.name} ({row.name})", row.values["permeability"], True))
        shelf = reference.barrier(given.material, thickness)
        return Barrier(spec.name, thickness, shelf.permeance, shelf.T_ref, shelf.E), used
    if given.permeance is not None:
        used.append(Used(f"permeance of {spec.name}", given.permeance, True))
        return Barrier(spec.name, thickness, given.permeance.value, T, E), used
    assert given.permeability is not None  # the product file has one of the three
    used.append(Used(f"permeability of {spec.name}", given.permeability, True))
    return Barrier(spec.name, thickness, given.permeability.value / thickness, T, E), used
