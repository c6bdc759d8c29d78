"""Solutions of sugars, polyols and salts against handbooks."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import lookup, rows
from hardtack.water.air import MOLAR_MASS_WATER, ice_activity
from hardtack.water.dissolved import deliquescence, solutes
from hardtack.water.electrolyte import osmotic_coefficient, salt_molality, salt_solution_activity
from hardtack.water.salts import salt_activity
from hardtack.water.solubility import solubility
from hardtack.water.solutions import (
    mole_fractions,
    norrish,
    norrish_roots,
    norrish_squares,
    raoult,
    ross,
    solution_activity,
    solution_molality,
)

T = 298.15

# CRC Handbook of Chemistry and Physics, 102nd ed. (2021), Concentrative properties of aqueous solutions, as
# copied in a public data file: mass % and freezing point depression, K. At its freezing point the solution
# has the activity of ice. Activity at fixed composition moves a little with temperature, so the check stops
# where the freezing point lies 7 K down: further down glycerol and NaCl drift by 0.01.
FREEZING = {
    "sucrose": ((5, 0.29), (10, 0.63), (20, 1.47), (30, 2.64), (40, 4.45), (42, 4.93)),
    "glucose": ((5, 0.55), (10, 1.17), (20, 2.70), (30, 4.79)),
    "maltose": ((5, 0.29), (10, 0.62), (20, 1.43), (30, 2.62), (40, 4.41), (44, 5.35)),
    "lactose": ((4, 0.23), (8, 0.50)),
    "glycerol": ((5, 1.08), (10, 2.32), (20, 5.46)),
}
# The same table: molality, depression.
SALT_FREEZING = {
    "NaCl": ((0.173, 0.59), (0.529, 1.79), (0.901, 3.05), (1.488, 5.08), (1.901, 6.56)),
    "NaHCO3": ((0.120, 0.40), (0.368, 1.16), (0.760, 2.26)),
    "Na2CO3": ((0.193, 0.75), (0.393, 1.42), (0.602, 2.13)),
    "NaH2PO4": ((0.170, 0.56), (0.532, 1.65), (0.926, 2.58), (2.084, 5.10)),
    "Na acetate": ((0.249, 0.88), (0.642, 2.32), (1.206, 4.57)),
}


@pytest.mark.parametrize("name", FREEZING)
def test_norrish_against_freezing_points(name: str) -> None:
    """CRC Handbook freezing points; K of the sugars is from memory, so this is what holds them."""
    for percent, depression in FREEZING[name]:
        m = percent / (100 - percent) / lookup("solutes", name)["M"]
        published = ice_activity(273.15 - depression)
        assert solution_activity(name, m) == pytest.approx(published, abs=0.005), percent


SETS = tomllib.loads((Path(__file__).parent / "solution_activities.toml").read_text("utf-8"))["set"]


def _published(one: dict[str, Any]) -> list[tuple[float, float]]:
    """Molality and activity of a set: as printed, from its freezing points, or from its equation."""
    if "freezing" in one:
        return [(m, float(ice_activity(273.15 - depression))) for m, depression in one["freezing"]]
    m = np.array(one["m"])
    if "a" in one:
        a = np.array(one["a"])
    elif "phi" in one:
        a = np.exp(-MOLAR_MASS_WATER * m * np.polynomial.polynomial.polyval(m, one["phi"]))
    elif "hydration" in one:
        a = np.array([_hydrated(value, **one["hydration"]) for value in one["m"]])
    elif "norrish" in one:
        a = norrish(m * MOLAR_MASS_WATER / (1 + m * MOLAR_MASS_WATER), one["norrish"])
    elif "unifac" in one:
        a = np.array([_group_contributions(value, **one["unifac"]) for value in one["m"]])
    elif "wilson" in one:
        a = _wilson(m * MOLAR_MASS_WATER, *one["wilson"])
    else:
        a = _hamer_wu(m, **one["hamer_wu"])
    return list(zip(one["m"], a.tolist(), strict=True))


def _hydrated(m: float, steps: int, K: float) -> float:
    """Stokes and Robinson (1966): 1/(m M_w) = a/(1 - a) + h, h the mean hydration in equal steps."""

    def beyond(a: float) -> float:
        weights = (K * a) ** np.arange(steps + 1)
        return (
            a / (1 - a) + float(np.arange(steps + 1) @ weights / weights.sum()) - 1 / (m * MOLAR_MASS_WATER)
        )

    return float(brentq(beyond, 0.2, 1 - 1e-9))


# Relative volume and surface of each group, and a_mn [K] of their pairs by kind: carbon, ring ether, hydroxyl, water.
GROUPS = {
    "CH2": ("C", 0.6744, 0.540),
    "CH": ("C", 0.4469, 0.228),
    "C": ("C", 0.2195, 0.0),
    "CHO": ("E", 0.6908, 0.468),
    "CH2O": ("E", 0.9183, 0.780),
    "OH": ("O", 1.0, 1.2),
    "water": ("W", 0.92, 1.4),
}
PAIRS = {
    "alcohol": {"CO": 986.5, "OC": 156.4, "CW": 1318.0, "WC": 300.0, "OW": 353.5, "WO": -229.1},
    "monosaccharide": {
        "CO": 986.5, "OC": 156.4, "CW": 1318.0, "WC": 300.0, "OW": -189.7, "WO": 171.3,
        "EW": 2007.0, "WE": 193.1, "CE": 251.5, "EC": 83.36, "OE": 28.06, "EO": 237.7,
    },
}  # fmt: skip


def _group_contributions(m: float, family: str, rings: list[dict[str, float]]) -> float:
    """UNIFAC (Fredenslund, Jones, Prausnitz 1975) for one solute in water, its forms weighted by share."""
    found = 0.0
    for ring in rings:
        solute = {name: count for name, count in ring.items() if name != "share" and count}
        found += ring["share"] * _unifac(m, solute, PAIRS[family])
    return found


def _unifac(m: float, solute: dict[str, float], pairs: dict[str, float]) -> float:
    x = np.array([1.0, m * MOLAR_MASS_WATER]) / (1.0 + m * MOLAR_MASS_WATER)
    molecules = ({"water": 1.0}, solute)
    r, q = (
        np.array([sum(n * GROUPS[name][place] for name, n in molecule.items()) for molecule in molecules])
        for place in (1, 2)
    )
    phi, theta = x * r / (x @ r), x * q / (x @ q)
    bulk = 5.0 * (r - q) - (r - 1.0)
    sizes = (
        np.log(phi[0] / x[0]) + 5.0 * q[0] * np.log(theta[0] / phi[0]) + bulk[0] - phi[0] / x[0] * (x @ bulk)
    )
    mixture = {name: x[1] * n for name, n in solute.items()} | {"water": x[0]}
    return float(x[0] * np.exp(sizes + _of_water(mixture, pairs)))


def _of_water(mixture: dict[str, float], pairs: dict[str, float]) -> float:
    """ln of the residual contribution of the group water; that of pure water is zero."""
    kinds, Q = [GROUPS[name][0] for name in mixture], np.array([GROUPS[name][2] for name in mixture])
    psi = np.exp([[-pairs.get(one + other, 0.0) / T for other in kinds] for one in kinds])
    share = np.array(list(mixture.values())) * Q
    share = share / share.sum()
    at = list(mixture).index("water")
    return float(Q[at] * (1.0 - np.log(share @ psi[:, at]) - (share * psi[at] / (share @ psi)).sum()))


def _wilson(r: Any, a12: float, a21: float, b12: float, b21: float, v1: float, v2: float) -> Any:
    """The equation as it stands in the public code, r moles of solute per mole of water."""
    first, second = v2 / v1 * np.exp(-(a12 + b12 / T)), v1 / v2 * np.exp(-(a21 + b21 / T))
    return np.exp(r * first / (1 + r * first) - np.log1p(r * first) - r * first / (r + second))


def _hamer_wu(m: Any, A: float, B: float, beta: float, C: float, D: float, E: float) -> Any:
    """Tang et al. (1986), eq. for a 1:1 salt."""
    b = 1 + B * np.sqrt(m)
    charge = A / (B**3 * m) * (b - 2 * np.log(b) - 1 / b)
    rest = beta * m / 2 + 2 / 3 * C * m**2 + 3 / 4 * D * m**3 + 4 / 5 * E * m**4
    return np.exp(-2 * m * MOLAR_MASS_WATER * (1 - math.log(10) * (charge - rest)))


@pytest.mark.parametrize("one", SETS, ids=lambda one: f"{one['solute']}: {one['source'][:24]}")
def test_activities_over_molality(one: dict[str, Any]) -> None:
    """Published tables and equations over molality, to each solute's limit, within 0.005 in activity."""
    for m, published in _published(one):
        if one["solute"] in {row.name for row in rows("electrolytes")}:
            a = float(salt_solution_activity(one["solute"], m))
        else:
            a = float(solution_activity(one["solute"], m))
        assert a == pytest.approx(published, abs=0.005), m


