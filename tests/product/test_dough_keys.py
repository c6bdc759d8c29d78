"""Keys of the dough in a product file: every slip named with its line and a mend."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.product import loads

GOOD = """hardtack: 1
name: test cracker
origin: invented
formulas:
  dough:
    basis: baker's percent
    pre-ferments:
      - name: sponge
        ingredients:
          - {ingredient: bread flour, amount: 60 %, price: 12.5 EUR/25 kg}
          - {ingredient: water, amount: 30 %}
        ferments:
          - {stage: sponge, lasts: 16 h, temperature: 80 degF}
        acidity: 0.5 %
    ingredients:
      - {ingredient: biscuit flour, amount: 40 %}
      - {ingredient: butter, amount: 20 %, allergens: [milk]}
      - {ingredient: baking powder, amount: 2 %}
      - {ingredient: buttermilk, amount: 5 %, acidity: "0.8 ± 0.1 % [measured here, titrated]"}
    ferments:
      - {stage: proof, lasts: 40 min, temperature: 33 degC}
    batch: {dough: 90 kg, process loss: 2 %, bake loss: 24 %}
    leavening:
      powder: {soda: 29 %, acid: SAPP 28}
      neutral with: MCP
      bench: {lasts: 10 min, temperature: 25 degC}
      oven: {lasts: 5 min, to: 101 degC}
      wanted: {cells: 1 L/kg, at: 80 degC, acid: SALP}
      titration:
        points:
          - {pH: 5.8, alkali: 0 mmol/kg}
          - {pH: 7.1, alkali: 14 mmol/kg}
        reading error: 0.05
        carbon dioxide: 300 ± 150 Pa
    structure:
      turns: [3, 4]
      rolled in: butter
      rolled to: 3 mm
      texture: {reading: "18.2 N [measured here]", density: 420 kg/m3, wanted density: 360 kg/m3}
piece:
  shape: slab
  thickness: 5 mm
  length: 60 mm
  width: 50 mm
  mass: 8 g
  layers:
    - {name: cracker, moisture: 2.6 %wb, formula: dough}
journey:
  - {leg: table, unpacked: true, lasts: 1 hours, climate: zone II}
"""


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(HardtackError) as caught:
        loads(text, "x.yaml")
    return caught.value.problems


def test_all_keys_come_through() -> None:
    dough = loads(GOOD).formulas["dough"]
    assert [(line.stage, line.spec.ingredient) for line in dough.lines][:3] == [
        ("sponge", "bread flour"),
        ("sponge", "water"),
        ("", "biscuit flour"),
    ]
    price = dough.lines[0].spec.price
    assert price is not None
    assert (price.value, price.unit) == (pytest.approx(0.5), "EUR/kg")
    assert dough.pre_ferments[0].ferments[0].temperature.value == pytest.approx(299.82, abs=0.01)  # 80 degF
    assert dough.structure is not None
    assert dough.structure.texture is not None
    reading = dough.structure.texture.reading
    assert (reading.value, reading.unit, reading.provenance) == (18.2, "N", "measured here")
    assert dough.leavening is not None
    assert dough.leavening.titration is not None
    assert dough.leavening.titration.carbon_dioxide.sd == pytest.approx(150.0)
    assert dough.lines[-1].spec.acidity is not None
    assert dough.lines[-1].spec.acidity.sd == pytest.approx(0.001)


SLIPS = [
    # old, new, what is said, how to mend it, line
    ("acid: SAPP 28", "acid: SAP 28", "no leavening acid is called 'SAP 28'", "sapp 28", 24),
    ("neutral with: MCP", "neutral with: vinegar", "no leavening acid is called 'vinegar'", "there are", 25),
    ("acid: SALP", "acid: salpp", "no leavening acid is called 'salpp'", "salp", 28),
    ("neutral with", "neutral wiht", "unknown key 'neutral wiht'", "perhaps 'neutral with'", 25),
    ("leavening:", "leavning:", "unknown key 'leavning'", "perhaps 'leavening'", 23),
    ("soda: 29 %, ", "", "'soda' is missing", "soda: 30 %", 24),
    ("allergens: [milk]", "allergens: [mlik]", "no allergen is called 'mlik'", "milk", 17),
    ("allergens: [milk]", "allergens: milk", "the allergens of an ingredient are a list", "[wheat, milk]", 17),
    ("12.5 EUR/25 kg", "12.5", "cannot read '12.5'", "0.62 EUR/kg", 10),
    ("12.5 EUR/25 kg", "12.5 EUR", "which money for which mass", "0.62 EUR/kg", 10),
    ("12.5 EUR/25 kg", "12.5 EUR/25 litres", "is not a unit of mass", "8.2 g", 10),
    ("bake loss: 24 %", "bake loss: 24 %, baked moisture: 3 %wb", "'bake loss' and 'baked moisture' at once", "know", 22),
    ("dough: 90 kg", "dough: 90 kg, pieces: 100", "'dough' and 'pieces' at once", "keep", 22),
    ("300 ± 150 Pa", "300 Pa", "needs its spread", "200 ± 100 Pa", 34),
    ("pH: 7.1", "pH: 5.1", "pH and alkali both rising", "in the order", 30),
    ("turns: [3, 4]", "turns: [3, 1]", "a turn of '1'", "whole numbers from 2 to 6", 36),
    ("rolled in: butter", "rolled in: buter", "no ingredient is called 'buter'", "perhaps 'butter'", 37),
    ("      rolled to: 3 mm\n", "", "'turns' without 'rolled to'", "rolled to: 3.5 mm", 36),
    ("bread flour, amount: 60 %", "bread flour, amount: 50 %", "(biscuit flour, bread flour) they are 90 %", "put", 15),
    ("lasts: 16 h", "lasts: 16", "16 has no unit", "21 days", 13),
    ("cells: 1 L/kg", "cells: 1 L", "is not a unit of specific volume", "1.2 L/kg", 28),
    ("- {ingredient: water, amount: 30 %}", "- {ingredient: bread flour, amount: 0 %}", "stands twice", "add the two", 11),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "what", "mend", "line"), SLIPS, ids=[slip[1] for slip in SLIPS])
def test_a_slip_is_told_with_its_line_and_mend(old: str, new: str, what: str, mend: str, line: int) -> None:
    assert old in GOOD
    found = problems(GOOD.replace(old, new, 1))
    told = [problem for problem in found if what in problem.what]
    assert told, found
    assert mend in told[0].mend
    assert told[0].line == line
    assert told[0].file == "x.yaml"


def test_a_pre_ferment_with_an_amount_stands_outside_the_hundred_percent() -> None:
    text = GOOD.replace("      - name: sponge\n", "      - name: sponge\n        amount: 30 %\n", 1)
    text = text.replace("biscuit flour, amount: 40 %", "biscuit flour, amount: 100 %")
    dough = loads(text).formulas["dough"]
    assert sum(line.amount for line in dough.lines if line.stage) == pytest.approx(0.30)
