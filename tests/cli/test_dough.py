"""`hardtack dough`: text, JSON with every key documented, picture, and errors."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import run

ROOT = Path(__file__).parents[2]
CRACKER = str(ROOT / "examples" / "formula-soda-cracker.yaml")
BREAD = str(ROOT / "examples" / "formula-soft-bread.yaml")
BISCUIT = str(ROOT / "examples" / "formula-short-biscuit.yaml")
SANDWICH = str(ROOT / "examples" / "formula-sandwich.yaml")


def test_the_sentence_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "dough", BISCUIT)
    assert code == 0
    first = " ".join(out.split("\n\n")[0].split())
    assert re.match(
        r"The ginger dough is 16\.\d % water, water activity 0\.\d\d ± 0\.\d+; the leavening is ", first
    )
    assert "of it in the oven (" in first
    for heading in (
        "To weigh", "Water", "What it is made of", "Ingredients by descending weight", "Allergens the names tell",
        "Leavening", "Gas from bench to oven", "Structure and bite", "What it leans on", "Cautions",
    ):  # fmt: skip
        assert f"\n{heading}" in out
    assert "Ammonia irritates" in out
    assert "Follow local law" in out
    assert "No pH without" in out
    assert "from memory" in out


def test_a_bread_shows_its_parts_and_stages(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "dough", BREAD)
    assert code == 0
    assert "600 pieces from" in out
    assert re.search(r"\n\s+sponge\s+\n\s+bread flour\s+60 %", out)
    assert re.search(r"proof\s+55 min\s+38 °C \(100 °F\)", out)
    assert "EUR per kg of dough" in out


def keys(node: Any) -> set[str]:
    if isinstance(node, dict):
        return set(node) | {key for value in node.values() for key in keys(value)}
    return {key for value in node for key in keys(value)} if isinstance(node, list) else set()


@pytest.mark.parametrize("file", [CRACKER, BREAD, BISCUIT, SANDWICH])
def test_json_has_every_key_documented(capsys: pytest.CaptureFixture[str], file: str) -> None:
    code, out, _ = run(capsys, "dough", file, "--json")
    assert code == 0
    answer = json.loads(out)
    assert answer["schema"] == "hardtack dough 1"
    page = (ROOT / "docs" / "json.md").read_text("utf-8")
    assert [key for key in keys(answer) if f"`{key}`" not in page and key not in COMPOSITION] == []
    for dough in answer["doughs"]:
        assert sum(dough["dough"]["composition"].values()) == pytest.approx(1.0)
        if dough["baked"]:
            assert sum(dough["baked"]["composition"].values()) == pytest.approx(1.0)


COMPOSITION = {
    "water", "starch", "sugars", "fibre", "protein", "fat", "salt", "ash and leavening salts", "polyols", "alcohol", "other",
}  # fmt: skip


@pytest.mark.parametrize(("file", "suffix"), [(CRACKER, "svg"), (BREAD, "png"), (SANDWICH, "svg")])
def test_it_draws(capsys: pytest.CaptureFixture[str], tmp_path: Path, file: str, suffix: str) -> None:
    target = tmp_path / f"dough.{suffix}"
    code, out, _ = run(capsys, "dough", file, "--picture", str(target))
    assert code == 0
    assert "Picture written to" in out
    assert target.read_bytes().startswith(b"\x89PNG" if suffix == "png" else b"<svg")


def test_a_leavening_slip_is_told_with_file_line_and_mend(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "slip.yaml"
    text = Path(CRACKER).read_text("utf-8").replace("neutral with: MCP", "neutral with: MPC")
    file.write_text(text, "utf-8")
    line = text[: text.index("MPC")].count("\n") + 1
    code, _, err = run(capsys, "validate", str(file))
    assert code == 2
    assert f"slip.yaml:{line}" in err
    assert "no leavening acid is called 'MPC'" in err
    assert "mend: perhaps 'mcp'" in err


def test_a_file_without_formula_is_told_so(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "dough", str(ROOT / "examples" / "crackers-opened-at-home.yaml"))
    assert code == 2
    assert "no formula to work out" in err