def test_every_solute_says_how_far_it_was_checked() -> None:
    """`checked` of the shelf is the last molality of a set here, or nothing."""
    for row in rows("solutes"):
        ends = [max(m for m, _ in _published(one)) for one in SETS if one["solute"] == row.name]
        assert ("checked" in row.values) == bool(ends), row.name
        if ends:
            assert row["checked"] == pytest.approx(max(ends), abs=0.1)


def test_norrish_alone_lies_above_both_sources_on_sorbitol() -> None:
    """Why b and c: K = 1.65 alone misses the group contributions and the table by 0.02 and more at 22 mol/kg."""
    alone = float(norrish(21.957 * MOLAR_MASS_WATER / (1 + 21.957 * MOLAR_MASS_WATER), 1.65))
    groups = next(one for one in SETS if one["solute"] == "sorbitol" and "unifac" in one)["unifac"]
    assert alone - 0.60 > 0.02
    assert alone - _group_contributions(21.957, **groups) > 0.02


def test_crystalline_fructose_stays_dry_at_sixty_percent_humidity() -> None:
    """White and Osberger, in a handbook of sweeteners, Table 11: at 20 degC and 60 % humidity crystals take up
    0.13 % within days and no more, so they dissolve above."""
    assert 0.60 < deliquescence(solutes({"fructose": 1.0}, {}, 293.15, ["fructose"])) < 0.63


