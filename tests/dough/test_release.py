"""Bench against oven, the gas over a bake, ammonium bicarbonate, and a pH only where it can be said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.dough import leavening
from hardtack.dough.alkalinity import Titration, crumb_pH
from hardtack.dough.ammonium import ammonium_use
from hardtack.dough.leavening import Dose, SourIngredient, balance
from hardtack.dough.release import bench_action, release
from hardtack.errors import HardtackError
from hardtack.sourced import Sourced

C = 273.15
BAKE = (np.linspace(0.0, 600.0, 13), np.linspace(25.0, 105.0, 13) + C)


def powder_dough(acid: str) -> list[tuple[Dose, ...]]:
    soda, sour = leavening.powder(0.010, acid, 0.24)
    return [(soda,), (sour,)]


@pytest.mark.parametrize("acid", ["SAPP 28", "SAPP 22", "SALP", "DCPD", "AMCP"])
def test_a_powder_lifts_mostly_in_the_oven(acid: str) -> None:
    """Common practice, no source."""
    bases, acids = powder_dough(acid)
    action = bench_action(1.0, bases, acids)
    assert action.oven_low > action.bench_high
    assert not action.unknown


def test_soda_with_a_dissolved_acid_acts_at_once() -> None:
    """Common practice, no source: a dough of buttermilk and soda must be baked at once."""
    milk = SourIngredient("buttermilk", 0.25, 0.009)
    soda = leavening.soda_for_gas(0.25 * 0.009 / 0.09008)
    dissolved = bench_action(1.0, [Dose("soda", soda)], sour=[milk])
    assert dissolved.bench_low == pytest.approx(dissolved.bench_high)
    assert dissolved.oven_high == pytest.approx(0.0, abs=1e-12)
    assert "at once" in dissolved.finding
    alone = bench_action(1.0, [Dose("soda", soda)])
    assert alone.bench_high == 0  # soda without acid waits for heat


def test_dough_rate_is_the_share_on_the_bench() -> None:
    """Prayon data sheet: MCP 60 %, SAPP by its grade, SALP 22 %, DCPD none; standard dough, 27 degC."""
    for acid, share in {"MCP": 0.60, "SAPP 40": 0.40, "SAPP 22": 0.22, "SALP": 0.22, "DCPD": 0.0}.items():
        bases, acids = powder_dough(acid)
        action = bench_action(1.0, bases, acids)
        whole = balance(1.0, bases, acids).by_acid
        assert action.bench_low / whole == pytest.approx(share)


def test_an_unknown_dough_rate_is_a_range() -> None:
    bases, acids = powder_dough("cream of tartar")
    action = bench_action(1.0, bases, acids)
    assert action.unknown == ("cream of tartar",)
    assert action.bench_low == 0
    assert action.bench_high == pytest.approx(balance(1.0, bases, acids).by_acid)
    assert "Measure" in action.finding


def test_heat_triggers_come_in_the_order_of_the_book() -> None:
    """McGee, On Food and Cooking: SALP 38 to 40 degC, DMP 40 to 44, DCPD 57 to 60."""
    course = np.array([0.0, 1.0, 2.0, 3.0]), np.array([25.0, 40.0, 44.0, 60.0]) + C
    done = {
        acid: release(1.0, [Dose("soda", 1e-2)], *course, [Dose(acid, 1e-3)]).by_acid / 1e-3
        for acid in ("SALP", "DMP", "DCPD")
    }
    assert done["SALP"][1] == pytest.approx(done["SALP"][-1])
    assert done["DMP"][1] == 0
    assert done["DMP"][2] == pytest.approx(done["DMP"][-1])
    assert done["DCPD"][2] == 0
    assert done["DCPD"][3] == pytest.approx(0.33 / 0.084007, rel=1e-6)  # mol per kg of DCPD at NV 33


def test_a_whole_bake_gives_what_the_balance_promises() -> None:
    bases, acids = [Dose("soda", 8e-3), Dose("ABC", 3e-3)], [Dose("SAPP 28", 6e-3)]
    sums = balance(1.0, bases, acids)
    run = release(1.0, bases, *BAKE, acids)
    assert run.by_acid[-1] == pytest.approx(sums.by_acid)
    assert run.by_ammonium[-1] == pytest.approx(sums.by_ammonium)
    assert run.ammonia[-1] == pytest.approx(sums.ammonia)
    assert run.by_heat[-1] == pytest.approx(sums.by_heat * run.soda.extent[-1])
    assert run.by_heat[-1] < 0.02 * sums.by_heat  # a crumb below 105 degC hardly splits its soda


@given(st.floats(0, 0.02), st.floats(0, 0.02), st.floats(0, 0.02), st.sampled_from(leavening.acids()))
def test_gas_only_goes_forward_and_never_beyond_the_balance(
    soda: float, ammonium: float, acid: float, name: str
) -> None:
    bases, acids = [Dose("soda", soda), Dose("ABC", ammonium)], [Dose(name, acid)]
    run, sums = release(1.0, bases, *BAKE, acids), balance(1.0, bases, acids)
    assert np.all(np.diff(run.carbon_dioxide) >= -1e-15)
    assert run.carbon_dioxide[-1] <= sums.carbon_dioxide + 1e-12
    action = bench_action(1.0, bases, acids)
    assert 0 <= action.bench_low <= action.bench_high <= sums.by_acid + 1e-15
    assert action.bench_low + action.oven_high == pytest.approx(sums.carbon_dioxide, abs=1e-12)
    assert run.by_acid[0] == pytest.approx(action.bench_low, abs=1e-12)


# --- ammonium bicarbonate: below 5 % moisture, thin; trade sheets and Baking & Snack 2021


@pytest.mark.parametrize(
    ("moisture", "thickness", "suits"),
    [
        (0.03, 0.005, True),
        (0.06, 0.005, False),
        (0.05 / 0.95, 0.005, False),  # 5 % on wet basis is the limit, not below it
        (0.03, 0.030, False),
        (None, 0.005, None),
        (0.03, None, None),
        (0.10, None, False),
    ],
)
def test_where_ammonium_bicarbonate_suits(
    moisture: float | None, thickness: float | None, suits: bool | None
) -> None:
    use = ammonium_use(moisture, thickness)
    assert use.suits is suits
    assert "irritates" in use.caution
    assert "acrylamide" in use.caution


def test_impossible_pieces_are_told() -> None:
    with pytest.raises(HardtackError, match="thickness"):
        ammonium_use(0.03, -1.0)


# --- pH

DOUGH = Titration((5.0, 6.0, 7.0, 8.0, 9.0, 10.0), (0.0, 0.008, 0.016, 0.024, 0.032, 0.040), 0.05, 0.4)
AIR = Sourced(42.0, "Pa", "assumed", sd=10.0)


def test_no_pH_without_what_it_takes() -> None:
    sums = balance(1.0, [Dose("soda", 5e-3)])
    for titration, gas in ((None, AIR), (DOUGH, None), (DOUGH, replace(AIR, sd=None))):
        answer = crumb_pH(sums, titration, gas)
        assert answer.value is None
        assert answer.sd is None
        assert answer.why.startswith("No pH")
    beyond = crumb_pH(balance(1.0, [Dose("soda", 0.5)]), DOUGH, AIR)
    assert beyond.value is None
    assert "titrat" in beyond.why


def test_bicarbonate_under_its_gas_without_other_buffer() -> None:
    """Textbook: pH = pK1 + log10([HCO3-] / [CO2]), here 0.1 mol/kg under 1 atm of CO2 at 25 degC."""
    bare = Titration((4.0, 10.0), (0.0, 1e-9), 0.0, 1.0)
    answer = crumb_pH(
        balance(1.0, [Dose("soda", 8.4007e-3)]), bare, Sourced(101325.0, "Pa", "assumed", sd=0.0)
    )
    dissolved = 0.614e-3 / 0.018015268 * 1.01325
    assert answer.value == pytest.approx(6.352 + np.log10(0.1 / dissolved), abs=1e-3)


def test_no_carbon_dioxide_leaves_the_dough_its_own_titration() -> None:
    answer = crumb_pH(
        balance(1.0, [Dose("soda", 0.016 * 0.084007)]), DOUGH, Sourced(0.0, "Pa", "assumed", sd=0.0)
    )
    assert answer.value == pytest.approx(7.0)
    assert answer.sd == pytest.approx((0.2**2 + 0.05**2) ** 0.5)


@given(st.floats(1e-4, 2.5e-3), st.floats(0, 1e-3), st.floats(0, 5e3))
def test_more_soda_is_more_alkaline_more_gas_less(soda: float, more: float, gas: float) -> None:
    first = crumb_pH(balance(1.0, [Dose("soda", soda)]), DOUGH, Sourced(gas, "Pa", "assumed", sd=1.0))
    second = crumb_pH(balance(1.0, [Dose("soda", soda + more)]), DOUGH, Sourced(gas, "Pa", "assumed", sd=1.0))
    fuller = crumb_pH(balance(1.0, [Dose("soda", soda)]), DOUGH, Sourced(gas + 100, "Pa", "assumed", sd=1.0))
    assert first.value is not None
    assert first.sd is not None
    assert first.sd >= 0.2
    assert second.value is None or second.value >= first.value - 1e-9
    assert fuller.value is None or fuller.value <= first.value + 1e-9


@pytest.mark.parametrize(
    "titration",
    [
        Titration((5.0,), (0.0,), 0.1, 0.4),
        Titration((5.0, 4.0), (0.0, 0.1), 0.1, 0.4),
        Titration((5.0, 6.0), (0.0, 0.0), 0.1, 0.4),
        Titration((5.0, 6.0), (0.0, 0.1), 0.1, 0.0),
    ],
)
def test_a_titration_that_cannot_be_is_told(titration: Titration) -> None:
    with pytest.raises(HardtackError):
        crumb_pH(balance(1.0, [Dose("soda", 5e-3)]), titration, AIR)
