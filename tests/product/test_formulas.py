"""Formulas in a product file: read whole, and every slip named with its line and a mend, all at once."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.product import LayerSpec, Product, loads

GOOD = """hardtack: 1
name: test cracker
kind: cracker
origin: invented
formulas:
  lean dough:
    basis: baker's percent
    ingredients:
      - {ingredient: bread flour, amount: 80 %}
      - {ingredient: dark rye, amount: 20 %, flour: yes}
      - {ingredient: water, amount: 55 ± 1 %}
      - ingredient: seed mix
        amount: 7.5 %
        composition: {water: 6 %, starch: 20 %, wheat protein: 20 %, fibre: 14 %, fat: 38 %, ash: 2 %}
  cream:
    basis: true percent
    sugar: amorphous
    branch: desorption
    ingredients:
      - {ingredient: icing sugar, amount: 60 %}
      - ingredient: humectant
        amount: 40 %
        composition: {polyols: {glycerol: 60 %}, sugars: {glucose: 10 %, fructose: 10 %}, water: 20 %}
  batch:
    basis: mass
    ingredients:
      - {ingredient: bread flour, amount: 25 kg}
      - {ingredient: water, amount: 14 kg}
piece:
  shape: slab
  thickness: 5 mm
  length: 60 mm
  width: 50 mm
  mass: 8 g
  layers:
    - {name: cracker, moisture: 2.6 %wb, formula: lean dough}
journey:
  - {leg: table, unpacked: true, lasts: 1 hours, climate: zone II}
