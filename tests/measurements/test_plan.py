"""Choosing measurements: known optimal designs, exhaustive search, and what the model must say by itself."""

from __future__ import annotations

import datetime
from dataclasses import replace
from itertools import combinations_with_replacement
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.measurements.design import Candidate, Knowledge, choose
from hardtack.measurements.model import Air, first_limit_met, model_of, moved
from hardtack.measurements.plan import plan_json, plan_measurements
from hardtack.measurements.unknowns import unknowns_of
from hardtack.product import load, loads

EXAMPLES = Path(__file__).parents[2] / "examples"
BISCUIT = EXAMPLES / "hard-biscuit-plain.yaml"
LINE = [Candidate(np.array([1.0, x]), 1.0) for x in np.linspace(-1, 1, 21)]
VAGUE = np.eye(2) * 1e-9


def test_the_slope_of_a_line_is_measured_at_both_ends() -> None:
    # Elfving 1952, Ann. Math. Stat. 23:255: half of the points at each end
    taken = choose(Knowledge(VAGUE, np.array([0.0, 1.0])), LINE, 20)
    assert sorted(set(taken)) == [0, 20]
    assert taken.count(0) == 10


def test_extrapolating_a_line_takes_three_quarters_at_the_near_end() -> None:
    # Hoel and Levine 1964, Ann. Math. Stat. 35:1553: to x = 2 from [-1, 1] the weights are (2 + 1) / 4 and (2 - 1) / 4
    taken = choose(Knowledge(VAGUE, np.array([1.0, 2.0])), LINE, 40)
    assert sorted(set(taken)) == [0, 20]
    assert taken.count(20) == 30


def test_the_choice_is_the_best_there_is() -> None:
    rng = np.random.default_rng(5)
    for _ in range(12):
        known = Knowledge(np.diag(rng.uniform(0.2, 2.0, 3)), rng.normal(size=3))
        candidates = [Candidate(rng.normal(size=3), float(rng.uniform(0.3, 1.0))) for _ in range(6)]

        def sd(places: tuple[int, ...], known: Knowledge = known, candidates: list = candidates) -> float:
            for place in places:
                known = known.with_seen(candidates[place].h, candidates[place].s)
            return known.sd()

        best = min(sd(places) for places in combinations_with_replacement(range(6), 4))
        assert sd(tuple(choose(known, candidates, 4))) == pytest.approx(best, rel=0.02)


def test_once_means_once() -> None:
    taken = choose(Knowledge(np.eye(2), np.array([0.0, 1.0])), LINE, 5, once=True)
    assert len(set(taken)) == len(taken) == 5


def test_the_date_goes_as_one_over_the_permeance() -> None:
    # with a film that limits and air of one state, t = (m / g) x an integral that g is not in
    unknowns = unknowns_of(model_of(load(BISCUIT), "biscuit"))
    slope = unknowns.slope[unknowns.place("permeance")]
    assert slope == pytest.approx(-unknowns.days, rel=0.01)


def test_isotherm_errors_at_all_knots_are_the_factor_on_it() -> None:
    model = model_of(load(BISCUIT), "biscuit")
    unknowns = unknowns_of(model)
    knots = [k for k, unknown in enumerate(unknowns.listed) if unknown.name.startswith("isotherm")]
    up, down = (first_limit_met(moved(model, {"isotherm": factor})) for factor in (1.05, 1 / 1.05))
    assert up is not None
    assert down is not None
    # a factor on the isotherm alone: the moisture when packed stays
    whole = (up - down) / (2 * np.log(1.05))
    assert unknowns.slope[knots].sum() == pytest.approx(whole, rel=0.05)


def test_a_plan_narrows_the_date() -> None:
    seen: list[float] = []
    start = datetime.date(2026, 9, 1)
    plan = plan_measurements(load(BISCUIT), packs=12, days=56, start=start, progress=seen.append)
    assert plan.after < 0.7 * plan.before
    assert sum(pull.packs for pull in plan.pulls) == 12
    assert all(1 <= pull.day <= 56 for pull in plan.pulls)
    assert [pull.sd for pull in plan.pulls] == sorted((pull.sd for pull in plan.pulls), reverse=True)
    assert plan.pulls[-1].sd == pytest.approx(plan.after)
    first = plan.pulls[0]
    assert first.date == (start + datetime.timedelta(days=first.day)).isoformat()
    assert sum(part.share for part in plan.parts) == pytest.approx(1.0)
    assert len(plan.jars) == 5
    assert [jar.alone for jar in plan.jars] == sorted((jar.alone for jar in plan.jars), reverse=True)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert plan_json(plan)["sd_days_after_trial"] == plan.after
    more = plan_measurements(load(BISCUIT), packs=24, days=56)
    assert more.after < plan.after
    own = plan_measurements(load(BISCUIT), packs=12, days=56, airs=[Air(303.15, 0.65)])
    assert {pull.place for pull in own.pulls} == {str(Air(303.15, 0.65))}
    assert own.after >= plan.after - 1e-9


def _halves() -> str:
    """The plain biscuit as two halves of one dough on each other, judged by the mean of its lower half."""
    whole = BISCUIT.read_text("utf-8")
    head, layer = whole.split("    - name: biscuit\n")
    body, tail = layer.split("\npack:")
    text = f"{head}    - name: lower half\n      thickness: 3.25 mm\n      share: 50 %\n{body}    - name: upper half\n      thickness: 3.25 mm\n{body}\npack:{tail}"
    limit = "limits:\n  crispness: {layer: lower half, activity: 0.48 ± 0.02, at: 30 degC}\n"
    return text.replace("\njourney:", f"\n{limit}\njourney:")


