"""The invented example files, fitted from file to answer: what they were made with comes back within its error."""

from __future__ import annotations

import json
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from hardtack import reference
from hardtack.cli.show_fit import write_result
from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.measurements.answers import answers, answers_for
from hardtack.measurements.as_json import fit_json
from hardtack.measurements.diffusivity import Sample
from hardtack.measurements.film import TestClimate
from hardtack.measurements.fit_answer import FitAnswer, layer_named
from hardtack.measurements.fits import (
    fit_bake,
    fit_crispness,
    fit_diffusion,
    fit_film,
    fit_firmness,
    fit_isotherm,
    fit_mould_days,
    fit_oxidation,
    fit_panel,
    fit_trial,
)
from hardtack.measurements.into import write_entries
from hardtack.measurements.model import Air
from hardtack.measurements.rancidity import Transition
from hardtack.product import load

ROOT = Path(__file__).parents[2]
DATA = ROOT / "examples" / "data"
CRACKER = ROOT / "examples" / "lean-cracker-humid-coast.yaml"
BISCUIT = ROOT / "examples" / "hard-biscuit-plain.yaml"
CLIMATE = TestClimate(311.15, 0.9, 0.0)


def holds(answer: FitAnswer, name: str, truth: float, width: float = 3.0) -> None:
    """The estimate lies within `width` standard deviations of what the file was made with."""
    estimate = {item.name: item for item in answer.estimates}[name]
    assert estimate.sd is not None
    assert abs(estimate.value - truth) < width * estimate.sd
    assert estimate.sd < 0.2 * abs(truth)


@cache
def diffusion() -> FitAnswer:
    return fit_diffusion(
        DATA / "steps-biscuit.csv", sample=Sample("slab", 4e-3, 25e-4, 2.4e-3),
        isotherm=reference.isotherm("hard-dough biscuit"), temperature=298.15,
    )  # fmt: skip


@cache
def trial() -> FitAnswer:
    return fit_trial(DATA / "trial-biscuit.csv", load(BISCUIT))


@cache
def sorption() -> FitAnswer:
    return fit_isotherm(DATA / "sorption-cracker.csv")


def test_isotherm_of_three_temperatures_and_two_branches() -> None:
    answer = sorption()
    for name, truth in (("Xm", 0.046), ("C", 11.0), ("K", 0.86), ("q0", 7000), ("X0", 0.08)):
        holds(answer, name, truth)
    assert answer.facts["form"] == "GAB"
    assert answer.facts["other_branch"]["branch"] == "desorption"
    assert len(answer.drawing.points) == 4


def test_jars_with_a_mouldy_one_and_a_blank() -> None:
    answer = fit_isotherm(DATA / "jars-crispbread.csv", temperature=298.15)
    holds(answer, "K", 0.86)
    read = "\n".join(answer.reading)
    assert "mould on two pieces" in read
    assert "(blank), row 7" in read


def test_a_meter_is_corrected_by_its_salts() -> None:
    wrong = fit_isotherm(DATA / "readings-biscuit.csv")
    right = fit_isotherm(DATA / "readings-biscuit.csv", meter=DATA / "salts-meter.csv")
    # the meter was made to read 0.006 + 0.992 a
    assert right.facts["meter"]["slope"] == pytest.approx(1 / 0.992, abs=0.006)
    holds(right, "Xm", 0.031)
    assert wrong.facts["meter"] is None
    with pytest.raises(HardtackError, match="come from salts"):
        fit_isotherm(DATA / "jars-crispbread.csv", temperature=298.15, meter=DATA / "salts-meter.csv")


def test_a_mapping_file_answers_for_its_files() -> None:
    file = DATA / "jars-moisture.csv"
    with pytest.raises(HardtackError, match="which of day, month and year"):
        fit_isotherm(file, temperature=298.15)
    answer = fit_isotherm(file, said=answers_for(file, DATA / "answers.yaml"))
    assert "Water, oven: moisture, %, wet basis (as answered)" in answer.reading


def test_cups_and_pouches() -> None:
    cups = fit_film(DATA / "cups-film.csv", area=50e-4, climate=CLIMATE)
    holds(cups, "transmission", 3.1)
    whole = fit_film(
        DATA / "pouches-film.csv", area=660e-4, climate=CLIMATE, pouch=True, said=answers(["column day *: mass g"])
    )  # fmt: skip
    assert whole.facts["series"]["P5"]["stands_apart"]
    assert any("P5 stands apart" in line for line in whole.told)


def test_a_question_for_many_columns_is_one() -> None:
    with pytest.raises(HardtackError, match="what is written under 'day 0', 'day 7'") as error:
        fit_film(DATA / "pouches-film.csv", area=660e-4, climate=CLIMATE)
    assert len(error.value.problems) == 1
    assert "'column day *: mass g'" in error.value.problems[0].mend


