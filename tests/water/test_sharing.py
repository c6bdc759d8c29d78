"""Isotherms from a formula against published pairs, and what must hold for any formula."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from hardtack.dough import formula_of
from hardtack.errors import HardtackError, NotOnShelf
from hardtack.evidence import run_evidence
from hardtack.product import load
from hardtack.reference import isotherm as shelf_isotherm
from hardtack.reference import lookup
from hardtack.states import Isotherm
from hardtack.water import isotherm
from hardtack.water.composition import Composition, blend, from_proximate
from hardtack.water.dissolved import solutes, solution_water
from hardtack.water.polymers import JOIN, polymer_moisture
from hardtack.water.sharing import formula_isotherm, shared_moisture, stated_error
from hardtack.water.solutions import solution_molality
from hardtack.water.tables import activity_table

T = 298.15
ROOT = Path(__file__).parents[2]
PAIRS = tomllib.loads((Path(__file__).parent / "published_pairs.toml").read_text("utf-8"))["pair"]
BREAD = from_proximate(lookup("finished goods", "White bread, commercial"), {"maltose": 1.0})
COOKIE = from_proximate(lookup("finished goods", "Sugar cookies"), {"sucrose": 1.0})
CREAM = Composition(fat=0.4, sugars={"sucrose": 0.6})
A = np.concatenate((np.linspace(0.01, 0.98, 195), 1 - np.geomspace(0.019, 1e-3, 40)))


def _wet(percent: float) -> float:
    return percent / (100 - percent)


def _errors(pair: dict[str, Any]) -> list[tuple[float, float, float]]:
    """Moisture as printed, published and predicted activity."""
    if "composition" in pair:
        composition = Composition(**pair["composition"])
    else:
        composition = from_proximate(lookup(*pair["row"]), pair["sugars"])
    kelvin = pair["celsius"] + 273.15
    made = formula_isotherm(
        pair["name"], composition, crystalline=pair["crystalline"], branch=pair["branch"], T=kelvin
    )
    return [
        (
            printed,
            a,
            isotherm.activity(made, _wet(printed) if pair["basis"] == "wb" else printed / 100, kelvin),
        )
        for printed, a in pair["points"]
    ]


@pytest.mark.parametrize("branch", ["desorption", "adsorption"])
def test_activity_of_published_pairs(branch: str) -> None:
    """Every published pair of the table beside this file, its source there: seen before the branches were
    chosen, no constant fitted. The root mean square stands on the shelf beside that of the pairs kept back."""
    misses = []
    for pair in PAIRS:
        if pair["branch"] == branch:
            for printed, published, predicted in _errors(pair):
                miss = predicted - published
                misses.append(miss)
                verdict = "" if abs(miss) <= pair["tolerance"] else f" beyond {pair['tolerance']:g}"
                line = f"{pair['name']:42s} {printed:6.2f} % {pair['basis']}  {published:.3f} {predicted:.3f}"
                print(f"{line} {miss:+.3f}{verdict}")
    rms = float(np.sqrt(np.mean(np.square(misses))))
    print(f"{branch}: {len(misses)} pairs, rms {rms:.4f}, mean {np.mean(misses):+.4f}")
    stated = lookup("formula errors", f"{branch}, pairs seen before")
    assert len(misses) == stated["pairs"]
    assert rms == pytest.approx(stated["rms"], abs=0.0015)  # a better or worse model must restate it
    assert max(map(abs, misses)) < 0.10


@pytest.mark.parametrize("branch", ["desorption", "adsorption"])
def test_the_stated_error_is_that_of_the_pairs_kept_back(branch: str) -> None:
    """Written down with their compositions before the first run; every one counts, misses included."""
    file = files("hardtack.evidence") / "cases" / "water_from_formula.toml"
    chosen = {
        case["what"]
        for case in tomllib.loads(file.read_text("utf-8"))["case"]
        if case["given"]["branch"] == branch
    }
    misses = [row.error for row in run_evidence() if row.what in chosen]
    rms = float(np.sqrt(np.mean(np.square(misses))))
    print(f"{branch}: {len(misses)} pairs kept back, rms {rms:.4f}, mean {np.mean(misses):+.4f}")
    stated = lookup("formula errors", branch)
    assert len(misses) == len(chosen) == stated["pairs"]
    assert rms == pytest.approx(stated["rms"], abs=0.0015)
    assert stated_error(branch).value == stated["rms"]  # type: ignore[arg-type]


KINDS = {
    "bread, cake, cupcake": ("bread", "control cake", "control cupcake"),
    "honey, maple syrup, jam": ("flower honey", "maple", "0.5 kg of sugar", "1.0 kg of sugar"),
    "wheat, corn and rice flour": ("wheat flour", "corn flour", "rice flour"),
    "pasta": ("pasta", "dried pasta"),
    "drying pasta, 40 °C": ("drying pasta",),
    "dehydrated potato": ("dehydrated potato",),
    "milk powder, lactose, maltodextrin": ("whole milk", "amorphous lactose", "maltodextrin"),
    "biscuits": ("control biscuit", "biscuit,"),
}


def test_the_documentation_states_the_error_of_every_kind_of_food() -> None:
    """docs/water.md, by kind: number and rms of the pairs of area water; every pair is in one kind."""
    file = files("hardtack.evidence") / "cases" / "water_from_formula.toml"
    whats = {case["what"] for case in tomllib.loads(file.read_text("utf-8"))["case"]}
    errors = {row.what: row.error for row in run_evidence() if row.what in whats}
    page = (ROOT / "docs" / "water.md").read_text("utf-8")
    counted = 0
    for kind, starts in KINDS.items():
        misses = [error for what, error in errors.items() if what.startswith(starts)]
        line = next(line for line in page.splitlines() if line.startswith(f"| {kind} |"))
        cells = [cell.strip() for cell in line.split("|")]
        assert int(cells[2].split(",")[0]) == len(misses), kind
        assert float(cells[3]) == pytest.approx(np.sqrt(np.mean(np.square(misses))), abs=6e-4), kind
        counted += len(misses)
    assert counted == len(errors) == len(whats)


def test_published_isotherms_of_one_product_differ_more_than_the_aim() -> None:
    """Andrieu 1985 and Waananen 1989 (GAB), Xiong 1991 (Oswin), Litchfield 1992 (Henderson): pasta at 40 degC, constants
    as in the public code that the shelf's sources name. Their activities at one moisture differ by 0.11, and the
    formula lies nearer to their mean than any two kinds of them to each other."""
    kelvin, R = 313.15, 8.314

    def gab(Xm: float, C: float, K: float) -> Any:
        return lambda a: Xm * C * K * a / ((1 - K * a) * (1 - K * a + C * K * a))

    published = (
        gab(
            0.0017 * np.exp(1135.3 / kelvin),
            2.8339e-8 * np.exp(6545.8 / kelvin),
            1.8320 * np.exp(-238.4933 / kelvin),
        ),
        gab(
            4.40e-3 * np.exp(6840 / R / kelvin),
            2.86e-9 * np.exp(60000 / R / kelvin),
            0.1313 * np.exp(4920 / R / kelvin),
        ),
        lambda a: (0.176 - 1.748e-3 * 40) * (a / (1 - a)) ** (0.182 + 6.946e-3 * 40),
        lambda a: (np.log(1 - a) / (-1.3638e-11 * (kelvin - 257.28) ** 4.1686)) ** (1 / 2.9060) / 100,
    )
    pasta = from_proximate(lookup("ingredients", "Semolina"), {"sucrose": 1.0})
    ours = formula_isotherm("pasta", pasta, crystalline=(), branch="desorption", T=kelvin)
    spread, off = [], []
    for X in (0.08, 0.10, 0.12, 0.14, 0.16, 0.18):
        a = np.array([brentq(lambda a, f=f, X=X: f(a) - X, 1e-3, 0.95) for f in published])
        spread.append(a.std(ddof=1))
        off.append(float(isotherm.activity(ours, X, kelvin)) - a.mean())
    assert np.sqrt(np.mean(np.square(spread))) == pytest.approx(0.11, abs=0.005)
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(0.032, abs=0.003)


def test_honeys_follow_the_published_line() -> None:
    """Chirife, Zamora, Motto (2006), J. Food Eng. 72:287: 15 to 21 % moisture, a straight line with correlation 0.971
    (abstract); its constants, 0.262 + 0.0179 w, from memory."""
    honey = from_proximate(lookup("ingredients", "Honey"), {"fructose": 0.53, "glucose": 0.47})
    made = formula_isotherm("honey", honey, crystalline=(), branch="desorption")
    for percent in (15.0, 17.0, 19.0, 21.0):
        line = 0.262 + 0.0179 * percent
        assert isotherm.activity(made, _wet(percent), T) == pytest.approx(line, abs=0.03)


def test_the_wheat_pairs_alone_are_within_the_aim() -> None:
    """Four independent sources on whole wheat, -1 to 32 degC: the aim of rms 0.03 in activity is met."""
    misses = [
        predicted - published
        for pair in PAIRS
        if "wheat" in pair["name"]
        for _, published, predicted in _errors(pair)
    ]
    assert len(misses) == 7
    assert np.sqrt(np.mean(np.square(misses))) <= 0.03


@pytest.mark.parametrize(
    ("topic", "name", "sugars", "branch", "band"),
    [
        ("finished goods", "White bread, commercial", {"maltose": 1.0}, "desorption", (0.93, 0.98)),
        ("finished goods", "Whole-wheat bread", {"maltose": 1.0}, "desorption", (0.93, 0.98)),
        ("finished goods", "Sponge cake", {"sucrose": 1.0}, "desorption", (0.80, 0.95)),
        ("finished goods", "Saltine/soda crackers", {"maltose": 1.0}, "adsorption", (0.2, 0.4)),
        ("finished goods", "Melba toast", {"maltose": 1.0}, "adsorption", (0.2, 0.4)),
        ("ingredients", "AP wheat flour, bleached, enriched", {"maltose": 1.0}, "desorption", (0.45, 0.7)),
        ("ingredients", "Raisins, seedless", {"glucose": 0.5, "fructose": 0.5}, "desorption", (0.45, 0.65)),
        ("ingredients", "Dates, deglet noor", {"sucrose": 0.4, "glucose": 0.6}, "desorption", (0.55, 0.75)),
        ("ingredients", "Maple syrup", {"sucrose": 1.0}, "desorption", (0.80, 0.90)),
    ],
)
def test_goods_of_the_usda_table_fall_in_their_food_class(
    topic: str, name: str, sugars: dict[str, float], branch: Any, band: tuple[float, float]
) -> None:
    """Moisture and composition: USDA table. Bands about the class values adapted from Beuchat (1981), which
    are limits, no measurements: bread 0.95, sponge cake 0.87, syrup 0.80, dried fruit 0.60, crackers 0.30."""
    row = lookup(topic, name)
    made = formula_isotherm(name, from_proximate(row, sugars), crystalline=[], branch=branch)
    a = isotherm.activity(made, row["water"] / (1 - row["water"]), T)
    assert band[0] <= a <= band[1]


def test_the_state_of_the_sugar_is_the_largest_doubt_in_a_sweet_biscuit() -> None:
    """Fitria 2007 (thesis): hard-dough biscuit, 6.88 % d.b. at 0.474, 30 degC. All sugar amorphous and all
    sugar crystalline stand on either side of it."""
    biscuit = from_proximate(lookup("finished goods", "Animal crackers / tea biscuits"), {"sucrose": 1.0})
    amorphous, crystals = (
        isotherm.activity(
            formula_isotherm("biscuit", biscuit, crystalline=state, branch="adsorption", T=303.15),
            0.0688,
            303.15,
        )
        for state in ([], ["sucrose"])
    )
    assert amorphous < 0.474 < crystals
    assert crystals - amorphous > 0.1


def test_the_state_of_the_lactose_decides_in_milk_powder() -> None:
    """Langova and others: whole milk powder at 0.60, 20 degC, 7.82 % moisture taking water up and 8.51 % giving
    it off. All lactose as glass and all as crystals stand on either side, some two tenths apart."""
    powder = from_proximate(lookup("ingredients", "Dry whole milk"), {"lactose": 1.0}, "milk")
    for percent, branch in ((7.82, "adsorption"), (8.51, "desorption")):
        glass, crystals = (
            isotherm.activity(
                formula_isotherm("powder", powder, crystalline=state, branch=branch, T=293.15),
                _wet(percent),
                293.15,
            )
            for state in ([], ["lactose"])
        )
        assert glass + 0.02 < 0.60 < crystals - 0.1
        assert crystals - glass > 0.15


def test_lactose_glass_holds_what_was_published() -> None:
    """Roos (2002), Lait 82:475: about 6.8 g on 100 g at 0.37, where its glass transition is at room temperature."""
    glass = Composition(sugars={"lactose": 1.0})
    held = float(shared_moisture(glass, np.array([0.37]), T, crystalline=(), branch="desorption")[0])
    assert held == pytest.approx(0.068, abs=0.007)


def test_sucrose_glass_holds_less_than_its_solution_carried_on() -> None:
    """Sloan and Labuza (1975), amorphous sucrose: 14 g on 100 g at 0.60. Its solution's law alone has 19."""
    glass = Composition(sugars={"sucrose": 1.0})
    held = float(shared_moisture(glass, np.array([0.60]), T, crystalline=(), branch="desorption")[0])
    carried_on = 1.0 / (lookup("solutes", "sucrose")["M"] * float(solution_molality("sucrose", 0.60)))
    assert held == pytest.approx(0.14, abs=0.01)
    assert carried_on > 0.18


