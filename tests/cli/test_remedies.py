"""`hardtack remedies`, `tradeoff`, `complaint`: what a person sees, JSON, pictures, slips."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hardtack.cli import main

ROOT = Path(__file__).parents[2]
BISCUIT = str(ROOT / "examples" / "hard-biscuit-plain.yaml")
MIX = str(ROOT / "examples" / "crackers-with-dried-fruit.yaml")
COMPLAINT = str(ROOT / "examples" / "data" / "complaint-soft-biscuits.yaml")


def test_remedies_tell_lines_costs_and_what_does_not_help(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["remedies", BISCUIT, "--days", "150", "--picture", str(tmp_path / "r.svg")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for words in (
        "Each of these alone gives 150 days",
        "Specification lines",
        "at most 3.4 g/m2/day at 38 °C",
        "EUR per 1000",
        "Not enough by itself",
        "No help at all",
        "113 days, with the product as it is",
    ):
        assert words in said
    assert (tmp_path / "r.svg").read_text("utf-8").startswith("<svg")


def test_tradeoff_and_complaint_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["tradeoff", MIX, "cracker: activity", "dried fruit: activity", "--days", "40", "--json"]) == 0
    )
    assert json.loads(capsys.readouterr().out)["schema"] == "hardtack tradeoff 1"
    assert main(["complaint", BISCUIT, COMPLAINT, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["schema"] == "hardtack complaint 1"
    assert sum(one["after"] for one in said["causes"]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "arguments",
    [
        ["remedies", BISCUIT],
        ["remedies", BISCUIT, "--days", "0"],
        ["tradeoff", BISCUIT, "biscuit: moisture"],
        ["tradeoff", BISCUIT, "biscuit: moisture", "nothing so called"],
        ["tradeoff", BISCUIT, "biscuit: moisture", "piece: mass", "--from", "1 %wb"],
        ["complaint", BISCUIT, "no-such-file.yaml"],
        ["complaint", BISCUIT, BISCUIT],
    ],
)
def test_wrong_use_is_told_plainly(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    assert main(arguments) == 2
    assert "mend:" in capsys.readouterr().err
