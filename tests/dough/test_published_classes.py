"""Water activities from formulas beside the classes and usual values that are printed for such foods.

These are no measurements: class lists step by 0.05, so half a step is added to the error that is stated with
every isotherm from a formula; bands from memory are taken as they stand. The formulas are ordinary ones of the
trade (common practice, no source), not those of the foods behind the lists.
"""

from __future__ import annotations

import pytest

from hardtack import reference
from hardtack.dough import Formula, isotherm_of_formula
from hardtack.states import Branch
from hardtack.water.isotherm import activity, moisture
from hardtack.water.sharing import stated_error
from tests.dough.test_formula import made

HALF_STEP = 0.025
BREAD = {
    "bread flour": "100 %",
    "water": "60 %",
    "salt": "1.8 %",
    "fresh yeast": "2 %",
    "sugar": "2 %",
    "shortening": "2 %",
}
SPONGE = {"cake flour": "100 %", "sugar": "100 %", "egg": "150 %", "salt": "1 %", "baking powder": "2 %"}
CRACKER = {
    "biscuit flour": "100 %",
    "water": "30 %",
    "shortening": "10 %",
    "salt": "2 %",
    "baking soda": "0.5 %",
}
BISCUIT = {"biscuit flour": "100 %", "water": "20 %", "shortening": "35 %", "salt": "1 %", "sugar": "45 %"}
JAM = {"sugar": "45 %", "Invert syrup": "30 %", "water": "20 %", "Apricots, dried": "5 %"}


def at(formula: Formula, wet: float, branch: Branch = "desorption") -> float:
    return float(activity(isotherm_of_formula(formula, branch), wet / (1.0 - wet), 298.15))


def test_bread_dough_lies_in_the_usual_band() -> None:
    """0.96-0.98 at 40-46 % moisture (from memory; shelf, typical activities, dough)."""
    usual = reference.lookup("typical activities", "dough").values
    dough = made("baker's percent", BREAD)
    assert usual["moisture"].low is not None
    assert usual["moisture"].high is not None
    assert usual["moisture"].low <= dough.moisture <= usual["moisture"].high
    low, high = usual["activity"].low, usual["activity"].high
    assert low is not None
    assert high is not None
    assert low <= at(dough, dough.moisture_wet) <= high


CLASSES = [
    # shelf row of typical activities, basis, formula, moisture on wet basis and where it is from
    ("bread, class", "baker's percent", BREAD, 0.3634),  # USDA finished goods, white bread
    ("sponge cake", "baker's percent", SPONGE, 0.297),  # USDA finished goods, sponge cake
    ("jam, range", "true percent", JAM, 0.30),  # the moisture printed beside the range
    ("caramel", "true percent", {"Honey": "100 %"}, 0.171),  # honey is of this class; USDA moisture
    ("jelly", "true percent", {"Molasses": "100 %"}, 0.2187),  # molasses is of this class; USDA moisture
    ("dried fruit", "true percent", {"Raisins, seedless": "100 %"}, 0.175),  # middle of the printed moistures
    ("dried fruit", "true percent", {"Dates, deglet noor": "100 %"}, 0.175),
    ("dried fruit", "true percent", {"Apricots, dried": "100 %"}, 0.175),
]


@pytest.mark.parametrize(
    ("row", "basis", "lines", "wet"), CLASSES, ids=[f"{row[0]}-{next(iter(row[2]))}" for row in CLASSES]
)
def test_activity_is_that_of_the_food_class(row: str, basis: str, lines: dict[str, str], wet: float) -> None:
    """Class values of the FDA's list and ranges of a textbook chapter, as the shelf cites them."""
    printed = reference.lookup("typical activities", row).values["activity"]
    slack = stated_error("desorption").value + (HALF_STEP if printed.low is None else 0.0)
    low, high = (printed.value, printed.value) if printed.low is None else (printed.low, printed.high)
    assert high is not None
    assert low - slack <= at(made(basis, lines), wet) <= high + slack


def test_a_cracker_of_class_activity_holds_the_moisture_of_the_class() -> None:
    """Cookies, crackers and bread crusts: 0.30 class at 3-5 % moisture (FDA); the stated error counts in activity."""
    iso = isotherm_of_formula(made("baker's percent", CRACKER), "adsorption")
    error = stated_error("adsorption").value
    wet = [
        float(x / (1 + x)) for x in (moisture(iso, 0.30 - error, 298.15), moisture(iso, 0.30 + error, 298.15))
    ]
    assert wet[0] < 0.05
    assert wet[1] > 0.03
    middle = float(moisture(iso, 0.30, 298.15))
    assert 0.03 <= middle / (1 + middle) <= 0.05


def test_finished_goods_of_the_table_are_dry_by_their_own_moisture() -> None:
    """USDA finished goods: soda cracker 5.04 %, matzo 4.3 %, crispbread 6.1 % moisture. The lists put such goods at
    0.1-0.35 (class 0.30; measured biscuits 0.12-0.24; crispbread 0.1-0.3 from memory)."""
    from hardtack.water.composition import from_proximate
    from hardtack.water.sharing import formula_isotherm

    error = stated_error("adsorption").value
    for name in ("Saltine/soda crackers", "Matzo", "Rye crispbread"):
        row = reference.lookup("finished goods", name)
        iso = formula_isotherm(
            name, from_proximate(row, {"sucrose": 1.0}), crystalline=(), branch="adsorption"
        )
        wet = row["water"]
        assert 0.1 - error <= activity(iso, wet / (1 - wet), 298.15) <= 0.35 + error


def test_measured_biscuits_hold_sugar_as_a_glass() -> None:
    """Biscuits measured at 0.12-0.24 held 2.81-4.53 % (shelf, biscuits, measured set). A sweet biscuit of glassy
    sugar agrees within the stated error; with crystals it is too dry, which is why the state is said in answers."""
    measured = reference.lookup("typical activities", "biscuits, measured set").values["moisture"]
    error = stated_error("adsorption").value
    ends = {}
    for state in ("crystalline", "amorphous"):
        iso = isotherm_of_formula(made("baker's percent", BISCUIT, f"    sugar: {state}\n"), "adsorption")
        ends[state] = [
            float(activity(iso, X, 298.15)) for X in (measured.low, measured.high) if X is not None
        ]
    assert ends["amorphous"] == pytest.approx([0.12, 0.24], abs=error)
    assert ends["crystalline"][0] > 0.24
