"""Remedies: against brute force over every setting, costs worked by hand, lines with their units, and none that suffices."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.keeping.cases import case_of
from hardtack.keeping.moves import moves_of, steps, two_digits
from hardtack.keeping.moves_formula import formula_moves
from hardtack.keeping.moves_pack import pack_moves
from hardtack.keeping.moves_piece import piece_moves
from hardtack.keeping.remedies import Remedies, Remedy, remedies
from hardtack.keeping.remedies_as_json import remedies_json
from hardtack.pictures.remedies import description, remedies_picture, table
from hardtack.pictures.render import svg
from hardtack.product import Product, loads

ROOT = Path(__file__).parents[2]
TEXT = """
hardtack: 1
name: test cracker
kind: soda cracker
origin: invented
packed on: 2026-06-01
piece: {shape: slab, thickness: 4.5 mm, length: 60 mm, width: 50 mm, mass: 8 g, count: 25,
  layers: [{name: cracker, moisture: 2.6 %wb, activity: 0.17, activity at: 25 degC}]}
pack: {film: OPP 20 um, area: 0.06 m2, headspace: 250 mL, whole-pack factor: 1.4}
journey:
  - {leg: van, lasts: 2 days, temperature: 25 degC, humidity: 50 %}
  - {leg: store, lasts: until it fails, temperature: 30 degC, humidity: 70 %}
limits: {crispness: {activity: 0.43, at: 25 degC}}
costs:
  films: {OPP 20 um: 0.05 EUR/m2, OPP 30 um: 0.08 EUR/m2, OPP 40 um: 10 EUR/100 m2}
  desiccants: {silica gel: 6 EUR/kg}
  remedies: {whole-pack factor: 2 EUR/1000 packs}
"""
BREAD = """
hardtack: 1
name: test loaf
kind: bread
origin: invented
piece: {shape: slab, thickness: 90 mm, length: 240 mm, width: 100 mm, mass: 500 g, count: 1,
  layers: [{name: crumb, moisture: 37 %wb, activity: 0.96, isotherm: bread, diffusivity: 2e-10 m2/s, pH: 5.6}]}
pack: {film: LDPE 50 um, area: 0.12 m2, headspace: 900 mL, whole-pack factor: 1.3}
journey: [{leg: shop, lasts: 3 days, temperature: 22 degC, humidity: 50 %}]
"""


@pytest.fixture(scope="module")
def product() -> Product:
    return loads(TEXT)


@pytest.fixture(scope="module")
def answer(product: Product) -> Remedies:
    return remedies(product, 60.0)


def _by_brute_force(product: Product, one: Remedy, wanted: float) -> int | None:
    """Place of the first setting that suffices, every one of them kept by itself from the nearest on."""
    for k, setting in enumerate(one.move.settings):
        days = keep(setting.change()).days
        if (math.inf if days is None else days) >= wanted:
            return k
    return None


def test_the_least_move_is_that_of_a_scan_over_every_setting(product: Product, answer: Remedies) -> None:
    looked_at = 0
    for one in answer.found:
        if len(one.move.settings) > 30:
            continue
        place = _by_brute_force(product, one, answer.wanted)
        if one.suffices:
            assert place is not None
            assert one.move.settings[place].words == one.setting.words
        else:
            assert place is None
        looked_at += 1
    assert looked_at >= 8
    assert {one.suffices for one in answer.found} == {True, False}


def test_the_setting_before_the_least_does_not_suffice(answer: Remedies) -> None:
    for one in answer.sufficient:
        place = one.move.settings.index(one.setting)
        if place > 0:
            days = keep(one.move.settings[place - 1].change()).days
            assert days is not None
            assert days < answer.wanted


def test_days_of_the_answer_are_those_keep_gives(answer: Remedies) -> None:
    for one in answer.found[:6]:
        assert one.outcome.days == pytest.approx(keep(one.setting.change()).days, rel=1e-9)


def test_specification_lines_say_limit_number_and_unit(answer: Remedies) -> None:
    lines = {one.move.family: one.setting.specification for one in answer.sufficient}
    assert re.fullmatch(
        r"water vapour transmission of the flat film at most \d\.\d g/m2/day at 38 °C, 90 % against 0 %",
        lines["transmission"],
    )
    assert re.search(r"silica gel, at least \d+ g in a pack|clay, at least \d+ g", lines["desiccant"])
    assert re.fullmatch(r"OPP 20 um, at least \d\d µm thick", lines["gauge"])
    drier = next(one for one in answer.found if one.move.what == "cracker packed drier")
    pattern = r"moisture of the cracker when packed at most \d\.\d %wb \(activity at most 0\.\d\d at 25 °C\)"
    assert re.fullmatch(pattern, drier.setting.specification)


def test_costs_by_hand(product: Product, answer: Remedies) -> None:
    by = {one.move.what: one for one in answer.found}
    # 0.06 m2 a pack; 40 um at 0.10 EUR/m2 for 20 um at 0.05: 0.06 x 0.05 = 0.003 EUR
    film = by["another film, by price"]
    price = {"OPP 30 um": 0.08, "OPP 40 um": 0.10}[film.setting.words]
    assert film.cost.more == pytest.approx(0.06 * (price - 0.05))
    assert film.cost.currency == "EUR"
    # a film made thicker costs in proportion: 0.06 m2 x 0.05 EUR/m2 x (t/20 - 1)
    gauge = by["OPP 20 um thicker"]
    assert gauge.cost.more == pytest.approx(0.06 * 0.05 * (gauge.setting.value / 20.0 - 1.0))
    silica = by["silica gel"]
    assert silica.cost.more == pytest.approx(6e-3 * silica.setting.value)
    assert by["better seals and folds"].cost.more == pytest.approx(2.0 / 1000.0)
    assert by["clay"].cost.more is None
    assert "no price of the desiccant" in by["clay"].cost.words
    assert by["store cooler"].cost.words == "cost not given"
    # n pieces take (n/25)^(2/3) of the film: per 25 pieces 0.06 x 0.05 x ((n/25)^(-1/3) - 1)
    size = by["more pieces in a pack"]
    assert size.cost.more == pytest.approx(0.003 * ((size.setting.value / 25.0) ** (-1 / 3) - 1.0))


def test_order_is_by_cost_and_then_by_the_share_of_the_range(answer: Remedies) -> None:
    known = [one.cost.more for one in answer.sufficient if one.cost.more is not None]
    assert known == sorted(known)
    flags = [one.cost.more is None for one in answer.sufficient]
    assert flags == sorted(flags)
    shares = [one.share for one in answer.sufficient if one.cost.more is None]
    assert shares == sorted(shares)


def test_no_remedy_suffices_is_said_with_what_limits() -> None:
    answer = remedies(loads(BREAD), 30.0)
    assert answer.sufficient == ()
    assert "no single remedy" in answer.sentence
    assert answer.promise == math.floor(answer.now.days)
    assert answer.remarks[0].startswith("The journey ends sooner in the file")
    assert answer.found
    assert all("gives 30 days: at best" in one.why_not for one in answer.found)
    assert answer.idle


def test_what_can_no_longer_be_judged_buys_no_days() -> None:
    """The published mould lines hold from 21 to 27 degC: a store at 20 degC must not count as free of mould."""
    cake = loads((ROOT / "examples" / "glazed-cake.yaml").read_text("utf-8"))
    answer = remedies(cake, 14.0, threads=1)
    cooler = next(one for one in answer.found if one.move.what.endswith("cooler"))
    assert not cooler.suffices
    assert "mould" in {name.partition(" of the ")[0] for name, _ in cooler.outcome.failures}
    assert "mould cannot be judged there" in cooler.why_not


def test_no_remedy_is_needed(product: Product) -> None:
    answer = remedies(product, 10.0)
    assert answer.found == ()
    assert "no remedy is needed" in answer.sentence


@pytest.mark.parametrize("days", [0.0, -3.0, 5000.0])
def test_days_that_cannot_be_wanted(product: Product, days: float) -> None:
    with pytest.raises(HardtackError, match="days"):
        remedies(product, days)


def test_moved_pairs_stay_on_the_isotherm(product: Product) -> None:
    """Packed drier, the isotherm is that of the file: the pair's shift factor stays as it was."""
    base = case_of(product)
    found = piece_moves(product, base, ())
    drier = case_of(next(move for move in found if "drier" in move.what).settings[4].change())
    was, now = base.pieces[0].layers[0].isotherm, drier.pieces[0].layers[0].isotherm
    assert dict(now.parameters) == pytest.approx(dict(was.parameters), rel=1e-6)


