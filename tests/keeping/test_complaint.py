"""Complaints: planted causes found again, likelihoods by hand, the deciding measurement, and files with slips."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.keeping.cases import follow_case
from hardtack.keeping.complaint import (
    Runs,
    complaint,
    readings_of,
    runs_of,
    spreads_of,
    variant_at,
    weigh,
)
from hardtack.keeping.complaint_as_json import complaint_json
from hardtack.keeping.complaint_causes import base_case, causes_of
from hardtack.keeping.complaint_readings import (
    Reading,
    Shown,
    film_rate_of,
    log_likelihood,
    shown_by,
    usual_error,
)
from hardtack.pictures.complaint import complaint_picture, description, table
from hardtack.pictures.render import svg
from hardtack.product import Product, loads
from hardtack.product.found_spec import Found, loads_found
from hardtack.units import DAY, ZERO_CELSIUS
from hardtack.water.isotherm import activity

ROOT = Path(__file__).parents[2]
TEXT = """
hardtack: 1
name: test cracker
kind: soda cracker
origin: invented
piece: {shape: slab, thickness: 4.5 mm, length: 60 mm, width: 50 mm, mass: 8 g, count: 25,
  layers: [{name: cracker, moisture: 2.6 %wb}]}
pack:
  film: {name: wrap, transmission: 4.0 g/m2/day, activation energy: 45 kJ/mol,
    tested at: {temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}
  area: 0.06 m2
  headspace: 250 mL
  whole-pack factor: 1.4
journey:
  - {leg: van, lasts: 5 days, temperature: 25 degC, humidity: 55 %}
  - {leg: store, lasts: until it fails, temperature: 28 degC, humidity: 65 %}
limits: {crispness: {activity: 0.43, at: 25 degC}}
"""
EMPTY = "hardtack complaint: 1\nday: 40 days\nseen: [soft]\n"
PLANTED = 66
ROUNDS = 4
"""Measurements taken after the first two, each the one that is advised."""


@pytest.fixture(scope="module")
def product() -> Product:
    return loads(TEXT)


@pytest.fixture(scope="module")
def found() -> Found:
    return loads_found(EMPTY).model_copy(update={"seen": ()})


@pytest.fixture(scope="module")
def runs(product: Product, found: Found) -> Runs:
    return runs_of(product, found)


def _read(shown: Shown, runs: Runs, what: str, layer: str, rng: np.random.Generator) -> Reading:
    """A reading of what a planted cause shows, with the usual error."""
    value = shown.numbers["moisture" if what == "activity" else what, layer]
    if what == "activity":
        value = float(activity(runs.isotherms[layer], value, ZERO_CELSIUS + 25.0))
    sd = usual_error(what, value)
    if what == "hole":
        return Reading(what, layer, value * math.exp(sd * rng.normal()), sd, ZERO_CELSIUS + 25.0)
    return Reading(what, layer, value + sd * rng.normal(), sd, ZERO_CELSIUS + 25.0)


def test_planted_causes_come_out_first(product: Product, found: Found, runs: Runs) -> None:
    """Each cause planted six times, anywhere in its range and the file's spread, all readings with their errors.

    Moisture and gain first; then, while less than 97 % is believed of one cause, what is advised, four times at most.
    """
    rng = np.random.default_rng(20)
    case = base_case(product, found)
    causes, spreads = causes_of(found, case), spreads_of(product)
    right = 0
    for k in range(PLANTED):
        row, cause = causes[k % len(causes)]
        variant = variant_at(cause, row, rng.random(4), case, spreads)
        shown = shown_by(variant, follow_case(variant.case), film_rate_of(None, 4e-3 / DAY))
        readings = [_read(shown, runs, *one, rng) for one in (("moisture", "cracker"), ("pack gained", ""))]
        answer = weigh(runs, found, readings)
        for _ in range(ROUNDS):
            if answer.causes[0].after > 0.97:
                break
            what, _, layer = answer.telling[0].what.partition(" of the ")
            readings.append(_read(shown, runs, what, layer, rng))
            answer = weigh(runs, found, readings)
        right += answer.causes[0].name == row.name
    assert len(causes) == 11
    assert right >= 0.9 * PLANTED


def test_likelihood_is_that_of_normal_errors(runs: Runs) -> None:
    """ln of a normal density: reading 0.060 with 0.002, the model's 5 % of 0.05 beside it."""
    table = [Shown({("moisture", "cracker"): 0.05}, {})]
    reading = Reading("moisture", "cracker", 0.060, 0.002, 298.15)
    sd = math.hypot(0.002, 0.05 * 0.05)
    by_hand = -0.5 * (0.010 / sd) ** 2 - math.log(sd)
    assert log_likelihood([reading], (), table, runs.isotherms)[0] == pytest.approx(by_hand)


def test_words_go_by_how_far_a_failure_has_come(runs: Runs) -> None:
    table = [Shown({}, {"crispness": share}) for share in (0.5, 1.0, 1.5)]
    soft = log_likelihood([], ("soft",), table, runs.isotherms)
    crisp = log_likelihood([], ("crisp",), table, runs.isotherms)
    assert soft[1] == pytest.approx(math.log(0.5))
    assert np.exp(soft) + np.exp(crisp) == pytest.approx(1.0)
    assert soft[0] < soft[1] < soft[2]


def test_belief_adds_up_and_chances_beforehand_count(product: Product, runs: Runs, found: Found) -> None:
    readings = [Reading("moisture", "cracker", 0.05, 0.002, 298.15)]
    even = weigh(runs, found, readings)
    assert sum(one.after for one in even.causes) == pytest.approx(1.0)
    assert [one.before for one in even.causes] == pytest.approx([1 / 11] * 11)
    text = EMPTY + "chances: {wrong film: 5}\ncauses: [wrong film, leaking seal]\n"
    weighted = runs_of(product, loads_found(text), samples=8)
    assert [row.name for row in weighted.rows] == ["as declared", "wrong film", "leaking seal"]
    assert weighted.chances == pytest.approx([1 / 7, 5 / 7, 1 / 7])


def test_as_declared_when_it_is_as_declared(product: Product, runs: Runs, found: Found) -> None:
    case = base_case(product, found)
    history = follow_case(case).history
    readings = [
        Reading("moisture", "cracker", float(history.moisture[-1, 0]), 0.001, 298.15),
        Reading("pack gained", "", float(history.water_gained[-1]), 1e-4, 298.15),
        Reading("hole", "", 1e-6, 0.3, 298.15),
        Reading("age", "", found.day.value, DAY, 298.15),
        Reading("mean humidity", "", 0.6375, 0.01, 298.15),
    ]
    assert weigh(runs, found, readings).causes[0].name == "as declared"


def test_a_moister_piece_with_no_gain_was_packed_moist(runs: Runs, found: Found) -> None:
    """Water that did not come through the pack was there when it was closed."""
    base = runs.shown[0][0].numbers
    X, gain = base["moisture", "cracker"], base["pack gained", ""]
    readings = [
        Reading("moisture", "cracker", X + 0.015, 0.002, 298.15),
        Reading("pack gained", "", 0.9 * gain, 0.05 * gain, 298.15),
        Reading("pieces", "", 25.0, 0.3, 298.15),  # fewer of them would be moister with the same gain
    ]
    assert weigh(runs, found, readings).causes[0].name == "short bake"


def test_the_deciding_measurement_is_the_one_that_differs(runs: Runs, found: Found) -> None:
    readings = [
        Reading("moisture", "cracker", 0.10, 0.003, 298.15),
        Reading("age", "", found.day.value, DAY, 298.15),
        Reading("mean temperature", "", 300.8, 1.0, 298.15),
        Reading("mean humidity", "", 0.64, 0.02, 298.15),
        Reading("pieces", "", 25.0, 0.3, 298.15),
        Reading("whole-pack factor", "", 1.4, 0.07, 298.15),
    ]
    answer = weigh(runs, found, readings)
    assert {one.name for one in answer.causes[:2]} <= {"wrong film", "leaking seal", "opened early"}
    assert answer.telling[0].what in ("film transmission", "hole")
    assert answer.telling[0].right > 0.8
    assert f"measure {answer.telling[0].what}" in answer.sentence


def test_nothing_explains_what_is_impossible(runs: Runs, found: Found) -> None:
    answer = weigh(runs, found, [Reading("pack gained", "", -0.02, 1e-4, 298.15)])
    assert any("No cause weighed explains" in words for words in answer.remarks)


def test_legs_and_layers_that_are_not_there(product: Product) -> None:
    with pytest.raises(HardtackError, match="no leg “ship”"):
        complaint(product, loads_found(EMPTY + "leg: ship\n"))
    text = EMPTY.replace("seen", "found: [{layer: cream, activity: 0.5}]\nseen")
    with pytest.raises(HardtackError, match="cream"):
        readings_of(product, loads_found(text))
    with pytest.raises(HardtackError, match="begins on day 5"):
        complaint(product, loads_found("hardtack complaint: 1\nday: 3 days\nleg: store\nseen: [soft]\n"))


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("day: 4 days\n", 1, "'hardtack complaint' is missing"),
        ("hardtack complaint: 2\nday: 4 days\n", 1, "format version '2'"),
        ("hardtack complaint: 1\nday: 4\nseen: [soft]\n", 2, ""),
        ("hardtack complaint: 1\nday: 4 days\nseen: [limp]\n", 3, "no word for what is seen"),
        ("hardtack complaint: 1\nday: 4 days\nfound:\n  - {layer: a}\n", 4, "no quantity"),
        (
            "hardtack complaint: 1\nday: 4 days\nfound:\n  - {activity: 0.4, moisture: 4 %wb}\n",
            4,
            "2 quantities",
        ),
        ("hardtack complaint: 1\nday: 4 days\nfound:\n  - {moisture: 4 %}\n", 4, ""),
        ("hardtack complaint: 1\nday: 4 days\nfond: []\nseen: soft\n", 3, "unknown key 'fond'"),
        ("hardtack complaint: 1\nday: 4 days\n", 1, "nothing was found"),
    ],
)
def test_slips_in_a_complaint_file_are_told_with_line_and_mend(text: str, line: int, words: str) -> None:
    with pytest.raises(HardtackError) as raised:
        loads_found(text, "complaint.yaml")
    problem = raised.value.problems[0]
    assert (problem.file, problem.line) == ("complaint.yaml", line)
    assert words in problem.what
    assert problem.mend


def test_every_key_of_the_json_and_the_picture(runs: Runs, found: Found) -> None:
    answer = weigh(runs, found, [Reading("moisture", "cracker", 0.09, 0.003, 298.15)])
    page = (ROOT / "docs" / "json.md").read_text("utf-8").split("## Complaint")[1].split("\n## ")[0]
    said = json.loads(json.dumps(complaint_json(answer), allow_nan=False))
    keys = {*said, *said["causes"][0], *said["measure_next"][0]}
    assert keys <= set(re.findall(r"`([a-z_A-Z]+)`", page))
    drawn = svg(complaint_picture(answer))
    assert all(one.name in drawn for one in answer.causes[:3])
    assert len(table(answer)) == len(answer.causes) + len(answer.telling)
    assert answer.sentence in description(answer)
