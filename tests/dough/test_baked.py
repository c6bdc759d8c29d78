"""Composition of dough and baked piece: balances by hand, and USDA finished goods as bands."""

from __future__ import annotations

import pytest

from hardtack import reference
from hardtack.dough import Formula
from hardtack.dough.baked import COMPONENTS, Baked, baked_of, dough_parts, fermented_out
from hardtack.dough.fermentation import fermented
from hardtack.dough.leaveners import leaveners_of
from hardtack.dough.leavening import balance
from hardtack.errors import HardtackError
from tests.dough.doughs import bakers, dough_of

BREAD = bakers(
    "bread flour 100", "water 61", "fresh yeast 3", "sugar 6", "shortening 3", "skim milk powder 2", "salt 1.9",
    keys=", ferments: [{stage: proof, lasts: 60 min, temperature: 36 degC}]",
)  # fmt: skip
CRACKER = bakers(
    "bread flour 60", "biscuit flour 40", "water 30", "shortening 9", "salt 1.6", "fresh yeast 0.3", "malt syrup 1",
    "baking soda 0.55",
)  # fmt: skip
SHORTBREAD = bakers("biscuit flour 100", "butter 48", "sugar 28", "salt 0.8", "water 4")
GINGER = bakers(
    "biscuit flour 100", "sugar 32", "molasses 12", "shortening 14", "water 14", "salt 0.6", "baking soda 0.9",
    "ammonium bicarbonate 0.4",
)  # fmt: skip


def baked(text: str, **how: float) -> Baked:
    spec, formula = dough_of(text)
    leaveners = leaveners_of(spec, formula)
    sums = balance(1.0, leaveners.bases, leaveners.acids, leaveners.sour)
    return baked_of(formula, leaveners, sums, fermented(spec, formula, leaveners), **how)


def test_the_dough_adds_up_to_itself() -> None:
    for text in (BREAD, CRACKER, SHORTBREAD, GINGER):
        spec, formula = dough_of(text)
        parts = dough_parts(formula, leaveners_of(spec, formula))
        assert tuple(parts) == COMPONENTS
        assert sum(parts.values()) == pytest.approx(1.0, rel=1e-12)


def test_a_plain_dough_by_hand() -> None:
    """100 bread flour (USDA 20083: 13.36 % water, 11.98 protein, 1.66 fat) and 60 water, no leavener, to 10 % loss."""
    spec, formula = dough_of(bakers("bread flour 100", "water 60"))
    parts = dough_parts(formula, leaveners_of(spec, formula))
    assert parts["water"] == pytest.approx((60 + 13.36) / 160)
    assert parts["protein"] == pytest.approx(
        11.98 / 160, rel=0.01
    )  # the proximate row adds up to 100 within a percent
    assert parts["fat"] == pytest.approx(1.66 / 160, rel=0.01)
    piece = baked(bakers("bread flour 100", "water 60"), loss=0.10)
    assert piece.mass == pytest.approx(0.9)
    assert piece.solids_lost == 0.0
    assert piece.moisture / (1 + piece.moisture) == pytest.approx((73.36 / 160 - 0.1) / 0.9)


def test_loss_and_moisture_are_two_ways_to_one_piece() -> None:
    one = baked(BREAD, loss=0.11)
    other = baked(BREAD, moisture=one.moisture)
    assert other.loss == pytest.approx(0.11)
    assert dict(other.parts) == pytest.approx(dict(one.parts))


def test_yeast_takes_sugar_and_leaves_as_much_less_as_its_gas_and_alcohol() -> None:
    """C6H12O6 -> 2 C2H5OH + 2 CO2: all of the glucose used leaves as the two."""
    spec, formula = dough_of(BREAD)
    proved = fermented(spec, formula, leaveners_of(spec, formula))
    assert proved is not None
    piece = baked(BREAD, loss=0.11)
    before = dough_parts(formula, leaveners_of(spec, formula))
    assert before["sugars"] - piece.parts["sugars"] == pytest.approx(proved.glucose)
    assert piece.solids_lost == pytest.approx(proved.glucose, rel=1e-9)
    assert proved.ethanol / proved.glucose == pytest.approx(0.511, abs=0.001)  # 2 x 46.07 / 180.16
    assert 0 < piece.alcohol_at_most < proved.ethanol