def test_moves_apply_only_where_they_can() -> None:
    """No barrier without a second layer, no bake without an oven, no firming in a cracker."""
    product = loads(TEXT)
    case = case_of(product)
    kinds = {
        move.family
        for move in moves_of(
            piece_moves(product, case, ()), formula_moves(product), pack_moves(product, case, 1)
        )
    }
    assert kinds == {
        "moisture", "film", "gauge", "transmission", "whole-pack factor", "pack size", "desiccant", "climate",
    }  # fmt: skip
    baked = loads((ROOT / "examples" / "bake-cracker.yaml").read_text("utf-8"))
    kinds = {move.what for move in formula_moves(baked)}
    assert {"bake longer", "bake hotter", "bake in drier air", "Glycerol for sugar in cracker dough"} <= kinds


def test_like_shells_move_together() -> None:
    sandwich = loads((ROOT / "examples" / "savoury-sandwich-cracker.yaml").read_text("utf-8"))
    names = [move.what for move in piece_moves(sandwich, case_of(sandwich), ())]
    assert "lower shell and upper shell packed drier" in names
    assert "lower fat film and upper fat film thicker" in names


def test_steps_are_round_numbers_between_the_ends() -> None:
    assert steps(2.6, 2.2, 0.1) == pytest.approx((2.5, 2.4, 2.3, 2.2))
    assert steps(2.55, 2.85, 0.1) == pytest.approx((2.6, 2.7, 2.8))
    assert steps(1.0, 1.0, 0.1) == ()
    assert all(float(f"{value:.1e}") == value for value in two_digits(2.1, 0.2, 1.1))


def test_every_key_of_the_json_is_documented(answer: Remedies) -> None:
    page = (ROOT / "docs" / "json.md").read_text("utf-8").split("## Remedies")[1].split("\n## ")[0]
    said = json.loads(json.dumps(remedies_json(answer), allow_nan=False))
    keys = {*said, *said["remedies"][0], *said["remedies"][0]["effects"][0], *said["now"]}
    assert keys <= set(re.findall(r"`([a-z_A-Z]+)`", page))


def test_the_picture_tells_every_remedy(answer: Remedies) -> None:
    drawn = svg(remedies_picture(answer))
    for one in answer.found:
        assert one.move.what[:20] in drawn
    assert len(table(answer)) == len(answer.found)
    assert answer.sentence in description(answer)
