"""Acids against bases: stoichiometry by an atomic-mass library, worked balances, the law on powders."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack import reference
from hardtack.dough import leavening
from hardtack.dough.leavening import Balance, Dose, SourIngredient, balance
from hardtack.errors import HardtackError, NotOnShelf

FORMULAS = {
    "monocalcium phosphate monohydrate": "Ca(H2PO4)2(H2O)",
    "monocalcium phosphate anhydrous, coated": "Ca(H2PO4)2",
    "sodium acid pyrophosphate, 28": "Na2H2P2O7",
    "sodium aluminium phosphate": "NaH14Al3(PO4)8(H2O)4",
    "sodium aluminium sulphate": "NaAl(SO4)2",
    "dimagnesium phosphate trihydrate": "MgHPO4(H2O)3",
    "dicalcium phosphate dihydrate": "CaHPO4(H2O)2",
    "cream of tartar": "KC4H5O6",
    "glucono-delta-lactone": "C6H10O6",
    "fumaric acid": "C4H4O4",
    "adipic acid": "C6H10O4",
    "citric acid": "C6H8O7",
    "citric acid monohydrate": "C6H8O7(H2O)",
    "tartaric acid": "C4H6O6",
    "lactic acid": "C3H6O3",
    "acetic acid": "C2H4O2",
    "malic acid": "C4H6O5",
    "sodium bicarbonate": "NaHCO3",
    "potassium bicarbonate": "KHCO3",
    "ammonium bicarbonate": "NH4HCO3",
}
CARBOXYLIC = {
    "cream of tartar": 44.6,
    "glucono-delta-lactone": 47.2,
    "fumaric acid": 144.8,
    "adipic acid": 115.0,
    "citric acid": 131.2,
    "citric acid monohydrate": 119.9,
    "tartaric acid": 111.9,
    "lactic acid": 93.3,
    "acetic acid": 139.9,
    "malic acid": 125.3,
}
SOME = st.floats(0.0, 0.05)


@pytest.fixture(scope="module")
def mass():
    """Molar mass [g/mol] of a formula by an independent library of atomic masses."""
    import molmass

    return lambda formula: float(molmass.Formula(formula).mass)


@pytest.mark.parametrize("name", FORMULAS)
def test_molar_masses_are_those_of_the_atomic_mass_library(name: str, mass) -> None:
    topic = "leavening bases" if name in leavening.bases() else "leavening acids"
    assert 1e3 * reference.lookup(topic, name)["M"] == pytest.approx(mass(FORMULAS[name]), abs=0.006)


def test_constants_of_the_module_are_those_of_the_atomic_mass_library(mass) -> None:
    assert pytest.approx(mass("CO2"), rel=1e-5) == 1e3 * leavening.MOLAR_MASS_CARBON_DIOXIDE
    assert pytest.approx(mass("Na"), rel=1e-6) == 1e3 * leavening.MOLAR_MASS_SODIUM


def test_carbon_dioxide_per_gram_by_stoichiometry(mass) -> None:
    # 2 NaHCO3 -> Na2CO3 + CO2 + H2O; NaHCO3 + HX -> NaX + CO2 + H2O; NH4HCO3 -> NH3 + CO2 + H2O
    soda = balance(1.0, [Dose("soda", 1e-3)])
    full = balance(1.0, [Dose("soda", 1e-3)], [Dose("citric acid", 1.0)])
    ammonium = balance(1.0, [Dose("ABC", 1e-3)])
    CO2, NaHCO3, NH4HCO3 = (mass(formula) for formula in ("CO2", "NaHCO3", "NH4HCO3"))
    assert soda.by_heat * CO2 == pytest.approx(CO2 / NaHCO3 / 2, rel=1e-5)
    assert full.by_acid * CO2 == pytest.approx(CO2 / NaHCO3, rel=1e-5)
    assert ammonium.by_ammonium * CO2 == pytest.approx(CO2 / NH4HCO3, rel=1e-5)
    assert ammonium.ammonia * mass("NH3") == pytest.approx(mass("NH3") / NH4HCO3, rel=1e-5)
    # with acid soda gives twice the gas of heat alone (Chemistry of Cooking 5.6)
    assert full.by_acid == pytest.approx(2 * soda.by_heat)


def test_split_soda_leaves_its_carbonate(mass) -> None:
    assert mass("Na2CO3") / (2 * mass("NaHCO3")) == pytest.approx(0.631, abs=5e-4)
    assert "0.631" in reference.lookup("leavening bases", "soda").note


@pytest.mark.parametrize(("acid", "value"), CARBOXYLIC.items())
def test_stoichiometric_values_worked_by_hand(acid: str, value: float) -> None:
    assert leavening.stoichiometric_value(acid) == pytest.approx(value, abs=0.06)
    assert leavening.neutralising_value(acid) == pytest.approx(value, rel=0.005)


def test_phosphates_do_not_follow_stoichiometry() -> None:
    # an agreed titration to a fixed end point: Miller, Food Chemistry, table 2.1, has 80 and 72
    assert leavening.neutralising_value("MCP") == 80
    assert leavening.stoichiometric_value("MCP") == pytest.approx(66.7, abs=0.06)
    assert leavening.neutralising_value("SAPP") == 72
    assert leavening.stoichiometric_value("SAPP") == pytest.approx(75.7, abs=0.06)
    with pytest.raises(NotOnShelf, match="protons"):
        leavening.stoichiometric_value("SALP")


@pytest.mark.parametrize(("acid", "EV"), [("MCP", 1.25), ("SAPP", 1.39), ("cream of tartar", 2.24)])
def test_equivalence_value_is_100_over_neutralising_value(acid: str, EV: float) -> None:
    # Food Additives Data Book, p. 555
    assert leavening.equivalence_value(acid) == pytest.approx(EV, abs=0.005)


def test_worked_balance_of_a_bench_cracker() -> None:
    """Kweon, Slade, Levine 2011, Cereal Chem. 88:19: 1.25 g each of soda, MCP and ABC per 100 g flour."""
    worked = balance(0.15, [Dose("soda", 1.25e-3), Dose("ABC", 1.25e-3)], [Dose("MCP", 1.25e-3)])
    assert worked.acid == pytest.approx(1.0e-3)  # 1.25 g at NV 80
    assert worked.left_soda == pytest.approx(0.25e-3)
    assert worked.leaning == "alkaline"
    assert worked.ammonia == pytest.approx(1.25e-3 / 0.079055, rel=1e-6)


def test_worked_balance_of_sour_milk() -> None:
    """McGee, On Food and Cooking: 240 mL of fermented milk neutralise 2 g of soda, about 0.9 % as lactic."""
    milk = SourIngredient("fermented milk", 0.240 * 1.03, 0.0087)
    met = balance(1.0, [Dose("soda", 2.0e-3)], sour=[milk])
    assert met.acid == pytest.approx(2.0e-3, rel=0.01)
    assert met.leaning == "balanced"
    assert leavening.acid_to_neutralise("SAPP", 2.0e-3, [milk]) == pytest.approx(0.0, abs=2e-5)


def test_the_dough_of_one_base_as_soda() -> None:
    """NV on another base: x 1.192 for potassium bicarbonate, x 0.941 for ammonium bicarbonate."""
    potassium = balance(1.0, [Dose("KHCO3", 1.0e-3)])
    assert 1.0e-3 / potassium.soda == pytest.approx(1.192, abs=5e-4)
    assert pytest.approx(0.941, abs=5e-4) == 0.079055 / 0.084007
    assert potassium.sodium == 0


def test_sodium_of_soda_and_of_its_acid() -> None:
    """Baking & Snack 2021: sodium bicarbonate is 27.4 % sodium."""
    assert balance(1.0, [Dose("soda", 1e-3)]).sodium == pytest.approx(0.274e-3, rel=2e-3)
    with_acid = balance(1.0, [Dose("soda", 1e-3)], [Dose("SAPP", 1e-3)]).sodium
    assert with_acid == pytest.approx((0.02299 / 0.084007 + 2 * 0.02299 / 0.22194) * 1e-3, rel=1e-4)


def test_household_powder_and_the_law() -> None:
    """30 % soda gives 15.7 % carbon dioxide in theory; the US asks 12 % (as quoted), Canada 10 %."""
    assert leavening.powder_yield(0.30) == pytest.approx(0.157, abs=5e-4)
    assert leavening.below_legal_minimum(leavening.powder_yield(0.30)) == ()
    assert [row.name for row in leavening.below_legal_minimum(0.11)] == ["baking powder, United States"]
    assert len(leavening.below_legal_minimum(0.09)) == 2


def test_self_rising_flour_at_its_least_and_most() -> None:
    """21 CFR 137.180: 0.5 % carbon dioxide fits into 4.5 parts of soda and acid per 100 of flour."""
    rule = reference.lookup("powder law", "self-rising flour, United States")
    soda = leavening.soda_for_gas(rule["carbon_dioxide"] / 0.04401)
    for acid in ("MCP", "SAPP", "SALP"):
        assert soda + leavening.acid_to_neutralise(acid, soda) < rule["leaveners_on_flour"]


def test_a_powder_balances_itself_and_refuses_too_much() -> None:
    soda, acid = leavening.powder(0.010, "SAPP 28")
    assert balance(1.0, [soda], [acid]).leaning == "balanced"
    assert soda.mass == pytest.approx(0.003)
    with pytest.raises(HardtackError, match="cannot hold"):
        leavening.powder(0.010, "cream of tartar", 0.40)


@given(SOME, SOME, SOME, SOME, st.floats(0.0, 0.3), st.floats(0.0, 0.02))
def test_acid_and_base_are_conserved(
    soda: float, potassium: float, ammonium: float, acid: float, milk: float, acidity: float
) -> None:
    sums: Balance = balance(
        1.0,
        [Dose("soda", soda), Dose("KHCO3", potassium), Dose("ABC", ammonium)],
        [Dose("SAPP", acid)],
        [SourIngredient("milk", milk, acidity)],
    )
    M = 0.084007
    assert sums.neutralised + sums.left_soda == pytest.approx(sums.soda, abs=1e-15)
    bound = ammonium / 0.079055 - sums.ammonia
    assert sums.neutralised + sums.left_acid + bound * M == pytest.approx(sums.acid, abs=1e-15)
    assert sums.left_soda == 0 or sums.left_acid == pytest.approx(0, abs=1e-15)
    assert 0 <= sums.by_acid + sums.by_heat <= sums.soda / M * (1 + 1e-12) + 1e-18
    assert sums.ammonia >= -1e-18
    assert sums.finding


@given(st.floats(1e-6, 0.05), st.sampled_from(leavening.acids()))
def test_what_the_solver_gives_balances(soda: float, acid: str) -> None:
    mass = leavening.acid_to_neutralise(acid, soda)
    sums = balance(1.0, [Dose("soda", soda)], [Dose(acid, mass)])
    assert sums.leaning == "balanced"
    assert sums.neutralised == pytest.approx(soda)
    assert leavening.soda_for_gas(sums.by_acid) == pytest.approx(soda)


@given(SOME, SOME, SOME)
def test_more_acid_never_makes_it_more_alkaline(soda: float, acid: float, more: float) -> None:
    less = balance(1.0, [Dose("soda", soda)], [Dose("MCP", acid)])
    after = balance(1.0, [Dose("soda", soda)], [Dose("MCP", acid + more)])
    assert after.left_soda <= less.left_soda
    assert after.left_acid >= less.left_acid
    assert after.carbon_dioxide >= less.carbon_dioxide - 1e-15


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda: balance(0.0, []), "no mass"),
        (lambda: balance(1.0, [Dose("soda", -1.0)]), "cannot be"),
        (lambda: balance(1.0, [Dose("sodda", 1.0)]), "soda"),
        (lambda: balance(1.0, [], [Dose("chalk", 1.0)]), "there are"),
        (lambda: balance(1.0, [], [], [SourIngredient("milk", 1.0, 1.5)]), "acidity"),
        (lambda: leavening.soda_for_gas(-1.0), "negative"),
        (lambda: leavening.powder(0.01, "MCP", 0.0), "cannot hold"),
        (lambda: leavening.powder_yield(2.0), "cannot be"),
    ],
)
def test_bad_input_is_told_with_a_mend(act, words: str) -> None:
    with pytest.raises(HardtackError, match=words) as caught:
        act()
    assert all(problem.mend for problem in caught.value.problems)