def test_two_halves_of_one_dough_are_planned_like_the_whole() -> None:
    """Alike layers move together, so every slope on them is that of the one layer they make up. The whole is answered
    by the quadrature, which leaves out that the inside resists one part in 43 of what the pack does: a hundredth."""
    both = unknowns_of(model_of(loads(_halves()), "lower half"))
    assert both.kinds == ((0, 1),)
    whole_text = BISCUIT.read_text("utf-8").replace(
        "\njourney:", "\nlimits:\n  crispness: {activity: 0.48 ± 0.02, at: 30 degC}\n\njourney:"
    )
    one = unknowns_of(model_of(loads(whole_text), "biscuit"))
    assert both.days == pytest.approx(one.days, rel=0.012)
    assert [unknown.sd for unknown in both.listed] == [unknown.sd for unknown in one.listed]
    told = [k for k, unknown in enumerate(one.listed) if unknown.name != "diffusivity"]
    np.testing.assert_allclose(both.slope[told], one.slope[told], rtol=0.01, atol=0.01 * one.days)
    assert both.knowledge().sd() == pytest.approx(one.knowledge().sd(), rel=0.02)


def test_every_layer_counts_unless_one_is_named() -> None:
    """The sandwich: its shells are one kind, its filling another; the film hardly matters beside the filling."""
    product = load(EXAMPLES / "savoury-sandwich-cracker.yaml")
    plan = plan_measurements(product, packs=6, jars=3)
    kinds = {part.what.partition(", ")[2] for part in plan.parts}
    assert kinds == {"", "lower shell and upper shell", "filling"}
    assert sum(part.share for part in plan.parts) == pytest.approx(1.0)
    share = {part.what: part.share for part in plan.parts}
    assert share["permeance of the whole pack"] < 0.02 < share["isotherm, filling"]
    assert {"the diffusivity of filling by sorption steps", "a whole isotherm of filling in jars"} <= {
        bench.what for bench in plan.bench
    }
    assert plan.after < 0.8 * plan.before
    only = plan_measurements(product, packs=6, jars=3, layer="filling")
    assert {part.what.partition(", ")[2] for part in only.parts} == {"", "filling"}
    assert only.before < plan.before


def test_the_shells_isotherm_moves_the_date_as_its_knots_do_together() -> None:
    """A factor on the isotherm of both shells, through the whole model with its filling, against the sum of knots."""
    model = model_of(load(EXAMPLES / "savoury-sandwich-cracker.yaml"), "filling")
    unknowns = unknowns_of(model, only="lower shell")
    assert unknowns.kinds == ((0, 2),)
    knots = [k for k, unknown in enumerate(unknowns.listed) if unknown.name.startswith("isotherm")]

    def days(factor: float) -> float:
        changed = model
        for place in (0, 2):
            changed = moved(replace(changed, layer=place), {"isotherm": factor})
        found = first_limit_met(changed)
        assert found is not None
        return found

    assert unknowns.slope[knots].sum() == pytest.approx(
        (days(1.02) - days(1 / 1.02)) / (2 * np.log(1.02)), rel=0.1
    )


def test_a_limit_that_is_known_needs_no_texture_test(tmp_path: Path) -> None:
    text = (EXAMPLES / "lean-cracker-humid-coast.yaml").read_text("utf-8")
    file = tmp_path / "cracker.yaml"
    file.write_text(text.replace("activity: 0.43", "activity: 0.43 ± 0.001 [measured here]"), "utf-8")
    plan = plan_measurements(load(file), packs=4, days=30)
    part = next(part for part in plan.parts if part.what == "limit")
    assert (part.why, part.share) == ("its own ±", pytest.approx(0.0, abs=0.01))


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"packs": 0}, "without packs"),
        ({"days": 0.0}, "trial of 0 days"),
        ({"layer": "crust"}, "no layer 'crust'"),
    ],
)
def test_plans_that_cannot_be(given: dict[str, object], says: str) -> None:
    with pytest.raises(HardtackError, match=says):
        plan_measurements(load(BISCUIT), **given)  # type: ignore[arg-type]


def test_no_date_no_plan(tmp_path: Path) -> None:
    file = tmp_path / "short.yaml"
    file.write_text(BISCUIT.read_text("utf-8").replace("until it fails", "10 days"), "utf-8")
    with pytest.raises(HardtackError, match="no date to narrow"):
        plan_measurements(load(file))


def test_the_picture_tells_what_the_schedule_says() -> None:
    from hardtack.measurements.plan import Bench, Plan, Pull
    from hardtack.pictures.plan import description, plan_picture
    from hardtack.pictures.render import svg

    pulls = (
        Pull(7.0, "2026-09-08", "30 °C, 65%", 303.15, 0.65, "biscuit", 1, 40.4),
        Pull(7.0, "2026-09-08", "38 °C, 75%", 311.15, 0.75, "biscuit", 3, 33.3),
        Pull(56.0, "2026-10-27", "38 °C, 75%", 311.15, 0.75, "biscuit", 2, 21.2),
    )
    bench = (Bench("a whole isotherm in jars", "8 salts", 25.0, 15.0),)
    plan = Plan("Fennimark tea biscuit", "crispness", 113.0, 50.0, 21.2, pulls, bench, bench, (), ())
    words = description(plan)
    for said in ("± 50.0 days", "1 pack from 30 °C, 65%", "Day 7 (2026-09-08)", "3 packs", "± 21.2 days"):
        assert said in words
    drawn = svg(plan_picture(plan))
    # of one day the last pull's spread stands at the step; every pull stands in its lane
    assert "± 33.3" in drawn
    assert "± 40.4" not in drawn.split("</desc>")[-1]
    for said in ("1 pack<", "3 packs<", "2 packs<", "8 Sep", "27 Oct", "30 °C, 65%", "38 °C, 75%"):
        assert said in drawn
