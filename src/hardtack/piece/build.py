"""From the product file's piece to the frozen `Piece`: sizes, dry masses, moistures, isotherms, barriers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from hardtack.dough import Formula, isotherm_of_formula, sugar_settled
from hardtack.dough.baked import as_baked
from hardtack.piece.barriers import barrier_of, passage_of
from hardtack.piece.materials import ROOM, assumed, diffusivity_of, isotherm_of, need
from hardtack.piece.past import scanning_of
from hardtack.product import Product
from hardtack.product.schema import BarrierSpec, LayerSpec, PieceSpec
from hardtack.sourced import Sourced, Used
from hardtack.states import Barrier, Isotherm, Layer, Piece
from hardtack.transport.side_links import path_to_ends, path_to_rim, path_to_round_rim
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import activity, activity_limit, moisture, reconcile

SHIFT_WORTH_SAYING = 0.01
MOIST = 0.65
"""Activity above which goods were hardly dried hard in the oven; common practice, no source."""


Built = tuple[tuple[Piece, ...], tuple[Used, ...], tuple[str, ...]]
"""Every kind of piece in the pack, the numbers they lean on, and remarks (an isotherm moved)."""


def pieces_of(product: Product) -> Built:
    """Build every kind of piece in the pack.

    Raises `HardtackError` when a size is missing or the shelf lacks what the file leaves out.
    """
    isotherms, iso_used = isotherms_of(product)
    pieces, used, remarks = pieces_with(product, isotherms)
    return pieces, (*iso_used, *used), remarks


def piece_of(product: Product) -> tuple[Piece, tuple[Used, ...], tuple[str, ...]]:
    """The piece of a product that has one kind of it, as `pieces_of`. Raises `HardtackError` when it has more."""
    pieces, used, remarks = pieces_of(product)
    need(len(pieces) == 1, f"{product.name} has {len(pieces)} kinds of piece", "ask for all of them")
    return pieces[0], used, remarks


def isotherms_of(product: Product) -> tuple[Mapping[str, Isotherm], tuple[Used, ...]]:
    """Every layer's isotherm by the layer's name, as given, from its formula, or from the shelf.

    Returns them with the numbers they lean on. Raises `HardtackError` as `piece_of`.
    """
    isotherms: dict[str, Isotherm] = {}
    used: list[Used] = []
    formulas: dict[str, Formula] = {}
    shared: dict[tuple[str, str], Isotherm] = {}
    for part in product.layers:
        if part.formula is None:
            isotherms[part.name], numbers = isotherm_of(part, _words(part, product.kind))
            used.extend(numbers)
            continue
        if part.formula not in formulas:
            formulas[part.formula] = as_baked(product, part.formula)
        formula = _settled(product, formulas[part.formula], part)
        if formula.branch == "scanning":
            isotherms[part.name] = scanning_of(formula, part)
        else:
            kept = (part.formula, formula.sugar)
            if kept not in shared:
                shared[kept] = isotherm_of_formula(formula, formula.branch)
            isotherms[part.name] = shared[kept]
        used.extend(_formula_used(formula, isotherms[part.name]))
    return isotherms, tuple(dict.fromkeys(used))


def _settled(product: Product, formula: Formula, part: LayerSpec) -> Formula:
    """The formula with the state of its sugar at the layer's own moisture."""
    if part.moisture is not None:
        return sugar_settled(product, formula, part.moisture.value)
    assert part.activity is not None  # the product file has one or the other
    iso = isotherm_of_formula(formula, formula.from_the_oven)
    T = part.activity_at.value if part.activity_at else ROOM
    top = activity_limit(iso, T)
    return sugar_settled(product, formula, float(moisture(iso, min(part.activity.value, top), T)))


def _formula_used(formula: Formula, iso: Isotherm) -> tuple[Used, ...]:
    """What the formula leans on, and how the isotherm was made of it."""
    assert iso.activity_sd is not None  # every isotherm from a formula states it
    written = f"±{iso.activity_sd:.2g} in activity (rms)"
    error = Sourced(iso.activity_sd, "", "assumed", iso.source, written=written)
    return *formula.used, Used(f"isotherm computed from the formula {formula.name}", error, False)


def pieces_with(product: Product, isotherms: Mapping[str, Isotherm]) -> Built:
    """Build the pieces with these isotherms, by the layers' names. Raises as `pieces_of`."""
    built = [_piece(product, spec, isotherms) for spec in product.pieces]
    return (
        tuple(piece for piece, _, _ in built),
        tuple(number for _, used, _ in built for number in used),
        tuple(remark for _, _, remarks in built for remark in remarks),
    )


