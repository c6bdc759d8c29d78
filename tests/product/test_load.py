"""Good product files come through whole, in SI, with their origin and their lines."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from hardtack.errors import HardtackError
from hardtack.product import (
    BarrierSpec,
    DiffusivitySpec,
    FilmSpec,
    IsothermSpec,
    LayerSpec,
    Product,
    load,
    loads,
)
from hardtack.sourced import Sourced

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def cracker() -> Product:
    return load(HERE / "cracker.yaml")


@pytest.fixture(scope="module")
def sandwich() -> Product:
    return load(HERE / "sandwich.yaml")


def only_layer(product: Product) -> LayerSpec:
    (layer,) = product.piece.layers
    assert isinstance(layer, LayerSpec)
    return layer


def test_values_arrive_in_si(cracker: Product) -> None:
    assert cracker.piece.thickness is not None
    assert cracker.piece.thickness.value == pytest.approx(0.0045)
    assert cracker.piece.mass.value == pytest.approx(0.0076)
    layer = only_layer(cracker)
    assert layer.moisture is not None
    assert layer.moisture.value == pytest.approx(0.026 / 0.974)  # dry basis from wet basis, by definition
    assert layer.moisture.sd == pytest.approx(0.028 / 0.972 - 0.026 / 0.974)
    assert cracker.pack is not None
    assert isinstance(cracker.pack.film, FilmSpec)
    assert cracker.pack.film.transmission is not None
    assert cracker.pack.film.transmission.value == pytest.approx(4.2e-3 / 86400)
    assert cracker.pack.headspace.value == pytest.approx(250e-6)


def test_a_number_knows_where_it_comes_from(cracker: Product) -> None:
    layer = only_layer(cracker)
    assert layer.moisture is not None
    assert (layer.moisture.provenance, layer.moisture.source) == ("measured here", "oven 105 degC, 3 pans")
    assert layer.activity is not None
    assert layer.activity.provenance == "invented"
    assert layer.activity.source == "example (cracker.yaml:16)"
    assert layer.activity.written == "0.17"


@pytest.mark.parametrize(
    ("origin", "mass", "provenance", "source"),
    [
        ("", "7.6 g", "assumed", "given in product file:{}, origin not stated"),
        ("origin: seen", "7.6 g", "seen", "given in product file:{}"),
        ("origin: seen, trial 12", "7.6 g", "seen", "trial 12 (product file:{})"),
        ("origin: seen, trial 12", "7.6 g [measured here]", "measured here", "given in product file:{}"),
        ("origin: seen", "{value: 7.6 g, from: measured here}", "measured here", "given in product file:{}"),
        ("origin: seen", "{value: 7.6 g, source: ten pieces}", "seen", "ten pieces"),
        ("", "7.6 g [from memory, old sheet]", "from memory", "old sheet"),
    ],
)
def test_origin_of_a_number(origin: str, mass: str, provenance: str, source: str) -> None:
    text = (HERE / "cracker.yaml").read_text("utf-8")
    text = text.replace("origin: invented, example", origin).replace("mass: 7.6 g", f"mass: {mass}")
    line = next(i for i, row in enumerate(text.splitlines(), 1) if "mass:" in row)
    found = loads(text).piece.mass
    assert (found.provenance, found.source) == (provenance, source.format(line))


def test_one_layer_is_the_whole_piece(cracker: Product) -> None:
    layer = only_layer(cracker)
    assert layer.share.value == 1.0
    assert layer.thickness == cracker.piece.thickness
    assert cracker.limits is not None
    assert cracker.limits.crispness is not None
    assert cracker.limits.crispness.layer == "cracker"
    assert cracker.piece.ends == (True, True)


def test_a_layer_takes_what_the_others_leave(sandwich: Product) -> None:
    filling = sandwich.piece.layers[2]
    assert isinstance(filling, LayerSpec)
    assert filling.share.value == pytest.approx(0.35)
    assert filling.thickness.value == pytest.approx(0.012 - 0.004 - 0.0003 - 0.004)
    assert filling.thickness.source == "what the other layers leave of 12 mm"
    film = sandwich.piece.layers[1]
    assert isinstance(film, BarrierSpec)
    assert film.thickness is not None
    assert film.thickness.value == pytest.approx(0.0003)


def test_a_round_piece_counts_from_centre_to_surface() -> None:
    text = (HERE / "cracker.yaml").read_text("utf-8")
    text = text.replace("shape: slab", "shape: sphere").replace("thickness: 4.5 mm", "diameter: 9 mm")
    text = text.replace("  length: 60 mm\n  width: 50 mm\n", "")
    product = loads(text)
    assert only_layer(product).thickness.value == pytest.approx(0.0045)
    assert product.piece.ends == (False, True)


def test_isotherms_written_out(cracker: Product, sandwich: Product) -> None:
    gab = only_layer(cracker).isotherm
    assert isinstance(gab, IsothermSpec)
    assert {name: amount.value for name, amount in gab.parameters.items()} == pytest.approx(
        {"Xm": 0.04, "C": 10.0, "K": 0.9}
    )
    assert gab.isosteric_heat is not None
    assert gab.isosteric_heat.value == 5000
    assert gab.range is not None
    assert (gab.range.low, gab.range.high) == (0.05, 0.90)
    peleg = sandwich.piece.layers[0].isotherm  # type: ignore[union-attr]
    assert isinstance(peleg, IsothermSpec)
    assert peleg.enthalpies["C1"].value == 2000
    table = sandwich.piece.layers[2].isotherm  # type: ignore[union-attr]
    assert isinstance(table, IsothermSpec)
    assert [a.value for a in table.points] == [0.11, 0.33, 0.60, 0.75]
    assert [X.value for X in table.points.values()] == pytest.approx([0.024, 0.046, 0.12, 0.20])


def test_names_of_the_shelf_stay_names(sandwich: Product) -> None:
    filling, shell = sandwich.piece.layers[2], sandwich.piece.layers[3]
    assert isinstance(filling, LayerSpec)
    assert isinstance(shell, LayerSpec)
    assert shell.isotherm == "sweet biscuit"
    assert filling.diffusivity == "filling"
    assert sandwich.pack is not None
    assert sandwich.pack.film == "metallised OPP"
    assert sandwich.pack.whole_pack_factor == "flow pack"


def test_a_quantity_as_a_mapping(sandwich: Product) -> None:
    mass = sandwich.piece.mass
    assert (mass.value, mass.low, mass.high) == pytest.approx((0.021, 0.020, 0.022))
    shell = sandwich.piece.layers[0]
    assert isinstance(shell, LayerSpec)
    assert shell.moisture is not None
    assert shell.moisture.sd == pytest.approx(0.027 / 0.973 - 0.025 / 0.975)
    assert (shell.moisture.provenance, shell.moisture.source) == ("measured here", "three pans")
    assert isinstance(shell.diffusivity, DiffusivitySpec)
    assert shell.diffusivity.rises_with_moisture is not None
    assert shell.diffusivity.rises_with_moisture.value == 8


@pytest.mark.parametrize(
    ("written", "sd"),
    [
        ("{value: 7.6 g, sd: 300 mg}", None),
        ("{value: 7.6 g, sd: 0.3}", 0.0003),
        ("{value: 7.6 g, sd: 0.3 g}", 0.0003),
    ],
)
def test_the_sd_is_in_the_unit_of_the_value(written: str, sd: float | None) -> None:
    text = (HERE / "cracker.yaml").read_text("utf-8").replace("mass: 7.6 g", f"mass: {written}")
    if sd is None:
        with pytest.raises(HardtackError, match="the sd is in 'mg'"):
            loads(text)
    else:
        assert loads(text).piece.mass.sd == pytest.approx(sd)


def test_an_sd_of_a_temperature_in_kelvin() -> None:
    text = (HERE / "cracker.yaml").read_text("utf-8")
    text = text.replace("temperature: 23 degC", "temperature: {value: 23 degC, sd: 1.5 K}")
    course = loads(text).journey[1].temperature
    assert course is not None
    assert (course.mean.value, course.mean.sd) == pytest.approx((296.15, 1.5))


def test_the_journey(cracker: Product) -> None:
    sea, table, shop = cracker.journey
    assert sea.temperature is not None
    assert sea.temperature.highest_at == datetime.time(14, 0)
    assert sea.temperature.highest_on == (7, 20)
    assert sea.humidity is not None
    assert sea.humidity.daily_swing is not None
    assert sea.humidity.daily_swing.value == pytest.approx(-0.15)
    assert table.unpacked
    assert isinstance(table.lasts, Sourced)
    assert table.lasts.value == 8 * 3600
    assert isinstance(table.outside_film_coefficient, Sourced)
    assert table.outside_film_coefficient.value == pytest.approx(0.003)
    assert (shop.climate, shop.lasts) == ("zone IVb", "until it fails")


def test_text_stays_text_as_yaml_1_2_says(cracker: Product, sandwich: Product) -> None:
    assert cracker.packed_on == datetime.date(2026, 6, 1)
    assert cracker.notes == "free\ntext: here\n"
    assert sandwich.journey[0].temperature is not None
    assert sandwich.journey[0].temperature.highest_at == datetime.time(15, 0)  # not 900 minutes
    text = (HERE / "cracker.yaml").read_text("utf-8")
    for word in ("no", "2026-06-01", "12:30", "true", "1_000", "0o14", ".nan"):
        assert loads(text.replace("name: Tidewater lean cracker", f"name: {word}")).name == word


def test_every_value_has_its_line(cracker: Product) -> None:
    rows = (HERE / "cracker.yaml").read_text("utf-8").splitlines()
    assert rows[cracker.lines["piece", "layers", 0, "moisture"] - 1].strip().startswith("moisture:")
    assert rows[cracker.lines["journey", 2, "climate"] - 1].strip() == "climate: zone IVb"
    assert rows[cracker.lines["journey", 1] - 1].strip() == "- leg: open on the table"
    assert cracker.file == HERE / "cracker.yaml"


def test_a_product_does_not_change(cracker: Product) -> None:
    with pytest.raises(ValueError, match="frozen"):
        cracker.name = "another"
    with pytest.raises(TypeError):
        cracker.lines["name",] = 3  # type: ignore[index]


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_byte_order_mark_and_windows_line_ends(tmp_path: Path, mark: bytes) -> None:
    data = (HERE / "cracker.yaml").read_bytes().replace(b"\n", b"\r\n")
    (tmp_path / "x.yaml").write_bytes(mark + data)
    assert load(tmp_path / "x.yaml").name == "Tidewater lean cracker"


def test_anchors_may_be_used() -> None:
    text = (HERE / "cracker.yaml").read_text("utf-8")
    text = text.replace("length: 60 mm", "length: &size 60 mm").replace("width: 50 mm", "width: *size")
    piece = loads(text).piece
    assert piece.width is not None
    assert piece.width.value == pytest.approx(0.06)