def test_lactose_crystals_hold_their_water_of_crystallisation() -> None:
    """C12H22O11.H2O: 18.015/342.30 = 5.26 % of the sugar; anhydrous to 0.58 and hydrate from 0.75 when they formed
    out of the glass (Qi and others, X-rays)."""
    crystals = Composition(sugars={"lactose": 1.0})
    a = np.array([0.2, 0.5, 0.58, 0.75, 0.9])
    took, gave = (
        shared_moisture(crystals, a, T, crystalline=["lactose"], branch=branch)
        for branch in ("adsorption", "desorption")
    )
    surface = lookup("polymers", "inert solids")["X_surface"] * a
    np.testing.assert_allclose(took - surface, [0.0, 0.0, 0.0, 0.0526, 0.0526], atol=2e-4)
    np.testing.assert_allclose(gave - surface, 0.0526, atol=2e-4)


@pytest.mark.parametrize(
    ("name", "a", "published"), [("sucrose", 0.8, 0.35), ("sucrose", 0.9, 0.65), ("fructose", 0.9, 0.80)]
)
def test_water_of_amorphous_sugars(name: str, a: float, published: float) -> None:
    """Sloan and Labuza (1975), g water per g: within 0.04 in activity at 0.8 and 0.9. At 0.6 and 0.7 their
    sugars hold less than Norrish gives, by 0.10 in activity, and less than honey holds: such sugar is on the
    way to crystals."""
    mixture = solutes({name: 1.0}, {}, T, [])
    grid = np.linspace(0.5, 0.99, 500)
    predicted = np.interp(published, solution_water(mixture, grid, 0.02), grid)
    assert predicted == pytest.approx(a, abs=0.04)


