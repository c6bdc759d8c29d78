"""Water at rest: doughs, layers, the glass, and the activity all come to share."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import hardtack
from hardtack.keeping.water_report import ROOM, TABLE, WaterReport, mixed_report, water_report
from hardtack.product import loads
from hardtack.water.isotherm import activity, moisture

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def sandwich() -> WaterReport:
    return water_report(hardtack.load(EXAMPLES / "formula-sandwich.yaml"))


def test_doughs_come_with_moisture_activity_and_error(sandwich: WaterReport) -> None:
    """Shell dough by hand: water of 100 g biscuit flour (11.85 %), 30 g water, 1.5 g salt (0.2 %), 4 g sugar (0.02 %),
    2 g milk powder (3.16 %), 1.5 g yeast (69 %), all USDA, in 151 g of dough."""
    shell, filling = sandwich.formulas
    water = 11.85 + 30 + 1.5 * 0.002 + 4 * 0.0002 + 2 * 0.0316 + 1.5 * 0.69
    assert shell.moisture / (1 + shell.moisture) == pytest.approx(water / 151, rel=1e-9)
    assert shell.hydration == pytest.approx(0.30)
    assert [line.bakers for line in shell.lines] == pytest.approx([1.0, 0.3, 0.12, 0.015, 0.04, 0.02, 0.015])
    assert 0.85 < shell.activity < 0.97
    assert shell.error > 0
    assert filling.hydration is None
    assert [line.bakers for line in filling.lines] == [None] * 6
    assert "rms" in filling.made


def test_layers_stand_on_their_isotherms(sandwich: WaterReport) -> None:
    assert sandwich.temperatures == pytest.approx((ROOM, 295.15))  # the journey keeps to 22 degC
    for layer in sandwich.layers:
        assert activity(layer.isotherm, layer.moisture, ROOM) == pytest.approx(layer.activity)
        for T, row in zip(sandwich.temperatures, layer.moistures, strict=True):
            assert row == pytest.approx([moisture(layer.isotherm, a, T) for a in TABLE])
            assert list(row) == sorted(row)  # type: ignore[type-var]
    assert sandwich.layers[1].activity == pytest.approx(0.55, abs=1e-6)


def test_all_come_to_share_one_activity_and_no_water_is_lost(sandwich: WaterReport) -> None:
    assert sandwich.rest is not None
    states = [layer.activity for layer in sandwich.layers]
    assert min(states) < sandwich.rest.activity < max(states)
    before = sum(layer.dry_mass * layer.moisture for layer in sandwich.layers)
    after = sum(layer.dry_mass * X for layer, X in zip(sandwich.layers, sandwich.rest.moistures, strict=True))
    assert after == pytest.approx(before, rel=1e-12)
    for layer, X in zip(sandwich.layers, sandwich.rest.moistures, strict=True):
        assert activity(layer.isotherm, X, ROOM) == pytest.approx(sandwich.rest.activity, abs=1e-6)


def test_the_glass_of_a_shell_is_hard_and_that_of_a_syrupy_filling_soft(sandwich: WaterReport) -> None:
    shell, filling, _ = (layer.glass for layer in sandwich.layers)
    assert shell is not None
    assert filling is not None
    assert shell.solids == ("starch", "gluten", "sucrose", "lactose")
    assert shell.activity is not None
    assert sandwich.layers[0].activity < shell.activity
    assert shell.Tg > ROOM
    assert filling.activity is not None
    assert sandwich.layers[1].activity > filling.activity
    assert filling.Tg < ROOM
    assert "sucrose" not in filling.solids  # taken for crystals


def test_wheat_starch_softens_at_room_temperature_near_the_measured_moisture() -> None:
    """Zeleznak and Hoseney 1987 (as the shelf cites it): Tg of wheat starch falls below room temperature above 22 %
    moisture. The phase of starch with a tenth of gluten softens there within 3 % of moisture."""
    text = (EXAMPLES / "formula-seeded-cracker.yaml").read_text("utf-8")
    head, _, tail = text.partition("    ingredients:\n")
    tail = tail[tail.index("piece:") :]
    lines = "    ingredients:\n      - {ingredient: corn starch, amount: 90 %, flour: yes}\n"
    lines += "      - {ingredient: gluten, amount: 10 %, flour: yes}\n"
    (layer,) = water_report(hardtack.loads(head + lines + tail)).layers
    assert layer.glass is not None
    assert layer.glass.moisture is not None
    assert layer.glass.moisture / (1 + layer.glass.moisture) == pytest.approx(0.22, abs=0.03)


def test_a_product_without_formulas_is_reported_too() -> None:
    report = water_report(hardtack.load(EXAMPLES / "crackers-opened-at-home.yaml"))
    assert report.formulas == ()
    assert report.rest is None
    assert report.temperatures == (ROOM,)  # the journey has more than one
    assert report.layers[0].glass is None
    assert report.layers[0].activity == pytest.approx(0.18)


def test_what_it_leans_on_is_about_water_only(sandwich: WaterReport) -> None:
    said = [item.what for item in sandwich.used]
    assert len(said) == len(set(said))
    assert "water activity of filling when packed" in said
    assert not any("diffusivity" in what or "thickness" in what for what in said)


def test_a_mixed_pack_conserves_water_and_counts_its_pieces(sandwich: WaterReport) -> None:
    products = [
        hardtack.load(EXAMPLES / name) for name in ("formula-sandwich.yaml", "formula-seeded-cracker.yaml")
    ]
    mixed = mixed_report(products)
    assert mixed.rest is not None
    before = sum(layer.dry_mass * layer.moisture for layer in mixed.layers)
    after = sum(layer.dry_mass * X for layer, X in zip(mixed.layers, mixed.rest.moistures, strict=True))
    assert after == pytest.approx(before, rel=1e-12)
    assert mixed.layers[0].dry_mass == pytest.approx(12 * sandwich.layers[0].dry_mass)
    for layer, X in zip(mixed.layers, mixed.rest.moistures, strict=True):
        assert activity(layer.isotherm, X, ROOM) == pytest.approx(mixed.rest.activity, abs=1e-6)


def test_a_piece_left_on_the_drying_branch_scans_into_the_wetting_one() -> None:
    """Same moisture: drier in activity than on the wetting branch at first, and near that branch when damp."""
    text = (EXAMPLES / "formula-seeded-cracker.yaml").read_text("utf-8")
    reports = {
        branch: water_report(loads(text.replace("branch: adsorption", f"branch: {branch}")))
        for branch in ("adsorption", "scanning")
    }
    wetting, between = (reports[name].layers[0] for name in ("adsorption", "scanning"))
    assert between.branch == "scanning"
    assert between.activity < wetting.activity
    assert between.isotherm.activity_sd == wetting.isotherm.activity_sd
    grid = np.linspace(0.1, 0.9, 30)
    low, path = (np.asarray(moisture(layer.isotherm, grid, ROOM)) for layer in (wetting, between))
    assert np.all(path >= low - 1e-4)
    assert path[-1] == pytest.approx(low[-1], rel=0.02)
    assert np.all(np.diff(activity(between.isotherm, np.linspace(0.01, 0.4, 3000), 323.15)) > 0)