"""


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(HardtackError) as caught:
        loads(text, "x.yaml")
    return caught.value.problems


def layer(product: Product) -> LayerSpec:
    (only,) = product.piece.layers
    assert isinstance(only, LayerSpec)
    return only


def test_a_formula_comes_through_whole() -> None:
    product = loads(GOOD)
    assert list(product.formulas) == ["lean dough", "cream", "batch"]
    dough = product.formulas["lean dough"]
    assert dough.basis == "baker's percent"
    assert [line.amount.value for line in dough.ingredients] == pytest.approx([0.80, 0.20, 0.55, 0.075])
    assert dough.ingredients[2].amount.sd == pytest.approx(0.01)
    assert [line.is_flour for line in dough.ingredients] == [True, True, False, False]
    assert dough.ingredients[0].amount.provenance == "invented"
    seeds = dough.ingredients[3].composition
    assert seeds is not None
    assert seeds.wheat_protein is not None
    assert seeds.wheat_protein.value == pytest.approx(0.20)
    assert (dough.sugar, dough.branch) == (None, None)
    cream = product.formulas["cream"]
    assert (cream.sugar, cream.branch) == ("amorphous", "desorption")
    mix = cream.ingredients[1].composition
    assert mix is not None
    assert mix.polyols["glycerol"].value == pytest.approx(0.60)
    assert product.formulas["batch"].ingredients[0].amount.value == pytest.approx(25.0)
    assert layer(product).formula == "lean dough"
    assert product.lines["formulas", "cream", "ingredients", 1, "composition"] == 23


def test_a_typographic_apostrophe_and_spaces_do_not_matter() -> None:
    text = GOOD.replace("baker's percent", "Baker’s  percent").replace("lean dough:", "lean  dough:")
    assert loads(text).formulas["lean dough"].basis == "baker's percent"


def test_formulas_may_be_left_out_and_need_not_be_used() -> None:
    text = GOOD.replace(", formula: lean dough", "")
    assert len(loads(text).formulas) == 3
    head, _, rest = text.partition("formulas:\n")
    bare = loads(head + rest[rest.index("piece:") :])
    assert bare.formulas == {}
    assert layer(bare).formula is None


SLIPS = [
    # old, new, what is said, how to mend it, line
    ("formula: lean dough", "formula: lean dow", "no formula is called 'lean dow'", "perhaps 'lean dough'", 36),
    ("formula: lean dough", "formula: jam", "no formula is called 'jam'", "lean dough, cream, batch", 36),
    ("formula: lean dough", "formula: cream, isotherm: cracker", "a formula and an isotherm", "if it was measured", 36),
    ("amount: 80 %", "amount: 0.8", "percent or mass?", "58 %", 9),
    ("amount: 80 %", "amount: 80", "percent or mass?", "58 %", 9),
    ("amount: 80 %", "amount: 80 g", "'bread flour' is a mass, but the formula is in baker's percent", "58 %", 9),
    ("amount: 25 kg", "amount: 25 %", "'bread flour' is a percent, but the formula is in mass", "1.2 kg", 27),
    ("amount: 25 kg", "amount: 0 kg", "too small for a mass", "above zero", 27),
    ("amount: 80 %", "amount: 70 %", "(bread flour, dark rye) they are 90 %", "flour: yes", 8),
    ("amount: 20 %, flour: yes", "amount: 20 %", "(bread flour) they are 80 %", "flour: yes", 8),
    ("bread flour, amount: 80 %}", "bread flour, amount: 0 %, flour: no}", "dark rye) they are 20 %", "put", 8),
    ("ingredient: dark rye", "ingredient: Bread Flour", "'Bread Flour' stands twice, first in line 9", "add", 10),
    ("amount: 60 %", "amount: 50 %", "the true percents add up to 90 %", "baker's percent", 19),
    ("starch: 20 %,", "starch: 10 %,", "the composition of 'seed mix' adds up to 90 %", "'other'", 14),
    ("glycerol: 60 %", "glycerol: 90 %", "the composition of 'humectant' adds up to 130 %", "'other'", 23),
    ("glycerol: 60 %", "glycerol: 0.6", "percent or fraction?", "%", 23),
    ("fibre: 14 %", "fibre: 0.14", "percent or fraction?", "30 %", 14),
    ("fibre: 14 %", "fiber: 14 %", "unknown key 'fiber'", "perhaps 'fibre'", 14),
    ("sugars: {glucose: 10 %, fructose: 10 %}", "sugars: 20 %", "keys and values", "indented", 23),
    ("basis: mass", "basis: weight", "'weight' is no basis of a formula", "baker's percent, true percent, mass", 25),
    ("sugar: amorphous", "sugar: glassy", "'glassy' is not known here", "crystalline, amorphous", 17),
    ("branch: desorption", "branch: drying", "'drying' is not known here", "adsorption, desorption", 18),
    ("flour: yes", "flour: maybe", "'maybe' is neither true nor false", "true or false", 10),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "what", "mend", "line"), SLIPS, ids=[slip[2] for slip in SLIPS])
def test_a_slip_in_a_formula(old: str, new: str, what: str, mend: str, line: int) -> None:
    assert GOOD.count(old) == 1
    found = problems(GOOD.replace(old, new))
    problem = next((p for p in found if what in p.what), None)
    assert problem is not None, [str(p) for p in found]
    assert mend in problem.mend
    assert problem.line == line
    alone = ("fiber", "maybe")  # the missed key or the unread flour leaves a sum wrong as well
    assert len(found) == 1 or any(word in new for word in alone)


def test_flour_must_be_there_under_bakers_percent() -> None:
    text = GOOD.replace("bread flour, amount: 80 %", "potato flakes, amount: 80 %").replace(
        ", flour: yes", ""
    )
    (problem,) = problems(text)
    assert "no ingredient counts as flour" in problem.what
    assert "flour: yes" in problem.mend
    zero = GOOD.replace("amount: 80 %", "amount: 0 %").replace("amount: 20 %", "amount: 0 %")
    assert "no ingredient counts as flour" in problems(zero)[0].what


def test_two_formulas_of_one_name() -> None:
    found = problems(GOOD.replace("  cream:\n", "  lean dough:\n"))
    assert any("'lean dough' stands twice" in p.what for p in found)
    found = problems(GOOD.replace("  cream:\n", '  "lean  dough":\n'))
    assert any("two formulas are called 'lean dough'" in p.what for p in found)


def test_an_empty_formula_and_one_that_is_no_mapping() -> None:
    head, _, rest = GOOD.partition("  batch:\n")
    text = head + "  batch:\n    basis: mass\n    ingredients: []\n" + rest[rest.index("piece:") :]
    assert any("the formula has no ingredient" in p.what for p in problems(text))
    text = head + "  batch: flour and water\n" + rest[rest.index("piece:") :]
    assert any("keys and values belong here" in p.what for p in problems(text))


def test_all_slips_of_a_formula_come_at_once() -> None:
    text = GOOD
    for old, new, _, _, _ in (SLIPS[0], SLIPS[8], SLIPS[12], SLIPS[13], SLIPS[20]):
        text = text.replace(old, new)
    assert [p.line for p in problems(text)] == [8, 14, 17, 19, 36]


def test_without_a_formula_an_isotherm_or_a_kind_is_still_needed() -> None:
    text = GOOD.replace("kind: cracker\n", "")
    assert loads(text).kind is None
    (problem,) = problems(text.replace(", formula: lean dough", ""))
    assert "no isotherm, and the product no kind" in problem.what