def test_water_of_dissolved_salt() -> None:
    """Sloan and Labuza (1975): NaCl holds 5.85 to 5.90 g/g at 0.90; Greenspan: saturated at 0.753."""
    mixture = solutes({}, {"NaCl": 1.0}, T, [])
    held = solution_water(mixture, np.array([0.70, 0.754, 0.90]), 0.02)
    assert held[0] == 0.0
    assert held[1] == pytest.approx(1 / 0.36, rel=0.03)
    assert held[2] == pytest.approx(5.87, rel=0.04)


# Any formula -----------------------------------------------------------------------------------------------

_share = st.floats(0.0, 1.0).map(lambda share: 0.0 if share < 0.01 else share)
COMPOSITIONS = st.builds(
    Composition,
    starch=st.floats(0.05, 1.0),
    wheat_protein=_share,
    egg_protein=_share,
    milk_protein=_share,
    fibre=_share,
    dextrin=_share,
    sugars=st.fixed_dictionaries({"sucrose": _share, "glucose": _share}),
    polyols=st.fixed_dictionaries({"glycerol": _share}),
    salts=st.fixed_dictionaries({"NaCl": st.floats(0.0, 0.1)}),
    fat=_share,
)
STATES = st.sampled_from([(), ("sucrose",), ("sucrose", "glucose")])
BRANCHES = st.sampled_from(["desorption", "adsorption"])


