"""What the evidence cases can ask about leavening, yeast, gas and structure."""

from __future__ import annotations

from collections.abc import Mapping
from math import log10

from hardtack.dough import Formula, formula_of
from hardtack.dough.batch import batch_of
from hardtack.dough.gas import carbon_dioxide_solubility, dissolved_carbon_dioxide
from hardtack.dough.leavening import (
    MOLAR_MASS_CARBON_DIOXIDE,
    acid_to_neutralise,
    equivalence_value,
    neutralising_value,
    soda_for_gas,
    stoichiometric_value,
)
from hardtack.dough.soda import TOPIC, rate
from hardtack.dough.structure import laminate
from hardtack.dough.yeast import temperature_factor
from hardtack.evidence.predict import Predictor
from hardtack.product import FormulaSpec, loads
from hardtack.reference import lookup
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE


def gas_yield(base: str) -> float:
    """Carbon dioxide from one part of a base with acid [kg/kg]."""
    row = lookup("leavening bases", base)
    return row["with_acid"] * MOLAR_MASS_CARBON_DIOXIDE / row["M"]


def gas_by_heat(base: str, mass: float) -> float:
    """Carbon dioxide [g] from that mass of a base by heat alone."""
    row = lookup("leavening bases", base)
    return 1e3 * mass * row["by_heat"] * MOLAR_MASS_CARBON_DIOXIDE / row["M"]


def dissolved_per_gram(water: float, T: float) -> float:
    """Carbon dioxide in 1 g of dough with that share of water [mL at T], under one atmosphere of it."""
    moles = dissolved_carbon_dioxide(water * 1e-3, T, STANDARD_PRESSURE)
    return moles * GAS_CONSTANT * T / STANDARD_PRESSURE * 1e6


def fat_sheets(turns: int, fold: int) -> float:
    """Sheets of fat after so many turns of one kind."""
    return float(laminate([fold] * turns, 0.006, 0.33).fat_sheets)


def dough_sheets(turns: int, fold: int) -> float:
    """Sheets of dough after so many turns of one kind."""
    return float(laminate([fold] * turns, 0.006, 0.33).dough_sheets)


def pair_thickness(turns: int, fold: int, thickness: float) -> float:
    """Mean thickness of one sheet of dough with one of fat [mm]."""
    folded = laminate([fold] * turns, thickness, 0.33)
    return 1e3 * (folded.fat_thickness + folded.dough_thickness)


def _formula(text: str, dough: str = "1 kg") -> tuple[FormulaSpec, Formula]:
    """A formula written as in the product file, without a product around it."""
    batch = f", batch: {{dough: {dough}}}"
    body = text.strip()
    product = loads(_AROUND.format(formula=f"{body[:-1]}{batch}}}"))
    return product.formulas["dough"], formula_of(product, "dough")


_AROUND = """hardtack: 1
name: published table
origin: seen
formulas: {{dough: {formula}}}
piece: {{shape: slab, thickness: 5 mm, length: 60 mm, width: 50 mm, mass: 8 g, layers: [{{name: c, moisture: 3 %wb, formula: dough}}]}}
journey: [{{leg: table, unpacked: true, lasts: 1 hours, climate: zone II}}]
"""


def to_weigh(formula: str, what: str, dough: str) -> float:
    """Mass [g] of one ingredient, or of "pre-ferment: ingredient", in a batch of so much dough."""
    batch = batch_of(*_formula(formula, dough), None, None)
    stage, _, name = what.rpartition(": ")
    return 1e3 * sum(line.mass for line in batch.lines if (line.stage, line.name) == (stage, name))


def fermented_beforehand(formula: str) -> float:
    """Share of all flour that goes into pre-ferments [%]."""
    _, made = _formula(formula)
    return 100.0 * sum(part.share for part in made.ingredients if part.flour and part.stage) / made.flour


def dough_on_flour(formula: str) -> float:
    """All ingredients over flour [%]."""
    return 100.0 / _formula(formula)[1].flour


PREDICTORS: Mapping[str, Predictor] = {
    "carbon dioxide in water": Predictor(
        lambda T, atmospheres: 1e3 * carbon_dioxide_solubility(T) * atmospheres * STANDARD_PRESSURE / 1e5,
        {"T": "temperature", "atmospheres": "number"},
    ),
    "carbon dioxide in dough": Predictor(dissolved_per_gram, {"water": "share", "T": "temperature"}),
    "carbon dioxide of a base": Predictor(gas_yield, {}),
    "carbon dioxide by heat": Predictor(gas_by_heat, {"mass": "mass"}),
    "soda for carbon dioxide": Predictor(
        lambda carbon_dioxide: 1e3 * soda_for_gas(carbon_dioxide / MOLAR_MASS_CARBON_DIOXIDE),
        {"carbon_dioxide": "mass"},
    ),
    "neutralising value": Predictor(neutralising_value, {}),
    "neutralising value by stoichiometry": Predictor(stoichiometric_value, {}),
    "equivalence value": Predictor(equivalence_value, {}),
    "acid for soda": Predictor(lambda acid, soda: 1e3 * acid_to_neutralise(acid, soda), {"soda": "mass"}),
    "split of soda, log10 of the rate": Predictor(lambda law, T: log10(rate(law, T)), {"T": "temperature"}),
    "split of soda, activation energy": Predictor(lambda law: lookup(TOPIC, law)["E"] / 1e3, {}),
    "yeast, gas for one kelvin more": Predictor(
        lambda T: 100 * (temperature_factor(T + 1.0) / temperature_factor(T) - 1.0), {"T": "temperature"}
    ),
    "to weigh": Predictor(to_weigh, {}),
    "flour fermented beforehand": Predictor(fermented_beforehand, {}),
    "dough on flour": Predictor(dough_on_flour, {}),
    "sheets of fat": Predictor(fat_sheets, {}),
    "sheets of dough": Predictor(dough_sheets, {}),
    "sheets in all": Predictor(lambda turns, fold: fat_sheets(turns, fold) + dough_sheets(turns, fold), {}),
    "thickness of a pair of sheets": Predictor(pair_thickness, {"thickness": "length"}),
}
