"""The bake of a product file: `bake(product)` from dough piece to cooled piece."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hardtack.dough import Formula, formula_of, isotherm_of_formula
from hardtack.dough.baked import fermented_out
from hardtack.dough.fermentation import Fermented, fermented
from hardtack.dough.leaveners import leaveners_of
from hardtack.dough.rising import kept_on_bench
from hardtack.errors import HardtackError
from hardtack.oven.colour import Colour, colour
from hardtack.oven.kill_step import Lethality, lethalities
from hardtack.oven.leavens import hold_of, leavens_of
from hardtack.oven.lift import Lift, Rising, lift
from hardtack.oven.properties import MIDDLE, Factors, components, material_of, mixture
from hardtack.oven.sheets import Sheets, sheets_of
from hardtack.oven.starch import Solids, gelatinised, opening, opening_span, setting, solids_of
from hardtack.oven.zones import baking_time, runs_round, spells_of, used_of
from hardtack.piece.build import outer_area
from hardtack.product import Product
from hardtack.product.oven_spec import OvenSpec
from hardtack.reference import lookup
from hardtack.sourced import Sourced, Used
from hardtack.states import Floats, Isotherm
from hardtack.transport.bake_march import BakeMarch, BakeMaterial, BakePiece, bake_march
from hardtack.transport.bake_table import BakeTable, bake_table
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE

DOUGH_TEMPERATURE = ZERO_CELSIUS + 30.0
IN_OVEN, IN_COOLING = 121, 61
"""Output times of the bake and of the cooling."""
CELLS = 40
PASSES, MOST_PASSES, SAME_BOTTOM = 2, 8, 1.0
"""The growth of the piece follows from its temperatures and acts on them: first a plain course, then the computed one. So
does a band's temperature: passes go on, up to the most, until the piece's bottom moves by less than this [K]."""


@dataclass(frozen=True, slots=True)
class Dough:
    """The dough of an oven: its formula less what yeast took before the oven, its isotherm on the desorption branch, and
    that as a table for the march. `proved` is the yeast's work on the bench, None without yeast.
    """

    formula: Formula
    proved: Fermented | None
    isotherm: Isotherm
    table: BakeTable


@dataclass(frozen=True, slots=True)
class Baked:
    """A bake. Over `times` [k, s] from entering the oven to packing, in `march`; `out` is the index of the oven's exit.

    `gelatinised` and `setting` are [k, n]. `loss` is weight lost in the oven and `cooling_loss` after it, both of the
    dough. `moisture` [kg/kg dry] is the mean when packed. Volumes: `dough_volume` and `baked_volume` [m3].
    """

    product: Product
    formula: Formula
    isotherm: Isotherm
    factors: Factors
    march: BakeMarch
    out: int
    gelatinised: Floats
    setting: Floats
    colour: Colour
    lift: Lift
    lethality: tuple[Lethality, ...]
    loss: float
    cooling_loss: float
    moisture: float
    dry_mass: float
    dough_volume: float
    baked_volume: float
    heat_law_to: float
    hold: str
    used: tuple[Used, ...]

    @property
    def times(self) -> Floats:
        """Times [s] since entering the oven."""
        return self.march.times

    @property
    def core(self) -> Floats:
        """Temperature [K] over time of the place that warms last."""
        return np.asarray(self.march.temperature[:, self.core_cell])

    @property
    def core_cell(self) -> int:
        """The cell that warms last: coldest in the mean over the oven. At the exit itself all wet crumb is at its boiling
        point, and drier crumb near the rim may be a tenth of a kelvin colder than the centre."""
        return int(np.argmin(self.march.temperature[: self.out + 1].mean(axis=0)))

    @property
    def exit_moisture(self) -> float:
        """Mean moisture [kg/kg dry] at the oven's exit."""
        return float(self.march.mean_moisture[self.out])


def oven_of(product: Product) -> OvenSpec:
    """The product's oven. Raises `HardtackError` when the file has none."""
    if product.oven is None:
        raise HardtackError(
            "the product file has no oven", "add 'oven:' with formula, dough mass and zones (docs/oven.md)"
        )
    return product.oven


def dough_of(product: Product) -> Dough:
    """The dough of the product's oven. Raises `HardtackError` when the file has no oven or no such formula."""
    name = oven_of(product).formula
    mixed = formula_of(product, name)
    spec = product.formulas[name]
    proved = fermented(spec, mixed, leaveners_of(spec, mixed))
    formula = fermented_out(mixed, proved)
    less = formula.composition.dry_mass / mixed.composition.dry_mass
    formula = replace(formula, moisture=mixed.moisture / less)
    iso = isotherm_of_formula(formula, "desorption")
    return Dough(formula, proved, iso, bake_table(iso))


