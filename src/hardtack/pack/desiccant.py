"""Desiccants: isotherm from the shelf's points, and the piece that stands for one in the march."""

from __future__ import annotations

from hardtack import reference
from hardtack.product.pack_spec import DesiccantSpec
from hardtack.sourced import Used
from hardtack.states import Desiccant, Diffusivity, Isotherm, Layer, Piece
from hardtack.water.isotherm import moisture

GRAIN = 1e-3
"""Half thickness of a bead of desiccant [m]; common practice, no source."""
BULK = 750.0
"""Dry desiccant in a volume of beads [kg/m3]; common practice, no source."""
QUICK = Diffusivity(1e-8)
"""Beads even out within a minute of the hours a headspace takes: the headspace, not the bead, sets the pace."""
ROOM = 298.15


def desiccant_isotherm(name: str) -> Isotherm:
    """The isotherm of a desiccant of the shelf, through the origin; raises `NotOnShelf`."""
    row = reference.lookup("desiccants", name)
    points = tuple(
        (float(symbol.removeprefix("X at ")) / 100, amount.value)
        for symbol, amount in row.values.items()
        if symbol.startswith("X at ")
    )
    return Isotherm(
        row.name,
        "table",
        points=points,
        reference_temperature=ROOM,
        activity_range=(points[0][0], points[-1][0]),
        provenance=row.provenance,
        source=row.source.citation,
    )


def desiccant_of(spec: DesiccantSpec | None) -> tuple[Desiccant | None, list[Used]]:
    """The desiccant with the numbers it leans on; moisture as laid in from the shelf's residual when not given."""
    if spec is None:
        return None, []
    isotherm = desiccant_isotherm(spec.kind)
    row = reference.lookup("desiccants", spec.kind)
    used = [Used(f"mass of {row.name}", spec.mass, True)]
    used += [
        Used(f"{row.name}: water held at {symbol.removeprefix('X at ')} %", amount, False)
        for symbol, amount in row.values.items()
        if symbol.startswith("X at ")
    ]
    if spec.moisture is not None:
        X = spec.moisture.value
        used.append(Used(f"moisture of {row.name} as laid in", spec.moisture, True))
    else:
        residual = reference.lookup("desiccants", row.see or "silica gel as supplied").values["residual"]
        X = residual.value / (1.0 - residual.value)
        used.append(Used(f"moisture of {row.name} as laid in", residual, False))
    return Desiccant(row.name, spec.mass.value / (1.0 + X), X, isotherm), used


def desiccant_piece(desiccant: Desiccant) -> Piece:
    """The desiccant as a piece in the headspace: one thin layer of beads, open on both sides."""
    area = desiccant.dry_mass / (BULK * 2 * GRAIN)
    layer = Layer(
        desiccant.name, 2 * GRAIN, desiccant.dry_mass, desiccant.moisture, desiccant.isotherm, QUICK
    )
    return Piece("slab", (layer,), area, (True, True), 1, desiccant.dry_mass)


def capacity_between(desiccant: Desiccant, a_low: float, a_high: float) -> float:
    """Water the desiccant takes up from one activity to another [kg], at 25 degC."""
    high, low = (float(moisture(desiccant.isotherm, a, ROOM)) for a in (a_high, a_low))
    return desiccant.dry_mass * (high - low)
