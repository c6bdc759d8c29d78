"""Slips in packs and journeys: each named with its line and a mend, all at once."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.product import loads

WHOLE = """hardtack: 1
name: test
kind: soda cracker
packed on: 2026-06-01
piece:
  shape: slab
  thickness: 4.5 mm
  length: 60 mm
  width: 50 mm
  mass: 7.6 g
  count: 26
  layers:
    - {name: cracker, moisture: 2.6 %wb}
pack:
  style: flow pack
  laminate:
    - {film: OPP, thickness: 20 um}
    - {film: LDPE, thickness: 30 um}
  area: 0.066 m2
  headspace: 250 mL
  leaks: [{diameter: 100 um, depth: 60 um}]
  desiccant: {kind: silica gel, mass: 5 g}
  atmosphere: {oxygen: 1 %, carbon dioxide: 60 %}
  outer packs:
    - {name: carton, holds: 24, air: 6 L, air changes: 0.2 1/h, board: 350 g}
    - {name: hood, holds: 40, air: 200 L, film: LDPE 50 um, area: 6 m2}
journey:
  - {leg: sea, lasts: 25 days, climate: Singapore, load lag: 2 days, load starts at: 40 degC, outer packs: hood}
  - leg: winter
    lasts: 30 days
    months: {temperature: "1,2,3,4,5,6,7,8,9,10,11,12 degC", humidity: "60,61,62,63,64,65,66,67,68,69,70,71 %"}
    outer packs: carton
  - {leg: home, lasts: until it fails, climate: kitchen, opened: {each day: 5 min, reclosed: clip, pieces left: 50 %}}
"""


def test_the_whole_is_in_order() -> None:
    product = loads(WHOLE)
    assert product.pack is not None
    assert len(product.pack.laminate) == 2
    assert product.journey[1].months is not None
    assert [round(T.value - 273.15) for T in product.journey[1].months.temperature] == list(range(1, 13))


SLIPS = [
    ("  style: flow pack\n", "  style: flow pack\n  film: OPP\n", "'film' and 'laminate' at once", -1),
    ("    - {film: LDPE, thickness: 30 um}\n", "", "at least two plies", -2),
    ("mass: 5 g}", "mas: 5 g}", "unknown key 'mas'", 0),
    ("oxygen: 1 %", "oxygen: 50 %", "make 110% of the gas", 0),
    ("name: hood", "name: carton", "two outer packs are called 'carton'", 0),
    ("name: hood", "name: all", "cannot be called 'all'", 0),
    (", area: 6 m2", "", "needs its 'area'", 0),
    (", air changes: 0.2 1/h", "", "nothing lets water into the outer pack", 0),
    ("outer packs: hood", "outer packs: tent", "no outer pack is called 'tent'", 0),
    ("load lag: 2 days, ", "", "'load starts at' without 'load lag'", 0),
    ("11,12 degC", "11 degC", "twelve numbers and their unit", 0),
    ("11,12 degC", "11,12 kg", "'kg' is not a unit of temperature", 0),
    ("70,71 %", "70,171 %", "too large for a humidity", 0),
    ("each day: 5 min", "each day: 30 h", "more than a day each day", 0),
    ("pieces left: 50 %", "pieces left: 0 %", "no piece is left", 0),
    (
        "climate: kitchen, opened",
        "climate: kitchen, unpacked: true, opened",
        "unpacked and its pack opened",
        0,
    ),
]


@pytest.mark.parametrize(("old", "new", "what", "below"), SLIPS, ids=[slip[2] for slip in SLIPS])
def test_slip(old: str, new: str, what: str, below: int) -> None:
    assert WHOLE.count(old) == 1
    with pytest.raises(HardtackError) as caught:
        loads(WHOLE.replace(old, new), "x.yaml")
    found: tuple[Problem, ...] = caught.value.problems
    problem = next((p for p in found if what in p.what), None)
    assert problem is not None, found
    assert problem.mend
    if below == 0:
        assert problem.line == WHOLE[: WHOLE.index(old)].count("\n") + 1


def test_all_slips_come_at_once() -> None:
    text = WHOLE
    for old, new, _, _ in (SLIPS[2], SLIPS[3], SLIPS[13], SLIPS[8]):
        text = text.replace(old, new)
    with pytest.raises(HardtackError) as caught:
        loads(text)
    assert len(caught.value.problems) >= 4