@settings(max_examples=25, deadline=None)
@given(COMPOSITIONS, STATES, BRANCHES, st.floats(278.0, 318.0))
def test_moisture_rises_with_activity(composition, crystalline, branch, kelvin) -> None:
    X = shared_moisture(composition, A, kelvin, crystalline=crystalline, branch=branch)
    assert np.all(np.diff(X) > 0)
    assert X[0] > 0


SALTED = st.builds(
    Composition,
    starch=st.floats(0.2, 1.0),
    wheat_protein=_share,
    fat=_share,
    sugars=st.fixed_dictionaries({"sucrose": _share, "lactose": _share}),
    salts=st.fixed_dictionaries({"NaCl": st.floats(0.0, 0.08), "NaHCO3": st.sampled_from([0.0, 1e-4, 0.01])}),
)


@settings(max_examples=30, deadline=None)
@given(
    SALTED, st.sampled_from([(), ("sucrose",), ("sucrose", "lactose")]), BRANCHES, st.floats(273.0, 323.15)
)
def test_the_table_rises_with_moisture_and_with_temperature(composition, crystalline, branch, kelvin) -> None:
    """The surface that transport reads, by construction: also where crystals dissolve, and hotter than 25 degC.
    With temperature it rises up to activity 0.9; beyond it may fall by 0.003 in ten kelvins."""
    made = formula_isotherm("any", composition, crystalline=crystalline, branch=branch)
    tabulated = activity_table(made, sorted([278.15, 298.15, 313.15, 323.15, kelvin]), 600)
    assert np.all(np.diff(tabulated.a, axis=1) > 0)
    assert np.all(tabulated.dads >= 0)
    warmed = np.diff(tabulated.a, axis=0)
    assert np.all(warmed[tabulated.a[1:] < 0.9] >= -1e-12)
    assert np.all(warmed >= -1e-12 - 3e-4 * np.diff(tabulated.temperatures)[:, None])
    X = np.concatenate([isotherm.moisture(made, A, T), np.linspace(1e-4, 0.4, 2000)])
    for t in (kelvin, 323.15):
        rises = np.diff(isotherm.activity(made, np.sort(X), t))
        assert np.all(rises >= -1e-13)