def test_soda_with_acid_loses_its_gas_and_its_water_and_ammonium_all() -> None:
    """Per mol NaHCO3 + H+: 44.01 g CO2 and 18.02 g water of 84.01 g; NH4HCO3 (79.06 g) gives 18.02 g of water."""
    text = bakers("biscuit flour 100", "water 20", "baking soda 1", "SAPP 28 1.4", "ammonium bicarbonate 1")
    spec, formula = dough_of(text)
    before = dough_parts(formula, leaveners_of(spec, formula))
    piece = baked(text, moisture=0.02)
    soda = 1 / 123.4
    gone = soda / 84.007 * (44.0095 + 18.0153) + 1 / 123.4
    assert before["ash and leavening salts"] - piece.parts["ash and leavening salts"] == pytest.approx(
        gone, rel=1e-3
    )


def test_more_cannot_be_baked_out_than_there_is() -> None:
    with pytest.raises(HardtackError, match="more than the dough has to give"):
        baked(BREAD, loss=0.6)
    with pytest.raises(HardtackError, match="cannot come out with"):
        baked(SHORTBREAD, moisture=0.9)


BANDS = [
    # formula of the usual kind, how far it is baked, the USDA finished good, and by how much (relative) it may differ
    (
        BREAD,
        {"loss": 0.11},
        "White bread, commercial",
        {"water": 0.10, "protein": 0.20, "fat": 0.35, "salt": 0.35},
    ),
    (CRACKER, {"moisture": 0.0531}, "Saltine/soda crackers", {"protein": 0.25, "fat": 0.35, "salt": 0.5}),
    (SHORTBREAD, {"moisture": 0.0384}, "Shortbread cookies", {"protein": 0.25, "fat": 0.25, "sugars": 0.35}),
    (GINGER, {"moisture": 0.056}, "Gingersnaps", {"protein": 0.25, "fat": 0.30, "sugars": 0.60}),
]


@pytest.mark.parametrize(("text", "how", "good", "bands"), BANDS, ids=[case[2] for case in BANDS])
def test_baked_pieces_lie_near_the_finished_goods_of_the_usda(
    text: str, how: dict[str, float], good: str, bands: dict[str, float]
) -> None:
    """USDA compositions as bands: its formulas are not published, ours are ordinary ones of the kind."""
    row = reference.lookup("finished goods", good)
    piece = baked(text, **how)
    published = {
        "water": row["water"],
        "protein": row["protein"],
        "fat": row["fat"],
        "sugars": row["sugars"],
        "salt": row["sodium"] * 58.443 / 22.990,
    }
    for part, band in bands.items():
        computed = piece.parts[part] / piece.mass
        assert computed == pytest.approx(published[part], rel=band), (part, computed, published[part])


def eaten(text: str) -> tuple[Formula, Formula, float]:
    """The formula as mixed and after the yeast, and the glucose [kg per kg of dough] that went."""
    spec, formula = dough_of(text)
    proved = fermented(spec, formula, leaveners_of(spec, formula))
    return formula, fermented_out(formula, proved), proved.glucose if proved else 0.0


def test_sugar_the_yeast_took_is_off_the_dry_matter() -> None:
    """Sucrose 342.30 g/mol gives two glucose, 360.31 g: 1 g of glucose eaten is 0.950 g of sucrose; lactose stays."""
    mixed, left, glucose = eaten(BREAD)
    per_dough = mixed.composition.dry_mass * (1.0 + mixed.moisture)
    assert glucose > 0.004
    sugars, after = mixed.composition.sugars, left.composition.sugars
    gone = {name: (sugars[name] - after[name]) / per_dough for name in sugars}
    assert gone["lactose"] == 0.0
    as_glucose = sum(
        mass * {"sucrose": 1 / 0.95, "maltose": 1 / 0.95}.get(name, 1.0) for name, mass in gone.items()
    )
    assert as_glucose == pytest.approx(glucose, rel=1e-3)
    assert left.composition.starch == mixed.composition.starch  # there was sugar enough


def test_without_sugar_the_yeast_takes_starch_and_without_yeast_nothing_goes() -> None:
    lean = bakers("bread flour 100", "water 60", "fresh yeast 3",
                  keys=", ferments: [{stage: proof, lasts: 90 min, temperature: 36 degC}]")  # fmt: skip
    mixed, left, glucose = eaten(lean)
    per_dough = mixed.composition.dry_mass * (1.0 + mixed.moisture)
    food = sum(mixed.composition.sugars.values()) / per_dough
    gone = (mixed.composition.starch - left.composition.starch) / per_dough
    assert sum(left.composition.sugars.values()) == pytest.approx(0.0, abs=1e-12)
    assert gone == pytest.approx(0.9 * (glucose - food), rel=0.08)  # 162.14 of starch for 180.16 of glucose
    still, same, none = eaten(SHORTBREAD)
    assert same is still
    assert none == 0.0
