"""Certainty and what to measure next of whole products: the plain date inside, order and threads, capped samples."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import hardtack
from hardtack.keeping.cases import case_of, follow_case
from hardtack.keeping.certainty_as_json import certainty_json, next_json
from hardtack.keeping.follow import follow
from hardtack.keeping.inputs import input_named, with_amounts
from hardtack.keeping.many_dates import moments
from hardtack.keeping.nested import normals
from hardtack.keeping.study import Study, study_of, until
from hardtack.sourced import Sourced
from hardtack.states import Floats
from hardtack.units import DAY

EXAMPLES = Path(__file__).parents[2] / "examples"
SPREADS = (EXAMPLES / "hard-biscuit-spreads.yaml").read_text("utf-8")
PLAIN = (EXAMPLES / "hard-biscuit-plain.yaml").read_text("utf-8")


def plain_values(study: Study) -> Floats:
    return np.array([[one.law.centre for one in study.doubt.listed]])


def some(study: Study, count: int = 16) -> Floats:
    return study.doubt.values(normals(study.doubt, 3, 0, count, 1))


@pytest.mark.parametrize("name", [
    "savoury-sandwich-cracker", "formula-soft-bread", "glazed-cake", "crusty-loaf-in-paper", "crackers-with-dried-fruit",
    "wafer-with-cream-in-chocolate", "rusk-open-in-damp-air",
])  # fmt: skip
def test_the_middle_of_every_law_gives_the_plain_answer(name: str) -> None:
    """Marched by batches, with numbers as the file has them, every failure comes when `follow` says of the same days
    (1 in 100 where the plain answer takes the piece as one)."""
    study = study_of(hardtack.load(EXAMPLES / f"{name}.yaml"))
    found = moments(study, plain_values(study))
    case = study.case
    plain = follow(case.product, case.pieces, case.pack, until(case.journey, study.first_horizon))
    times = {(one.name, one.layer): course.time for one, course in plain.judged}
    for k, one in enumerate(study.judged):
        time = times[one.name, one.layer]
        assert found.times[0, k] == (np.inf if time is None else pytest.approx(time, rel=0.012))


def test_a_moved_number_gives_what_the_product_with_that_number_gives() -> None:
    """One number at a time at +1 sd, against the product built anew: through the file and through the batch alike."""
    product = hardtack.loads(SPREADS)
    study = study_of(product)
    names = [one.name for one in study.doubt.listed]
    for name, asked in (
        ("transmission of the film", "OPP of the trial: transmission"),
        ("crispness limit of biscuit", "crispness: activity"),
        ("biscuit: K", "biscuit: parameters K"),
        ("whole-pack factor, seals and folds", "pack: whole-pack factor"),
        ("activation energy of the film", "OPP of the trial: activation energy"),
        ("temperature of shop", "shop: temperature"),
    ):
        values = plain_values(study)
        k = names.index(name)
        values[0, k] = study.doubt.listed[k].law.at(np.array([1.0]))[0]
        one = input_named(product, asked)
        assert one.amount.sd is not None
        moved = with_amounts(
            product, {one.path: Sourced(one.amount.value + one.amount.sd, one.amount.unit, "assumed")}
        )
        wanted = follow_case(case_of(moved)).first_time
        assert wanted is not None
        assert moments(study, values).first[0] == pytest.approx(wanted, rel=0.012), name


def test_neither_order_nor_threads_nor_company_change_a_bit() -> None:
    study = study_of(hardtack.loads(PLAIN))
    values = some(study)
    alone = np.array([moments(study, row[None], threads=1).first[0] for row in values])
    together = moments(study, values, threads=2).first
    backwards = moments(study, values[::-1], threads=1).first[::-1]
    assert np.array_equal(alone, together)
    assert np.array_equal(together, backwards)


def test_the_same_seed_gives_the_same_answer() -> None:
    product = hardtack.loads(PLAIN)
    first = hardtack.certainty(product, samples=1024, threads=1)
    again = hardtack.certainty(product, samples=1024, threads=2)
    assert first.day == again.day
    assert np.array_equal(first.dates, again.dates)
    assert hardtack.certainty(product, samples=1024, seed=5).day != first.day


def test_more_packs_or_more_confidence_come_sooner() -> None:
    product = hardtack.loads(PLAIN)
    usual = hardtack.certainty(product, 0.9, 0.8, samples=1024)
    more = hardtack.certainty(product, 0.9, 0.95, samples=1024)
    fewer = hardtack.certainty(product, 0.5, 0.5, samples=1024)
    assert usual.day is not None
    assert more.day is not None
    assert fewer.day is not None
    assert more.day < usual.day < fewer.day
    assert fewer.plain == pytest.approx(fewer.day, rel=0.15)
    assert sum(one.share for one in usual.first) == pytest.approx(1.0)
    assert np.all(usual.good_low <= usual.good_high)
    assert usual.sentence.startswith("With 80% confidence, at least 90% of the packs of Fennimark")


def test_samples_that_do_not_fail_are_counted_not_invented() -> None:
    short = PLAIN.replace("lasts: until it fails", "lasts: 100 days")
    sure = hardtack.certainty(hardtack.loads(short), samples=1024)
    assert 0.2 < sure.capped < 0.9
    assert sure.high is None
    assert np.isinf(sure.dates).mean() == pytest.approx(sure.capped)
    assert any("do not fail within the journey" in line for line in sure.told)
    brief = hardtack.certainty(
        hardtack.loads(PLAIN.replace("lasts: until it fails", "lasts: 5 days")), samples=1024
    )
    assert (brief.day, brief.capped) == (None, 1.0)
    assert "at the end of the 5 days followed" in brief.sentence
    told = certainty_json(brief)
    assert (told["day"], told["share_beyond_journey"]) == (None, 1.0)
    following = hardtack.measure_next(hardtack.loads(PLAIN.replace("lasts: until it fails", "lasts: 5 days")))
    assert following.day is None
    assert "no measurement can firm that up" in following.sentence


def test_bread_counts_every_failure_not_texture_alone() -> None:
    sure = hardtack.certainty(hardtack.load(EXAMPLES / "formula-soft-bread.yaml"), samples=1024)
    shares = {one.name: one.share for one in sure.first}
    assert shares["firming"] > 0.5
    assert shares["mould"] > 0.01


def test_the_measurement_of_what_matters_firms_up_most() -> None:
    """With one number alone unsure, its own measurement is the only one that helps."""
    exact = "\n".join(SPREADS.splitlines()).replace(" ± 0.1 g/m2/day", " ± 0.4 g/m2/day")
    found = hardtack.measure_next(hardtack.loads(exact))
    best = found.measurements[0]
    assert best.name == "cup test of the film"
    assert best.gain is not None
    assert best.gain > 20
    assert found.shares[0].name == "transmission of the film"
    assert "cup test of the film" in found.sentence
    by_effort = [one.per_effort or 0.0 for one in found.by_effort]
    assert by_effort == sorted(by_effort, reverse=True)
    told = next_json(found)
    assert told["measurements"][0]["days_firmer"] == best.gain
    assert {part["what"] for part in told["variance"]} == {"not known", "pack to pack", "lot to lot"}


def test_the_file_says_what_a_spread_is() -> None:
    product = hardtack.loads(SPREADS.replace("sd: 0.15, spread: pack to pack", "sd: 0.15, spread: not known"))
    spreads = {one.name: one.spread for one in study_of(product).doubt.listed}
    assert spreads["whole-pack factor, seals and folds"] == "not known"
    assert spreads["seals, pack to pack"] == "pack to pack"
    assert spreads["moisture of biscuit when packed"] == "lot to lot"


@pytest.mark.parametrize(("share", "confidence", "samples", "said"), [
    (1.0, 0.8, 8192, "share of packs"), (0.9, 0.2, 8192, "confidence"), (0.9, 0.8, 100, "standard error"),
])  # fmt: skip
def test_what_samples_cannot_tell_is_refused(
    share: float, confidence: float, samples: int, said: str
) -> None:
    with pytest.raises(hardtack.HardtackError, match=said):
        hardtack.certainty(hardtack.loads(PLAIN), share, confidence, samples=samples)


def test_a_number_no_product_can_be_built_of_is_said() -> None:
    """The thickness of the layer even from a hair to all but too much: some builds fail, and are left out and told."""
    wild = SPREADS.replace("thickness: 6.5 mm", "thickness: 0.1..13 mm")
    study = study_of(hardtack.loads(wild))
    found = moments(study, some(study))
    assert np.array_equal(np.isnan(found.first), found.lost)
    assert np.all(found.which[found.lost] == -1)
    assert np.all(found.first[~found.lost] > 0.1 * DAY)
