"""The dough report: every part of it hangs together, and says what it leans on."""

from __future__ import annotations

from pathlib import Path

import pytest

import hardtack
from hardtack.dough.leavening import below_legal_minimum
from hardtack.errors import HardtackError
from hardtack.keeping.dough_report import DoughSheet, dough_report
from hardtack.keeping.dough_words import baked_words, bench_words, heat_words, sentence
from hardtack.sourced import PROVENANCES
from hardtack.units import wet_basis
from tests.dough.doughs import bakers, product_of

EXAMPLES = Path(__file__).parents[2] / "examples"
FILES = ("formula-soda-cracker", "formula-soft-bread", "formula-short-biscuit", "formula-seeded-cracker")


def sheet_of(name: str) -> DoughSheet:
    return dough_report(hardtack.load(EXAMPLES / f"{name}.yaml")).sheets[0]


def dough(*lines: str, keys: str = "", layer: str = ", formula: dough") -> DoughSheet:
    return dough_report(product_of(bakers(*lines, keys=keys), layer)).sheets[0]


@pytest.mark.parametrize("name", FILES)
def test_masses_balance_and_every_number_says_where_from(name: str) -> None:
    sheet = sheet_of(name)
    assert sum(sheet.parts.values()) == pytest.approx(1.0)
    assert sheet.parts["water"] == pytest.approx(wet_basis(sheet.moisture))
    assert sheet.baked is not None
    assert sum(sheet.baked.parts.values()) == pytest.approx(sheet.baked.mass)
    assert sheet.baked.mass == pytest.approx(1.0 - sheet.baked.loss)
    assert sum(line.mass for line in sheet.batch.lines) == pytest.approx(sheet.batch.dough)
    assert sheet.used
    for used in sheet.used:
        assert used.amount.provenance in PROVENANCES
        assert used.amount.source
    assert sheet.allergens.brought
    assert sum(item.of_product for item in sheet.order.listed) >= 1.0 - 1e-9


def test_the_piece_of_the_file_sets_the_dough_piece() -> None:
    """8 g at 3 % wb; the batch makes whole pieces only."""
    sheet = dough("bread flour 100", "water 60")
    assert sheet.baked is not None
    assert wet_basis(sheet.baked.moisture) == pytest.approx(0.03)
    assert sheet.batch.dough_piece == pytest.approx(0.008 / sheet.baked.mass)
    assert sheet.batch.baked_piece == pytest.approx(0.008)
    assert "Baked to the moisture of the layer" in sheet.remarks[0]


def test_without_a_layer_or_a_loss_there_is_no_baked_piece() -> None:
    sheet = dough("bread flour 100", "water 60", layer="")
    assert sheet.baked is None
    assert sheet.batch.yielded is None
    assert sheet.structure is None
    assert "Nothing says how far it is baked" in sheet.remarks[0]
    assert baked_words(sheet) == ""


def test_a_filling_is_not_baked() -> None:
    filling = dough_report(hardtack.load(EXAMPLES / "formula-sandwich.yaml")).sheets[1]
    assert filling.baked is None
    assert filling.hydration is None


def test_what_it_takes_to_be_neutral_makes_it_neutral() -> None:
    """Soda 1 % on flour needs 1 / 0.72 = 1.389 % of SAPP at NV 72 (producer's sheet)."""
    sheet = dough("bread flour 100", "water 60", "baking soda 1", "SAPP 28 0.5")
    assert sheet.leavening is not None
    (row,) = sheet.leavening.neutral
    assert row.needed / sheet.lines[0].share == pytest.approx(0.01 / 0.72)
    mended = dough("bread flour 100", "water 60", "baking soda 1", "SAPP 28 1.3889")
    assert mended.leavening is not None
    assert mended.leavening.balance.leaning == "balanced"
    assert "balanced" in sentence(mended)
    assert "alkaline, 64 % of the soda finds no acid" in sentence(sheet)


