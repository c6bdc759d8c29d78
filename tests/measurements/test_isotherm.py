"""Isotherm fits against published points, remembered handbook tables, and curves that are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import least_squares
from hardtack.measurements.isotherm import RANKED, fit_form, fit_isotherms, isotherm_from
from hardtack.measurements.starts import sought, starts
from hardtack.reference import isotherm as shelf_isotherm
from hardtack.reference import lookup
from hardtack.states import IsostericHeat, Isotherm
from hardtack.water import isotherm as water
from hardtack.water.isotherms import form_named
from tests.measurements.files import lines, read

REGAIN = {
    "crackers": ([2.1, 2.8, 3.3, 3.9, 5.0, 6.5, 8.3, 10.9, 14.9], (3.395, 9.23, 0.868), 5.6),
    "flour": ([2.6, 4.1, 5.3, 6.5, 8.0, 9.9, 12.4, 15.4, 19.1], (6.468, 6.01, 0.765), 3.2),
    "starch": ([2.2, 3.8, 5.2, 6.4, 7.4, 8.3, 9.2, 10.6, 12.7], (6.675, 8.22, 0.577), 2.9),
    "macaroni": ([5.1, 7.4, 8.8, 10.2, 11.7, 13.7, 16.2, 19.0, 22.1], (8.804, 15.36, 0.690), 1.5),
}
"""Regain of hygroscopic materials, % dry basis at 10 to 90 % RH (air-conditioning handbooks, as remembered), with GAB
constants and E worked out from them by another hand than this code."""
BREAD = [0.5, 1.7, 3.1, 4.5, 6.2, 8.5, 11.1, 14.5, 19.0]
TENTHS = np.arange(1, 10) / 10


@pytest.mark.parametrize("material", REGAIN)
def test_regain_tables(material: str) -> None:
    percent, (Xm, C, K), E = REGAIN[material]
    found = fit_form("gab", TENTHS, np.array(percent) / 100, np.full(9, 297.15), profiles=False)
    values = found.fit.values
    # half a unit of the last printed figure
    assert 100 * values["Xm"] == pytest.approx(Xm, abs=5e-4)
    assert values["C"] == pytest.approx(C, abs=5e-3)
    assert values["K"] == pytest.approx(K, abs=5e-4)
    assert found.mean_deviation == pytest.approx(E, abs=0.05)


def test_bread_has_no_gab_and_is_told_so() -> None:
    # white bread of the same tables runs to an unphysical solution: warn and offer Peleg or Oswin
    study = fit_isotherms(TENTHS, np.array(BREAD) / 100, np.full(9, 297.15))
    gab = next(found for found in study.ranked if found.isotherm.form == "gab")
    assert not gab.sound
    assert study.best.isotherm.form == "peleg"
    assert any("GAB came nearer, but not usable: Xm ran into its bound" in line for line in study.told)


def test_soft_dough_biscuit_from_the_shelf() -> None:
    # five printed points of a thesis (shelf row), fitted on relative error, as the shelf row says of itself
    row = lookup("isotherms", "soft-dough biscuit, measured")
    points = sorted(
        (float(name.removeprefix("X at ")), value.value)
        for name, value in row.values.items()
        if name.startswith("X at ")
    )
    a, X = np.array(points).T
    fit = least_squares(
        lambda p: np.asarray(form_named("gab").moisture(a, p)), X, sought("gab", float(a.max())), starts("gab", a, X),
        weights=1 / X, profiles=False,
    )  # fmt: skip
    shelf = lookup("isotherms", "soft-dough biscuit")
    for name in ("Xm", "C", "K"):
        amount = shelf.values[name]
        assert amount.sd is not None
        assert abs(fit[name].value - amount.value) < 0.1 * amount.sd
    # the shelf row's note says 2.3 % mean deviation
    printed = np.asarray(form_named("gab").moisture(a, {name: shelf[name] for name in ("Xm", "C", "K")}))
    assert np.mean(np.abs(fit.residuals) / X) == pytest.approx(np.mean(np.abs(printed - X) / X), abs=1e-3)
    assert np.mean(np.abs(printed - X) / X) == pytest.approx(0.023, abs=5e-4)
    assert shelf_isotherm("soft-dough biscuit").parameters["K"] == pytest.approx(fit["K"].value, abs=0.003)


@pytest.mark.parametrize(
    ("form", "constants"),
    [
        ("gab", {"Xm": 0.04, "C": 12.0, "K": 0.88}),
        ("bet", {"Xm": 0.04, "C": 12.0}),
        ("oswin", {"A": 0.08, "B": 0.4}),
        ("halsey", {"A": 0.02, "B": 1.4}),
        ("henderson", {"A": 15.0, "B": 1.2}),
        ("chung_pfost", {"A": 4.0, "B": 20.0}),
        ("smith", {"A": 0.02, "B": 0.08}),
        ("peleg", {"C1": 0.1, "C2": 0.7, "C3": 0.2, "C4": 6.0}),
        ("lewicki", {"F": 0.1, "G": 0.4, "H": 1.5}),
    ],
)
def test_every_form_finds_its_own_constants(form: str, constants: dict[str, float]) -> None:
    a = np.linspace(0.08, 0.92, 12)
    X = np.asarray(form_named(form).moisture(a, constants))
    found = fit_form(form, a, X, np.full(12, 298.15), profiles=False)
    assert found.fit.values == pytest.approx(constants, rel=1e-5)
    assert found.isotherm.activity_range == (pytest.approx(0.08), pytest.approx(0.92))
    assert found.isotherm.provenance == "measured here"
    assert form in (*RANKED, "bet")


def test_several_temperatures_with_fading_heat() -> None:
    truth = Isotherm("truth", "gab", {"Xm": 0.04, "C": 12.0, "K": 0.88}, heat=IsostericHeat(9000.0, 0.08))
    a = np.tile([0.11, 0.23, 0.33, 0.43, 0.53, 0.65, 0.75, 0.84], 3)
    T = np.repeat([288.15, 298.15, 308.15], 8)
    X = water.moisture(truth, a, T) * (1 + 0.003 * np.random.default_rng(3).normal(size=24))
    found = fit_form("gab", a, X, T, profiles=False)
    assert found.isotherm.heat is not None
    for name, value in {"Xm": 0.04, "C": 12.0, "K": 0.88, "q0": 9000.0, "X0": 0.08}.items():
        estimate = found.fit[name]
        assert estimate.sd is not None
        assert abs(estimate.value - value) < 3 * estimate.sd
        assert estimate.sd < 0.15 * value
    # Clausius-Clapeyron, ln(a2/a1) = q/R (1/T1 - 1/T2), against the isotherm made of the fit
    a_cold, a_warm = (float(water.activity(found.isotherm, 0.05, kelvin)) for kelvin in (288.15, 308.15))
    q = 8.314462618 * np.log(a_warm / a_cold) / (1 / 288.15 - 1 / 308.15)
    assert q == pytest.approx(9000 * np.exp(-0.05 / 0.08), rel=0.1)


def test_study_from_a_file_with_replicates_branch_and_mould(tmp_path: Path) -> None:
    rows = ["Salt,Moisture 1 (% db),Moisture 2 (% db),Branch,Remark"]
    for salt, one, two in (
        ("LiCl", 2.3, 2.4),
        ("MgCl2", 3.9, 4.0),
        ("K2CO3", 4.9, 5.0),
        ("NaBr", 6.4, 6.3),
        ("NaCl", 10.4, 10.6),
    ):
        rows.append(f"{salt},{one},{two},adsorption,")
    rows += ["KCl,15.9,15.5,adsorption,mould", "NaCl,11.9,12.0,desorption,", "KCl,15.1,,adsorption,"]
    table = read(tmp_path, lines(*rows), "temperature: 25 degC")
    study = isotherm_from(table)
    assert study.activity.size == 11
    assert {item.reason for item in study.aside} >= {"not adsorption"}
    assert len(study.rows) == 11
    assert study.best.mean_deviation < 5
    assert study.best.isotherm.reference_temperature == 298.15
    assert any("outside this range the curve is extrapolation" in line for line in study.told)
    assert study.bet is not None
    estimate = study.best.fit.estimates[0]
    assert estimate.low is not None
    assert estimate.high is not None
    assert estimate.low < estimate.value < estimate.high


def test_type_three_curves_are_named() -> None:
    a = np.linspace(0.1, 0.9, 9)
    X = np.asarray(form_named("gab").moisture(a, {"Xm": 0.09, "C": 1.2, "K": 0.82}))
    found = fit_form("gab", a, X * (1 + 0.01 * np.cos(9 * a)), np.full(9, 303.15), profiles=False)
    assert any("type III" in doubt for doubt in found.doubts)


@pytest.mark.parametrize(
    ("a", "X", "says"),
    [
        ([0.1, 0.3, 0.5], [0.02, 0.03, 0.05], "too few"),
        ([0.1, 0.3, 0.5, 1.0], [0.02, 0.03, 0.05, 0.2], "between 0 and 1"),
        ([0.1, 0.3, 0.5, 0.7], [0.0, 0.03, 0.05, 0.2], "moistures above 0"),
    ],
)
def test_points_that_cannot_be(a: list[float], X: list[float], says: str) -> None:
    with pytest.raises(HardtackError, match=says):
        fit_isotherms(np.array(a), np.array(X), np.full(len(a), 298.15))


def test_temperature_is_asked(tmp_path: Path) -> None:
    table = read(tmp_path, lines("aw,moisture % db", "0.1,2", "0.3,3.5"))
    with pytest.raises(HardtackError, match="at which temperature"):
        isotherm_from(table)


def test_a_column_for_every_salt(tmp_path: Path) -> None:
    head = "Sample,LiCl,MgCl2 (% db),K2CO3,NaBr,NaCl,KCl"
    rows = ["A,2.3,3.9,4.9,6.4,10.4,15.9", "B,2.4,4.0,,6.3,10.6,15.5"]
    with pytest.raises(HardtackError, match="per hundred of the product"):
        read(tmp_path, lines(head, *rows), "temperature: 25 degC")
    table = read(tmp_path, lines(head, *rows), "temperature: 25 degC", "moisture basis: dry")
    assert any("a salt as its name: moisture over NaBr" in line for line in table.told)
    study = isotherm_from(table)
    assert study.activity.size == 11
    # MgCl2 stands at 0.328 at 25 °C (Greenspan 1977)
    assert np.isclose(study.activity, 0.328, atol=0.001).sum() == 2
    one = read(tmp_path, lines("Sample,aw,NaCl (%)", "A,0.3,1.2"))
    assert not one.keys("moisture")  # a salt's own content is no jar
