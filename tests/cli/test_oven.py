"""`hardtack oven`: text, JSON, picture, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hardtack.cli import main
from tests.house.tree import ROOT

CRACKER = str(ROOT / "examples" / "bake-cracker.yaml")
BISCUIT = str(ROOT / "examples" / "bake-hard-biscuit.yaml")


def test_the_bake_as_text(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "bake.svg"
    assert main(["oven", CRACKER, "--moisture", "3 %wb", "--picture", str(picture)]) == 0
    said = capsys.readouterr().out
    for words in (
        "leaves the oven at",
        "Lift against setting",
        "rule of thumb",
        "Across the band",
        "How long, how hot",
        "process authority decides",
        "benchmark level",
    ):
        assert words in " ".join(said.split())
    assert "<svg" in picture.read_text("utf-8")


def test_the_bake_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["oven", BISCUIT, "--json", "--calibrate"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["kind"] == "bake"
    assert answer["balance"]["water"] <= 1e-12
    assert len(answer["calibration"]["covariance_of_logarithms"]) == 3
    times = answer["courses"]["time_s"]
    assert len(times) == len(answer["courses"]["centre_degC"])
    assert len(answer["courses"]["in_the_oven"]["gas_given"]) < len(times)
    assert answer["layers"][0]["name"] == "biscuit"
    assert {used["provenance"] for used in answer["used"]} >= {"seen", "invented"}


def test_a_file_without_an_oven_is_told_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["oven", str(ROOT / "examples" / "hard-biscuit-plain.yaml")]) == 2
    assert "no oven" in capsys.readouterr().err
