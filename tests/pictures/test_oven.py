"""The picture of the bake says what the bake says."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import hardtack
from hardtack.oven import Baked, bake
from hardtack.oven.words import advice, timing_words
from hardtack.pictures.oven import description, oven_picture
from hardtack.pictures.render import svg
from tests.house.tree import ROOT

LIFT = 4
"""Place of the lift among the views."""


@pytest.fixture(scope="module")
def loaf() -> Baked:
    return bake(hardtack.load(ROOT / "examples" / "bake-loaf.yaml"))


def drawn(spec: dict[str, Any], view: int) -> list[list[dict[str, float]]]:
    layers = spec["vconcat"][view]["layer"]
    return [layer["data"]["values"] for layer in layers if layer["mark"]["type"] == "line"]


def test_lines_are_the_bakes(loaf: Baked) -> None:
    spec = oven_picture(loaf)
    surface, core, _ = drawn(spec, 0)
    assert surface[0]["y"] == pytest.approx(loaf.march.surface[0, 1] - 273.15, rel=1e-4)
    for point in core[:: len(core) // 8]:
        at = np.interp(60 * point["x"], loaf.times, loaf.core) - 273.15
        assert point["y"] == pytest.approx(at, abs=0.1)
    walls, gas, _, lifted = drawn(spec, LIFT)
    assert walls[-1]["y"] == pytest.approx(100 * loaf.lift.setting[-1], rel=1e-4)
    assert gas[-1]["y"] == pytest.approx(100.0)
    assert max(point["y"] for point in lifted) == pytest.approx(100.0)
    # both curves on the time of the oven alone
    assert walls[-1]["x"] == pytest.approx(loaf.times[loaf.out] / 60)
    rim = drawn(spec, 2)[1]
    assert rim[-1]["y"] == pytest.approx(
        float(np.interp(60 * rim[-1]["x"], loaf.times, loaf.march.activity[:, -1])), abs=1e-3
    )


def test_the_lift_is_told_with_its_advice(loaf: Baked) -> None:
    title = oven_picture(loaf)["vconcat"][LIFT]["title"]
    said = " ".join(title["subtitle"])
    assert timing_words(loaf.lift) in said
    assert all(line in said for line in advice(loaf))
    assert f"half set, {loaf.lift.set_at / 60:.1f} min" in svg(oven_picture(loaf))  # type: ignore[operator]


def test_axes_and_names_are_there(loaf: Baked) -> None:
    text = svg(oven_picture(loaf))
    for words in (
        "temperature, °C",
        "moisture, % wet basis",
        "minutes since entering the oven",
        "walls set",
        "gas given",
        "steam in the bubbles",
        "coldest place",
        "cooling",
        "when packed",
        "mm from centre to surface",
        "water activity",
        "lightness L*",
        "weight lost",
        "gelatinised, coldest",
        "lift, of its most",
    ):
        assert words in text


def test_lines_differ_by_dash(loaf: Baked) -> None:
    for view in oven_picture(loaf)["vconcat"]:
        dashes = [
            tuple(layer["mark"]["strokeDash"]) for layer in view["layer"] if layer["mark"]["type"] == "line"
        ]
        assert len(set(dashes)) == len(dashes)


def test_it_is_told_in_sentences(loaf: Baked) -> None:
    told = description(loaf)
    assert "Marran hearth loaf" in told
    assert "percent of the leavening's gas" in told