def test_steps_through_the_transport_core() -> None:
    answer = diffusion()
    holds(answer, "D1", 1.1e-11)
    holds(answer, "D2", 1.7e-11)
    # ln(1.7/1.1) over the middle moistures of the two steps
    middles = [np.mean(step["moisture_dry_basis"]) for step in answer.facts["steps"]]
    holds(answer, "slope", float(np.log(1.7 / 1.1) / (middles[1] - middles[0])))


def test_one_step_in_air_of_one_humidity_and_by_mass(tmp_path: Path) -> None:
    rows = [line.split(",") for line in (DATA / "steps-biscuit.csv").read_text("utf-8").splitlines()[2:12]]
    file = tmp_path / "mass.csv"
    # the dry mass of the sample is 2.4 g
    lines = ["Time (h),Mass (g)"] + [f"{t},{2.4 * (1 + float(X) / 100):.6f}" for t, _, X in rows]
    file.write_text("\n".join(lines), "utf-8")
    iso = reference.isotherm("hard-dough biscuit")
    sample = Sample("slab", 4e-3, 25e-4, 2.4e-3)
    answer = fit_diffusion(file, sample=sample, isotherm=iso, temperature=298.15, activity=0.45)
    holds(answer, "D", 1.1e-11)
    assert answer.facts["slope_of_ln_D_per_moisture"] is None
    heavy = Sample("slab", 4e-3, 25e-4, 3e-3)
    with pytest.raises(HardtackError, match="less than its dry mass"):
        fit_diffusion(file, sample=heavy, isotherm=iso, temperature=298.15, activity=0.45)


def test_bake_loss_and_the_moisture_it_leaves() -> None:
    answer = fit_bake(DATA / "bake-loss.csv", dough_moisture=0.24 / 0.76, time=390.0)
    holds(answer, "rate", 0.031)
    # by hand: 100 g of dough hold 76 g dry; 3.1 % a minute over 5.1 min leave 84.2 g, 8.2 g of it water
    assert answer.facts["baked_moisture_dry_basis"]["value"] == pytest.approx(0.1078, abs=0.003)
    with pytest.raises(HardtackError, match="needs two things"):
        fit_bake(DATA / "bake-loss.csv", time=390.0)


def test_crispness_limit() -> None:
    answer = fit_crispness(DATA / "force-cracker.csv", loss=0.3)
    assert answer.facts["activity"] == pytest.approx(0.455 + 0.045 * np.log(3 / 7), abs=0.015)
    assert answer.facts["at_degC"] == pytest.approx(22)
    assert any("broken before the test" in line for line in answer.reading)


def test_firming_of_four_temperatures() -> None:
    answer = fit_firmness(DATA / "firmness-loaf.csv", limit=12.0)
    holds(answer, "energy", -2.4e4)
    at = {round(life["at_degC"]): life for life in answer.facts["days_to_limit"]}
    # made with 0.28 a day at 21 °C: ln(13.5 / 3.7) / 0.28
    assert at[21]["day"] == pytest.approx(np.log(13.5 / 3.7) / 0.28, abs=3 * at[21]["sd"])
    assert at[4]["day"] < at[21]["day"]
    with pytest.raises(HardtackError, match=r"has 2\.23 N already"):
        fit_firmness(DATA / "firmness-loaf.csv", limit=1.0)


def test_mould_days_rancidity_and_panel() -> None:
    mould = fit_mould_days(DATA / "mould-cake.csv", activity=0.84, at=294.15)
    assert mould.facts["mould_free_days"]["value"] == pytest.approx(10**1.12, rel=0.08)
    assert "no safety limit" in mould.sentence
    rancid = fit_oxidation(
        DATA / "peroxide-biscuit.csv",
        limit=10.0,
        at=293.15,
        transitions=[Transition("the fat melts", 307.15)],
    )
    holds(rancid, "energy", 7.2e4)
    assert any("the fat melts" in line for line in rancid.told)
    panel = fit_panel(DATA / "panel-crackers.csv", shares=(0.5, 0.25))
    low, high = (panel.facts["days_to_share_rejecting"][0][end] for end in ("low", "high"))
    assert low <= 66 * np.log(2) ** (1 / 3.2) <= high
    assert any("rejected the fresh product" in line for line in panel.reading)


def test_a_running_trial_in_two_climates() -> None:
    answer = trial()
    holds(answer, "permeance", 1.22)
    days = answer.facts["day_of_first_failure"]
    assert days["with_trial"] < days["file_alone"]
    assert answer.facts["support"][0]["factors"] == ["permeance"]
    assert set(answer.facts["by_climate"]) == {"30\u00a0°C, 65%", "38\u00a0°C, 75%"}
    assert any("agree on the permeance" in line for line in answer.told)
    assert any("The trial has run 56 days" in line for line in answer.told)