def _piece(
    product: Product, spec: PieceSpec, isotherms: Mapping[str, Isotherm]
) -> tuple[Piece, list[Used], list[str]]:
    one = f"one {spec.name}" if spec.name else "one piece"
    used: list[Used] = [Used(f"mass of {one}", spec.mass, True)]
    remarks: list[str] = []
    parts: list[Layer | Barrier] = []
    for part in spec.layers:
        if isinstance(part, BarrierSpec):
            barrier, numbers = barrier_of(part)
            parts.append(barrier)
            used.extend(numbers)
        else:
            layer, numbers, said = _layer(part, spec, product.kind, isotherms[part.name])
            parts.append(layer)
            used.extend(numbers)
            remarks.extend((*said, *_branch_remark(product, part.formula, layer)))
    count = 1 if spec.count is None else round(spec.count.value)
    if spec.count is None:
        used.append(Used("pieces in a pack", assumed(1.0, "", "1", "no count given"), False))
    piece = Piece(
        shape=spec.shape,
        parts=tuple(parts),
        area=outer_area(spec, sum(part.thickness for part in parts)),
        open_ends=spec.ends,
        count=count,
        mass=spec.mass.value,
        name=spec.name or "",
        to_rim=_to_rim(spec),
    )
    return piece, used, remarks


def _branch_remark(product: Product, formula: str | None, layer: Layer) -> tuple[str, ...]:
    """Say when a moist layer's formula was taken for dried goods because the file does not say."""
    if formula is None or product.formulas[formula].branch is not None:
        return ()
    if float(activity(layer.isotherm, layer.moisture, ROOM)) < MOIST:
        return ()
    return (
        f"The formula “{formula}” does not say its branch, so it was taken for goods dried hard "
        f"(adsorption). The {layer.name} is moist: for crumb or a filling never dried hard write 'branch: desorption'.",
    )


def outer_area(spec: PieceSpec, depth: float) -> float:
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
    need(
        spec.diameter is not None,
        "the slab's face is not given",
        "add length and width, diameter, or face area",
    )
    assert spec.diameter is not None
    return math.pi / 4 * spec.diameter.value**2


def _to_rim(spec: PieceSpec) -> float:
    """How far the middle of a layer lies from its rim, as `Piece.to_rim`; a face given by its area alone counts as round."""
    if spec.shape == "sphere":
        return 0.0
    if spec.shape == "cylinder":
        return path_to_ends(spec.length.value) if spec.length else 0.0
    if spec.face_area is None and spec.length is not None and spec.width is not None:
        return path_to_rim(spec.length.value, spec.width.value)
    return path_to_round_rim(outer_area(spec, 0.0))


def _layer(
    spec: LayerSpec, piece: PieceSpec, kind: str | None, iso: Isotherm
) -> tuple[Layer, list[Used], list[str]]:
    D, used_for_D = diffusivity_of(spec, [*_words(spec, kind), "biscuit"])
    used = [*used_for_D]
    remarks: list[str] = []
    T = spec.activity_at.value if spec.activity_at else ROOM
    if spec.activity is not None:
        used.append(Used(f"water activity of {spec.name} when packed", spec.activity, True))
        if spec.activity_at is None:
            used.append(
                Used(
                    f"temperature of that reading of {spec.name}",
                    assumed(T, "K", "25 °C", "not stated"),
                    False,
                )
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
    need(
        float(activity(iso, X, T)) < 1.0,
        f"the {spec.name} holds more water ({100 * wet_basis(X):.1f} % wet basis) than its isotherm ({iso.name}) has at "
        f"saturation ({100 * wet_basis(float(moisture(iso, activity_limit(iso, T), T))):.1f} %)",
        f"give the {spec.name} its 'activity' too: the isotherm is then moved through the pair; or an isotherm of its own",
    )
    if spec.vapour_permeability is not None:
        used.append(Used(f"vapour permeability of {spec.name}", spec.vapour_permeability, True))
    if spec.rim is not None:
        used.append(Used(f"rim of {spec.name}, share open to the headspace", spec.rim, True))
    factor, numbers = passage_of(spec.name, spec.effects)
    layer = Layer(
        name=spec.name,
        thickness=spec.thickness.value,
        dry_mass=piece.mass.value * spec.share.value / (1.0 + X),
        moisture=X,
        isotherm=iso,
        diffusivity=replace(D, D_ref=D.D_ref * factor),
        vapour_permeability=spec.vapour_permeability.value * factor if spec.vapour_permeability else 0.0,
        rim=spec.rim.value if spec.rim else 0.0,
        pH=spec.pH.value if spec.pH else None,
    )
    return layer, [*used, *numbers], remarks


def _words(spec: LayerSpec, kind: str | None) -> Sequence[str]:
    """Names under which the shelf may know a layer, the most particular first."""
    isotherm = spec.isotherm if isinstance(spec.isotherm, str) else None
    return list(dict.fromkeys(word for word in (isotherm, spec.name, kind) if word))
