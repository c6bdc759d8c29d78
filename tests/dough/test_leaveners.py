"""Leaveners found by their names, yeast over its stages, gas from bench to oven."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.dough.fermentation import fermented
from hardtack.dough.leaveners import leaveners_of
from hardtack.dough.leavening import Dose, balance
from hardtack.dough.rising import Rise, bench_share, litres, rise
from hardtack.dough.yeast import Stage, gas_over
from hardtack.units import ZERO_CELSIUS, wet_basis
from tests.dough.doughs import bakers, dough_of


def risen(text: str, a: float = 0.93) -> Rise:
    spec, formula = dough_of(text)
    leaveners = leaveners_of(spec, formula)
    proved = fermented(spec, formula, leaveners)
    return rise(spec.leavening, leaveners, proved, (wet_basis(formula.moisture), a))


def test_bases_acids_and_yeast_are_known_by_their_names() -> None:
    text = bakers(
        "bread flour 100", "water 30", "baking soda 1", "SAPP 22 0.8", "MCP 0.2", "instant yeast 0.35"
    )
    spec, formula = dough_of(text)
    found = leaveners_of(spec, formula)
    whole = 132.35
    assert found.bases == (Dose("sodium bicarbonate", pytest.approx(1 / whole)),)
    assert [dose.name for dose in found.acids] == [
        "sodium acid pyrophosphate, 22",
        "monocalcium phosphate monohydrate",
    ]
    assert found.yeast == (
        ("", pytest.approx(1 / whole)),
    )  # instant dry = 0.35 x fresh, trade table of yeast forms
    assert found.names == ("baking soda", "SAPP 22", "MCP")


def test_a_ready_powder_is_balanced_by_itself() -> None:
    for powder in ("", ", leavening: {powder: {soda: 28 %, acid: SAPP 28}}"):
        spec, formula = dough_of(bakers("bread flour 100", "water 60", "baking powder 4", keys=powder))
        found = leaveners_of(spec, formula)
        sums = balance(1.0, found.bases, found.acids)
        assert sums.leaning == "balanced"
        assert sums.acid == pytest.approx(sums.soda)
        share = 0.28 if powder else 0.30
        assert sums.soda == pytest.approx(share * 4 / 164)


def test_a_sour_ingredient_counts_by_its_measured_acid_only() -> None:
    """240 mL of fermented milk neutralise 2 g of soda (McGee): 0.9 % as lactic acid, density 1.04."""
    lines = "{ingredient: bread flour, amount: 100 g}, {ingredient: baking soda, amount: 2 g}"
    milk = "{ingredient: buttermilk, amount: 250 g%s}"
    spec, formula = dough_of(f"{{basis: mass, ingredients: [{lines}, {milk % ', acidity: 0.9 %'}]}}")
    found = leaveners_of(spec, formula)
    sums = balance(1.0, found.bases, found.acids, found.sour)
    assert sums.acid / sums.soda == pytest.approx(1.0, abs=0.06)
    assert found.remarks == ()
    spec, formula = dough_of(f"{{basis: mass, ingredients: [{lines}, {milk % ''}]}}")
    found = leaveners_of(spec, formula)
    assert found.sour == ()
    assert "Give its 'acidity'" in found.remarks[0]


def test_a_ripe_sponge_brings_its_acid() -> None:
    """100 g of sponge with 0.6 % acid as lactic (90.08 g/mol) meet 0.6 / 90.08 x 84.007 = 0.5596 g of soda."""
    text = (
        "{basis: mass, pre-ferments: [{name: sponge, acidity: 0.6 %, ingredients: [{ingredient: bread flour, amount: "
        "70 g}, {ingredient: water, amount: 30 g}]}], ingredients: [{ingredient: bread flour, amount: 30 g}, "
        "{ingredient: baking soda, amount: 1 g}]}"
    )
    spec, formula = dough_of(text)
    found = leaveners_of(spec, formula)
    sums = balance(1.0, found.bases, found.acids, found.sour)
    assert 131 * sums.acid == pytest.approx(0.5596, abs=2e-4)


SPONGE = (
    "{basis: baker's percent, pre-ferments: [{name: sponge, ingredients: [{ingredient: bread flour, amount: 60 %}, "
    "{ingredient: water, amount: 36 %}, {ingredient: fresh yeast, amount: 1 %}], ferments: [{stage: sponge, lasts: 3 h, "
    "temperature: 26 degC}]}], ingredients: [{ingredient: bread flour, amount: 40 %}, {ingredient: water, amount: 25 %}, "
    "{ingredient: fresh yeast, amount: 2 %}, {ingredient: salt, amount: 2 %}, {ingredient: sugar, amount: 6 %}], "
    "ferments: [{stage: proof, lasts: 50 min, temperature: 100 degF}]KEYS}"
)


def test_each_part_ferments_its_own_flour() -> None:
    spec, formula = dough_of(SPONGE.replace("KEYS", ""))
    proved = fermented(spec, formula, leaveners_of(spec, formula))
    assert proved is not None
    assert [(stage.part, stage.stage) for stage in proved.stages] == [("sponge", "sponge"), ("", "proof")]
    assert pytest.approx(ZERO_CELSIUS + 37.78, abs=0.01) == proved.stages[1].T  # 100 degF
    flour = formula.flour
    alone = gas_over([Stage(3 * 3600, ZERO_CELSIUS + 26)], 1 / 60, 0.0000333, 0.0031)
    assert proved.stages[0].made == pytest.approx(0.6 * flour * alone.made[-1], rel=0.01)


def test_its_own_gas_rate_and_proof_outrank_the_shelf() -> None:
    spec, formula = dough_of(SPONGE.replace("KEYS", ""))
    plain = fermented(spec, formula, leaveners_of(spec, formula))
    spec, formula = dough_of(
        SPONGE.replace("KEYS", ", leavening: {gas rate: 1.44 mL/g/min, kept in proof: 80 %}")
    )
    own = fermented(spec, formula, leaveners_of(spec, formula))
    assert plain is not None
    assert own is not None
    assert own.stages[1].made == pytest.approx(1.5 * plain.stages[1].made)
    assert own.in_cells == own.at_most == pytest.approx(0.8 * own.stages[1].made)
    assert plain.in_cells == pytest.approx(0.35 * plain.stages[1].made)  # encyclopedia chapter on leavening
    assert plain.at_most == pytest.approx(0.95 * plain.stages[1].made)  # the same text: 5 % are dissolved


def test_gas_stops_where_the_sugar_does() -> None:
    spec, formula = dough_of(SPONGE.replace("50 min", "40 h").replace("KEYS", ""))
    proved = fermented(spec, formula, leaveners_of(spec, formula))
    assert proved is not None
    assert not proved.enough_sugar
    food = formula.flour * (0.06 * 342.297 / 342.297 * 2 * 180.156 / 342.297 + 0.0031 * 1.0526 + 0.02)
    assert proved.glucose == pytest.approx(food, rel=0.01)


def test_yeast_without_a_schedule_is_owned_up_to() -> None:
    spec, formula = dough_of(bakers("bread flour 100", "water 60", "fresh yeast 2"))
    proved = fermented(spec, formula, leaveners_of(spec, formula))
    assert proved is not None
    assert proved.made == 0.0
    assert "its yeast is not counted" in proved.remarks[0]


def test_powder_lifts_in_the_oven_and_dissolved_acid_at_once() -> None:
    """Common practice, no source."""
    slow = risen(bakers("bread flour 100", "water 60", "baking soda 1", "SAPP 28 1.4"))
    fast = risen(bakers("bread flour 100", "water 60", "baking soda 1", "citric acid 0.77"))
    assert bench_share(slow) == pytest.approx(0.28, abs=0.01)  # its dough rate, producer's sheet
    assert bench_share(fast) > 0.97


def test_full_neutralisation_gives_the_gas_of_the_textbook() -> None:
    """1 g of soda with acid gives 291 mL of CO2 at 25 degC and 1 atm (84.007 g/mol, ideal gas)."""
    text = "{basis: mass, ingredients: [{ingredient: bread flour, amount: 989 g}, {ingredient: water, amount: 1 g}, {ingredient: baking soda, amount: 1 g}, {ingredient: citric acid, amount: 9 g}]}"
    got = risen(text)
    assert litres(float(got.carbon_dioxide[-1])) == pytest.approx(0.291, abs=0.001)


def test_gas_only_ever_comes_and_the_cells_end_with_expansion() -> None:
    got = risen(
        bakers("biscuit flour 100", "water 20", "baking soda 1", "SAPP 28 0.8", "ammonium bicarbonate 0.5",
               keys=", leavening: {oven: {lasts: 5 min, to: 220 degF}, bench: {lasts: 10 min, temperature: 75 degF}}")
    )  # fmt: skip
    assert np.all(np.diff(got.carbon_dioxide) >= 0)
    assert got.T[-1] == pytest.approx(ZERO_CELSIUS + 104.44, abs=0.01)  # 220 degF
    assert got.oven_at == 600.0
    closed = ~np.isnan(got.cells)
    assert np.all(got.T[closed] <= ZERO_CELSIUS + 90.0)
    in_oven = got.cells[closed][1:]  # from the end of the bench on, which has lost some
    assert np.all(np.diff(in_oven) > -1e-12)
    assert got.cells[1] < got.cells[0]
    assert float(got.by_heat[-1]) > 0