def test_the_sentence_tells_the_ways_of_a_leavening() -> None:
    sour = dough("bread flour 100", "water 60", "baking soda 0.5", "SAPP 28 2")
    assert "sour, acid for 188 % more soda" in sentence(sour)  # 2 x 0.72 / 0.5 - 1
    none = dough("bread flour 100", "water 60")
    assert "no leavener was found" in sentence(none)
    idle = dough("bread flour 100", "water 60", "fresh yeast 2")
    assert "its yeast is not counted" in sentence(idle)
    unknown = dough("bread flour 100", "water 60", "baking soda 1", "cream of tartar 2")
    assert "unknown timing" in sentence(unknown)
    assert "Between 0 and 100 %" in bench_words(unknown)


def test_soda_alone_splits_by_heat_and_says_how_sure() -> None:
    keys = ", leavening: {oven: {lasts: 8 min, to: 115 degC}}"
    sheet = dough("bread flour 100", "water 30", "baking soda 1", keys=keys)
    assert sheet.leavening is not None
    assert 0 < float(sheet.rise.by_heat[-1]) < sheet.leavening.balance.by_heat
    assert "Ball, high carbon dioxide" in heat_words(sheet)
    assert "93 °C (200 °F)" in heat_words(sheet)
    assert sheet.rise.by_heat_open > float(
        sheet.rise.by_heat[-1]
    )  # carbon dioxide holds it back (Ball et al. 1986)
    assert "more if the oven's heat split all" in sentence(sheet)
    assert next(row.acid for row in sheet.leavening.neutral).startswith("sodium acid pyrophosphate")


TITRATED = (
    ", leavening: {titration: {points: [{pH: 5.8, alkali: 0 mmol/kg}, {pH: 7.0, alkali: 12 mmol/kg}, {pH: 8.5, alkali: "
    "30 mmol/kg}], reading error: 0.05, carbon dioxide: 300 ± 100 Pa}}"
)


def test_a_pH_comes_with_its_error_or_not_at_all() -> None:
    untold = dough("bread flour 100", "water 60", "baking soda 0.3")
    assert untold.leavening is not None
    assert untold.leavening.pH.value is None
    assert "titrate" in untold.leavening.pH.why
    told = dough("bread flour 100", "water 60", "baking soda 0.3", keys=TITRATED)
    assert told.leavening is not None
    assert told.leavening.pH.value is not None
    assert told.leavening.pH.sd is not None
    assert 7.0 < told.leavening.pH.value < 8.5
    assert told.leavening.pH.sd >= 0.2


def test_ammonium_bicarbonate_is_judged_by_the_baked_piece() -> None:
    dry = dough("biscuit flour 100", "water 20", "ammonium bicarbonate 1")
    assert dry.leavening is not None
    assert dry.leavening.ammonium is not None
    assert dry.leavening.ammonium.suits is True
    moist = dough(
        "biscuit flour 100", "water 50", "ammonium bicarbonate 1", keys=", batch: {baked moisture: 20 %wb}"
    )
    assert moist.leavening is not None
    assert moist.leavening.ammonium is not None
    assert moist.leavening.ammonium.suits is False
    assert "irritates" in moist.leavening.ammonium.caution


def test_a_weak_powder_falls_short_of_the_law() -> None:
    """12 % CO2 in the United States, 10 % in Canada; 20 % soda gives 20 x 0.5239 = 10.5 % at most."""
    weak = dough(
        "bread flour 100",
        "water 60",
        "baking powder 4",
        keys=", leavening: {powder: {soda: 20 %, acid: SAPP 28}}",
    )
    assert weak.leavening is not None
    (got,) = weak.leavening.powders
    assert got.carbon_dioxide == pytest.approx(0.105, abs=5e-4)
    assert got.short_of == ("baking powder, United States",)