def test_climates_that_do_not_agree_are_told(tmp_path: Path) -> None:
    text = (DATA / "trial-biscuit.csv").read_text("utf-8").splitlines()
    changed = []
    for line in text:
        cells = line.split(",")
        if cells[1:2] == ["hot"]:  # as if the film opened in the hot cabinet
            cells[4:] = [f"{float(c) * 1.35:.2f}" for c in cells[4:]]
        changed.append(",".join(cells))
    file = tmp_path / "trial.csv"
    file.write_text("\n".join(changed), "utf-8")
    answer = fit_trial(file, load(BISCUIT), factors=("permeance",))
    assert any("do not agree on the permeance" in line for line in answer.told)


def test_a_pair_of_moisture_and_activity_fixes_the_isotherm() -> None:
    with pytest.raises(HardtackError, match="that pair fixes the isotherm"):
        fit_trial(
            DATA / "trial-biscuit.csv", load(CRACKER), factors=("isotherm",), air=Air(303.15, 0.65)
        )  # fmt: skip


@pytest.mark.parametrize(
    ("make", "product", "before", "after"),
    [
        (sorption, CRACKER, 132, 146),
        (lambda: fit_crispness(DATA / "force-cracker.csv", loss=0.3), CRACKER, 132, None),
        (lambda: fit_film(DATA / "cups-film.csv", area=50e-4, climate=CLIMATE), CRACKER, 132, None),
        (diffusion, CRACKER, 132, None),
        (lambda: fit_bake(DATA / "bake-loss.csv", dough_moisture=0.3, time=480.0), CRACKER, 132, None),
        (trial, BISCUIT, 113, 92),
    ],
    ids=["isotherm", "crispness", "film", "diffusion", "bake", "trial"],
)
def test_the_statement_moves(
    tmp_path: Path, make: object, product: Path, before: float, after: float | None
) -> None:
    file = Path(shutil.copy(product, tmp_path))
    answer = make()  # type: ignore[operator]
    first = keep(load(file))
    assert first.days == pytest.approx(before, abs=1.0)
    comments = file.read_text("utf-8").count("#")
    entries = answer.places(load(file), "")
    old = write_entries(file, entries)
    assert len(old) == len(entries)
    then = keep(load(file))
    assert file.read_text("utf-8").count("#") == comments
    assert then.days is not None
    assert abs(then.days - first.days) > 0.5
    if after is not None:
        assert then.days == pytest.approx(after, abs=1.0)
    assert any(item.amount.provenance == "measured here" for item in then.used)
    if answer.kind != "trial":  # written again, the same stands there; a factor would act twice
        write_entries(file, answer.places(load(file), ""))
        assert keep(load(file)).days == pytest.approx(then.days, abs=1e-6)


def test_an_isotherm_factor_is_written_out_whole(tmp_path: Path) -> None:
    file = Path(shutil.copy(BISCUIT, tmp_path))
    answer = fit_trial(DATA / "trial-biscuit.csv", load(file), factors=("isotherm", "permeance"))
    write_entries(file, answer.places(load(file), ""))
    assert keep(load(file)).days == pytest.approx(
        answer.facts["day_of_first_failure"]["with_trial"], rel=0.01
    )


def test_layers_are_named_when_several() -> None:
    sandwich = load(ROOT / "examples" / "formula-sandwich.yaml")
    with pytest.raises(HardtackError, match="several layers"):
        layer_named(sandwich, "")
    with pytest.raises(HardtackError, match="no layer 'crust'"):
        layer_named(sandwich, "crust")


def test_json_holds_no_number_that_is_none() -> None:
    for answer in (trial(), fit_firmness(DATA / "firmness-loaf.csv")):
        text = json.dumps(fit_json(answer), allow_nan=False)
        assert json.loads(text)["schema"] == "hardtack fit 1"


def test_firming_moves_the_statement_of_a_loaf(tmp_path: Path) -> None:
    file = Path(shutil.copy(ROOT / "examples" / "soft-bread-with-emulsifier.yaml", tmp_path))
    before = keep(load(file))
    assert before.first is not None
    assert before.first.name == "firming"
    answer = fit_firmness(DATA / "firmness-loaf.csv", limit=12.0)
    assert answer.places is not None
    write_entries(file, answer.places(load(file), "crumb"))
    after = keep(load(file))
    assert before.days is not None
    assert after.days is not None
    # the loaf as measured holds its emulsifier: its own day, with nothing on top
    at = {round(life["at_degC"]): life["day"] for life in answer.facts["days_to_limit"]}
    assert after.days == pytest.approx(at[21], rel=0.01)
    mould = fit_mould_days(DATA / "mould-cake.csv", activity=0.84, at=294.15)
    assert mould.places is not None
    write_entries(file, mould.places(load(file), "crumb"))
    assert "13.12 ± 0.23 day" in file.read_text("utf-8")


