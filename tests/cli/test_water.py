"""`hardtack water`: text, JSON with every key documented, picture, and errors."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import run

ROOT = Path(__file__).parents[2]
SANDWICH = str(ROOT / "examples" / "formula-sandwich.yaml")
CRACKER = str(ROOT / "examples" / "formula-seeded-cracker.yaml")
PLAIN = str(ROOT / "examples" / "crackers-opened-at-home.yaml")


def test_the_answer_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "water", SANDWICH)
    assert code == 0
    first = " ".join(out.split("\n\n")[0].split())
    assert re.search(r"left to rest together they come to share 0\.\d\d\.$", first)
    for heading in (
        "Formula: shell dough",
        "Layer: filling",
        "Sealed together",
        "What it leans on",
        "Cautions",
    ):
        assert heading in out
    assert "Hydration: nominal 30%" in out
    assert "% wb" in out
    assert "% db" in out
    assert out.count("\n  22 °C  ") == 3  # the journey's one temperature stands beside 25 degC for each layer


def test_a_product_of_one_layer_without_formulas(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "water", PLAIN)
    assert code == 0
    assert "Formula:" not in out
    assert "Sealed together" not in out


def keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in keys(value)}
    return {key for value in node for key in keys(value)} if isinstance(node, list) else set()


@pytest.mark.parametrize("file", [SANDWICH, CRACKER, PLAIN])
def test_json_has_every_key_documented(capsys: pytest.CaptureFixture[str], file: str) -> None:
    code, out, _ = run(capsys, "water", file, "--json")
    assert code == 0
    answer = json.loads(out)
    assert answer["schema"] == "hardtack water 1"
    page = (ROOT / "docs" / "json.md").read_text("utf-8")
    assert [key for key in keys(answer) if f"`{key}`" not in page] == []
    for layer in answer["layers"]:
        for table in layer["isotherm"]["tables"]:
            assert len(table["moisture_dry_basis"]) == len(layer["isotherm"]["activity"])


@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_it_draws(capsys: pytest.CaptureFixture[str], tmp_path: Path, suffix: str) -> None:
    target = tmp_path / f"isotherms.{suffix}"
    code, out, _ = run(capsys, "water", SANDWICH, "--picture", str(target))
    assert code == 0
    assert "Picture written to" in out
    assert target.read_bytes().startswith(b"\x89PNG" if suffix == "png" else b"<svg")


def test_unknown_ingredients_are_told_with_file_and_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "bad.yaml"
    text = Path(CRACKER).read_text("utf-8").replace("ingredient: sesame", "ingredient: sesam")
    file.write_text(text.replace("ingredient: salt", "ingredient: moon salt"), "utf-8")
    for command in ("water", "keep"):
        code, out, err = run(capsys, command, str(file))
        assert code == 2
        assert out == ""
        assert "2 things to mend" in err
        assert "perhaps 'sesame'" in err
        assert err.count("bad.yaml:") == 2
        assert "Traceback" not in err


def test_help_shows_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Example: hardtack water" in run(capsys, "water", "--help")[1]
    assert "water" in run(capsys, "--help")[1]


def test_a_mixed_pack_of_two_products(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "mixed.svg"
    code, out, _ = run(capsys, "water", SANDWICH, CRACKER, "--picture", str(picture))
    assert code == 0
    assert " ".join(out.split()).startswith(
        "Mixed pack of 12 Pellowgate apricot sandwich, 24 Orrinstead seeded cracker:"
    )
    assert re.search(r"g a\s+pack", out)
    assert "common activity at rest" in picture.read_text("utf-8")
    both = json.loads(run(capsys, "water", SANDWICH, CRACKER, "--json")[1])
    assert (both["per"], both["pieces"]) == ("pack", 36)
    alone = json.loads(run(capsys, "water", CRACKER, "--json")[1])
    assert both["layers"][-1]["dry_mass_kg"] == pytest.approx(24 * alone["layers"][0]["dry_mass_kg"])
    assert both["layers"][-1]["name"] == "Orrinstead seeded cracker"


def test_a_mixed_pack_names_each_product_once(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "water", CRACKER, CRACKER)
    assert code == 2
    assert "'count' says how many go in" in err
    assert run(capsys, "water")[0] == 2


def test_validate_looks_up_ingredients(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """An ingredient no shelf knows is reported with its line and near spellings, all files together."""
    text = Path(CRACKER).read_text("utf-8").replace("ingredient: sesame", "ingredient: sesam")
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(text.replace("ingredient: flaxseed", "ingredient: unobtainium"), encoding="utf-8")
    code, out, err = run(capsys, "validate", str(wrong), PLAIN)
    assert code == 2
    assert "2 things to mend" in err
    for number, line in enumerate(wrong.read_text("utf-8").splitlines(), 1):
        if "sesam" in line or "unobtainium" in line:
            assert f"wrong.yaml, line {number}" in err or f"wrong.yaml:{number}" in err
    assert "sesame" in err
    assert "in order" in out
    assert run(capsys, "validate", CRACKER)[0] == 0
