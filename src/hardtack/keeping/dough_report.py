"""A dough from its formula: what to weigh, what it is made of, what leavens it, what holds it, what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hardtack.dough import Formula, bakers_percents, formula_of, isotherm_of_formula
from hardtack.dough.baked import Baked, baked_of, dough_parts, fermented_out
from hardtack.dough.batch import Batch, batch_of
from hardtack.dough.fermentation import Fermented, fermented
from hardtack.dough.label import CAUTION, AllergensNamed, IngredientOrder, allergens, ingredient_order
from hardtack.dough.leaveners import Leaveners, leaveners_of
from hardtack.dough.leavening import balance
from hardtack.dough.makeup import Texture, laminate_of, makeup_of, texture_of
from hardtack.dough.rising import Rise, rise
from hardtack.dough.structure import Laminate, StructureCard, structure_card
from hardtack.errors import HardtackError, Problem
from hardtack.keeping.leavening_report import Leavening, leavening_report
from hardtack.product import FormulaSpec, LayerSpec, Product
from hardtack.sourced import Sourced, Used
from hardtack.units import ZERO_CELSIUS, wet_basis
from hardtack.version import VERSION
from hardtack.water.isotherm import activity, activity_limit, moisture

ROOM = ZERO_CELSIUS + 25.0

CAUTIONS = (
    "Computed, not measured: a guide for trials. Bake, weigh and measure before a formula is settled.",
    CAUTION,
    "The baked piece keeps the starch, protein and fat of its dough; browning, crumbs and solids lost in the oven are "
    "left out. Its activity takes its dry matter for that of the dough less what yeast ate; soda's salts stay as mixed.",
)
LEAVENING_CAUTION = (
    "Additives and their amounts are limited by food law, which differs by country and kind of food. Residue is told "
    "from neutralising values; the taste and pH of the baked piece decide."
)


@dataclass(frozen=True, slots=True)
class DoughLine:
    """One ingredient: share of the whole, baker's percent as a fraction and the water it brings over all flour, both
    None without flour.
    """

    stage: str
    name: str
    share: float
    bakers: float | None
    water_on_flour: float | None


@dataclass(frozen=True, slots=True)
class DoughSheet:
    """Everything about one formula. Activities at 25 degC, `error` their stated rms error.

    `solvent` is water with sugars and polyols over flour, `sugar_in_solvent` their share of it; None without flour.
    `parts` are kg per kg of dough. `baked_in_oven` says that the file gives the oven of this dough. `baked` and what hangs on it are None where nothing says how far it is baked.
    """

    name: str
    lines: tuple[DoughLine, ...]
    moisture: float
    activity: float
    error: float
    hydration: float | None
    effective_hydration: float | None
    solvent: float | None
    sugar_in_solvent: float | None
    parts: Mapping[str, float]
    baked: Baked | None
    baked_activity: float | None
    baked_error: float | None
    batch: Batch
    order: IngredientOrder
    allergens: AllergensNamed
    leavening: Leavening | None
    proved: Fermented | None
    rise: Rise
    structure: StructureCard | None
    laminate: Laminate | None
    texture: Texture | None
    baked_in_oven: bool
    remarks: tuple[str, ...]
    used: tuple[Used, ...]


@dataclass(frozen=True, slots=True)
class DoughReport:
    """The doughs of one product file."""

    product: str
    sheets: tuple[DoughSheet, ...]
    cautions: tuple[str, ...]
    version: str


def dough_report(product: Product) -> DoughReport:
    """Work out every formula of the product file.

    Raises `HardtackError` when the file has no formula, and where one cannot be worked out, with its place.
    """
    if not product.formulas:
        raise HardtackError(
            Problem(
                "the file has no formula to work out",
                "add 'formulas:'; docs/product-file.md and examples/formula-soda-cracker.yaml show how",
                str(product.file or ""),
            )
        )
    sheets = tuple(_placed(product, name, spec) for name, spec in product.formulas.items())
    leavened = any(sheet.leavening is not None for sheet in sheets)
    return DoughReport(
        product.name, sheets, (*CAUTIONS, *((LEAVENING_CAUTION,) if leavened else ())), VERSION
    )


def _placed(product: Product, name: str, spec: FormulaSpec) -> DoughSheet:
    """The sheet; what cannot be worked out is told with the formula's line."""
    try:
        return _sheet(product, name, spec)
    except HardtackError as error:
        line = product.lines.get(("formulas", name))
        raise HardtackError(
            problem
            if problem.line
            else Problem(problem.what, problem.mend, str(product.file or ""), line, f"formulas / {name}")
            for problem in error.problems
        ) from None


