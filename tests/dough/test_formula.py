"""Formulas worked out: percents, moisture of the dough, composition, and what the shelf cannot answer."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack import reference
from hardtack.dough import (
    Formula,
    bakers_percents,
    formula_of,
    isotherm_of_formula,
    masses,
    shares,
    sugar_settled,
)
from hardtack.dough.ingredients import FEW_SUGARS, KINDS, OWN, TABLE
from hardtack.errors import HardtackError
from hardtack.piece import isotherms_of
from hardtack.product import loads
from hardtack.water.isotherm import moisture

FILE = """hardtack: 1
name: test
kind: cracker
origin: invented
formulas:
  dough:
    basis: {basis}
{keys}    ingredients:
{lines}
piece:
  {{shape: slab, thickness: 5 mm, length: 60 mm, width: 50 mm, mass: 8 g, layers: [{{name: c, moisture: 3 %wb}}]}}
journey:
  - {{leg: table, unpacked: true, lasts: 1 hours, climate: zone II}}
"""


def written(basis: str, lines: Mapping[str, str], keys: str = "") -> str:
    rows = [f'      - {{ingredient: "{name}", amount: {amount}}}' for name, amount in lines.items()]
    return FILE.format(basis=basis, keys=keys, lines="\n".join(rows))


def made(basis: str, lines: Mapping[str, str], keys: str = "") -> Formula:
    return formula_of(loads(written(basis, lines, keys), "x.yaml"), "dough")


AMOUNTS = st.lists(st.tuples(st.floats(1e-3, 1e3), st.booleans()), min_size=1, max_size=12).filter(
    lambda rows: any(flour for _, flour in rows)
)


@settings(max_examples=200, deadline=None)
@given(AMOUNTS, st.floats(1e-3, 1e5))
def test_percents_and_masses_go_round_to_1e_9(rows: list[tuple[float, bool]], whole: float) -> None:
    amounts, flour = [amount for amount, _ in rows], [is_flour for _, is_flour in rows]
    true = shares(amounts)
    bakers = bakers_percents(true, flour)
    assert math.isclose(sum(true), 1.0, rel_tol=1e-12)
    total = sum(percent for percent, is_flour in zip(bakers, flour, strict=True) if is_flour)
    assert math.isclose(total, 1.0, rel_tol=1e-12)
    back = shares(masses(bakers, whole))
    assert back == pytest.approx(true, rel=1e-9)
    assert bakers_percents(masses(true, whole), flour) == pytest.approx(bakers, rel=1e-9)


def test_the_worked_example_of_bakers_percent() -> None:
    """100 flour, 58 water, 1.75 salt, 2 sugar, 0.375 instant yeast: the sum is 162.125, and flour is dough / 1.62125
    (worked example of a trade page on baker's percent, as seen in the evidence of the project)."""
    percents = [1.00, 0.58, 0.0175, 0.02, 0.00375]
    assert sum(percents) == pytest.approx(1.62125, rel=1e-12)
    assert masses(percents, 1.62125)[0] == pytest.approx(1.0, rel=1e-12)
    assert bakers_percents(masses(percents, 10.0), [True, False, False, False, False]) == pytest.approx(
        percents
    )


def test_dough_moisture_is_a_mass_balance() -> None:
    """100 g of bread flour at 13.36 % water (USDA) and 60 g of water: 73.36 g of water in 160 g."""
    dough = made("baker's percent", {"bread flour": "100 %", "water": "60 %"})
    assert dough.moisture_wet == pytest.approx(73.36 / 160, rel=1e-12)
    assert dough.moisture == pytest.approx(73.36 / 86.64, rel=1e-12)
    assert dough.hydration == pytest.approx(0.60)
    assert dough.effective_hydration == pytest.approx(0.7336)


def test_all_three_bases_give_one_dough() -> None:
    bakers = made("baker's percent", {"bread flour": "100 %", "water": "55 %", "salt": "5 %"})
    true = made("true percent", {"bread flour": "62.5 %", "water": "34.375 %", "salt": "3.125 %"})
    mass = made("mass", {"bread flour": "20 kg", "water": "11000 g", "salt": "1 kg"})
    for other in (true, mass):
        assert other.moisture == pytest.approx(bakers.moisture, rel=1e-9)
        assert other.composition.starch == pytest.approx(bakers.composition.starch, rel=1e-9)
        assert other.hydration == pytest.approx(0.55, rel=1e-9)


def test_dry_matter_is_kept_in_the_blend() -> None:
    dough = made(
        "baker's percent", {"bread flour": "100 %", "water": "55 %", "egg": "20 %", "butter": "10 %"}
    )
    assert dough.composition.dry_mass == pytest.approx(1.0 - dough.moisture_wet, rel=1e-9)
    assert dough.composition.egg_protein > dough.composition.milk_protein > 0
    assert dough.composition.sugars["glucose"] > 0  # of the egg
    assert dough.composition.sugars["lactose"] > 0  # of the butter


def test_salt_is_all_but_the_minerals_of_table_salt() -> None:
    """38.758 % sodium (USDA) is 98.5 % NaCl by the atomic masses of IUPAC."""
    brine = made("mass", {"salt": "10 g", "water": "90 g"})
    assert brine.composition.salts["NaCl"] == pytest.approx(0.1 * 0.38758 * 58.443 / 22.990, rel=2e-3)


def test_a_composition_of_ones_own_and_other_names_of_solutes() -> None:
    text = written("true percent", {"syrup": "100 %"}).replace(
        "amount: 100 %}", "amount: 100 %, composition: {water: 20 %, sugars: {dextrose: 30 %, sugar: 50 %}}}"
    )
    syrup = formula_of(loads(text), "dough")
    assert syrup.moisture_wet == pytest.approx(0.20)
    assert dict(syrup.composition.sugars) == pytest.approx({"glucose": 0.30, "sucrose": 0.50})
    assert syrup.hydration is None
    assert any("water in syrup" in used.what and used.given for used in syrup.used)


def test_glassy_sugar_holds_more_water_than_crystals_below_its_dissolving() -> None:
    """Common practice, no source: crystalline sucrose takes up next to nothing below about 0.85, a glass much."""
    lines = {"biscuit flour": "100 %", "water": "20 %", "shortening": "30 %", "sugar": "40 %"}
    crystals = made("baker's percent", lines, "    sugar: crystalline\n")
    glass = made("baker's percent", lines)
    assert crystals.crystalline == ("sucrose",)
    assert glass.crystalline == ()
    for a in (0.2, 0.4, 0.6):
        held = [moisture(isotherm_of_formula(f, "adsorption"), a, 298.15) for f in (crystals, glass)]
        assert held[0] < held[1]
    stated = {used.what: used for used in (*crystals.used, *glass.used)}
    assert stated["sucrose in dough, taken as crystalline where not dissolved"].given
    assert not stated["sucrose in dough, taken as amorphous where not dissolved"].given


def test_the_state_of_the_sugar_does_not_matter_in_a_wet_dough() -> None:
    """2 % of sucrose on flour dissolves in the dough's water many times over (solubility 2.1 g/g, Mohos 2010)."""
    lines = {"bread flour": "100 %", "water": "60 %", "sugar": "2 %"}
    crystals, glass = (
        made("baker's percent", lines, f"    sugar: {s}\n") for s in ("crystalline", "amorphous")
    )
    held = [moisture(isotherm_of_formula(f, "desorption"), 0.95, 298.15) for f in (crystals, glass)]
    assert held[0] == pytest.approx(held[1], rel=1e-6)


def test_what_was_baked_dry_with_flour_holds_its_sugar_as_a_glass_unless_said() -> None:
    """Shrestha 2007 and X-rays of cookies (shelf): sugar baked dry stays amorphous; creams and crumb end in crystals."""
    sweet = {"biscuit flour": "100 %", "water": "20 %", "sugar": "40 %"}
    cream = {"palm oil": "40 g", "sugar": "60 g"}
    assert made("baker's percent", sweet).sugar == "amorphous"
    assert made("baker's percent", sweet, "    branch: scanning\n").sugar == "amorphous"
    assert made("baker's percent", sweet, "    branch: desorption\n").sugar == "crystalline"
    assert made("mass", cream).sugar == "crystalline"


def test_sugar_the_dough_never_had_the_water_for_stays_crystals() -> None:
    """Antokolskaya 1964 (shelf): at 70 degC a gram of water dissolves 3.2 g of sucrose; 100 g of flour bring 11.9 g, so
    76 g of sugar is the most of which half can dissolve."""
    for sugar, state in (("74 %", "amorphous"), ("78 %", "crystalline")):
        dry = made("baker's percent", {"biscuit flour": "100 %", "sugar": sugar})
        assert dry.sugar == state
        (used,) = (item for item in dry.used if "taken as" in item.what)
        assert ("never was anything but crystals" in used.amount.source) == (state == "crystalline")


@pytest.mark.parametrize(("percent", "state"), [(3.0, "amorphous"), (20.0, "crystalline")])
def test_a_layer_keeps_its_glass_only_while_it_is_hard(percent: float, state: str) -> None:
    """A sweet biscuit at 3 % is a glass far above room temperature; kept as moist as cake it is a rubber, in
    which sugar crystallises (common knowledge of amorphous sugar; the transitions are those of the shelf)."""
    text = written("baker's percent", {"biscuit flour": "100 %", "water": "20 %", "sugar": "60 %"})
    text = text.replace("{name: c, moisture: 3 %wb}", f"{{name: c, formula: dough, moisture: {percent} %wb}}")
    product = loads(text, "x.yaml")
    formula = formula_of(product, "dough")
    settled = sugar_settled(product, formula, percent / (100 - percent))
    assert (formula.sugar, settled.sugar) == ("amorphous", state)
    isotherms, used = isotherms_of(product)
    (taken,) = (item for item in used if "taken as" in item.what)
    assert state in taken.what
    assert ("crystals: sucrose" in isotherms["c"].source) == (state == "crystalline")
    said = loads(text.replace("    ingredients:", "    sugar: amorphous\n    ingredients:"), "x.yaml")
    assert sugar_settled(said, formula_of(said, "dough"), 0.2).sugar == "amorphous"


def test_every_unknown_ingredient_is_named_with_its_line_and_near_spellings() -> None:
    text = written(
        "mass", {"bred flour": "1 kg", "water": "1 kg", "unobtainium": "1 kg", "Potato flour": "1 kg"}
    )
    with pytest.raises(HardtackError) as caught:
        formula_of(loads(text, "x.yaml"), "dough")
    first, second, third = caught.value.problems
    assert (first.line, second.line, third.line) == (9, 11, 12)
    assert "bread flour" in first.mend
    assert first.path == "formulas / dough / bred flour"
    assert "composition: {" in second.mend
    assert "unobtainium" in second.mend
    assert "3.52 % sugars, and the shelf does not say which" in third.what
    assert "composition: {" in third.mend


def test_an_unknown_sugar_names_its_ingredient() -> None:
    text = written("true percent", {"syrup": "100 %"}).replace(
        "amount: 100 %}", "amount: 100 %, composition: {water: 20 %, sugars: {sucros: 80 %}}}"
    )
    with pytest.raises(HardtackError, match=r"syrup.*sucros(.|\n)*perhaps 'sucrose'"):
        formula_of(loads(text, "x.yaml"), "dough")


def test_nothing_but_water_is_no_formula_and_an_unknown_one_lists_what_there_is() -> None:
    with pytest.raises(HardtackError, match="nothing but water"):
        made("mass", {"water": "1 kg"})
    with pytest.raises(HardtackError, match="there are: dough"):
        formula_of(loads(written("mass", {"bread flour": "1 kg"})), "jam")


def test_kinds_of_sugar_belong_to_ingredients_and_add_up() -> None:
    for row in reference.rows(KINDS):
        if row.name != "default":
            assert reference.lookup(TABLE, row.name).name == row.name
        assert sum(amount.value for amount in row.values.values()) == pytest.approx(1.0, abs=1e-9)
        assert row.form in ("", "milk", "egg")
    for row in reference.rows(OWN):
        assert sum(amount.value for amount in row.values.values()) == pytest.approx(1.0, abs=1e-9)


def test_ingredients_that_cannot_be_used_by_name_are_these_three() -> None:
    known = {row.name for row in reference.rows(KINDS)}
    own = {name for row in reference.rows(OWN) for name in (row.name, *row.also)}
    without = [
        row.name
        for row in reference.rows(TABLE)
        if row.name not in known | own and "sugars" in row.values and row["sugars"] > FEW_SUGARS
    ]
    assert without == ["Potato flour", "Tapioca, pearl, dry", "Cranberries, dried, sweetened"]
