"""What the evidence cases can ask of solutions and glasses."""

from __future__ import annotations

from collections.abc import Mapping

from scipy.optimize import brentq

from hardtack.evidence.predict import Predictor
from hardtack.reference import lookup, rows
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import ice_activity
from hardtack.water.dissolved import deliquescence, solutes
from hardtack.water.electrolyte import osmotic_coefficient, salt_solution_activity
from hardtack.water.glass import glass, softening_moisture
from hardtack.water.solubility import solubility
from hardtack.water.solutions import ROOM, solution_activity


def activity_at_molality(solute: str, m: float, T: float = ROOM) -> float:
    """Activity of a solution of one sugar, polyol or salt at m [mol/kg water] and T [K]."""
    if solute in {row.name for row in rows("electrolytes")}:
        return float(salt_solution_activity(solute, m, T))
    return float(solution_activity(solute, m, T))


def freezing_depression(solute: str, m: float) -> float:
    """By how much [K] the solution freezes below 0 degC: where ice has its activity."""

    def apart(fall: float) -> float:
        T = ZERO_CELSIUS - fall
        return ice_activity(T) - activity_at_molality(solute, m, T)

    return float(brentq(apart, 0.0, 40.0))


def activity_at_water(solute: str, water: float) -> float:
    """Activity of one solute with `water` [g per g of it], 25 degC."""
    topic = "electrolytes" if solute in {row.name for row in rows("electrolytes")} else "solutes"
    return activity_at_molality(solute, 1.0 / (lookup(topic, solute)["M"] * water))


def saturated_activity(salt: str, T: float) -> float:
    """Activity over the saturated solution [%] by its solubility and the law of its solutions."""
    m = solubility(salt, T).value / lookup("electrolytes", salt)["M"]
    return 100 * float(salt_solution_activity(salt, m, T))


def deliquescence_point(sugar: str, T: float) -> float:
    """Activity at which that sugar's crystals deliquesce."""
    point = deliquescence(solutes({sugar: 1.0}, {}, T, [sugar]))
    assert point is not None  # there are crystals
    return point


def softening_share(solid: str, T: float) -> float:
    """Moisture [% wet basis] at which that solid's glass transition has fallen to T."""
    X = softening_moisture(glass(solid), T)
    return 100 * X / (1 + X)


PREDICTORS: Mapping[str, Predictor] = {
    "activity at molality": Predictor(activity_at_molality, {}),
    "freezing point depression": Predictor(freezing_depression, {}),
    "activity at water held": Predictor(activity_at_water, {}),
    "osmotic coefficient": Predictor(lambda salt, m: float(osmotic_coefficient(salt, m)), {}),
    "humidity over a saturated salt by its solubility": Predictor(saturated_activity, {"T": "temperature"}),
    "deliquescence point": Predictor(deliquescence_point, {"T": "temperature"}),
    "glass transition, dry": Predictor(lambda solid: glass(solid).Tg_dry - ZERO_CELSIUS, {}),
    "moisture of softening": Predictor(softening_share, {"T": "temperature"}),
}
