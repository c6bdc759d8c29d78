"""`hardtack oven`: text, JSON, picture, and what it refuses."""

from __future__ import annotations

import json
import math
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


def test_the_oven_is_fitted_to_a_loggers_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The log was made with 1.1 of the shelf's heat, 1.2 of its dry path and 0.8 K of noise: the fit finds it again."""
    log = ROOT / "examples" / "data" / "core-log-hard-biscuit.csv"
    assert main(["oven", BISCUIT, "--core-log", str(log), "--json"]) == 0
    fit = json.loads(capsys.readouterr().out)["calibration"]
    assert fit["factors"]["heat"] == pytest.approx(1.1, rel=0.03)
    spread = fit["covariance_of_logarithms"][1][1] ** 0.5
    assert abs(math.log(fit["factors"]["dry_path"] / 1.2)) < 2 * spread
    assert sum("centre after" in row["what"] for row in fit["readings"]) == 12
    assert fit["coefficients"][0]["unit"] == "W/m2/K"
    assert main(["oven", BISCUIT, "--core-log", str(log)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "For the file: factors: {heat:" in said
    assert "34 rows in" in said
    assert "are the shelf's until" not in said
    late = tmp_path / "late.csv"
    late.write_text("Time (min),Temperature (degC)\n20,95\n21,96\n", "utf-8")
    assert main(["oven", BISCUIT, "--core-log", str(late)]) == 2
    assert "no reading within the oven's time" in capsys.readouterr().err
    assert main(["oven", str(ROOT / "examples" / "hard-biscuit-plain.yaml"), "--core-log", str(log)]) == 2
    assert "no oven" in capsys.readouterr().err
