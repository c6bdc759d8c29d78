"""Days over the store's climate, at places, and their picture."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hardtack.cli import main
from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.keeping.cases import case_of, follow_case
from hardtack.keeping.follow import begun_of
from hardtack.keeping.where import Where, where
from hardtack.keeping.where_as_json import where_json
from hardtack.pictures.contours import contour
from hardtack.pictures.render import svg
from hardtack.pictures.where import description, table, where_picture
from hardtack.product import load, loads

ROOT = Path(__file__).parents[2]
TEXT = """
hardtack: 1
name: test cracker
kind: soda cracker
origin: invented
packed on: 2026-06-01
piece: {shape: slab, thickness: 4.5 mm, length: 60 mm, width: 50 mm, mass: 7.6 g, count: 26,
  layers: [{name: cracker, moisture: 2.6 %wb, activity: 0.17, activity at: 25 degC}]}
pack: {film: LDPE 50 um, area: 0.06 m2, headspace: 250 mL}
journey:
  - {leg: van, lasts: 2 days, temperature: 25 degC, humidity: 50 %}
  - {leg: store, lasts: until it fails, temperature: 30 degC, humidity: 70 %}
limits: {crispness: {activity: 0.43, at: 25 degC}}
"""


@pytest.fixture(scope="module")
def answer() -> Where:
    return where(loads(TEXT), ["Mumbai", "London", "Phoenix"])


def test_a_point_of_the_grid_is_what_keep_says(answer: Where) -> None:
    i = int(np.argmin(np.abs(answer.temperatures - 303.15)))
    j = int(np.argmin(np.abs(answer.humidities - 0.70)))
    assert answer.days[i, j] == pytest.approx(keep(loads(TEXT)).days, rel=1e-3)
    assert answer.failures[i][j] == "crispness"
    assert answer.begins == 2.0


def test_damper_and_warmer_is_sooner(answer: Where) -> None:
    pace = 1.0 / answer.days
    assert np.all(np.diff(pace, axis=1) >= 0)
    damp = answer.days[:, -1]
    assert np.all(np.diff(damp) < 0)
    assert math.isinf(answer.days[0, 0])


def test_a_place_is_what_keep_says_of_it(answer: Where) -> None:
    there = TEXT.replace("temperature: 30 degC, humidity: 70 %", "climate: Mumbai")
    place = next(place for place in answer.places if place.name == "Mumbai")
    assert place.days == pytest.approx(keep(loads(there)).days, rel=2e-3)
    assert place.provenance == "from memory"
    order = [math.inf if p.days is None else p.days for p in answer.places]
    assert order == sorted(order)


def test_a_place_that_is_not_on_the_shelf() -> None:
    with pytest.raises(HardtackError, match="Atlantis"):
        where(loads(TEXT), ["Atlantis"])


def test_every_key_of_the_json_is_documented(answer: Where) -> None:
    page = (ROOT / "docs" / "json.md").read_text("utf-8").split("## Where it can be sold")[1]
    said = json.loads(json.dumps(where_json(answer), allow_nan=False))
    keys = {*said, *said["places"][0]}
    assert keys <= set(re.findall(r"`([a-z_A-Z]+)`", page))
    assert said["days"][0][0] is None


def test_contours_of_a_plane_are_straight_lines() -> None:
    """z = 2x + 3y at level 5: the line y = (5 - 2x)/3 (analytic geometry)."""
    x, y = np.linspace(0, 4, 9), np.linspace(0, 2, 5)
    (line,) = contour(x, y, 2 * x[None, :] + 3 * y[:, None], 5.0)
    for px, py in line:
        assert py == pytest.approx((5 - 2 * px) / 3, abs=1e-12)
    assert {round(min(p[0] for p in line), 9), round(max(p[0] for p in line), 9)} == {0.0, 2.5}


def test_contours_of_a_bowl_close() -> None:
    x = y = np.linspace(-2, 2, 41)
    (line,) = contour(x, y, x[None, :] ** 2 + y[:, None] ** 2, 1.0)
    assert line[0] == pytest.approx(line[-1])
    assert np.hypot(*np.array(line).T) == pytest.approx(1.0, abs=5e-3)


def test_no_line_through_holes() -> None:
    z = np.array([[0.0, 2.0], [np.nan, 2.0]])
    assert contour(np.arange(2.0), np.arange(2.0), z, 1.0) == []


def test_the_picture_says_what_the_answer_says(answer: Where) -> None:
    drawn = svg(where_picture(answer))
    for place in answer.places:
        if place.name != "Phoenix":
            assert place.name in drawn
        assert place.name in description(answer)
    assert 'role="img"' in drawn
    assert " d</text>" in drawn
    rows = table(answer)
    assert len(rows) == answer.days.size + len(answer.places)


def test_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hardtack.keeping.where.TEMPERATURES", np.array([293.15, 303.15]))
    monkeypatch.setattr("hardtack.keeping.where.HUMIDITIES", np.array([0.6, 0.9]))
    file = tmp_path / "x.yaml"
    file.write_text(TEXT)
    assert main(["where", str(file), "--places", "Mumbai, London", "--picture", str(tmp_path / "w.png")]) == 0
    out = capsys.readouterr().out
    assert "Places, the shortest first" in out
    assert "Mumbai" in out
    assert "store begins on day 2" in out
    assert (tmp_path / "w.png").stat().st_size > 10_000
    assert main(["where", str(file), "--places", "London", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "hardtack where 1"
    assert main(["where", str(file), "--places", "Nowhere"]) == 2


def test_legs_followed_once_go_on_as_if_followed_whole() -> None:
    """A swinging leg, then a store in a carton with board, and a film that opens in damp air: from the store's beginning
    on, or all at once."""
    text = TEXT.replace("film: LDPE 50 um", "film: kraft paper 70 g/m2").replace(
        "headspace: 250 mL",
        "headspace: 250 mL, outer packs: [{name: carton, holds: 20, air: 6 L, film: LDPE, area: 0.5 m2, board: 300 g}]",
    )
    text = text.replace(
        "lasts: 2 days, temperature: 25 degC, humidity: 50 %",
        'lasts: 6 days, temperature: {mean: 22 degC, daily swing: 6 K, warmest at: "14:00"}, humidity: 45 %',
    )
    case = case_of(loads(text))
    begun = begun_of(case.product, case.pieces, case.pack, case.journey)
    assert begun is not None
    whole, parted = follow_case(case), follow_case(replace(case, begun=begun))
    assert whole.first_time is not None
    assert parted.first_time == pytest.approx(whole.first_time, rel=1e-3)
    assert 0.0 < parted.history.imbalance <= 1e-12
    # the two differ by what passes agree to, and by where tables of activity have their temperatures
    shared, i, j = np.intersect1d(whole.history.times, parted.history.times, return_indices=True)
    assert shared.size > 50
    np.testing.assert_allclose(parted.history.headspace[j], whole.history.headspace[i], atol=1e-3)
    gained = whole.history.water_gained[i]
    np.testing.assert_allclose(parted.history.water_gained[j], gained, atol=1e-3 * np.ptp(gained))
    assert np.all(np.diff(parted.history.times) > 0)
    assert set(parted.history.leg) == {0, 1}


def test_a_piece_whose_moisture_comes_from_its_bake_is_followed_too() -> None:
    heard: list[float] = []
    answer = where(load("examples/bake-cracker.yaml"), ["Miami"], heard.append)
    (place,) = answer.places
    assert place.days is not None
    assert place.days > 30  # it has the three legs before the store behind it
    assert heard == sorted(heard)
    assert heard[-1] == pytest.approx(1.0)
