"""The isotherm picture says what the report says, in words as well as in lines."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

import hardtack
from hardtack.keeping.water_report import WaterReport, water_report
from hardtack.pictures.isotherm import description, isotherm_picture
from hardtack.pictures.render import svg
from hardtack.water.isotherm import moisture

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def sandwich() -> WaterReport:
    return water_report(hardtack.load(EXAMPLES / "formula-sandwich.yaml"))


def rows(spec: dict[str, Any], mark: str) -> list[list[dict[str, Any]]]:
    return [layer["data"]["values"] for layer in spec["layer"] if layer["mark"]["type"] == mark]


def test_curves_and_states_are_those_of_the_report(sandwich: WaterReport) -> None:
    spec = isotherm_picture(sandwich)
    shell, filling = rows(spec, "line")  # both shells are alike and share one line
    for drawn, layer in ((shell, sandwich.layers[0]), (filling, sandwich.layers[1])):
        for point in drawn[:: len(drawn) // 7]:
            assert point["X"] == pytest.approx(100 * moisture(layer.isotherm, point["a"], 298.15), rel=2e-3)
    points = [row for part in rows(spec, "point") for row in part]
    assert len(points) == 4
    assert [point["a"] for point in points[::2]] == pytest.approx(
        [layer.activity for layer in sandwich.layers[:2]], abs=1e-3
    )
    assert sandwich.rest is not None
    for point in points[1::2]:
        assert point["a"] == pytest.approx(sandwich.rest.activity, abs=2e-3)


def test_axes_have_units_and_basis_and_lines_their_names(sandwich: WaterReport) -> None:
    text = svg(isotherm_picture(sandwich))
    for words in (
        "water activity at 25 °C",
        "% dry basis",
        "filling",
        "packed:",
        "at rest:",
        "common activity",
    ):
        assert words in text
    assert "±0.086 in activity" in text
    assert "comes down to 25 °C at" in text


def test_lines_differ_by_dash_and_shape_not_by_colour(sandwich: WaterReport) -> None:
    spec = isotherm_picture(sandwich)
    marks = [layer["mark"] for layer in spec["layer"] if layer["mark"]["type"] == "line"]
    assert len({mark["color"] for mark in marks}) == 1
    assert len({tuple(mark["strokeDash"]) for mark in marks}) == len(marks)
    shapes = {layer["mark"]["shape"] for layer in spec["layer"] if layer["mark"]["type"] == "point"}
    assert len(shapes) == len(marks)


def test_words_keep_clear_of_one_another(sandwich: WaterReport) -> None:
    spec = isotherm_picture(sandwich)
    places = [
        (row["a"], row["X"])
        for layer in spec["layer"]
        if layer["mark"]["type"] == "text"
        for row in layer["data"]["values"]
    ]
    distinct = set(places)
    assert all(
        abs(X - other_X) > 0.7 or abs(a - other_a) > 0.1
        for k, (a, X) in enumerate(sorted(distinct))
        for other_a, other_X in sorted(distinct)[k + 1 :]
    )


def test_it_is_told_to_those_who_hear_it(sandwich: WaterReport) -> None:
    said = description(sandwich)
    assert re.search(r"At rest the filling holds \d+\.\d percent", said)
    assert json.dumps(isotherm_picture(sandwich))  # plain data throughout


@pytest.mark.parametrize("name", ["formula-seeded-cracker", "lean-cracker-humid-coast"])
def test_one_layer_draws_without_a_common_activity(name: str) -> None:
    spec = isotherm_picture(water_report(hardtack.load(EXAMPLES / f"{name}.yaml")))
    assert "common activity" not in json.dumps(spec, ensure_ascii=False)
    assert len(rows(spec, "line")) == 1
