"""The typed builders, and the data against values printed elsewhere."""

from __future__ import annotations

import math

import pytest

from hardtack import reference
from hardtack.errors import NotOnShelf
from hardtack.units import convert

ISOTHERMS = [row.name for row in reference.rows("isotherms")]


@pytest.mark.parametrize("name", ISOTHERMS)
def test_isotherms_can_be_built_and_say_branch_and_range(name: str) -> None:
    built = reference.isotherm(name)
    assert "sorption" in reference.lookup("isotherms", name).conditions
    low, high = built.activity_range
    assert 0.0 <= low < high < 1.0
    assert built.heat is not None
    assert 273.15 <= built.reference_temperature <= 373.15
    if built.form == "table":
        moistures = [X for _, X in built.points]
        assert moistures == sorted(moistures)
        assert len(built.points) >= 5
    if built.form == "gab":
        assert set(built.parameters) == {"Xm", "C", "K"}
        assert 0.0 < built.parameters["K"] <= 1.2


@pytest.mark.parametrize("row", reference.rows("films"), ids=lambda row: row.name)
def test_films_carry_their_test_condition_and_temperature_law(row: reference.Row) -> None:
    film = reference.film(row.name)
    assert {"transmission", "temperature", "humidity_wet", "humidity_dry", "E"} <= set(film.values)
    assert film["humidity_wet"] > film["humidity_dry"]
    # From a metal coat to EVOH in damp air, the trade's films span 0.01 to 1000 g/m2/day.
    assert (0.0001 if row.name == "tinplate" else 0.005) <= film["transmission"] * 1e3 * 86400 <= 1001


KINDS_OF_PRODUCT = (
    "soda cracker",
    "saltine",
    "hardtack",
    "hard-dough biscuit",
    "soft-dough biscuit",
    "sweet biscuit",
    "shortbread",
    "wafer",
    "filled wafer",
    "crispbread",
    "rusk",
    "bread crust",
)


@pytest.mark.parametrize("kind", KINDS_OF_PRODUCT)
def test_a_crisp_product_has_isotherm_diffusivity_and_limit(kind: str) -> None:
    row = reference.crispness_limit(kind)
    assert 0.3 <= row["limit"] <= 0.6
    assert reference.isotherm(kind)
    assert reference.isotherm(row.see)
    assert 1e-13 < reference.diffusivity(kind).D_ref < 1e-9


def _gab(name: str, a: float) -> float:
    p = reference.isotherm(name).parameters
    Ka = p["K"] * a
    return p["Xm"] * p["C"] * Ka / ((1 - Ka) * (1 - Ka + p["C"] * Ka))


@pytest.mark.parametrize(
    "row",
    [row for row in reference.rows("crispness limits") if {"limit", "X_limit"} <= set(row.values)],
    ids=lambda row: row.name,
)
def test_a_limit_in_activity_and_in_moisture_agree_by_the_isotherm(row: reference.Row) -> None:
    """Each row gives both; generic isotherms are worth no more than a quarter of the moisture."""
    assert _gab(row.see, row["limit"]) == pytest.approx(row["X_limit"], rel=0.25)


@pytest.mark.parametrize(
    ("name", "a", "X", "tolerance"),
    [
        # A thesis on biscuits, appendix 6, 30 degC; the row is a fit to these, stated deviation 1.8 %.
        ("soft-dough biscuit", 0.324, 0.0410, 0.03),
        ("soft-dough biscuit", 0.560, 0.0890, 0.03),
        ("soft-dough biscuit", 0.751, 0.1643, 0.03),
        ("soft-dough biscuit", 0.836, 0.2342, 0.05),
        ("soft-dough biscuit", 0.923, 0.3073, 0.03),
        # Fitria 2007: critical moisture 0.0688 at aw 0.474 (hard dough); two figures on the second place.
        ("hard-dough biscuit", 0.474, 0.0688, 0.02),
        # Primo-Martin et al. 2008, toasted rusk roll: 6.2 % and 9.1 % water; the row says within 10 %.
        ("rusk", 0.46, 0.062 / 0.938, 0.10),
        ("rusk", 0.57, 0.091 / 0.909, 0.10),
        # Two makes of filled wafer, critical moisture and activity; two makes differ by more than this.
        ("filled wafer", 0.517, 0.0412, 0.10),
        ("filled wafer", 0.541, 0.0466, 0.10),
        # Whole wheat, 13.0 % wet basis at about 65 % ERH, 24-27 degC, extension advice: kind differs.
        ("wheat flour", 0.65, 0.130 / 0.870, 0.10),
    ],
)
def test_isotherm_rows_pass_where_products_were_measured(
    name: str, a: float, X: float, tolerance: float
) -> None:
    assert _gab(name, a) == pytest.approx(X, rel=tolerance)


