"""Whole bakes of the examples against the trade's tables, and what is handed to storage."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

import hardtack
from hardtack.errors import HardtackError
from hardtack.oven import Baked, Factors, bake, baked_piece, calibrate, layers_of, settled, to_moisture, words
from hardtack.oven.baking import dough_of
from hardtack.oven.calibration import NAMES
from hardtack.oven.handover import at_packing, crust
from hardtack.oven.solving import across_the_band
from hardtack.product import Product, loads
from hardtack.reference import lookup
from hardtack.transport.bake_march import boiling_point
from hardtack.units import wet_basis
from tests.house.tree import ROOT

EXAMPLES = ("cracker", "hard-biscuit", "crispbread", "seeded-gluten-free-cracker", "loaf", "cake")


@cache
def product(name: str) -> Product:
    return hardtack.load(ROOT / "examples" / f"bake-{name}.yaml")


@cache
def baked(name: str) -> Baked:
    return bake(product(name))


def changed(name: str, change: Callable[[str], str]) -> Product:
    return loads(change((ROOT / "examples" / f"bake-{name}.yaml").read_text("utf-8")))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_bake_closes_and_stays_in_bounds(name: str) -> None:
    done = baked(name)
    assert done.march.water_imbalance <= 1e-12
    assert done.march.energy_imbalance <= 1e-12
    for share in (done.gelatinised, done.setting, done.lift.given, done.lift.steam):
        assert share.min() >= 0.0
        assert share.max() <= 1.0 + 1e-12
    lost = (done.formula.moisture - done.moisture) / (1.0 + done.formula.moisture)
    assert done.loss + done.cooling_loss == pytest.approx(lost, abs=1e-12)


def test_a_lean_loaf_ends_where_loaves_end() -> None:
    """Ranges of the trade (also what the shelf's paths of vapour were chosen within, so no evidence)."""
    done = baked("loaf")
    core = lookup("baked ends", "lean loaf").values["core"]  # 93 to 99 degC, two baking references
    assert core.low is not None
    assert core.high is not None
    assert core.low <= done.core[done.out] <= core.high
    loss = lookup("baked ends", "bake-out loss").values["loss"]  # 9.8 to 11.5 % with cooling, Baking & Snack
    assert loss.low is not None
    assert loss.high is not None
    assert loss.low <= done.loss + done.cooling_loss <= loss.high
    thick = crust(done)
    assert thick is not None
    assert 0.006 <= thick <= 0.009  # Jusoh et al. 2009: 6 to 9 mm
    inside = done.march.temperature[: done.out + 1, done.core_cell]
    assert np.all(
        inside <= boiling_point(0.9) + 0.3
    )  # the wet crumb does not pass the boiling point (fact of the trade)


def test_the_loafs_centre_gains_water_before_its_plateau() -> None:
    done = baked("loaf")
    centre = done.march.moisture[: done.out + 1, 0]
    assert centre.max() > centre[0] + 0.02
    first = int(np.argmax(centre > centre[0] + 0.01))
    # from when its pores open (71 to 81 degC, Zhang et al. 2025, later with salt), well before it boils
    assert 344.15 < done.march.temperature[first, 0] < boiling_point(0.97) - 10.0
    assert done.gelatinised[done.out, : done.core_cell + 1].min() > 0.95  # bread 95 to 100 % (from memory)


def test_a_cracker_comes_out_as_crackers_do() -> None:
    # tunnel-oven tables (Davidson; Biscuit People): from 15-25 % dough to 1.5-2.5 % in 2.5 to 5 min; crackers as a class
    # hold 1 to 5 %; USDA standard snack crackers 2.91 % as sold
    done = baked("cracker")
    assert 0.01 <= wet_basis(done.exit_moisture) <= 0.05
    assert done.lift.timing == "in time"
    # USDA rye crispbread 6.10 %: a crispbread as baked here
    assert wet_basis(baked("crispbread").moisture) == pytest.approx(0.061, abs=0.02)


def test_hotter_longer_and_drier_air_all_dry_it() -> None:
    plain = baked("cracker").exit_moisture
    hotter = bake(changed("cracker", lambda text: text.replace("230 degC", "245 degC"))).exit_moisture
    longer = bake(changed("cracker", lambda text: text.replace("lasts: 40 s", "lasts: 60 s"))).exit_moisture
    stronger = bake(product("cracker"), Factors(heat=1.1)).exit_moisture
    assert max(hotter, longer, stronger) < plain


def test_fahrenheit_is_read_as_fahrenheit() -> None:
    zone = product("seeded-gluten-free-cracker").oven
    assert zone is not None
    assert zone.zones[0].temperature.value == pytest.approx(340 * 5 / 9 + 459.67 * 5 / 9)


def test_soda_alone_splits_by_heat_and_leaves_alkali() -> None:
    """Fact of the trade, no source: soda gives up carbon dioxide by heat alone above about 93 degC / 200 degF."""
    alone = bake(
        changed(
            "cracker", lambda text: text.replace("      - {ingredient: cream of tartar, amount: 1.0 %}\n", "")
        )
    )
    assert alone.lift.soda_split > 0.03
    assert alone.lift.late > baked("cracker").lift.late
    assert any("200 °F" in line for line in words.advice(alone))
    # Wu & Shih and Ball agree that within minutes dry soda matters only above 100-110 degC: cooler bakes split less
    cool = bake(
        changed(
            "cracker",
            lambda text: (
                text.replace("      - {ingredient: cream of tartar, amount: 1.0 %}\n", "")
                .replace("220 degC", "120 degC")
                .replace("230 degC", "120 degC")
            ),
        )
    )
    assert cool.lift.soda_split < alone.lift.soda_split / 5


def test_a_late_gas_is_called_late() -> None:
    alone = changed(
        "cracker",
        lambda text: text.replace(
            "cream of tartar, amount: 1.0 %",
            "dicalcium phosphate dihydrate, amount: 0.1 %, composition: {ash: 100 %}",
        ),
    )
    done = bake(alone)
    assert done.lift.late > 0.3
    assert done.lift.timing == "too late"
    assert any("faster acid" in line and "more sugar" in line for line in words.advice(done))


def test_steam_lift_wants_a_hot_oven() -> None:
    """Fact of the trade, no source: steam lift wants a wet dough and about 230 degC / 450 degF or more."""

    def without(text: str) -> str:
        return "\n".join(
            line for line in text.splitlines() if "baking soda" not in line and "cream of tartar" not in line
        ).replace("oven: direct gas tunnel oven", "sheets: 81\n  oven: direct gas tunnel oven")

    cool = bake(
        changed(
            "cracker",
            lambda text: without(text).replace("230 degC", "200 degC").replace("220 degC", "200 degC"),
        )
    )
    assert any("450 °F" in line for line in words.advice(cool))
    hot = bake(changed("cracker", lambda text: without(text).replace("220 degC", "250 degC")))
    assert not any("450 °F" in line for line in words.advice(hot))


def test_sugar_sets_walls_later() -> None:
    sweet = bake(changed("cake", lambda text: text))
    lean = bake(
        changed(
            "cake",
            lambda text: text.replace(
                "{ingredient: sugar, amount: 95 %}", "{ingredient: sugar, amount: 20 %}"
            ),
        )
    )
    assert sweet.lift.set_at is not None
    assert lean.lift.set_at is not None
    assert sweet.lift.set_at > lean.lift.set_at


def test_layers_share_all_water_and_dry_mass() -> None:
    done = baked("loaf")
    layers = layers_of(done)
    assert [layer.name for layer in layers] == ["crumb", "rim"]
    assert sum(layer.dry_mass for layer in layers) == pytest.approx(done.dry_mass, rel=1e-12)
    water = sum(layer.dry_mass * layer.moisture for layer in layers)
    assert water == pytest.approx(done.moisture * done.dry_mass, rel=1e-12)
    assert layers[0].moisture > 2 * layers[1].moisture
    assert sum(layer.thickness for layer in layers) == pytest.approx(0.049)


def test_the_statement_runs_from_formula_to_climate() -> None:
    statement = hardtack.keep(product("cracker"))
    assert statement.first is not None
    assert 10 < statement.first.time / 86400 < 400  # type: ignore[operator]
    assert any("From the bake" in line for line in statement.cautions)
    piece, used, _ = baked_piece(product("cracker"))
    (layer,) = piece.layers
    assert layer.moisture == pytest.approx(baked("cracker").moisture)
    assert layer.isotherm.branch == "desorption"
    assert any("dough piece" in number.what for number in used)


def test_a_measured_moisture_wins() -> None:
    given = changed(
        "cracker",
        lambda text: text.replace("formula: cracker dough}", "formula: cracker dough, moisture: 3 %wb}"),
    )
    same, used, said = settled(given)
    assert same is given
    assert used == ()
    assert said == ()


def test_cooling_and_packing() -> None:
    end = at_packing(baked("cracker"))
    assert end.checking is not None
    assert "rule of thumb" in end.checking
    assert end.cool_after is None  # 6 min are too short for 30 degC
    longer = bake(
        changed(
            "cracker",
            lambda text: text.replace(
                "{lasts: 6 min, temperature: 28 degC", "{lasts: 40 min, temperature: 24 degC"
            ),
        )
    )
    after = at_packing(longer).cool_after
    assert after is not None
    assert at_packing(baked("loaf")).checking is None  # bread does not check


def test_how_long_and_how_hot() -> None:
    found = to_moisture(product("cracker"), 0.04)
    assert found.longer is not None
    assert found.hotter is not None
    assert found.longer.exit_moisture == pytest.approx(0.04, abs=2e-4)
    assert found.hotter.exit_moisture == pytest.approx(0.04, abs=2e-4)
    assert found.time_factor is not None
    assert found.time_factor < 1.0
    assert found.shift is not None
    assert found.shift < 0.0
    places = across_the_band(product("cracker"))
    assert places[0].moisture > baked("cracker").exit_moisture > places[1].moisture


def test_calibration_finds_the_factors_it_was_given() -> None:
    """An inverse check: measurements made with known factors give them back within their own standard deviations."""
    true = Factors(heat=1.15, dry_path=0.8, wet_path=1.0)
    made = bake(product("loaf"), true)
    core = "\n".join(
        f"      - {{at: {t} s, temperature: {made.march.temperature[:, 0][int(t / 15)] - 273.15:.3f} ± 0.5 degC}}"
        for t in (300, 450, 600, 750, 900, 1500)
    )
    text = f"  measured:\n    loss: {100 * made.loss:.4f} ± 0.05 %\n    core:\n{core}\npiece:\n"
    fit = calibrate(changed("loaf", lambda whole: whole.replace("piece:\n", text, 1)))
    found = np.log([fit.factors.heat, fit.factors.dry_path, fit.factors.wet_path])
    wanted = np.log([true.heat, true.dry_path, true.wet_path])
    assert np.all(np.abs(found - wanted) < 3 * fit.sd)
    assert fit.factors.heat == pytest.approx(1.15, rel=0.03)
    assert fit.factors.dry_path == pytest.approx(0.8, rel=0.1)
    assert np.all(np.linalg.eigvalsh(fit.covariance) > 0)
    assert np.allclose(np.diag(fit.correlation), 1.0)
    assert len(NAMES) == fit.covariance.shape[0]
    assert fit.misfit < 0.1


def test_what_cannot_be_baked_says_so() -> None:
    with pytest.raises(HardtackError, match="no oven"):
        bake(hardtack.load(ROOT / "examples" / "hard-biscuit-plain.yaml"))
    with pytest.raises(HardtackError, match="nothing was measured"):
        calibrate(product("cracker"))
    with pytest.raises(HardtackError, match="no formula is called"):
        bake(
            changed("cracker", lambda text: text.replace("formula: cracker dough\n", "formula: bun dough\n"))
        )
    with pytest.raises(HardtackError, match="denser than its ingredients"):
        bake(
            changed(
                "cracker", lambda text: text.replace("dough thickness: 2.0 mm", "dough thickness: 0.5 mm")
            )
        )
    with pytest.raises(HardtackError, match="nothing lies on"):
        bake(changed("cracker", lambda text: text.replace("lying on: wire mesh", "lying on: fan oven")))


def test_every_sentence_can_be_said() -> None:
    for name in EXAMPLES:
        done = baked(name)
        lines = [
            words.headline(done), *words.bake_lines(done), *words.lift_lines(done), *words.colour_lines(done),
            *words.cooling_lines(done), *words.kill_lines(done), *words.caution_lines(done),
        ]  # fmt: skip
        assert all(line.endswith((".", ")")) for line in lines)
        assert not any("nan" in line for line in lines)
        assert any("A model validates nothing" in line for line in lines)


def proved(text: str) -> str:
    """The loaf with a bulk fermentation and a proof in its file."""
    return text.replace(
        "fresh yeast, amount: 2.5 %}",
        "fresh yeast, amount: 2.5 %}\n    ferments:\n"
        "      - {stage: bulk, lasts: 60 min, temperature: 27 degC}\n"
        "      - {stage: proof, lasts: 50 min, temperature: 32 degC}",
    )


def test_what_yeast_took_before_the_oven_is_not_baked() -> None:
    """Sugar eaten is gone from the dry matter, its water is not: the balance of `hardtack.dough.baked.fermented_out`."""
    mixed = dough_of(product("loaf"))
    made = dough_of(changed("loaf", proved))
    assert made.proved is not None
    whole = mixed.formula.composition.dry_mass * (1.0 + mixed.formula.moisture)
    gone = mixed.formula.composition.dry_mass - made.formula.composition.dry_mass
    # flour has sugar of its own, the rest is starch, one water lighter
    assert 0.85 < gone / (made.proved.glucose * whole) <= 1.0
    water = [dough.formula.moisture * dough.formula.composition.dry_mass for dough in (mixed, made)]
    assert water[0] == pytest.approx(water[1], rel=1e-12)
    assert bake(changed("loaf", proved)).march.moisture[0, 0] == pytest.approx(made.formula.moisture)


def test_without_a_size_the_dough_has_the_gas_of_its_proof() -> None:
    def unsized(text: str) -> str:
        return text.replace("  dough density: 380 kg/m3 # proofed\n", "")

    plain, full = bake(changed("loaf", unsized)), bake(changed("loaf", lambda text: proved(unsized(text))))
    made = dough_of(changed("loaf", proved)).proved
    assert made is not None
    # the ideal gas at the dough's temperature, 31 degC, 560 g of dough
    gas = 0.560 * made.in_cells * 8.314 * 304.15 / 101325.0
    assert full.dough_volume - plain.dough_volume == pytest.approx(gas, rel=0.02)


def test_gas_lost_on_the_bench_does_not_lift() -> None:
    """A fast acid gives its gas at the mixer; what the file says is lost from there is subtracted."""

    def bench(kept: int) -> Callable[[str], str]:
        return lambda text: text.replace("cream of tartar, amount: 1.0 %}", "MCP, amount: 0.75 %}").replace(
            "\noven:\n",
            "    leavening: {bench: {lasts: 60 min, temperature: 24 degC, kept: "
            + str(kept)
            + " %}}\n\noven:\n",
            1,
        )

    none, all_of_it = bake(changed("cracker", bench(0))), bake(changed("cracker", bench(100)))
    assert none.lift.early > 0.4  # its dough rate of reaction is 60 %, some of the soda stays
    # kept is what saturates the water and fills the cells of the file's thickness; the rest has no place and is lost too
    assert 0.2 < all_of_it.lift.early < none.lift.early - 0.1
    assert all_of_it.lift.useful > none.lift.useful
    assert all_of_it.lift.carbon_dioxide == pytest.approx(none.lift.carbon_dioxide)
    assert any("lost before the oven" in line for line in words.lift_lines(none))


def test_every_temperature_is_said_on_both_scales() -> None:
    for name in EXAMPLES:
        done = baked(name)
        for line in (
            *words.bake_lines(done), *words.lift_lines(done), *words.colour_lines(done), *words.cooling_lines(done),
            *words.kill_lines(done), *words.caution_lines(done),
        ):  # fmt: skip
            assert ("°C" in line) == ("°F" in line), line
