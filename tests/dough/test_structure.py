"""Structure: directions for five kinds of goods, folding counted, bite strength by the power law."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.dough.structure import Direction, Makeup, bite_strength, laminate, structure_card
from hardtack.errors import HardtackError

ORDER: dict[Direction, int] = {"low": 0, "middle": 1, "high": 2}
GOODS = {
    "cracker": Makeup(0.10, 0.38, 0.12, 0.05, 0.03),
    "rice cracker": Makeup(0.0, 0.90, 0.02, 0.02, 0.03, gelled_starch=0.80),
    "laminated": Makeup(0.12, 0.50, 0.05, 0.0, 0.04, sheets=82),
    "butter biscuit": Makeup(0.09, 0.10, 0.60, 0.35, 0.03),
    "loaf": Makeup(0.125, 0.62, 0.03, 0.03, 0.38),
}
# common practice, no source: holder, toughness, lift, crispness
EXPECTED = {
    "cracker": ("gluten", "middle", "middle", "high"),
    "rice cracker": ("gelled starch", "low", "high", "high"),
    "laminated": ("gluten", "middle", "high", "high"),
    "butter biscuit": ("no network", "low", "low", "middle"),
    "loaf": ("gluten", "high", "high", "low"),
}
MAKEUPS = st.builds(
    Makeup,
    gluten_protein=st.floats(0, 0.2), hydration=st.floats(0, 1), fat=st.floats(0, 1), sugar=st.floats(0, 1),
    final_moisture=st.floats(0, 0.5), egg_protein=st.floats(0, 0.2), gum=st.floats(0, 0.05),
    gelled_starch=st.floats(0, 1), sheets=st.integers(1, 2000),
)  # fmt: skip


@pytest.mark.parametrize("name", GOODS)
def test_the_expected_direction_of_five_goods(name: str) -> None:
    card = structure_card(GOODS[name])
    assert (card.holder, card.toughness, card.lift, card.crispness) == EXPECTED[name]
    assert card.reasons
    assert "guide for trials" in card.guide


def test_replacements_for_gluten() -> None:
    """Common practice, no source: egg, gum or gelled starch hold gas where gluten does not."""
    bare = Makeup(0.0, 0.8, 0.05, 0.05, 0.35)
    assert structure_card(bare).holder == "no network"
    assert structure_card(replace(bare, gum=0.03)).holder == "gum"
    assert structure_card(replace(bare, egg_protein=0.10)).holder == "egg"
    assert structure_card(replace(bare, gum=0.03)).lift != "low"


@given(MAKEUPS, st.floats(0, 0.5))
def test_fat_and_sugar_never_toughen_and_protein_never_softens(makeup: Makeup, more: float) -> None:
    tough = ORDER[structure_card(makeup).toughness]
    assert ORDER[structure_card(replace(makeup, fat=makeup.fat + more)).toughness] <= tough
    assert ORDER[structure_card(replace(makeup, sugar=makeup.sugar + more)).toughness] <= tough
    richer = replace(makeup, gluten_protein=makeup.gluten_protein + more)
    assert ORDER[structure_card(richer).toughness] >= tough
    moister = replace(makeup, final_moisture=makeup.final_moisture + more)
    assert ORDER[structure_card(moister).crispness] <= ORDER[structure_card(makeup).crispness]


def test_classic_puff_pastry() -> None:
    """McGee, On Food and Cooking: six turns in three, 729 sheets of dough parted by 728 of fat, about 0.01 mm
    each at 6 mm. Capon 1967, p. 158: 257 sheets of paste parted by 256 of butter."""
    puff = laminate([3] * 6, 0.006, 0.33)
    assert puff.fat_sheets == 729
    assert puff.dough_sheets == puff.fat_sheets + 1
    assert puff.fat_thickness + puff.dough_thickness == pytest.approx(1e-5, abs=0.5e-5)
    assert not puff.merged
    book = laminate([4] * 4, 0.006, 0.33)
    assert (book.fat_sheets, book.dough_sheets) == (256, 257)


def test_too_many_turns_merge() -> None:
    assert laminate([3] * 7, 0.006, 0.33).merged
    assert "assumed" in laminate([3] * 7, 0.006, 0.33).finding


@given(st.lists(st.integers(2, 5), max_size=6), st.floats(1e-3, 0.02), st.floats(0.05, 0.7))
def test_sheets_fill_the_thickness(turns: list[int], thickness: float, fat: float) -> None:
    folded = laminate(turns, thickness, fat)
    whole = folded.fat_sheets * folded.fat_thickness + folded.dough_sheets * folded.dough_thickness
    assert whole == pytest.approx(thickness)
    once_more = laminate([*turns, 3], thickness, fat)
    assert once_more.fat_sheets == 3 * folded.fat_sheets
    assert once_more.dough_thickness < folded.dough_thickness
    assert once_more.merged or not folded.merged


def test_bite_strength_by_the_power_of_open_cells() -> None:
    """Gibson and Ashby: strength of open cells goes as relative density to the power 3/2."""
    found = bite_strength(10.0, 600.0, 300.0, 1450.0)
    assert found.value == pytest.approx(10 * 0.5**1.5)
    assert found.low == pytest.approx(10 * 0.25)
    assert not found.outside
    assert bite_strength(10.0, 600.0, 100.0, 1450.0).outside  # relative density below 9 %


@given(st.floats(0.1, 100), st.floats(150, 690), st.floats(150, 690), st.floats(0, 100))
def test_lighter_bites_softer(reading: float, read: float, wanted: float, more: float) -> None:
    found = bite_strength(reading, read, wanted, 1450.0)
    assert found.low <= found.value <= found.high
    assert bite_strength(reading, read, wanted + more, 1450.0).value >= found.value
    assert bite_strength(found.value, wanted, read, 1450.0).value == pytest.approx(reading)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda: laminate([1], 0.006, 0.3), "turns"),
        (lambda: laminate([3], 0.0, 0.3), "thickness"),
        (lambda: bite_strength(10, 2000, 300, 1450), "denser"),
        (lambda: structure_card(Makeup(-0.1, 0.5, 0, 0, 0.05)), "gluten protein"),
        (lambda: structure_card(Makeup(0.1, 0.5, 0, 0, 0.05, sheets=0)), "sheet"),
    ],
)
def test_bad_input_is_told_with_a_mend(act, words: str) -> None:
    with pytest.raises(HardtackError, match=words) as caught:
        act()
    assert all(problem.mend for problem in caught.value.problems)