def test_that_table_is_too_coarse_to_judge_a_law_by() -> None:
    """Sloan and Labuza (1975), as for sorbitol, at 0.9: 65 g water on 100 g sucrose, 4.5 mol/kg, where the law is met within 0.005."""
    row = lookup("solutes", "sucrose")
    m = 100 / row["M"] / 65
    assert m < row["checked"]
    assert 0.9 - solution_activity("sucrose", m) == pytest.approx(0.008, abs=1e-3)


def test_saturated_fructose() -> None:
    """0.62 to 0.63 at 25 degC (figure from memory). A solubility one twentieth lower, within what is known of it,
    makes up for the difference."""
    row = lookup("solutes", "fructose")
    m = solubility("fructose", T).value / row["M"]
    assert solution_activity("fructose", m) == pytest.approx(0.62, abs=0.02)
    assert solution_activity("fructose", 0.94 * m) == pytest.approx(0.62, abs=0.01)


@pytest.mark.parametrize("salt", SALT_FREEZING)
def test_pitzer_against_freezing_points(salt: str) -> None:
    """CRC Handbook freezing points, 0.12 to 2.1 mol/kg, one and two cations to the formula."""
    for m, depression in SALT_FREEZING[salt]:
        assert salt_solution_activity(salt, m) == pytest.approx(ice_activity(273.15 - depression), abs=0.005)


def test_sodium_chloride_at_six_molal() -> None:
    """Robinson and Stokes (1965) as quoted in a manual of verification standards: phi 1.271, a 0.760."""
    assert osmotic_coefficient("NaCl", 6.0) == pytest.approx(1.271, abs=0.003)
    assert salt_solution_activity("NaCl", 6.0) == pytest.approx(0.760, abs=0.002)


