"""From a formula to its structure: gluten, sheets, and the texture reading."""

from __future__ import annotations

import pytest

from hardtack.dough.makeup import laminate_of, makeup_of, texture_of
from hardtack.dough.structure import structure_card
from tests.dough.doughs import bakers, dough_of

PUFF = bakers(
    "bread flour 100", "water 50", "butter 80", "salt 1.5",
    keys=", structure: {turns: [3, 3, 3, 3, 3, 3], rolled in: butter, rolled to: 6 mm}",
)  # fmt: skip


def test_gluten_is_the_protein_of_wheat_alone() -> None:
    """Rice flour holds 5.95 % protein (USDA 20061) and no gluten; bread flour 11.98 % (USDA 20083)."""
    spec, formula = dough_of(
        bakers("bread flour 50", "Rice flour 50", "water 60").replace("Rice flour", '"Rice flour, white"')
    )
    makeup = makeup_of(spec, formula, 0.35)
    assert makeup is not None
    assert makeup.gluten_protein == pytest.approx(0.5 * 0.1198, rel=0.01)
    assert makeup.hydration == pytest.approx(0.6)


def test_a_dough_without_gluten_is_held_by_its_gum_or_egg() -> None:
    rice = '"Rice flour, white"'
    gum = bakers("RICE 100", "water 90", "psyllium 4").replace("RICE", rice)
    gum = gum.replace("amount: 4.0 %", "amount: 4 %").replace(
        "{ingredient: psyllium, amount: 4 %}",
        "{ingredient: psyllium, amount: 4 %, composition: {fibre: 90 %, water: 10 %}}",
    )
    spec, formula = dough_of(gum)
    makeup = makeup_of(spec, formula, 0.4)
    assert makeup is not None
    assert makeup.gum == pytest.approx(0.04)
    assert structure_card(makeup).holder == "gum"


def test_six_turns_in_three_of_puff_pastry() -> None:
    """729 sheets (McGee, On Food and Cooking, puff pastry); the rolled-in butter does not shorten the dough."""
    spec, formula = dough_of(PUFF)
    folded = laminate_of(spec, formula)
    assert folded is not None
    assert folded.dough_sheets == 730
    assert not folded.merged
    makeup = makeup_of(spec, formula, 0.04)
    assert makeup is not None
    assert makeup.fat < 0.03  # the flour's own
    assert makeup.sheets == 730
    assert structure_card(makeup).lift == "high"
    spec, formula = dough_of(PUFF.replace("rolled to: 6 mm", "rolled to: 2 mm"))
    merged = laminate_of(spec, formula)
    assert merged is not None
    assert merged.merged
    assert "fold less" in merged.finding


def test_a_texture_reading_goes_as_density_to_the_power_of_open_cells() -> None:
    """Gibson and Ashby: strength as relative density to the power 1.5; (360 / 420) ** 1.5 = 0.7936."""
    keys = ", structure: {texture: {reading: 18.2 N, density: 420 kg/m3, wanted density: 360 kg/m3}}"
    spec, _ = dough_of(bakers("bread flour 100", "water 50", keys=keys))
    assert spec.structure is not None
    assert spec.structure.texture is not None
    texture = texture_of(spec.structure.texture)
    assert texture.unit == "N"
    assert texture.strength.value == pytest.approx(18.2 * 0.7936, rel=1e-3)
    assert texture.strength.low < texture.strength.value <= texture.strength.high