def test_self_rising_flour_is_counted_and_held_to_the_rule() -> None:
    """21 CFR 137.180: at least 0.5 % CO2 of the flour; 1.25 % soda gives 1.25 x 0.5239 = 0.655 %."""
    scone = dough("self-raising flour 100", "water 60", "sugar 5")
    assert scone.leavening is not None
    (got,) = scone.leavening.powders
    assert got.carbon_dioxide == pytest.approx(0.00655, abs=1e-5)
    assert got.short_of == ()
    assert scone.leavening.balance.leaning == "balanced"
    soda = scone.leavening.balance.soda / scone.lines[0].share
    assert soda == pytest.approx(0.0125)
    # USDA 20082 has 1.193 g sodium in 100 g: soda and the salt of such flours (1.5 to 2.25 %, from memory) make it
    salt = (0.01193 - 0.0125 * 22.990 / 84.007) / 22.990 * 58.443
    assert 0.015 < salt < 0.0225
    assert "counted with 1.25 % soda" in " ".join(scone.remarks)
    assert below_legal_minimum(0.004, "self-rising flour")[0].name == "self-rising flour, United States"
    assert below_legal_minimum(0.006, "self-rising flour") == ()


def test_a_waiting_dough_loses_gas_by_half_lives_or_as_measured() -> None:
    keys = ", leavening: {{bench: {{lasts: {}, temperature: 25 degC{}}}}}"
    parts = ("bread flour 100", "water 60", "baking soda 1", "SAPP 40 1.4")
    rests = [
        dough(*parts, keys=keys.format(lasts, kept)).rise
        for lasts, kept in (("60 min", ""), ("120 min", ""), ("60 min", ", kept: 90 %"))
    ]
    bench = float(rests[0].carbon_dioxide[1])
    assert [rest.lost / bench for rest in rests] == pytest.approx([0.5, 0.75, 0.1])
    assert float(rests[0].cells[1]) < float(rests[2].cells[1])
    assert float(rests[0].carbon_dioxide[1]) == pytest.approx(float(rests[2].carbon_dioxide[1]))  # as given


@pytest.mark.parametrize(
    "name",
    [
        "lean-cracker-humid-coast", "hard-biscuit-plain", "hard-biscuit-paper", "hard-biscuit-metallised",
        "rusk-open-in-damp-air", "crusty-loaf-in-paper", "crusty-loaf-in-plastic", "soft-bread-with-emulsifier",
        "glazed-cake",
    ],
)  # fmt: skip
def test_every_example_of_one_dough_starts_from_its_formula(name: str) -> None:
    product = hardtack.load(EXAMPLES / f"{name}.yaml")
    (sheet,) = dough_report(product).sheets
    assert sheet.baked is not None
    assert sheet.batch.cost_baked is not None
    assert sheet.batch.unpriced == ()
    # one piece of dough bakes to about the piece the file keeps, where the piece is one dough
    if len(product.layers) == 1:
        assert sheet.batch.baked_piece == pytest.approx(product.pieces[0].mass.value, rel=0.01)


def test_a_wanted_lift_is_reached_by_its_own_dose() -> None:
    wanted = (
        ", leavening: {wanted: {cells: 1.2 L/kg, at: 80 degC, acid: SAPP 28, kept: 100 %}, mixed-in air: 5 %}"
    )
    sheet = dough("bread flour 100", "water 60", keys=wanted)
    assert sheet.leavening is not None
    assert sheet.leavening.lift is not None
    dose = sheet.leavening.lift.dose
    flour = sheet.lines[0].share
    own = dough(
        "bread flour 100", "water 60", f"baking soda {100 * dose.soda / flour:.5f}", f"SAPP 28 {100 * dose.acid / flour:.5f}",
        keys=", leavening: {mixed-in air: 5 %, bench: {lasts: 15 min, temperature: 25 degC, kept: 100 %}, oven: {lasts: 8 min, to: 90 degC}}",
    )  # fmt: skip
    at = int(abs(own.rise.T - 353.15).argmin())
    assert float(own.rise.cells[at]) == pytest.approx(
        1.2e-3, rel=0.05
    )  # the activity moves a little with the dose


def test_a_file_without_a_formula_says_how_to_add_one() -> None:
    with pytest.raises(HardtackError, match="no formula to work out"):
        dough_report(hardtack.load(EXAMPLES / "crackers-opened-at-home.yaml"))


def test_what_cannot_be_baked_is_told_with_file_and_line() -> None:
    with pytest.raises(HardtackError) as caught:
        dough("bread flour 100", "water 60", keys=", batch: {bake loss: 70 %}")
    (problem,) = caught.value.problems
    assert problem.line == 6
    assert "more than the dough has to give" in problem.what
