"""Saturated salts: Greenspan's values, the tabulated ones, and no extrapolation."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.water.salts import salt_activity


@pytest.mark.parametrize(
    ("salt", "t", "RH"),
    [
        ("LiCl", 25, 11.30),
        ("LiCl", 50, 11.11),
        ("CH3COOK", 20, 23.11),
        ("CH3COOK", 25, 22.52),
        ("MgCl2", 5, 33.60),
        ("MgCl2", 40, 31.61),
        ("K2CO3", 25, 43.17),
        ("Mg(NO3)2", 25, 52.90),
        ("NaCl", 5, 75.65),
        ("NaCl", 50, 74.43),
        ("KCl", 25, 84.35),
        ("KNO3", 25, 93.59),
        ("K2SO4", 25, 97.30),
    ],
)
def test_greenspan_polynomials(salt: str, t: float, RH: float) -> None:
    """Greenspan (1977), J. Res. NBS 81A:89, evaluated by hand to 0.01 %RH."""
    shown = salt_activity(salt, t + 273.15)
    assert shown.value == pytest.approx(RH / 100, abs=5.1e-5)
    assert shown.source.startswith("salt polynomials: Greenspan")
    assert shown.unit == ""


@pytest.mark.parametrize(
    ("salt", "row"),
    [
        ("LiCl", {5: 11.3, 15: 11.3, 25: 11.3}),
        ("CH3COOK", {10: 23.4, 15: 23.4, 20: 23.1, 25: 22.5, 30: 21.6}),
        ("K2CO3", {5: 43.1, 20: 43.2, 25: 43.2}),
        ("KCl", {5: 87.7, 10: 86.8, 15: 85.9, 20: 85.1, 25: 84.3}),
        ("K2SO4", {5: 98.5, 10: 98.2, 15: 97.9, 20: 97.6, 25: 97.3, 30: 97.0}),
    ],
)
def test_polynomials_agree_with_the_tabulated_values(salt: str, row: dict[int, float]) -> None:
    """Greenspan's table 2 as printed to 0.1 %RH by Padfield and in a laboratory note: catches the wrong signs
    of a printed copy (LiCl, CH3COOK, K2CO3)."""
    for t, RH in row.items():
        assert 100 * salt_activity(salt, t + 273.15).value == pytest.approx(RH, abs=0.06)


def test_tabulated_values_where_there_is_no_polynomial() -> None:
    """Padfield, NaBr 59.1 % at 20 and 57.6 % at 25 degC; straight between."""
    assert salt_activity("NaBr", 293.15).value == pytest.approx(0.591, abs=1e-12)
    between = salt_activity("NaBr", 295.15)
    assert between.value == pytest.approx(0.591 - 2 / 5 * 0.015, abs=1e-12)
    assert between.source.startswith("salt humidities: Padfield")


@pytest.mark.parametrize(
    ("salt", "t", "RH"), [("NaBr.2H2O", 5, 62.0), ("NaBr.2H2O", 25, 57.6), ("NaNO3", 25, 74.2)]
)
def test_the_handbook_form_where_there_is_nothing_else(salt: str, t: float, RH: float) -> None:
    """Wexler, CRC Handbook: RH% = A exp(B/T), by hand to 0.1 %RH."""
    shown = salt_activity(salt, t + 273.15)
    assert 100 * shown.value == pytest.approx(RH, abs=0.06)
    assert shown.source.startswith("salt exponentials")
    assert (shown.low, shown.high) == (pytest.approx(shown.value - 0.02), pytest.approx(shown.value + 0.02))


def test_stated_uncertainty_and_provenance() -> None:
    """Greenspan's conservative 0.4 %RH for NaCl; potassium acetate leans on remembered digits."""
    salt = salt_activity("sodium chloride", 298.15)
    assert (salt.high - salt.value, salt.value - salt.low) == (pytest.approx(0.004), pytest.approx(0.004))
    assert salt.provenance == "seen"
    assert salt_activity("CH3COOK", 298.15).provenance == "from memory"
    assert salt_activity("CH3COOK", 298.15).low is not None


@pytest.mark.parametrize(
    ("salt", "t"), [("NaCl", 55.0), ("K2CO3", 35.0), ("KI", 40.0), ("NaBr", 30.0), ("LiCl", -5.0)]
)
def test_never_extrapolates(salt: str, t: float) -> None:
    with pytest.raises(HardtackError, match=r"no table.*\n.*mend: keep the jar within"):
        salt_activity(salt, t + 273.15)


def test_celsius_by_mistake_and_unknown_salts_are_said() -> None:
    with pytest.raises(HardtackError, match="kelvin"):
        salt_activity("NaCl", 25.0)
    with pytest.raises(NotOnShelf, match="NaCl"):
        salt_activity("kitchen dust", 298.15)
