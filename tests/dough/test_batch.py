"""Pre-ferments, batches, yield and cost, against printed tables and plain arithmetic."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.dough.batch import batch_of
from hardtack.errors import HardtackError
from tests.dough.doughs import bakers, dough_of

POOLISH = (
    "{basis: baker's percent, pre-ferments: [{name: poolish, amount: 104 %, ingredients: ["
    "{ingredient: bread flour, amount: 100 %}, {ingredient: water, amount: 100 %}, "
    "{ingredient: instant yeast, amount: 0.06 %}]}], ingredients: [{ingredient: bread flour, amount: 100 %}, "
    "{ingredient: water, amount: 52 %}, {ingredient: instant yeast, amount: 1 %}, {ingredient: salt, amount: 3 %}]"
)


def test_flour_and_water_of_a_pre_ferment_count_in_the_totals() -> None:
    """The printed poolish: 468 g flour and 468 g water in it, 900 and 468 g in the dough (wildyeastblog.com, baker's
    percentage part 4): 936 g of water on 1368 g of flour."""
    _, formula = dough_of(POOLISH + "}")
    assert formula.hydration == pytest.approx(936 / 1368, rel=1e-3)
    flour = [part.share for part in formula.ingredients if part.flour]
    assert flour[0] / sum(flour) == pytest.approx(468 / 1368, rel=1e-3)
    assert formula.ingredients[0].label == "bread flour (poolish)"


def test_both_ways_of_writing_a_pre_ferment_give_one_dough() -> None:
    inside = (
        "{basis: mass, pre-ferments: [{name: poolish, ingredients: [{ingredient: bread flour, amount: 468 g}, "
        "{ingredient: water, amount: 468 g}]}], ingredients: [{ingredient: bread flour, amount: 900 g}, "
        "{ingredient: water, amount: 468 g}, {ingredient: salt, amount: 27 g}]}"
    )
    apart = (
        "{basis: baker's percent, pre-ferments: [{name: poolish, amount: 104 %, ingredients: [{ingredient: bread flour, "
        "amount: 50 %}, {ingredient: water, amount: 50 %}]}], ingredients: [{ingredient: bread flour, amount: 100 %}, "
        "{ingredient: water, amount: 52 %}, {ingredient: salt, amount: 3 %}]}"
    )
    one, other = dough_of(inside)[1], dough_of(apart)[1]
    assert [part.share for part in one.ingredients] == pytest.approx(
        [part.share for part in other.ingredients]
    )
    assert one.moisture == pytest.approx(other.moisture)


def test_a_batch_by_its_dough() -> None:
    batch = batch_of(*dough_of(POOLISH + ", batch: {dough: 2340 g}}"), None, None)
    assert [round(1e3 * line.mass) for line in batch.lines] == [468, 468, 0, 900, 468, 9, 27]
    assert sum(line.mass for line in batch.lines) == pytest.approx(2.34)
    assert batch.stated


def test_dough_pieces_and_losses_by_hand() -> None:
    """600 pieces of 560 g with 1.5 % lost: 600 x 0.560 / 0.985 kg of dough; baked to 89 %: yield 0.985 x 0.89."""
    text = bakers(
        "bread flour 100", "water 60", keys=", batch: {pieces: 600, dough piece: 560 g, process loss: 1.5 %}"
    )
    batch = batch_of(*dough_of(text), 0.89, None)
    assert batch.dough == pytest.approx(600 * 0.560 / 0.985)
    assert batch.pieces == 600
    assert batch.baked_piece == pytest.approx(0.560 * 0.89)
    assert batch.yielded == pytest.approx(0.985 * 0.89)


def test_without_a_batch_it_is_a_hundred_kilograms_of_flour() -> None:
    batch = batch_of(*dough_of(bakers("bread flour 100", "water 60")), 0.75, 0.006)
    assert batch.dough == pytest.approx(160.0)
    assert not batch.stated
    assert batch.dough_piece == pytest.approx(0.008)
    assert batch.pieces == 20000


def priced(salt: str = "0.20 EUR/kg") -> str:
    return (
        "{basis: baker's percent, ingredients: [{ingredient: bread flour, amount: 100 %, price: 14.5 EUR/25 kg}, "
        f"{{ingredient: water, amount: 58 %}}, {{ingredient: salt, amount: 2 %, price: {salt}}}]"
        ", batch: {dough: 160 kg, dough piece: 500 g, process loss: 2 %}}"
    )


def test_cost_by_hand() -> None:
    """100 kg flour at 0.58 and 2 kg salt at 0.20 in 160 kg of dough; each piece carries its share of the loss."""
    batch = batch_of(*dough_of(priced()), 0.9, None)
    cost = (100 * 14.5 / 25 + 2 * 0.20) / 160
    assert batch.currency == "EUR"
    assert batch.cost_dough == pytest.approx(cost)
    assert batch.cost_baked == pytest.approx(cost / (0.98 * 0.9))
    assert batch.cost_piece == pytest.approx(cost * 0.5 / 0.98)
    assert batch.unpriced == ("water",)


def test_two_currencies_are_not_added_up() -> None:
    with pytest.raises(HardtackError, match="several currencies: EUR, USD"):
        batch_of(*dough_of(priced("0.09 USD/lb")), None, None)


def test_a_price_per_pound_is_turned_to_kilograms() -> None:
    spec, _ = dough_of(priced().replace("14.5 EUR/25 kg", "0.30 USD/lb").replace("0.20 EUR/kg", "1 USD/kg"))
    price = spec.ingredients[0].price
    assert price is not None
    assert price.value == pytest.approx(0.30 / 0.45359237)
    assert price.unit == "USD/kg"
    assert price.written == "0.30 USD/lb"


@given(st.floats(20.0, 90.0), st.floats(0.01, 3.0), st.floats(0.0, 0.2))
def test_what_is_weighed_is_the_dough(water: float, piece: float, lost: float) -> None:
    keys = f", batch: {{pieces: 100, dough piece: {piece:.4f} kg, process loss: {100 * lost:.3f} %}}"
    batch = batch_of(
        *dough_of(bakers("bread flour 100", f"water {water:.3f}", "salt 2", keys=keys)), None, None
    )
    assert sum(line.mass for line in batch.lines) == pytest.approx(batch.dough)
    assert batch.dough * (1 - batch.process_loss) == pytest.approx(100 * batch.dough_piece)
