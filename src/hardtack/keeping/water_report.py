"""Water at rest in one product: doughs from formulas, layers on their isotherms, and where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hardtack.dough import (
    Formula,
    amorphous_phase,
    bakers_percents,
    crystallising,
    formula_of,
    isotherm_of_formula,
    sugar_settled,
)
from hardtack.errors import HardtackError
from hardtack.oven.storage import settled
from hardtack.pack import journey_of
from hardtack.piece import isotherms_of, pieces_with
from hardtack.product import Product
from hardtack.sourced import Used
from hardtack.states import Isotherm, Journey, Layer, Piece
from hardtack.units import ZERO_CELSIUS
from hardtack.version import VERSION
from hardtack.water.glass import glass_transition, softening_activity
from hardtack.water.isotherm import activity, activity_limit, moisture
from hardtack.water.mixing import Component, common_activity
from hardtack.water.sharing import formula_isotherm

ROOM = ZERO_CELSIUS + 25.0
TABLE = tuple(round(0.1 * step, 1) for step in range(1, 10))
SAME_TEMPERATURE = 0.1
"""Temperatures of the journey this near to each other, or to 25 degC, count as one [K]."""


@dataclass(frozen=True, slots=True)
class FormulaLine:
    """One ingredient: share of the whole, baker's percent as a fraction (None without flour), its water."""

    name: str
    share: float
    bakers: float | None
    water: float


@dataclass(frozen=True, slots=True)
class FormulaWater:
    """The dough of one formula: moisture [kg/kg dry], activity at 25 degC with its stated rms error.

    `hydration` is nominal (water added as such over flour), `effective_hydration` counts all water.
    """

    name: str
    lines: tuple[FormulaLine, ...]
    moisture: float
    activity: float
    error: float
    hydration: float | None
    effective_hydration: float | None
    sugar: str
    crystalline: tuple[str, ...]
    made: str


@dataclass(frozen=True, slots=True)
class GlassWater:
    """Where the amorphous solids of a layer soften at 25 degC, taken as one phase.

    `activity` and `moisture` (of the whole layer [kg/kg dry]) at which Tg is 25 degC, None when no activity
    brings it there; `Tg` [K] at the layer's present activity.
    """

    solids: tuple[str, ...]
    activity: float | None
    moisture: float | None
    Tg: float


@dataclass(frozen=True, slots=True)
class LayerWater:
    """One layer: its state when packed at 25 degC, its isotherm, and tables of moisture [kg/kg dry].

    `moistures` holds one row per temperature of the report, over `TABLE` activities; None beyond the
    isotherm's end. `formula` is empty when the isotherm was given or taken from the shelf. `branch` is
    adsorption, desorption or scanning.
    """

    name: str
    formula: str
    branch: str
    activity: float
    moisture: float
    dry_mass: float
    isotherm: Isotherm
    moistures: tuple[tuple[float | None, ...], ...]
    glass: GlassWater | None


@dataclass(frozen=True, slots=True)
class RestWater:
    """Sealed together at 25 degC, no water lost: the common activity, each layer's moisture [kg/kg dry]."""

    activity: float
    moistures: tuple[float, ...]
    free_water: float


@dataclass(frozen=True, slots=True)
class WaterReport:
    """Everything `water_report` has to say. `temperatures` [K] are those of the layers' tables.

    Dry masses and free water are those of one piece, or, where several kinds share a pack, of the pack (`per`).
    `count` is the number of pieces in a pack.
    """

    product: str
    per: Literal["piece", "pack"]
    count: int
    temperatures: tuple[float, ...]
    formulas: tuple[FormulaWater, ...]
    layers: tuple[LayerWater, ...]
    rest: RestWater | None
    used: tuple[Used, ...]
    cautions: tuple[str, ...]
    version: str


