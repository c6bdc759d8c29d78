"""Order of ingredients and allergens, against the wording of the regulation and the legal lists."""

from __future__ import annotations

import pytest

from hardtack import reference
from hardtack.dough.label import allergens, ingredient_order, named_allergens
from tests.dough.doughs import bakers, dough_of

CRACKER = bakers("biscuit flour 100", "water 30", "shortening 12", "salt 1.5")
BREAD = bakers("bread flour 100", "water 60", "salt 2", "fresh yeast 2")


def test_water_that_bakes_out_is_not_named() -> None:
    """Regulation (EU) 1169/2011 Annex VII Part A: added water = finished product - all other ingredients as used.
    A cracker of 143.5 parts of dough baked to 104 parts: 104 - 113.5 < 0, no water is left."""
    order = ingredient_order(dough_of(CRACKER)[1], 104 / 143.5)
    assert [item.name for item in order.listed] == ["biscuit flour", "shortening", "salt"]
    assert order.water == 0.0
    assert "not named" in order.notes[0]


def test_water_that_stays_is_ordered_by_what_is_left_of_it() -> None:
    """Bread of 164 parts of dough baked to 145: 145 - 104 = 41 parts of water, 28.3 % of the product, second in order."""
    order = ingredient_order(dough_of(BREAD)[1], 145 / 164)
    assert [item.name for item in order.listed][:2] == ["bread flour", "water"]
    assert order.water == pytest.approx(41 / 145)
    assert order.listed[0].of_product == pytest.approx(100 / 145)
    assert "it is named in that place" in order.notes[0]


def test_up_to_five_percent_need_not_be_named() -> None:
    """118 parts of product hold 118 - 113.5 = 4.5 parts, 3.8 %: the 5 % easement; 120 parts hold 5.4 %."""
    formula = dough_of(CRACKER)[1]
    assert "it need not be named" in ingredient_order(formula, 118 / 143.5).notes[0]
    assert "it is named in that place" in ingredient_order(formula, 120 / 143.5).notes[0]


def test_without_the_finished_weight_water_counts_as_mixed() -> None:
    order = ingredient_order(dough_of(CRACKER)[1], None)
    assert [item.name for item in order.listed][:2] == ["biscuit flour", "water"]
    assert not order.finished
    assert order.water is None


def test_an_ingredient_of_two_parts_is_named_once_and_ammonium_bicarbonate_last() -> None:
    text = (
        "{basis: baker's percent, pre-ferments: [{name: sponge, ingredients: [{ingredient: bread flour, amount: 40 %}, "
        "{ingredient: water, amount: 25 %}]}], ingredients: [{ingredient: bread flour, amount: 10 %}, {ingredient: rye "
        "flour, amount: 50 %, composition: {starch: 90 %, wheat protein: 10 %}}, {ingredient: ammonium bicarbonate, "
        "amount: 2 %}, {ingredient: salt, amount: 1 %}]}"
    )
    order = ingredient_order(dough_of(text)[1], 0.85)
    assert next(item.name for item in order.listed) in ("bread flour", "rye flour")
    assert [item.name for item in order.listed].count("bread flour") == 1
    assert order.listed[-1].name == "ammonium bicarbonate"


NAMES = {
    "biscuit flour": ("wheat",),
    "wholemeal flour": ("wheat",),
    "AP wheat flour, bleached, enriched": ("wheat",),
    "Rye flour, dark": ("rye, barley or oats",),
    "wholemeal rye flour": ("rye, barley or oats",),
    "oat bran": ("rye, barley or oats",),
    "malt syrup": ("rye, barley or oats",),
    "Rice flour, white": (),
    "Buckwheat flour, whole-groat": (),
    "Corn (maize) starch": (),
    "potato flour": (),
    "butter": ("milk",),
    "Buttermilk, cultured lowfat": ("milk",),
    "skim milk powder": ("milk",),
    "almond milk": ("nuts",),
    "cocoa butter": (),
    "peanut butter": ("peanut",),
    "Whole egg, raw": ("egg",),
    "Soy flour, defatted": ("soya",),
    "lecithin": ("soya",),
    "sesame": ("sesame",),
    "Apricots, dried": ("sulphites",),
    "lupin flour": ("lupin",),
    "water": (),
    "SAPP 28": (),
    "margarine": None,
    "seed mix": None,
    "house improver": None,
}


@pytest.mark.parametrize("name", NAMES)
def test_the_words_of_a_name_tell_its_allergens(name: str) -> None:
    assert named_allergens(name) == NAMES[name]


def test_the_shelf_holds_both_legal_lists() -> None:
    """Fourteen in Annex II of Regulation (EU) 1169/2011; nine major allergens in the United States."""
    rows = reference.rows("allergens")
    assert {int(row["EU"]) for row in rows} - {0} == set(range(1, 15))
    assert {int(row["US"]) for row in rows} - {0} == set(range(1, 10))
    limit = reference.lookup("allergens", "sulphites").values["limit"]
    assert limit.value == pytest.approx(10e-6)  # 10 mg/kg


def test_every_ingredient_of_the_shelf_is_known_or_owned_up_to() -> None:
    unknown = {
        row.name
        for topic in ("ingredients", "other ingredients")
        for row in reference.rows(topic)
        if named_allergens(row.name) is None
    }
    assert unknown == {"Margarine 80 %, salted stick"}  # may hold milk or soya: its own sheet tells


def test_the_file_outranks_the_words() -> None:
    text = (
        "{basis: baker's percent, ingredients: [{ingredient: rice flour, amount: 100 %, allergens: [sesame], composition: "
        "{starch: 90 %, water: 10 %}}, {ingredient: house improver, amount: 1 %, allergens: none, composition: {starch: "
        "100 %}}, {ingredient: topping, amount: 1 %, composition: {fat: 100 %}}]}"
    )
    named = allergens(*dough_of(text))
    assert [(row.name, names) for row, names in named.brought] == [("sesame", ("rice flour",))]
    assert named.unknown == ("topping",)