def test_above_nine_tenths_warmth_may_lower_activity_a_little() -> None:
    """It does where the seeded cracker's salts dissolve, by 0.0001 to 0.0005 in ten kelvins, and nowhere below 0.9."""
    dough = formula_of(load(ROOT / "examples" / "formula-seeded-cracker.yaml"), "seeded cracker dough")
    made = formula_isotherm("seeded", dough.composition, crystalline=(), branch="adsorption")
    X = np.linspace(0.01, 0.6, 4000)
    for cold in (278.15, 288.15, 298.15, 308.15):
        warm = isotherm.activity(made, X, cold + 10.0)
        change = warm - isotherm.activity(made, X, cold)
        assert np.all(change[warm < 0.9] > 0)
        assert -0.0005 < change.min() < -0.0001


def test_a_salted_cracker_rises_at_50_degrees() -> None:
    """It once fell by 2e-4 in activity near 15 % dry basis, where its salt dissolves."""
    saltine = from_proximate(lookup("finished goods", "Saltine/soda crackers"), {"maltose": 1.0})
    made = formula_isotherm("saltine", saltine, crystalline=(), branch="adsorption")
    X = np.linspace(0.01, 0.40, 20_000)
    assert np.all(np.diff(isotherm.activity(made, X, 323.15)) > 0)


ADDED = (
    {"sugars": {"sucrose": 0.1}},
    {"sugars": {"fructose": 0.001}},
    {"polyols": {"sorbitol": 0.1}},
    {"polyols": {"propylene glycol": 0.1}},
    {"salts": {"NaCl": 0.02}},
    {"salts": {"NaHCO3": 1e-4}},
)


@settings(max_examples=40, deadline=None)
@given(COMPOSITIONS, STATES, st.sampled_from(ADDED))
def test_adding_solute_never_raises_activity_at_fixed_water(composition, crystalline, added) -> None:
    """At every activity the mixture holds at least the water it held: given the water, activity falls."""
    more = blend(
        [(composition.dry_mass, composition), (sum(*map(dict.values, added.values())), Composition(**added))]
    )
    before = composition.dry_mass * shared_moisture(
        composition, A, T, crystalline=crystalline, branch="desorption"
    )
    after = more.dry_mass * shared_moisture(more, A, T, crystalline=crystalline, branch="desorption")
    assert np.all(after >= before * (1 - 1e-12))