def test_a_film_measured_takes_the_place_of_a_laminate(tmp_path: Path) -> None:
    file = Path(shutil.copy(ROOT / "examples" / "biscuits-in-carton-and-hood.yaml", tmp_path))
    comments = sorted(line.split("#", 1)[1] for line in file.read_text("utf-8").splitlines() if "#" in line)
    answer = fit_film(DATA / "cups-film.csv", area=50e-4, climate=CLIMATE)
    assert answer.places is not None
    entries = answer.places(load(file), "")
    old = write_entries(file, entries)
    pack = load(file).pack
    assert pack is not None
    assert not pack.laminate
    assert not isinstance(pack.film, str)
    assert "LDPE" in old[[entry.path for entry in entries].index("pack / laminate")]
    assert (
        sorted(line.split("#", 1)[1] for line in file.read_text("utf-8").splitlines() if "#" in line)
        == comments
    )


def test_rancidity_asks_for_what_the_readings_do_not_say(tmp_path: Path) -> None:
    file = Path(shutil.copy(CRACKER, tmp_path))
    before = load(file)
    assert before.failures is None or before.failures.rancidity is None
    lacking = fit_oxidation(DATA / "peroxide-biscuit.csv", limit=10.0)
    assert lacking.places is not None
    with pytest.raises(HardtackError, match="do not say its fat and activity") as raised:
        lacking.places(before, "")
    assert "--fat" in raised.value.problems[0].mend
    half = fit_oxidation(DATA / "peroxide-biscuit.csv", limit=10.0, fat="18 %")
    assert half.places is not None
    with pytest.raises(HardtackError, match="do not say its activity"):
        half.places(before, "")
    whole = fit_oxidation(
        DATA / "peroxide-biscuit.csv",
        limit=10.0,
        fat="18 %",
        activity="0.3",
        film_oxygen="1500 cm3/m2/day/atm",
    )
    assert whole.places is not None
    write_entries(file, whole.places(before, ""))
    failures = load(file).failures
    assert failures is not None
    assert failures.rancidity is not None
    assert failures.rancidity.fat.value == pytest.approx(0.18)
    assert failures.rancidity.rate.provenance == "measured here"
    # a second writing needs no flags: the file knows them now
    write_entries(file, lacking.places(load(file), ""))
    again = load(file).failures
    assert again is not None
    assert again.rancidity is not None
    assert again.rancidity.fat.value == pytest.approx(0.18)
    assert keep(load(file)).days is not None


def test_a_panel_moves_the_statement_in_its_own_climate(tmp_path: Path) -> None:
    file = Path(shutil.copy(BISCUIT, tmp_path))  # it lies at 30 degC
    verdicts = DATA / "panel-crackers.csv"
    with pytest.raises(HardtackError, match="at which temperature were the packs kept"):
        write_result(fit_panel(verdicts), file, "")
    cool = write_result(fit_panel(verdicts, said=answers(["temperature: 23 degC"])), file, "")
    assert cool.days[0] == cool.days[1]
    assert "Not judged there: acceptance" in cool.after
    found = fit_panel(verdicts, shares=(0.25,), temperature=303.15, humidity=0.6)
    there = write_result(found, file, "")
    assert there.days[1] == pytest.approx(found.facts["days_to_share_rejecting"][0]["value"], rel=1e-3)
    assert there.days[1] < there.days[0]
    failures = load(file).failures
    assert failures is not None
    assert failures.acceptance is not None
    assert failures.acceptance.accepted_for.provenance == "measured here"
    assert failures.acceptance.rejecting.value == 0.25


def test_hexanal_goes_into_the_file_as_a_marker(tmp_path: Path) -> None:
    """The straight peroxide readings under another name: the same days to the limit as the fit gives."""
    hexanal = tmp_path / "hexanal.csv"
    hexanal.write_text(
        (DATA / "peroxide-biscuit.csv").read_text("utf-8").replace("Peroxide value", "Hexanal mg/kg"), "utf-8"
    )
    file = Path(shutil.copy(BISCUIT, tmp_path))
    untouched = file.read_bytes()
    with pytest.raises(HardtackError, match="--limit"):
        write_result(fit_oxidation(hexanal), file, "")
    assert file.read_bytes() == untouched
    found = fit_oxidation(hexanal, limit=4.0, at=303.15)
    written = write_result(found, file, "")
    life = found.facts["days_to_limit"]["value"]
    assert life < written.days[0]
    assert written.days[1] == pytest.approx(life, rel=2e-3)  # by the four figures written
    failures = load(file).failures
    assert failures is not None
    assert failures.marker is not None
    assert failures.marker.marker == "hexanal"