def bake(
    product: Product,
    factors: Factors | None = None,
    *,
    oven: OvenSpec | None = None,
    dough: Dough | None = None,
) -> Baked:
    """Bake and cool the product's dough piece.

    `factors` stand for those of the file, `oven` for its oven; `dough` saves working it out again. Raises `HardtackError` when the file has no oven or
    does not say enough, `NotOnShelf` for unknown names, `BalanceError` when water or energy do not close.
    """
    oven = oven or oven_of(product)
    factors = factors or factors_of(oven)
    dough = dough or dough_of(product)
    formula = dough.formula
    solids = solids_of(formula.composition)
    piece, dough_volume, size_used = _piece(product, oven, dough)
    sheets, sheets_used = _sheets(product, oven, formula, piece, dough_volume)
    through = replace(factors, wet_path=factors.wet_path * sheets.through) if sheets else factors
    material, material_used = _material(product, oven, dough, through)
    volume = _volume(product)
    times = _times(oven)
    rising, hold, rising_used = _rising(product, oven, dough, dough_volume, sheets)
    ratio = dough_volume / volume
    growth = (np.array([0.0, times[IN_OVEN - 1] / 2]), np.array([ratio, 1.0]))
    bottom: Floats | None = None
    for done in range(MOST_PASSES):
        spells = spells_of(oven, product.piece.shape, factors, growth, _course(times, bottom))
        march = bake_march(piece, material, spells, times, cells_across=CELLS)
        walls, rises = _lifted(rising, solids, march)
        growth = _growth(times[:IN_OVEN], rises.volume, ratio)
        before, bottom = bottom, march.surface[:IN_OVEN, 0 if product.piece.shape == "slab" else 1]
        if done + 1 >= PASSES and (not runs_round(oven, product.piece.shape) or _same(before, bottom)):
            break
    X, T, a = march.moisture, march.temperature, march.activity
    out = IN_OVEN - 1
    X0, mean = formula.moisture, march.mean_moisture
    of_piece = (*size_used, *rising_used, *sheets_used)
    return Baked(
        product=product,
        formula=formula,
        isotherm=dough.isotherm,
        factors=factors,
        march=march,
        out=out,
        gelatinised=gelatinised(solids, times, T, X),
        setting=walls,
        colour=colour(times[: out + 1], march.surface[: out + 1, 1], a[: out + 1, -1]),
        lift=rises,
        lethality=lethalities(times, T, a, product.kind, oven.kill_step),
        loss=float((X0 - mean[out]) / (1.0 + X0)),
        cooling_loss=float((mean[out] - mean[-1]) / (1.0 + X0)),
        moisture=float(mean[-1]),
        dry_mass=piece.dry_mass,
        dough_volume=dough_volume,
        baked_volume=volume,
        heat_law_to=dough.table.hottest,
        hold=hold,
        used=(*formula.used, *of_piece, *used_of(oven, product.piece.shape), *material_used),
    )


def _times(oven: OvenSpec) -> Floats:
    """Output times [s] of the bake, then of the cooling."""
    end = baking_time(oven)
    times = np.linspace(0.0, end, IN_OVEN)
    if oven.cooling is None:
        return times
    return np.concatenate([times, end + np.linspace(0.0, oven.cooling.lasts.value, IN_COOLING)[1:]])


def _course(times: Floats, bottom: Floats | None) -> Callable[[Floats], Floats] | None:
    """Temperature [K] over time of the face that lies on something, from an earlier pass."""
    return None if bottom is None else lambda at: np.interp(at, times[:IN_OVEN], bottom)


def _same(before: Floats | None, bottom: Floats) -> bool:
    return before is not None and float(np.max(np.abs(bottom - before))) < SAME_BOTTOM


def _material(
    product: Product, oven: OvenSpec, dough: Dough, factors: Factors
) -> tuple[BakeMaterial, tuple[Used, ...]]:
    """What the march needs of the dough: pores that open with its sugar and salt, cells of the gas that leavens it."""
    formula = dough.formula
    opens, open_at = opening_span(solids_of(formula.composition), np.array([formula.moisture]))
    leavens = leavens_of(product.formulas[oven.formula], formula, dough.proved)
    return material_of(
        formula.composition,
        dough.table,
        product.kind,
        factors,
        opening=(float(opens[0]), float(open_at[0])),
        cells_of="carbon dioxide" if leavens.any_chemical or leavens.yeast > 0 else "air",
    )


def _lifted(rising: Rising, solids: Solids, march: BakeMarch) -> tuple[Floats, Lift]:
    """Setting over the whole course, and the lift in the oven."""
    walls = setting(solids, march.temperature, march.moisture)
    pores = opening(solids, march.temperature, march.moisture)
    n = IN_OVEN
    return walls, lift(
        rising,
        march.times[:n],
        march.temperature[:n],
        march.activity[:n],
        march.moisture[:n],
        (walls[:n], pores[:n]),
        march.dry_mass / march.dry_mass.sum(),
    )