def test_excess_crystals_are_inert() -> None:
    """Beyond solubility more sugar holds no more water, up to the surfaces of the crystals."""
    grid = np.linspace(0.05, 0.80, 60)
    wet = [solution_water(solutes({"sucrose": mass}, {}, T, ["sucrose"]), grid, 0.02) for mass in (1.0, 50.0)]
    np.testing.assert_array_equal(*wet)


def test_the_step_is_spread_below_its_point() -> None:
    """Pure fat cream: next to nothing below 0.82, a saturated solution at the point, with a slope between."""
    made = formula_isotherm("cream (invented)", CREAM, crystalline=["sucrose"], branch="desorption")
    assert isotherm.moisture(made, 0.80, T) < 1e-3
    saturated = 0.6 / solubility_of_sucrose()
    assert isotherm.moisture(made, 0.8441, T) == pytest.approx(saturated, rel=0.02)
    assert isotherm.moisture(made, 0.8341, T) == pytest.approx(0.5 * saturated, rel=0.05)
    assert made.heat is None or made.heat.q0 < 30e3


def solubility_of_sucrose() -> float:
    return lookup("solubilities", "sucrose")["S at 25 degC"]


@pytest.mark.parametrize(
    ("composition", "crystalline", "branch"),
    [(BREAD, (), "desorption"), (COOKIE, ("sucrose",), "adsorption"), (COOKIE, (), "adsorption")],
)
def test_the_table_serves_like_any_isotherm(composition, crystalline, branch) -> None:
    """The record evaluates, inverts, and tabulates for the transport solver at several temperatures."""
    made = formula_isotherm("any", composition, crystalline=crystalline, branch=branch)
    assert len(made.points) >= 250
    X = shared_moisture(composition, A, T, crystalline=crystalline, branch=branch)
    np.testing.assert_allclose(isotherm.moisture(made, A, T), X, rtol=5e-3, atol=2e-5)
    np.testing.assert_allclose(isotherm.activity(made, X, T), A, atol=5e-4)
    assert np.all(isotherm.slope(made, A, T) > 0)
    tabulated = activity_table(made, [278.15, T, 308.15], 400)
    assert np.all(np.diff(tabulated.a, axis=1) > 0)
    moved, _ = isotherm.reconcile(made, 1.2 * isotherm.moisture(made, 0.5, T), 0.5, T)
    assert isotherm.activity(moved, 1.2 * isotherm.moisture(made, 0.5, T), T) == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize("kelvin", [283.15, 308.15])
def test_the_heat_law_stands_for_the_mixture(kelvin: float) -> None:
    """Within 0.01 in activity of the mixture made at that temperature, where no crystal dissolves."""
    made = formula_isotherm("crumb", BREAD, crystalline=(), branch="desorption")
    there = formula_isotherm("crumb", BREAD, crystalline=(), branch="desorption", T=kelvin)
    X = isotherm.moisture(made, np.linspace(0.1, 0.7, 25), T)
    np.testing.assert_allclose(
        isotherm.activity(made, X, kelvin), isotherm.activity(there, X, kelvin), atol=0.01
    )


def test_the_error_travels_with_the_isotherm() -> None:
    made = formula_isotherm("crumb", BREAD, crystalline=(), branch="desorption")
    assert made.provenance == "assumed"
    assert made.activity_sd == stated_error("desorption").value
    assert "taken for crystals: none" in made.source
    assert "rms" in made.source
    sweet = formula_isotherm("cookie", COOKIE, crystalline=("sucrose",), branch="adsorption")
    assert "taken for crystals: sucrose" in sweet.source
    assert sweet.branch == "adsorption"


# Polymers and compositions ---------------------------------------------------------------------------------


