"""Facts of the trade, common practice without a source, and where published kinetics disagree with them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import hardtack
from hardtack.dough.fermentation import food_of
from hardtack.dough.soda import OPEN_CRUMB, extent, laws
from hardtack.oven import Baked, bake, words
from hardtack.oven.baking import dough_of
from hardtack.oven.colour import colour, difference, lightness
from hardtack.oven.kill_step import lethalities
from hardtack.oven.leavens import leavens_of
from hardtack.product import loads
from hardtack.transport.bake_march import boiling_point
from hardtack.units import ZERO_CELSIUS as C
from tests.house.tree import ROOT

EXAMPLES = (
    "cracker",
    "hard-biscuit",
    "crispbread",
    "seeded-gluten-free-cracker",
    "loaf",
    "cake",
    "puff-pastry",
)


@cache
def baked(name: str) -> Baked:
    return bake(hardtack.load(ROOT / "examples" / f"bake-{name}.yaml"))


@pytest.mark.parametrize("name", EXAMPLES)
def test_wet_crumb_does_not_pass_its_boiling_point(name: str) -> None:
    """Common practice, no source: every place, at every moment, as long as it is wet (activity 0.9 or more)."""
    march = baked(name).march
    wet = march.activity > 0.9
    assert wet.any()
    boils = np.vectorize(boiling_point)(march.activity[wet])
    # the bulk flow of steam needs a small over-pressure, 0.3 % of the air's and what it takes to push it out
    assert np.max(march.temperature[wet] - boils) < 1.0


def test_soda_alone_begins_to_give_gas_by_heat_near_93_degrees() -> None:
    """Common practice, no source: about 93 degC / 200 degF. By the three laws of the shelf that were measured there (Wu and
    Shih 1993, Ball et al. 1986) ten minutes split next to nothing at 60 degC, a few hundredths at 93 and most at 150."""
    for law in laws()[:3]:
        assert extent(law, 60 + C, 600.0) < 0.01
        assert extent(law, 93 + C, 600.0) < 0.06
        assert extent(law, 150 + C, 600.0) > 0.5
    assert max(extent(law, 93 + C, 600.0) for law in OPEN_CRUMB) > 0.03  # the quickest has begun


def test_crust_colour_by_rule_and_by_kinetics() -> None:
    """Common practice, no source: a well-browned crust has passed 150 degC / 300 degF, thin crackers colour lower. The two
    published laws disagree with that, and with each other, and the page says so."""
    minutes = np.linspace(0.0, 20 * 60.0, 200)
    at_150, at_110 = np.full(200, 150.0 + C), np.full(200, 110.0 + C)
    dry = np.full(200, 0.1)
    # Zanoni et al. 1995: a crust at 150 degC is half way browned after 20 min; Purlis and Salvadori see less than a tenth
    assert difference(minutes, at_150)[-1] / 52.0 > 0.4
    assert 1.0 - lightness(minutes, at_150, dry)[-1] / 85.0 < 0.25
    # crackers were seen to darken from 105 to 115 degC (Broyart, in Hui, Food Biochemistry): in five minutes neither law has
    # the 5 units an eye sees at a glance (from memory)
    five = minutes <= 300
    assert difference(minutes[five], at_110[five])[-1] < 5.0
    assert 85.0 - lightness(minutes[five], at_110[five], dry[five])[-1] < 1.0
    assert colour(minutes, at_150, dry).browned
    assert not colour(minutes, at_110, dry).browned
    said = " ".join(words.colour_lines(baked("cracker")))
    assert "300 °F" in said
    assert "thin crackers colour lower" in said
    assert "need not agree" in said


def long_proof(hours: int) -> Baked:
    text = (ROOT / "examples" / "bake-loaf.yaml").read_text("utf-8")
    return bake(
        loads(
            text.replace(
                "fresh yeast, amount: 2.5 %}",
                "fresh yeast, amount: 2.5 %}\n    ferments:\n"
                f"      - {{stage: bulk, lasts: {hours} h, temperature: 30 degC}}",
            )
        )
    )


def test_yeast_stops_when_its_sugar_is_used_up() -> None:
    """Gay-Lussac: C6H12O6 gives two carbon dioxide; a dough without sugar left gives none in the oven."""
    fed, starved = long_proof(1), long_proof(30)
    assert fed.lift.sugar_out_at is None
    assert starved.lift.sugar_out_at == 0.0
    assert starved.lift.given[-1] == pytest.approx(starved.lift.given[0])
    assert fed.lift.given[-1] > fed.lift.given[0]
    assert any("used up before the oven" in line for line in words.lift_lines(starved))
    assert any("More sugar" in line for line in words.advice(starved))
    product = starved.product
    dough = dough_of(product)
    assert dough.proved is not None
    assert not dough.proved.enough_sugar
    assert dough.proved.made == pytest.approx(2 * food_of(dough.formula) / 0.180156, rel=1e-6)
    left = leavens_of(product.formulas["bread dough"], dough.formula, dough.proved)
    assert left.food == pytest.approx(0.0, abs=1e-12)


def test_a_kill_is_told_with_the_activity_it_was_counted_at() -> None:
    """Half the time wet and cool, half dry and hot: nearly all of the kill is in the hot half, so its activity counts."""
    times = np.linspace(0.0, 600.0, 601)
    hot = (times > 300)[:, None]
    T, a = np.where(hot, 60.0 + C, 40.0 + C), np.where(hot, 0.6, 0.95)
    (found,) = lethalities(times, T, a, None, "hamburger bun dough, Salmonella")
    assert found.counted_at == pytest.approx(0.6, abs=0.01)
    lines = words.kill_lines(baked("loaf"))
    assert any("the test at 0.95" in line for line in lines)
    assert lines[-1].startswith("A model validates nothing: your process authority decides")


def test_a_gas_that_comes_too_early_asks_for_a_slower_acid_or_a_hotter_start() -> None:
    """A fast acid gives all its gas at the mixer; a dough that waits an hour and a half and keeps none of it has none left."""
    text = (ROOT / "examples" / "bake-cracker.yaml").read_text("utf-8")
    text = text.replace("cream of tartar, amount: 1.0 %}", "citric acid, amount: 0.5 %}")
    bench = "    leavening: {bench: {lasts: 90 min, temperature: 30 degC, kept: 0 %}}\n\noven:\n"
    done = bake(loads(text.replace("\noven:\n", bench, 1)))
    assert done.lift.timing == "too early"
    assert done.lift.early > 0.9
    assert any("slower acid" in line and "start hotter" in line for line in words.advice(done))
