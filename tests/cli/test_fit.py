"""`hardtack fit` and `hardtack plan`: sentence first, JSON as documented, pictures, errors in words, never a traceback."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import run
from tests.measurements.test_any_file import made_table

ROOT = Path(__file__).parents[2]
DATA = ROOT / "examples" / "data"
BISCUIT = str(ROOT / "examples" / "hard-biscuit-plain.yaml")
FILM = ("--area", "50 cm2", "--temperature", "38 degC", "--outside", "90 %", "--inside", "0 %")
STEPS = ("--size", "4 mm", "--area", "25 cm2", "--dry-mass", "2.4 g", "--isotherm", "hard-dough biscuit",
         "--temperature", "25 degC")  # fmt: skip
VERBS: dict[str, tuple[str, ...]] = {
    "isotherm": ("jars-crispbread.csv", "--temperature", "25 degC"),
    "film": ("cups-film.csv", *FILM),
    "diffusion": ("steps-biscuit.csv", *STEPS),
    "bake": ("bake-loss.csv", "--dough-moisture", "24 %wb", "--time", "6.5 min"),
    "crispness": ("force-cracker.csv", "--loss", "30 %"),
    "firming": ("firmness-loaf.csv", "--limit", "12"),
    "mould": ("mould-cake.csv", "--activity", "0.84", "--at", "21 degC"),
    "rancidity": ("peroxide-biscuit.csv", "--limit", "10", "--transition", "the fat melts: 34 degC"),
    "panel": ("panel-crackers.csv", "--share", "25 %"),
    "trial": ("trial-biscuit.csv", "--product", BISCUIT, "--factor", "permeance"),
}


def documented(answer: dict[str, Any], part: str) -> None:
    page = (ROOT / "docs" / "json.md").read_text("utf-8")
    for key in answer:
        assert f"`{key}`" in page, f"docs/json.md does not explain {part}.{key}"


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_in_json_and_picture(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, verb: str
) -> None:
    file, *rest = VERBS[verb]
    picture = tmp_path / "fit.svg"
    code, out, err = run(
        capsys, "fit", verb, str(DATA / file), *rest, "--json", "--picture", str(picture)
    )  # fmt: skip
    assert code == 0, err
    answer = json.loads(out)
    assert (answer["schema"], answer["kind"]) == ("hardtack fit 1", verb)
    documented(answer, "fit")
    documented(answer["result"], f"{verb} result")
    for part in ("estimates", "points", "files"):
        documented(answer[part][0], part)
    drawn = picture.read_text("utf-8")
    assert answer["sentence"].split(":")[0].split("±")[0].strip()[:30] in drawn
    assert 'role="img"' in drawn
    assert "residuals" in drawn


def test_text_begins_with_the_sentence_and_shows_how_the_file_was_read(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, "fit", "crispness", str(DATA / "force-cracker.csv"), "--loss", "30 %")
    assert code == 0
    assert out.startswith("The product has lost 30% of its crispness at water activity 0.41")
    for heading in ("What the points say", "Residuals", "How the file was understood"):
        assert heading in out
    assert "broken before the test" in out


def test_into_says_how_the_statement_moves(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = Path(shutil.copy(ROOT / "examples" / "lean-cracker-humid-coast.yaml", tmp_path))
    code, out, err = run(
        capsys, "fit", "film", str(DATA / "cups-film.csv"), *FILM, "--into", str(file), "--json"
    )
    assert code == 0, err
    written = json.loads(out)["written"]
    documented(written, "written")
    assert written["days_before"] > written["days_after"] + 10
    assert "[measured here, cups-film.csv]" in file.read_text("utf-8")
    code, out, err = run(capsys, "fit", "panel", str(DATA / "panel-crackers.csv"), "--into", str(file))
    assert code == 2
    assert "--answer 'temperature: 25 degC'" in err


def test_questions_are_answered_as_they_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    jars = str(DATA / "jars-moisture.csv")
    said: list[str] = ["--answer", "column Water, oven: moisture %", "--answer", "column Operator: not used"]
    for _ in range(4):
        code, _, err = run(capsys, "fit", "isotherm", jars, "--temperature", "25 degC", *said)
        if code == 0:
            break
        assert "jars-moisture.csv" in err
        said += ["--answer", err.split("say --answer '")[1].split("'")[0]]
    assert code == 0
    code, _, _ = run(capsys, "fit", "isotherm", jars, "--answers", str(DATA / "answers.yaml"))
    assert code == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("isotherm", "missing.csv"), "missing.csv"),
        (("crispness", str(DATA / "force-cracker.csv"), "--loss", "0.3"), "--loss"),
        (("crispness", str(DATA / "force-cracker.csv"), "--loss", "100 %"), "no part of the whole"),
        (("film", str(DATA / "cups-film.csv"), *FILM[:-2], "--inside", "20"), "--inside"),
        (("firming", str(DATA / "force-cracker.csv")), "no column holds time"),
        (("rancidity", str(DATA / "peroxide-biscuit.csv"), "--transition", "34"), "names no temperature"),
        (
            ("trial", str(DATA / "trial-biscuit.csv"), "--product", BISCUIT, "--climate", "30 degC"),
            "no climate",
        ),
        (("trial", str(DATA / "trial-biscuit.csv"), "--product", "none.yaml"), "none.yaml"),
        (("isotherm", str(DATA / "jars-crispbread.csv"), "--answers", "none.yaml"), "mapping file"),
        (("isotherm", str(DATA / "jars-crispbread.csv"), "--answer", "colour: blue"), "answers no question"),
    ],
)
def test_errors_in_words(capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str) -> None:
    code, _, err = run(capsys, "fit", *arguments)
    assert code == 2
    assert says in err
    assert "mend" in err


def test_no_file_makes_the_command_stumble(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    pick = random.Random(11)
    file = tmp_path / "any.csv"
    for n in range(60):
        file.write_bytes(made_table(pick))
        verb = list(VERBS)[n % len(VERBS)]
        code, _, err = run(capsys, "fit", verb, str(file), *VERBS[verb][1:])
        assert code in (0, 2)
        assert code == 0 or err
        assert "Traceback" not in err


def test_a_plan(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "plan", BISCUIT, "--packs", "6", "--days", "42", "--json")
    assert code == 0, err
    answer = json.loads(out)
    documented(answer, "plan")
    for part in ("pulls", "jars", "leans_on"):
        documented(answer[part][0], part)
    code, out, _ = run(capsys, "plan", BISCUIT, "--packs", "6", "--days", "42", "--start", "2026-09-01")
    assert code == 0
    assert "Pull schedule" in out
    assert "2026-10-13" in out
    code, _, err = run(capsys, "plan", BISCUIT, "--start", "September")
    assert code == 2
    assert "no day" in err
