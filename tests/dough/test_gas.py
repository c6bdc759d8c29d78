"""Gas in dough: steam, solubility, air, and how much leavening a lift wants."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.dough import dose, gas
from hardtack.dough.dose import Wanted
from hardtack.dough.leavening import Dose, balance
from hardtack.errors import HardtackError

C = 273.15
# Worked by hand at a_w 0.97 from p_sat 19.9, 47.4, 70.1 and 84.6 kPa: steam share and volume ratio.
STEAM = {60: (0.191, 1.24), 80: (0.453, 1.83), 90: (0.671, 3.04), 95: (0.809, 5.2)}


@pytest.mark.parametrize(("degrees", "row"), STEAM.items())
def test_steam_at_crumb_temperatures(degrees: float, row: tuple[float, float]) -> None:
    y, ratio = row
    from CoolProp import CoolProp  # IAPWS R6-95

    p_sat = CoolProp.PropsSI("P", "T", degrees + C, "Q", 0, "Water")
    assert gas.steam_share(0.97, degrees + C) == pytest.approx(0.97 * p_sat / 101325.0, rel=5e-4)
    assert gas.steam_share(0.97, degrees + C) == pytest.approx(y, abs=0.0015)
    # the worked ratios are cut to two or three digits; 5.2 stands for 1 / (1 - 0.809) = 5.24
    assert gas.steam_ratio(0.97, degrees + C) == pytest.approx(ratio, rel=0.015)


def test_molar_volumes_of_the_gas() -> None:
    """Worked: soda with acid 291 mL/g at 25 degC, 365 at 100 degC, dry, 1 atm; ammonium bicarbonate 310."""
    full = balance(1.0, [Dose("soda", 1e-3)], [Dose("citric acid", 1e-2)]).by_acid
    assert 1e6 * gas.gas_volume(full, 25 + C, 0.0) == pytest.approx(291, abs=0.6)
    assert 1e6 * gas.gas_volume(full, 100 + C, 0.0) == pytest.approx(365, abs=0.6)
    ammonium = balance(1.0, [Dose("ABC", 1e-3)])
    assert 1e6 * gas.gas_volume(ammonium.by_ammonium, 25 + C, 0.0) == pytest.approx(310, abs=0.6)


@pytest.mark.parametrize(("degrees", "x"), [(0, 1.337), (25, 0.614), (60, 0.300), (100, 0.196)])
def test_solubility_at_the_points_of_the_table(degrees: float, x: float) -> None:
    """CRC Handbook, p. 8-90."""
    assert 1e3 * gas.carbon_dioxide_solubility(degrees + C) == pytest.approx(x)


def test_solubility_against_henrys_law() -> None:
    """Sander 2023, henrys-law.org: 3.3 to 3.4e-4 mol/(m3 Pa) at 25 degC, d ln H / d(1/T) = 2300 to 2400 K."""
    H = gas.dissolved_carbon_dioxide(0.997, 298.15, 1.0) * 1e3  # per m3: 997 kg of water
    assert 3.3e-4 <= H <= 3.45e-4  # 3.40e-4, and the table's own 2 %
    H35 = gas.dissolved_carbon_dioxide(0.994, 308.15, 1.0) * 1e3
    slope = (1 / 308.15 - 1 / 298.15) * 2350
    assert pytest.approx(2.718281828**slope, rel=0.02) == H35 / H


def test_air_of_a_mixed_dough() -> None:
    # 8 % of air in dough of 1250 kg/m3 gas-free: 0.08 / 0.92 / 1250 = 69.6 mL/kg, 2.84 mmol at 25 degC
    assert gas.air_moles(0.08, 1250.0, 298.15) == pytest.approx(69.565e-6 / 0.0244654, rel=1e-4)
    assert gas.air_moles(0.0, 1250.0, 298.15) == 0


@given(st.floats(0, 0.3), st.floats(0, 0.02), st.floats(0, 0.6), st.floats(274, 370), st.floats(0.3, 1.0))
def test_cells_and_water_share_all_the_gas(
    moles: float, air: float, water: float, T: float, a: float
) -> None:
    cells, dissolved = gas.cells_and_water(moles, air, water, T, a)
    assert cells >= 0
    assert dissolved >= -1e-15
    assert cells + dissolved == pytest.approx(moles)
    if cells + air > 1e-9:
        p = 101325.0 * (1 - gas.steam_share(a, T)) * cells / (cells + air)
        assert dissolved <= gas.dissolved_carbon_dioxide(water, T, p) * (1 + 1e-6) + 1e-12
    if moles > 1e-6 and air > 1e-6:
        assert dissolved == pytest.approx(gas.dissolved_carbon_dioxide(water, T, p), rel=1e-6, abs=1e-12)


@given(st.floats(0, 1), st.floats(280, 372), st.floats(0.2, 1.0))
def test_volume_and_moles_are_inverse(moles: float, T: float, a: float) -> None:
    assert gas.gas_moles(gas.gas_volume(moles, T, a), T, a) == pytest.approx(moles, rel=1e-9, abs=1e-15)


@given(st.floats(280, 370), st.floats(0, 2.0), st.floats(0.2, 1.0))
def test_warmer_is_larger_and_holds_less(T: float, step: float, a: float) -> None:
    assert gas.gas_volume(1.0, T + step, a) >= gas.gas_volume(1.0, T, a)
    assert gas.carbon_dioxide_solubility(T + step) <= gas.carbon_dioxide_solubility(T)


@given(
    st.floats(1e-5, 3e-3), st.floats(300, 365), st.floats(0.8, 0.99), st.floats(0, 0.003), st.floats(0, 0.5),
    st.floats(0.2, 1.0), st.sampled_from(["SAPP 28", "MCP", "cream of tartar"]),
)  # fmt: skip
def test_the_dose_gives_the_lift(
    volume: float, T: float, a: float, air: float, water: float, kept: float, acid: str
) -> None:
    wanted = Wanted(volume, T, a, air, water, kept)
    found = dose.leavening_for_lift(acid, wanted)
    given_gas = balance(1.0, [Dose("soda", found.soda)], [Dose(acid, found.acid)])
    assert given_gas.by_acid == pytest.approx(found.in_cells + found.dissolved + found.lost, abs=1e-15)
    reached = dose.cells_from_gas(given_gas.by_acid, wanted)
    if found.soda > 0:
        assert reached == pytest.approx(volume, rel=1e-6)
    else:
        assert reached >= volume * (1 - 1e-9)  # air and steam fill the cells alone
    assert dose.soda_for_lift(wanted) == pytest.approx(found.soda)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda: gas.steam_share(0.97, 101 + C), "boils"),
        (lambda: gas.steam_share(1.2, 300.0), "cannot be"),
        (lambda: gas.steam_share(0.9, 300.0, 0.0), "pressure"),
        (lambda: gas.gas_volume(-1.0, 300.0, 0.5), "negative"),
        (lambda: gas.gas_moles(-1.0, 300.0, 0.5), "negative"),
        (lambda: gas.carbon_dioxide_solubility(380.0), "0 to 100"),
        (lambda: gas.dissolved_carbon_dioxide(-1.0, 300.0, 1e5), "negative"),
        (lambda: gas.cells_and_water(-1.0, 0.0, 1.0, 300.0, 0.9), "negative"),
        (lambda: gas.air_moles(1.0, 1250.0, 300.0), "void"),
        (lambda: gas.air_moles(0.1, 0.0, 300.0), "density"),
        (lambda: dose.soda_for_lift(Wanted(1e-3, 350.0, 0.97, 0.0, 0.4, 0.0)), "kept"),
    ],
)
def test_bad_input_is_told_with_a_mend(act, words: str) -> None:
    with pytest.raises(HardtackError, match=words) as caught:
        act()
    assert all(problem.mend for problem in caught.value.problems)