CAUTIONS = (
    "Computed from the numbers listed, not measured. One measured pair of moisture and activity on the layer "
    "moves its isotherm to where it belongs, and is worth more than any formula.",
    "The dry matter of a layer is taken to be that of its dough: sugar eaten by yeast, leavening gas and "
    "baking loss of solids are left out.",
    "The softening point takes starch, gluten, dextrins and the sugars that are no crystals for one phase and "
    "leaves out what the shelf has no glass transition for (glycerol, fibre, egg and milk protein). Crystals "
    "count as crystals even where the layer's water dissolves them, so a moist sweet layer softens sooner. It is "
    "no limit of crispness: that is found by texture tests, and mostly lies at lower activity.",
    "A water activity says nothing by itself about safety: where growth is possible, plan, local code and "
    "qualified people decide.",
)


def water_report(product: Product) -> WaterReport:
    """Water at rest in the product. Raises `HardtackError` as the piece and the formulas do."""
    product, bake_used, _ = settled(product)
    isotherms, used = isotherms_of(product)
    pieces, piece_used, remarks = pieces_with(product, isotherms)
    journey, _ = journey_of(product)
    temperatures = _temperatures(journey)
    made = {layer.name: layer for piece in pieces for layer in piece.layers}
    wettest: dict[str, float] = {}
    for spec in product.layers:
        if spec.formula is not None:
            wettest[spec.formula] = max(made[spec.name].moisture, wettest.get(spec.formula, 0.0))
    formulas = {name: formula_of(product, name) for name in product.formulas}
    formulas |= {name: sugar_settled(product, formulas[name], X) for name, X in wettest.items()}
    states = [amount for spec in product.layers for amount in (spec.moisture, spec.activity)]
    leans_on = (
        *bake_used,
        *used,
        *(item for formula in formulas.values() for item in formula.used),
        *(item for item in piece_used if item.amount in states),
    )
    layers = tuple(
        replace(one, dry_mass=pieces_counted * one.dry_mass)
        for (layer, pieces_counted), spec in zip(_weighed(pieces), product.layers, strict=True)
        for one in (_layer(layer, formulas[spec.formula] if spec.formula else None, temperatures),)
    )
    return WaterReport(
        product=product.name,
        per="piece" if len(pieces) == 1 else "pack",
        count=sum(piece.count for piece in pieces),
        temperatures=temperatures,
        formulas=tuple(_dough(formula) for formula in formulas.values()),
        layers=layers,
        rest=_rest(layers),
        used=tuple(dict.fromkeys(leans_on)),
        cautions=(*remarks, *CAUTIONS),
        version=VERSION,
    )


def mixed_report(products: Sequence[Product]) -> WaterReport:
    """Water at rest in one pack that holds all the pieces of every product's own pack, at 25 degC.

    Each product's `count` says how many of it go in. Raises `HardtackError` as `water_report`, and when two
    products bear one name.
    """
    names = [product.name for product in products]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise HardtackError(
            f"two files are both of {twice[0]!r}", "name each product once; its 'count' says how many go in"
        )
    reports = [water_report(product) for product in products]
    layers = tuple(layer for report in reports for layer in _in_mixed_pack(report))
    return WaterReport(
        product="Mixed pack of " + ", ".join(f"{report.count} {report.product}" for report in reports),
        per="pack",
        count=sum(report.count for report in reports),
        temperatures=(ROOM,),
        formulas=tuple(
            replace(formula, name=f"{formula.name} of {report.product}")
            for report in reports
            for formula in report.formulas
        ),
        layers=layers,
        rest=_rest(layers),
        used=tuple(dict.fromkeys(used for report in reports for used in report.used)),
        cautions=tuple(dict.fromkeys(said for report in reports for said in report.cautions)),
        version=VERSION,
    )


def _in_mixed_pack(report: WaterReport) -> list[LayerWater]:
    """The layers of all pieces of one product, named after it, with the mass of them all."""
    alone = len(report.layers) == 1
    return [
        replace(
            layer,
            name=report.product if alone else f"{layer.name} of {report.product}",
            formula=layer.formula and f"{layer.formula} of {report.product}",
            dry_mass=layer.dry_mass * (report.count if report.per == "piece" else 1),
            moistures=layer.moistures[:1],
        )
        for layer in report.layers
    ]