def _sheet(product: Product, name: str, spec: FormulaSpec) -> DoughSheet:
    formula = formula_of(product, name)
    leaveners = leaveners_of(spec, formula)
    iso = isotherm_of_formula(formula, "desorption")
    assert iso.activity_sd is not None  # every isotherm from a formula states it
    dough = (wet_basis(formula.moisture), float(activity(iso, formula.moisture, ROOM)))
    proved = fermented(spec, formula, leaveners)
    layer = _layer(product, name)
    baked, remarks = _baked(spec, formula, leaveners, proved, layer)
    baked_state = _baked_activity(formula, baked, proved)
    risen = rise(spec.leavening, leaveners, proved, dough)
    whole = layer or _lone_layer(product)
    thickness = whole.thickness.value if whole else None
    leavening = None
    if leaveners.chemical or leaveners.acids or (spec.leavening and spec.leavening.wanted):
        leavening = leavening_report(spec.leavening, leaveners, dough, risen, baked, thickness)
    makeup = makeup_of(spec, formula, wet_basis(baked.moisture) if baked else None)
    texture = texture_of(spec.structure.texture) if spec.structure and spec.structure.texture else None
    piece = _dough_piece(product, whole) if whole else None
    batch = batch_of(spec, formula, baked.mass if baked else None, piece)
    parts = dough_parts(formula, leaveners)
    sugars, flour = parts["sugars"] + parts["polyols"], formula.flour
    gas = leaveners.chemical or proved is not None
    return DoughSheet(
        name=name,
        lines=_lines(formula),
        moisture=formula.moisture,
        activity=dough[1],
        error=iso.activity_sd,
        hydration=formula.hydration,
        effective_hydration=formula.effective_hydration,
        solvent=(parts["water"] + sugars) / flour if flour > 0 else None,
        sugar_in_solvent=sugars / (parts["water"] + sugars) if flour > 0 else None,
        parts=parts,
        baked=baked,
        baked_activity=baked_state[0],
        baked_error=baked_state[1],
        batch=batch,
        order=ingredient_order(formula, baked.mass if baked else None),
        allergens=allergens(spec, formula),
        leavening=leavening,
        proved=proved,
        rise=risen,
        structure=structure_card(makeup) if makeup is not None else None,
        laminate=laminate_of(spec, formula),
        texture=texture,
        baked_in_oven=product.oven is not None and product.oven.formula == name,
        remarks=(*remarks, *leaveners.remarks, *(proved.remarks if proved else ())),
        used=_used(
            formula.used, (_error(name, iso.activity_sd, iso.source),), leaveners.used, proved.used if proved else (),
            risen.used if gas else (), leavening.used if leavening else (), batch.used, texture.used if texture else (),
        ),
    )  # fmt: skip


def _used(*lists: tuple[Used, ...]) -> tuple[Used, ...]:
    """All numbers, each once."""
    return tuple(dict.fromkeys(item for some in lists for item in some))


def _error(name: str, rms: float, source: str) -> Used:
    written = f"±{rms:.2g} in activity (rms)"
    return Used(
        f"activities computed from the formula {name}",
        Sourced(rms, "", "assumed", source, written=written),
        False,
    )


def _layer(product: Product, name: str) -> LayerSpec | None:
    """The first layer, of any kind of piece, that names the formula."""
    return next((layer for layer in product.layers if layer.formula == name), None)


def _lone_layer(product: Product) -> LayerSpec | None:
    """The one layer of the one piece where the file has one formula and no layer names it: its size is the piece's.

    Its water is not taken from it: that stays as the layer states it.
    """
    alone = len(product.formulas) == 1 and not any(layer.formula for layer in product.layers)
    return product.layers[0] if alone and len(product.layers) == 1 else None


def _dough_piece(product: Product, layer: LayerSpec) -> float:
    """Mass of the layer in one of its pieces [kg]."""
    piece = next(piece for piece in product.pieces if layer in piece.layers)
    return piece.mass.value * layer.share.value


def _baked(
    spec: FormulaSpec,
    formula: Formula,
    leaveners: Leaveners,
    proved: Fermented | None,
    layer: LayerSpec | None,
) -> tuple[Baked | None, tuple[str, ...]]:
    """The baked piece by the batch's loss or moisture, else by the layer's own moisture."""
    sums = balance(1.0, leaveners.bases, leaveners.acids, leaveners.sour)
    given = spec.batch
    if given is not None and given.bake_loss is not None:
        return baked_of(formula, leaveners, sums, proved, loss=given.bake_loss.value), ()
    X = given.baked_moisture.value if given is not None and given.baked_moisture is not None else None
    remarks: tuple[str, ...] = ()
    if X is None and formula.flour == 0:
        return None, ("Without flour it is taken for no dough to bake: no baked piece, no yield.",)
    if X is None and layer is not None:
        X = layer.moisture.value if layer.moisture is not None else None
        if X is None and layer.activity is not None:
            X = float(
                moisture(isotherm_of_formula(formula, formula.from_the_oven), layer.activity.value, ROOM)
            )
        remarks = (f"Baked to the moisture of the layer “{layer.name}”.",)
    if X is None:
        return None, (
            "Nothing says how far it is baked: no baked piece, no yield, and water counts as in the dough.",
        )
    if formula.moisture < X:
        return None, (
            *remarks,
            "Its layer is moister than the dough: it was not dried, so no baked piece is worked out.",
        )
    return baked_of(formula, leaveners, sums, proved, moisture=X), remarks


def _baked_activity(
    formula: Formula, baked: Baked | None, proved: Fermented | None
) -> tuple[float | None, float | None]:
    """Activity of the baked piece at 25 degC on its own branch, and its stated rms error.

    Its dry matter is that of the dough less the sugar and starch that yeast ate.
    """
    if baked is None:
        return None, None
    iso = isotherm_of_formula(fermented_out(formula, proved), formula.from_the_oven)
    top = float(moisture(iso, activity_limit(iso, ROOM), ROOM))
    return float(activity(iso, min(baked.moisture, top), ROOM)), iso.activity_sd


def _lines(formula: Formula) -> tuple[DoughLine, ...]:
    parts = formula.ingredients
    bakers: tuple[float | None, ...] = (None,) * len(parts)
    if formula.flour > 0:
        bakers = bakers_percents([part.share for part in parts], [part.flour for part in parts])
    return tuple(
        DoughLine(
            part.stage,
            part.name,
            part.share,
            percent,
            None if percent is None else part.share * part.water / formula.flour,
        )
        for part, percent in zip(parts, bakers, strict=True)
    )
