"""Water at rest: doughs, layers, the glass, and the activity all come to share."""

from __future__ import annotations

from pathlib import Path

import pytest

import hardtack
from hardtack.keeping.water_report import ROOM, TABLE, WaterReport, water_report
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
    assert shell.solids == ("starch", "gluten")
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
    report = water_report(hardtack.load(EXAMPLES / "lean-cracker-humid-coast.yaml"))
    assert report.formulas == ()
    assert report.rest is None
    assert report.temperatures == (ROOM,)  # the journey swings
    assert report.layers[0].glass is None
    assert report.layers[0].activity == pytest.approx(0.17)


def test_what_it_leans_on_is_about_water_only(sandwich: WaterReport) -> None:
    said = [item.what for item in sandwich.used]
    assert len(said) == len(set(said))
    assert "water activity of filling when packed" in said
    assert not any("diffusivity" in what or "thickness" in what for what in said)