def test_one_molal_solutions() -> None:
    """A text on water activity: 1 molal NaCl 0.9669, 1 molal sugar about 0.98."""
    assert salt_solution_activity("NaCl", 1.0) == pytest.approx(0.9669, abs=2e-4)
    assert solution_activity("sucrose", 1.0) == pytest.approx(0.98, abs=0.005)


def test_sodium_sulphate_needs_the_charge_factors() -> None:
    """Robinson and Stokes, appendix (figures from memory): phi of Na2SO4 0.793 at 0.1, 0.642 at 1.0."""
    assert osmotic_coefficient("Na2SO4", 0.1) == pytest.approx(0.793, abs=0.005)
    assert osmotic_coefficient("Na2SO4", 1.0) == pytest.approx(0.642, abs=0.005)


@pytest.mark.parametrize("salt", ["NaCl", "KCl"])
def test_saturated_salts_reach_the_fixed_points(salt: str) -> None:
    """Greenspan (1977): 0.753 and 0.843 at 25 degC, from solubility and Pitzer alone."""
    M = lookup("electrolytes", salt)["M"]
    saturated = salt_solution_activity(salt, solubility(salt, T).value / M)
    assert saturated == pytest.approx(salt_activity(salt, T).value, abs=0.004)


def test_norrish_sign() -> None:
    """A positive K lowers activity below Raoult's law; propylene glycol's negative one raises it."""
    assert norrish(0.1, 6.47) < raoult(0.1) < norrish(0.1, -1.0)
    assert norrish(0.0, 6.47) == 1.0


def test_the_two_mixing_forms_differ_by_the_cross_terms() -> None:
    x, K = (0.05, 0.04), (6.47, 2.25)
    cross = 2 * math.sqrt(K[0] * K[1]) * x[0] * x[1]
    assert norrish_roots(x, K) == pytest.approx(norrish_squares(x, K) * math.exp(-cross), rel=1e-14)
    for single in (norrish_roots, norrish_squares):
        assert single((0.1,), (2.25,)) == pytest.approx(norrish(0.1, 2.25), rel=1e-14)
        assert single((), ()) == 1.0
    with pytest.raises(HardtackError, match="norrish_squares"):
        norrish_roots((0.1, 0.1), (2.0, -1.0))


def test_sucrose_falls_into_the_glass_and_back() -> None:
    """Its exponent would turn back at 4 % water, past which activity would rise; held there, it falls to the end."""
    m = np.geomspace(0.01, 3000.0, 4000)
    a = solution_activity("sucrose", m)
    assert np.all(np.diff(a) < 0)
    np.testing.assert_allclose(solution_molality("sucrose", a), m, rtol=1e-9)


def test_ross_worked_example() -> None:
    """By hand: 30 g sucrose, 10 g glucose, 2 g NaCl in 58 g water: 0.9691 x 0.9824 x 0.9806 = 0.9336."""
    sugars = [
        norrish(mole_fractions({name: mass / 58})[name], K)
        for name, mass, K in (("sucrose", 30.0, 6.47), ("glucose", 10.0, 2.25))
    ]
    salt = salt_solution_activity("NaCl", 2 / 58 / 0.05844)
    assert sugars == pytest.approx([0.9691, 0.9824], abs=1e-4)
    assert ross([*sugars, salt]) == pytest.approx(0.9336, abs=2e-4)


def test_money_and_born_agree_roughly() -> None:
    """Money and Born (1951), a = 1/(1 + 0.27 n), n mol of sugar in 100 g water (equation from memory)."""
    for n in (0.1, 0.2, 0.4):
        assert solution_activity("sucrose", 10 * n) == pytest.approx(1 / (1 + 0.27 * n), abs=0.01)


@given(st.floats(0.05, 0.9999), st.sampled_from([row.name for row in rows("solutes")]))
def test_norrish_inverse(a: float, name: str) -> None:
    assert solution_activity(name, float(solution_molality(name, a))) == pytest.approx(a, rel=1e-10)


