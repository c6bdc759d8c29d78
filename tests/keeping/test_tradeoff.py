"""Two inputs against each other: points and frontier against keep itself, ranges, names."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.keeping.tradeoff import Tradeoff, tradeoff, tradeoff_json
from hardtack.pictures.render import svg
from hardtack.pictures.tradeoff import description, table, tradeoff_picture
from hardtack.product import loads

ROOT = Path(__file__).parents[2]
TEXT = """
hardtack: 1
name: test cracker
kind: soda cracker
origin: invented
piece: {shape: slab, thickness: 4.5 mm, length: 60 mm, width: 50 mm, mass: 8 g, count: 25,
  layers: [{name: cracker, moisture: MOISTURE %wb}]}
pack:
  film: {name: wrap, transmission: RATE g/m2/day, activation energy: 45 kJ/mol,
    tested at: {temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}
  area: 0.06 m2
  headspace: 250 mL
  whole-pack factor: 1.4
journey: [{leg: store, lasts: until it fails, temperature: 30 degC, humidity: 70 %}]
limits: {crispness: {activity: 0.43, at: 25 degC}}
"""


def _text(moisture: float = 2.6, rate: float = 4.0) -> str:
    return TEXT.replace("MOISTURE", repr(moisture)).replace("RATE", repr(rate))


@pytest.fixture(scope="module")
def answer() -> Tradeoff:
    ranges = (("1.5 %wb", "3.5 %wb"), ("2 g/m2/day", "6 g/m2/day"))
    return tradeoff(loads(_text()), "cracker: moisture", "transmission", days=90.0, ranges=ranges)


def test_points_of_the_map_are_what_keep_says(answer: Tradeoff) -> None:
    assert (answer.a.unit, answer.b.unit) == ("%wb", "g/m2/day")
    assert answer.a.values[[0, -1]] == pytest.approx([1.5, 3.5])
    for i, j in ((0, 0), (3, 6), (8, 2)):
        said = keep(loads(_text(float(answer.a.values[i]), float(answer.b.values[j])))).days
        assert answer.days[i, j] == pytest.approx(said, rel=1e-6)
        assert answer.first[i][j] == "crispness of the cracker"


def test_the_frontier_keeps_the_wanted_days(answer: Tradeoff) -> None:
    assert len(answer.frontier) >= 4
    for x, y in answer.frontier:
        assert keep(loads(_text(x, y))).days == pytest.approx(90.0, rel=2e-3)


def test_drier_and_tighter_is_longer(answer: Tradeoff) -> None:
    assert np.all(np.diff(answer.days, axis=0) < 0)
    assert np.all(np.diff(answer.days, axis=1) < 0)


def test_days_go_as_one_over_the_transmission(answer: Tradeoff) -> None:
    """Film-limited, the time to a limit is in proportion to the film's resistance."""
    product = answer.days * answer.b.values
    assert np.ptp(product, axis=1).max() < 0.02 * product.mean()


def test_names_and_ranges_that_mean_nothing() -> None:
    product = loads(_text())
    with pytest.raises(HardtackError, match="no number called 'colour'"):
        tradeoff(product, "colour", "transmission")
    with pytest.raises(HardtackError, match="same input"):
        tradeoff(product, "transmission", "wrap: transmission")
    with pytest.raises(HardtackError, match="range runs"):
        tradeoff(product, "cracker: moisture", "transmission", ranges=(("4 %wb", "2 %wb"), None))
    with pytest.raises(HardtackError, match="moisture"):
        tradeoff(product, "cracker: moisture", "transmission", ranges=(("4", "5"), None))


def test_every_key_of_the_json_is_documented(answer: Tradeoff) -> None:
    page = (ROOT / "docs" / "json.md").read_text("utf-8").split("## Trade-off")[1].split("\n## ")[0]
    said = json.loads(json.dumps(tradeoff_json(answer), allow_nan=False))
    keys = {*said, *said["a"], *said["frontier"][0]}
    assert keys <= set(re.findall(r"`([a-z_A-Z]+)`", page))


def test_the_picture_has_its_lines_and_marks(answer: Tradeoff) -> None:
    drawn = svg(tradeoff_picture(answer))
    assert "90 d wanted" in drawn
    assert "crispness of the cracker" in drawn
    assert len(table(answer)) == answer.days.size + len(answer.frontier)
    assert answer.sentence in description(answer)
    assert math.isfinite(answer.days.max())
