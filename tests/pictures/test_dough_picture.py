"""The dough's picture: its words, its numbers, and that nothing hangs on colour."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import hardtack
from hardtack.keeping.dough_report import DoughReport, dough_report
from hardtack.pictures.dough import description, dough_picture
from hardtack.pictures.render import svg

EXAMPLES = Path(__file__).parents[2] / "examples"


def report(name: str) -> DoughReport:
    return dough_report(hardtack.load(EXAMPLES / f"formula-{name}.yaml"))


@pytest.mark.parametrize("name", ["soda-cracker", "soft-bread", "short-biscuit", "sandwich"])
def test_it_draws_and_is_described(name: str) -> None:
    told = report(name)
    picture = svg(dough_picture(told))
    assert 'role="img"' in picture
    said = description(told)
    assert said.startswith(told.product)
    assert "Of 100 grams of dough: water" in said
    for word in ("water", "starch", "fat"):
        assert f">{word}</text>" in picture


def test_bars_are_as_long_as_their_shares() -> None:
    told = report("short-biscuit")
    sheet = told.sheets[0]
    bars = dough_picture(told)["vconcat"][0]["layer"]
    rows = bars[0]["data"]["values"]
    lengths = [row["x2"] - row["x"] for row in rows]
    shares = [share for share in sheet.parts.values() if share >= 5e-4]
    assert [length / lengths[0] for length in lengths] == pytest.approx(
        [share / shares[0] for share in shares[: len(lengths)]], abs=1e-3
    )


def test_it_is_grey() -> None:
    text = json.dumps(dough_picture(report("short-biscuit")))
    for colour in re.findall(r"#[0-9a-f]{6}", text):
        assert colour[1:3] == colour[3:5] == colour[5:7]


def test_lines_that_share_a_plot_differ_by_dash() -> None:
    gas = dough_picture(report("short-biscuit"))["vconcat"][1]["layer"]
    dashes = [tuple(part["mark"]["strokeDash"]) for part in gas if part["mark"]["type"] == "line"]
    assert len(dashes) == len(set(dashes)) == 3