def factors_of(oven: OvenSpec) -> Factors:
    """The factors the file gives, 1 where it gives none."""
    given = oven.factors
    if given is None:
        return Factors()
    return Factors(
        heat=given.heat.value if given.heat else 1.0,
        dry_path=given.dry_path.value if given.dry_path else 1.0,
        wet_path=given.wet_path.value if given.wet_path else 1.0,
    )


def depth(product: Product) -> float:
    """From the first end to the last of the baked piece [m]: thickness of a slab, radius of a round piece."""
    spec = product.piece
    if spec.shape == "slab" and spec.thickness is not None:
        return spec.thickness.value
    assert spec.diameter is not None  # the product file has one or the other
    return spec.diameter.value / 2.0


def _volume(product: Product) -> float:
    across = depth(product)
    area = outer_area(product.piece, across)
    return area * across / {"slab": 1.0, "cylinder": 2.0, "sphere": 3.0}[product.piece.shape]


def _piece(product: Product, oven: OvenSpec, dough_made: Dough) -> tuple[BakePiece, float, tuple[Used, ...]]:
    """The piece on the baked grid, the volume of its dough [m3], and the sizes used."""
    formula, across = dough_made.formula, depth(product)
    area = outer_area(product.piece, across)
    mass = oven.dough_mass.value
    used: list[Used] = []
    T = oven.dough_temperature or Sourced(
        DOUGH_TEMPERATURE, "K", "assumed", "no dough temperature given", written="30 °C"
    )
    if oven.dough_thickness is not None:
        dough = area * oven.dough_thickness.value
        used.append(Used("thickness of the dough", oven.dough_thickness, True))
    elif oven.dough_density is not None:
        dough = mass / oven.dough_density.value
        used.append(Used("density of the dough", oven.dough_density, True))
    else:
        void = lookup("lift", "mixed-in air").values["void"]
        dough = mass / _dense(formula) / (1.0 - void.value)
        used.append(Used("air in the dough", void, False))
        if dough_made.proved is not None:
            dough += mass * dough_made.proved.in_cells * GAS_CONSTANT * T.value / STANDARD_PRESSURE
            used.extend(dough_made.proved.used)
    if not mass / dough <= _dense(formula) * 1.05:
        raise HardtackError(
            f"a dough of {mass / dough:.0f} kg/m3 is denser than its ingredients ({_dense(formula):.0f} kg/m3)",
            "put dough mass, dough thickness and the face right",
        )
    used.append(Used("temperature of the dough", T, oven.dough_temperature is not None))
    piece = BakePiece(
        product.piece.shape, across, area, mass / (1.0 + formula.moisture), formula.moisture, T.value
    )
    return piece, dough, tuple(used)


def _dense(formula: Formula) -> float:
    """Density [kg/m3] of the dough without gas."""
    wet = formula.moisture / (1.0 + formula.moisture)
    shares = {name: share * (1.0 - wet) for name, share in components(formula.composition).items()}
    return mixture({**shares, "water": wet}, MIDDLE / 2).density


def _sheets(
    product: Product, oven: OvenSpec, formula: Formula, piece: BakePiece, dough_volume: float
) -> tuple[Sheets | None, tuple[Used, ...]]:
    """The sheets of a folded dough that lies flat; a rolled-up one is not followed sheet by sheet."""
    if piece.shape != "slab":
        return None, ()
    given = oven.sheets.value if oven.sheets else None
    load = oven.dough_mass.value / piece.area
    return sheets_of(
        product.formulas[oven.formula], formula, given, load, dough_volume / piece.area, piece.area
    )


def _rising(
    product: Product, oven: OvenSpec, dough: Dough, dough_volume: float, sheets: Sheets | None
) -> tuple[Rising, str, tuple[Used, ...]]:
    spec, formula = product.formulas[oven.formula], dough.formula
    leavens = leavens_of(spec, formula, dough.proved)
    dense = 1.0 / _dense(formula)
    gas = max(dough_volume / oven.dough_mass.value - dense, 1e-3 * dense)
    # what parts sheet by sheet is no matter of the walls inside a sheet
    held_by = 1.0 if sheets is not None else oven.sheets.value if oven.sheets else None
    hold, words = hold_of(spec, formula, held_by)
    kept, used = kept_on_bench(spec.leavening)
    dry, proofed = 1.0 / (1.0 + formula.moisture), leavens.yeast > 0
    chemical = leavens.any_chemical and not proofed
    return (
        Rising(leavens, dense, gas, dry, hold, proofed, kept, sheets),
        words,
        used if chemical else (),
    )


def _growth(times: Floats, volume: Floats, ratio: float) -> tuple[Floats, Floats]:
    """The file's growth from dough to baked volume, in time as the lift computes it."""
    course = np.maximum.accumulate(volume)
    span = float(course[-1] - course[0])
    if span < 1e-6:
        return times, np.interp(times, [0.0, times[-1] / 2], [ratio, 1.0])
    return times, ratio + (1.0 - ratio) * (course - course[0]) / span