@pytest.mark.parametrize("branch", ["desorption", "adsorption"])
@pytest.mark.parametrize(
    "name", ["starch", "dextrin", "wheat protein", "egg protein", "milk protein", "fibre"]
)
@pytest.mark.parametrize("kelvin", [268.15, T, 318.15])
def test_polymers_rise_and_swell_without_end(name: str, branch: Any, kelvin: float) -> None:
    a = np.concatenate((A, [1 - 1e-6, 1 - 1e-9]))
    X = polymer_moisture(name, branch, a, kelvin)
    assert np.all(np.diff(X) > 0)
    assert X[-1] > 50
    below, above = polymer_moisture(name, branch, np.array([JOIN, JOIN + 1e-9]), kelvin)
    assert above == pytest.approx(below, rel=1e-6)


def test_native_starch_is_the_generic_row_below_the_join() -> None:
    """The shelf's generic native wheat starch, which the desorption row repeats."""
    a = np.linspace(0.05, 0.85, 9)
    generic = isotherm.moisture(shelf_isotherm("wheat starch"), a, T)
    np.testing.assert_allclose(polymer_moisture("starch", "desorption", a, T), generic, rtol=1e-12)


def test_dough_without_salt_is_nearly_free_water() -> None:
    """Usual dough: 0.96-0.98 at 40-46 % moisture, common practice, no source; flour and water alone stand
    above it, 2 % of salt on flour brings it into the band."""
    flour = from_proximate(lookup("ingredients", "Bread flour, white"), {"maltose": 1.0})
    salted = blend([(0.87, flour), (0.02, Composition(salts={"NaCl": 1.0}))])
    a = [
        isotherm.activity(formula_isotherm("dough", part, crystalline=(), branch="desorption"), _wet(44), T)
        for part in (flour, salted)
    ]
    assert 0.975 < a[0] < 0.995
    assert 0.955 < a[1] < 0.98


def test_blend_adds_dry_matter() -> None:
    both = blend([(2.0, BREAD), (1.0, CREAM)])
    assert both.dry_mass == pytest.approx(3.0)
    assert both.sugars["sucrose"] == pytest.approx(0.6)
    assert both.fat == pytest.approx(2.0 * BREAD.fat / BREAD.dry_mass + 0.4)


def test_a_blend_holds_what_its_parts_hold() -> None:
    """Polymers and fat share additively; solutes would dissolve in each other's water."""
    flour, fat = Composition(starch=0.8, wheat_protein=0.2), Composition(fat=1.0)
    X = shared_moisture(blend([(3.0, flour), (1.0, fat)]), A, T, crystalline=(), branch="desorption")
    parts = [
        w * shared_moisture(part, A, T, crystalline=(), branch="desorption")
        for w, part in ((0.75, flour), (0.25, fat))
    ]
    np.testing.assert_allclose(X, sum(parts), rtol=1e-12)


def test_proximate_rows_close() -> None:
    for part in (BREAD, COOKIE):
        assert part.dry_mass == pytest.approx(1 - 0.3634 if part is BREAD else 1 - 0.048, abs=2e-3)
    egg = from_proximate(lookup("ingredients", "Egg white, raw"), {"glucose": 1.0}, protein="egg")
    assert egg.egg_protein == pytest.approx(0.109)
    assert egg.wheat_protein == 0.0


def test_mistakes_are_told() -> None:
    with pytest.raises(HardtackError, match="impossible amounts: starch"):
        Composition(starch=-1.0)
    with pytest.raises(HardtackError, match="nothing in it"):
        Composition()
    with pytest.raises(HardtackError, match="say which sugars"):
        from_proximate(lookup("ingredients", "Honey"), {})
    with pytest.raises(HardtackError, match="no kind of protein"):
        from_proximate(lookup("ingredients", "Honey"), {"glucose": 1.0}, protein="pea")
    with pytest.raises(HardtackError, match="not in the mixture"):
        formula_isotherm("x", BREAD, crystalline=["sucrose"], branch="desorption")
    with pytest.raises(NotOnShelf, match="sucralose"):
        formula_isotherm("x", Composition(sugars={"sucralose": 1.0}), crystalline=[], branch="desorption")
    with pytest.raises(HardtackError, match="between 0 and 1"):
        shared_moisture(BREAD, np.array([0.5, 1.0]), T, crystalline=[], branch="desorption")


def test_the_record_is_an_ordinary_isotherm() -> None:
    made = formula_isotherm("crumb", BREAD, crystalline=(), branch="desorption")
    assert isinstance(made, Isotherm)
    isotherm.validate(made)
