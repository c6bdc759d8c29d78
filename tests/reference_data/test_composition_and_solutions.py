"""Compositions and solution constants against published values and plain arithmetic."""

from __future__ import annotations

import math

import pytest

from hardtack import reference

NOT_CLOSED = {
    "Vinegar, distilled",  # its acetic acid is in no column
    "Baking soda",  # the carbonate is in no column
    "Baker's yeast, compressed",  # 99.2 in the source itself
    "Rusk",  # 99.7 in the source itself
}


@pytest.mark.parametrize("topic", ["ingredients", "finished goods"])
def test_compositions_close_to_100_percent(topic: str) -> None:
    """Carbohydrate is by difference in the USDA tables, so the five columns, printed to 0.1 g at worst,
    add up to 100 within 5 x 0.05 g."""
    for row in reference.rows(topic):
        total = sum(row[part] for part in ("water", "protein", "fat", "ash", "carbohydrate"))
        if row.name not in NOT_CLOSED:
            assert total == pytest.approx(1.0, abs=2.5e-3), row.name


def test_the_whole_usda_tables_are_there() -> None:
    assert len(reference.rows("ingredients")) == 82
    assert len(reference.rows("finished goods")) == 24


def test_salt_and_soda_hold_the_sodium_of_their_formula() -> None:
    """Stoichiometry: 22.990/58.443 in NaCl, 22.990/84.007 in NaHCO3; table salt is up to 2 % other things."""
    assert reference.lookup("ingredients", "table salt")["sodium"] == pytest.approx(22.990 / 58.443, rel=0.02)
    assert reference.lookup("ingredients", "baking soda")["sodium"] == pytest.approx(
        22.990 / 84.007, rel=1e-3
    )


def test_sodium_chloride_osmotic_coefficients() -> None:
    """Robinson and Stokes, Electrolyte Solutions, appendix: phi of NaCl at 25 degC (figures from memory)."""
    row = reference.lookup("electrolytes", "NaCl")
    for m, phi in ((0.1, 0.9324), (1.0, 0.9355), (2.0, 0.9833), (4.0, 1.1158)):
        root = math.sqrt(m)
        pitzer = (
            1
            - 0.392 * root / (1 + 1.2 * root)
            + m * (row["b0"] + row["b1"] * math.exp(-2 * root))
            + m**2 * row["Cphi"]
        )
        assert pitzer == pytest.approx(phi, abs=1e-3)


@pytest.mark.parametrize(("t", "activity"), [(25, 0.843)])
def test_saturated_sucrose_by_norrish_is_its_deliquescence_point(t: int, activity: float) -> None:
    """Yuan 2007 (thesis abstract): sucrose deliquesces at aw 0.85; Norrish is good to about 0.01."""
    S = reference.lookup("solubilities", "sucrose")[f"S at {t} degC"]
    row, K = reference.lookup("solutes", "sucrose"), 6.47
    moles = S / row["M"]
    xs = moles / (moles + 1 / 0.0180153)
    aw = (1 - xs) * math.exp(-K * xs**2)
    assert aw == pytest.approx(activity, abs=5e-4)
    assert aw == pytest.approx(0.85, abs=0.01)


def test_mould_free_lines_against_a_second_source() -> None:
    """An instrument maker prints minimum days for Madeira cake; the lines give the mean within 15 %."""
    for days in reference.rows("mould-free days"):
        celsius = round(days["temperature"] - 273.15)
        line = reference.lookup("mould-free lines", f"{celsius} degC")
        predicted = 10 ** (line["intercept"] - line["slope"] * 100 * days["activity"])
        assert predicted == pytest.approx(days["life"] / 86400, rel=0.15)