def test_other_builders() -> None:
    E = reference.diffusivity("cracker").E
    assert pytest.approx(51000.0) == E  # Tong and Lund 1990, biscuit
    coat = reference.barrier("stearic acid film", 25.4e-6)
    # Hagenmaier and Shaw 1990: 0.17 g mil/m2/day/mmHg, one mil thick.
    assert coat.permeance == pytest.approx(convert(0.17, "g/m2/day/mmHg", "kg/m2/s/Pa"))
    temperature, humidity = reference.climate("zone IVb")
    assert (temperature.value, humidity.value) == (303.15, 0.75)
    assert reference.whole_pack_factor("flow wrap").high == 3.0
    assert 1e-3 < reference.film_coefficient().value < 1e-2
    limits = [row["a_min"] for row in reference.growth_limits()]
    assert limits == sorted(limits)
    assert limits[0] == pytest.approx(0.60)  # Xeromyces bisporus, Banwart 1989: 0.60-0.61
    with pytest.raises(NotOnShelf):
        reference.film("gold leaf")


def test_rusk_sigmoid_follows_from_its_two_published_loss_levels() -> None:
    """Primo-Martin et al. 2008: 10 % loss at aw 0.46, 50 % at 0.57, so b = 0.11 / ln 9."""
    row = reference.crispness_limit("rusk")
    assert row["b"] == pytest.approx((0.57 - 0.46) / math.log(9), abs=5e-4)
    assert reference.isotherm(row.see).name == "rusk"


def _polynomial(name: str, t: float) -> float:
    row = reference.lookup("salt polynomials", name)
    terms = (row.values[key].value if key in row.values else 0.0 for key in ("a0", "a1", "a2", "a3"))
    return sum(a * t**power for power, a in enumerate(terms))


TABULATED = {row.name: row for row in reference.rows("salt humidities")}


@pytest.mark.parametrize(
    "name", [row.name for row in reference.rows("salt polynomials") if row.name in TABULATED]
)
def test_salt_polynomials_give_the_tabulated_humidities(name: str) -> None:
    """Greenspan's own table prints 0.1 %RH; half a digit and the copying of it make 0.11 %RH."""
    for symbol, amount in TABULATED[name].values.items():
        t = float(symbol.removeprefix("RH at ").removesuffix(" degC"))
        assert _polynomial(name, t) == pytest.approx(amount.value * 100, abs=0.11)


def test_sodium_chloride_polynomial_is_the_familiar_75_3_percent() -> None:
    """Greenspan 1977: 75.3 %RH over sodium chloride at 25 degC."""
    assert _polynomial("NaCl", 25.0) == pytest.approx(75.3, abs=0.06)


def test_handbook_exponentials_give_familiar_humidities() -> None:
    """CRC Handbook form, stated accuracy 2 %RH, against Greenspan's tabulated values at 25 degC."""
    for name, greenspan in (("NaCl", 75.3), ("KCl", 84.3), ("MgCl2.6H2O", 32.8), ("KI", 68.9)):
        row = reference.lookup("salt exponentials", name)
        assert row["A"] * math.exp(row["B"] / 298.15) == pytest.approx(greenspan, abs=2.0)