@settings(deadline=None)
@given(st.floats(0.3, 0.9999), st.sampled_from([row.name for row in rows("electrolytes")]))
def test_salt_molality_is_the_inverse_and_falls_with_activity(a: float, salt: str) -> None:
    saturation = solubility(salt, T).value / lookup("electrolytes", salt)["M"]
    m = float(salt_molality(salt, a, saturation))
    assert m > float(salt_molality(salt, a + 0.5 * (1 - a), saturation))
    if m <= saturation:
        assert salt_solution_activity(salt, m) == pytest.approx(a, rel=1e-9)


# Solubility ------------------------------------------------------------------------------------------------


def test_solubility_at_and_between_the_nodes() -> None:
    """Antokolskaya (1964) at its nodes; Sokolovsky (1958) prints 68.7 % at 30 degC, 219.5 g per 100 g."""
    assert solubility("sucrose", 293.15).value == pytest.approx(2.039, rel=1e-9)
    assert solubility("sucrose", 303.15).value == pytest.approx(2.195, rel=0.015)
    between = solubility("sucrose", 308.15)
    assert between.value == pytest.approx(2.284, rel=2e-3)  # its own row at 35 degC, not on the shelf
    assert between.provenance == "seen"


@pytest.mark.parametrize(("t", "grams"), [(54.2, 151.4), (30.0, 93.2)])
def test_solubility_of_maltose(t: float, grams: float) -> None:
    """Gillis, in Lowe: 151.4 g at 54.2 degC (not on the shelf), 93.2 at 29.6."""
    assert solubility("maltose", t + 273.15).value == pytest.approx(grams / 100, rel=0.03)


def test_solubility_is_held_and_said_outside_its_table() -> None:
    held = solubility("xylitol", 283.15)
    assert held.value == lookup("solubilities", "xylitol")["S at 25 degC"]
    assert held.provenance == "assumed"
    assert "25 degC" in held.source
    with pytest.raises(NotOnShelf):
        solubility("sand", T)


# Deliquescence ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "published", "within"),
    [
        ("sucrose", 0.85, 0.01),
        ("glucose", 0.90, 0.015),  # the monohydrate, 0.89 to 0.91
        ("fructose", 0.62, 0.03),  # its solubility is known to 10 % only
    ],
)
def test_deliquescence_points(name: str, published: float, within: float) -> None:
    """Sucrose: Yuan 2007 (thesis abstract); glucose and fructose: usual values at 25 degC, from memory."""
    assert deliquescence(solutes({name: 1.0}, {}, T, [name])) == pytest.approx(published, abs=within)


@pytest.mark.parametrize("pair", [("sucrose", "glucose"), ("sucrose", "fructose"), ("glucose", "xylitol")])
def test_blends_deliquesce_below_every_member(pair: tuple[str, str]) -> None:
    """Allan and Mauer (2016), Food Chem.: deliquescence lowering; the amounts do not matter."""
    both = solutes({pair[0]: 1.0, pair[1]: 0.2}, {}, T, pair)
    alone = [deliquescence(solutes({name: 1.0}, {}, T, [name])) for name in pair]
    assert deliquescence(both) < min(alone) - 0.02
    assert deliquescence(both) == deliquescence(solutes({pair[0]: 0.1, pair[1]: 3.0}, {}, T, pair))


def test_nothing_to_dissolve_has_no_point() -> None:
    assert deliquescence(()) is None
    assert deliquescence(solutes({"sucrose": 1.0}, {}, T, [])) is None
    with pytest.raises(HardtackError, match="not in the mixture: fructose"):
        solutes({"sucrose": 1.0}, {}, T, ["fructose"])


def test_salt_molality_beyond_saturation_keeps_its_osmotic_coefficient() -> None:
    saturation = 6.146
    held = float(osmotic_coefficient("NaCl", saturation))
    m = float(salt_molality("NaCl", 0.6, saturation))
    assert math.exp(-2 * m * held * MOLAR_MASS_WATER) == pytest.approx(0.6, rel=1e-12)
    assert np.all(np.diff(salt_molality("NaCl", np.linspace(0.3, 0.99, 200), saturation)) < 0)