def _temperatures(journey: Journey) -> tuple[float, ...]:
    """25 degC, and the journey's temperature when it has only one and that is another."""
    T = np.concatenate([leg.climate.temperature for leg in journey.legs])
    steady = float(np.ptp(T)) < SAME_TEMPERATURE
    return (ROOM, float(T[0])) if steady and abs(float(T[0]) - ROOM) > SAME_TEMPERATURE else (ROOM,)


def _dough(formula: Formula) -> FormulaWater:
    as_mixed = replace(formula, crystalline=crystallising(formula.composition))
    iso = isotherm_of_formula(as_mixed, "desorption")
    assert iso.activity_sd is not None  # every isotherm from a formula states it
    parts = formula.ingredients
    bakers: tuple[float | None, ...] = (None,) * len(parts)
    if formula.flour > 0:
        bakers = bakers_percents([part.share for part in parts], [part.flour for part in parts])
    return FormulaWater(
        name=formula.name,
        lines=tuple(
            FormulaLine(part.label, part.share, percent, part.water)
            for part, percent in zip(parts, bakers, strict=True)
        ),
        moisture=formula.moisture,
        activity=float(activity(iso, formula.moisture, ROOM)),
        error=iso.activity_sd,
        hydration=formula.hydration,
        effective_hydration=formula.effective_hydration,
        sugar=formula.sugar,
        crystalline=formula.crystalline,
        made=iso.source,
    )


def _layer(layer: Layer, formula: Formula | None, temperatures: tuple[float, ...]) -> LayerWater:
    a = float(activity(layer.isotherm, layer.moisture, ROOM))
    return LayerWater(
        name=layer.name,
        formula=formula.name if formula else "",
        branch=formula.branch if formula else layer.isotherm.branch,
        activity=a,
        moisture=layer.moisture,
        dry_mass=layer.dry_mass,
        isotherm=layer.isotherm,
        moistures=tuple(_table(layer.isotherm, T) for T in temperatures),
        glass=_glass(formula, layer.isotherm, a) if formula else None,
    )


def _table(iso: Isotherm, T: float) -> tuple[float | None, ...]:
    top = activity_limit(iso, T)
    return tuple(float(moisture(iso, a, T)) if a < top else None for a in TABLE)


def _glass(formula: Formula, iso: Isotherm, a: float) -> GlassWater | None:
    """Softening of the amorphous phase: its own isotherm, at the layer's activity. None when it has none."""
    phase = amorphous_phase(formula.composition, formula.crystalline)
    if phase is None:
        return None
    name = f"amorphous phase of {formula.name}"
    own = formula_isotherm(name, phase.composition, crystalline=(), branch=iso.branch)
    solid = phase.glass
    softens = softening_activity(solid, own, ROOM)
    Tg = float(glass_transition(solid, moisture(own, min(a, activity_limit(own, ROOM)), ROOM)))
    X = None if softens is None else float(moisture(iso, min(softens, activity_limit(iso, ROOM)), ROOM))
    return GlassWater(phase.solids, softens, X, Tg)


def _weighed(pieces: Sequence[Piece]) -> list[tuple[Layer, int]]:
    """Every layer of every kind of piece; several kinds count by the pack, one by the piece."""
    return [(layer, piece.count if len(pieces) > 1 else 1) for piece in pieces for layer in piece.layers]


def _rest(layers: Sequence[LayerWater]) -> RestWater | None:
    """Where several layers end when sealed together."""
    if len(layers) < 2:
        return None
    parts = [Component(layer.name, layer.dry_mass, layer.isotherm, layer.moisture) for layer in layers]
    rest = common_activity(parts, ROOM)
    return RestWater(rest.activity, rest.moistures, rest.free_water)
