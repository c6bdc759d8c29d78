"""The command line: answers, help, exit codes, and never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import run

ROOT = Path(__file__).parents[2]
CRACKER = str(ROOT / "examples" / "lean-cracker-humid-coast.yaml")
BISCUIT = str(ROOT / "examples" / "hard-biscuit-plain.yaml")


def test_keep_says_the_sentence_first(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "keep", CRACKER)
    assert code == 0
    assert out.startswith("Quillhaven water cracker loses its snap on day")
    for heading in ("Why", "What limits", "On the way", "What it leans on", "Growth", "Cautions"):
        assert heading in out
    assert "invented (" in out
    assert "filled in" in out


def test_keep_as_json_has_every_documented_key(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "keep", BISCUIT, "--json")
    answer = json.loads(out)
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    for key in answer:
        assert f"`{key}`" in page, f"docs/json.md does not explain {key}"
    for part in ("failures", "gates", "legs", "limits", "assumptions"):
        for key in answer[part][0]:
            assert f"`{key}`" in page, f"docs/json.md does not explain {part}.{key}"
    for part in ("end", "limiting", "ladder", "history"):
        for key in answer[part]:
            assert f"`{key}`" in page or key == "layers", f"docs/json.md does not explain {part}.{key}"
    assert answer["schema"] == "hardtack statement 1"
    assert answer["days"] == answer["failures"][0]["day"]
    assert answer["water_balance_error"] <= 1e-12


@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_keep_draws(capsys: pytest.CaptureFixture[str], tmp_path: Path, suffix: str) -> None:
    target = tmp_path / f"picture.{suffix}"
    code, _, _ = run(capsys, "keep", BISCUIT, "--picture", str(target))
    assert code == 0
    head = target.read_bytes()[:8]
    assert head.startswith(b"\x89PNG") if suffix == "png" else head.startswith(b"<svg")


def test_a_picture_that_cannot_be_written_is_a_plain_error(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, _, err = run(capsys, "keep", BISCUIT, "--picture", str(tmp_path / "no" / "such" / "folder.svg"))
    assert code == 2
    assert "mend" in err


def test_all_errors_at_once_with_file_and_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    text = Path(CRACKER).read_text(encoding="utf-8")
    text = (
        text.replace("activity: 0.17", "activity: 17")
        .replace("2.6 ± 0.2 %wb", "2.6 %")
        .replace("humidity: 50 %", "humidity: 0.5")
    )
    file.write_text(text, encoding="utf-8")
    code, out, err = run(capsys, "keep", str(file))
    assert code == 2
    assert out == ""
    assert "3 things to mend" in err
    assert err.count("bad.yaml:") == 3
    assert "Traceback" not in err


@pytest.mark.parametrize(
    "arguments",
    [
        ["keep"],
        ["keep", "no-such-file.yaml"],
        ["kep"],
        ["keep", CRACKER, "--nonsense"],
        ["new", "spaceship"],
        ["reference", "unobtainium"],
    ],
)
def test_wrong_use_is_told_plainly(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    code, _, err = run(capsys, *arguments)
    assert code == 2
    assert err.strip()
    assert "Traceback" not in err


def test_new_gives_a_file_that_keeps(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    _, listing, _ = run(capsys, "new")
    kinds = listing.splitlines()[0].split(": ")[1].split(", ")
    assert len(kinds) >= 4
    for kind in kinds:
        code, text, _ = run(capsys, "new", kind)
        assert code == 0
        assert "invented" in text
        file = tmp_path / f"{kind}.yaml"
        file.write_text(text, encoding="utf-8")
        assert run(capsys, "validate", str(file))[0] == 0
        code, out, err = run(capsys, "keep", str(file))
        assert code == 0, err
        assert "on day" in out or "hours" in out or "keeps its snap" in out


def test_validate_reports_each_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("hardtack: 1\nname: nothing else\n", encoding="utf-8")
    code, out, err = run(capsys, "validate", CRACKER, str(bad))
    assert code == 2
    assert "in order" in out
    assert "bad.yaml" in err


def test_reference_prints_value_unit_conditions_source_and_provenance(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, "reference", "soda cracker")
    assert code == 0
    for word in ("conditions:", "known:", "%db"):
        assert word in out
    assert run(capsys, "reference")[1].count("rows") > 10
    assert json.loads(run(capsys, "reference", "LiCl", "--json")[1])[0]["source"]["citation"]


def test_evidence_prints_and_gives_json(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "evidence")
    assert code == 0
    assert "comparisons within tolerance" in out
    rows = json.loads(run(capsys, "evidence", "--json")[1])
    assert {"area", "data_set", "within", "predicted", "published", "error", "tolerance", "source"} <= set(
        rows[0]
    )
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8").split("## The evidence")[1]
    assert all(f"`{key}`" in page for key in rows[0])
    taken = [row for row in rows if row["inputs"] == "some taken" and not row["fitted"]]
    assert all(bool(row["taken"]) == (row["inputs"] == "some taken") for row in rows)
    assert f"some taken: {sum(row['within'] for row in taken)} of {len(taken)}." in out


def test_schema_is_that_of_the_docs(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "schema")
    assert json.loads(out) == json.loads(
        (ROOT / "docs" / "product-file.schema.json").read_text(encoding="utf-8")
    )


def test_every_command_helps_with_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--help")
    for command in ("keep", "new", "validate", "reference", "evidence", "schema"):
        assert command in out
        assert "Example: hardtack" in run(capsys, command, "--help")[1]


LOAF = str(ROOT / "examples" / "crusty-loaf-in-plastic.yaml")


def test_keep_tells_shares_stales_clashes_gates_and_what_was_not_judged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, "keep", LOAF)
    assert code == 0
    for words in (
        "Share of life used by each failure, after 5",
        "Two kinds of stale",
        "What helps one failure and hurts another",
        "Not judged",
        "Gates: no failures, but someone must confirm",
        "Who confirms:",
        "hardtack why FILE FAILURE",
    ):
        assert words in out


def test_why_lists_what_was_judged_and_lays_one_open(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "why", LOAF)
    assert code == 0
    assert "crust (crust): after 5" in out
    code, out, _ = run(capsys, "why", LOAF, "firming")
    assert code == 0
    for words in ("Equation", "theta = 1 - exp", "leg by leg", "from memory (", "Holds", "Source", "sharper"):
        assert words in out
    code, _, err = run(capsys, "why", LOAF, "colour")
    assert code == 2
    assert "colour was not judged: it takes a measured rate" in err


def test_why_as_json_has_every_documented_key(capsys: pytest.CaptureFixture[str]) -> None:
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    _, out, _ = run(capsys, "why", LOAF, "crust", "--json")
    (answer,) = json.loads(out)
    assert answer["schema"] == "hardtack why 1"
    for key in (*answer, *answer["equation"], *answer["legs"][0]):
        assert f"`{key}`" in page, f"docs/json.md does not explain {key} of why"
    _, out, _ = run(capsys, "why", LOAF, "--json")
    for key in json.loads(out):
        assert f"`{key}`" in page
    _, out, _ = run(capsys, "keep", LOAF, "--json")
    whole = json.loads(out)
    for part in (whole["two_stales"], whole["not_judged"][0], whole["failures"][0]):
        for key in part:
            assert f"`{key}`" in page, f"docs/json.md does not explain {key}"
    assert sum(whole["failures"][0]["share_by_leg"].values()) == pytest.approx(1.0)
    assert whole["failures"][0]["share_of_life_used_at_end"] == pytest.approx(1.0)
