"""`hardtack certainty` and `hardtack measure-next` at the command line: text, JSON, pictures, slips."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.running import run

FILE = str(Path(__file__).parents[2] / "examples" / "crackers-with-dried-fruit.yaml")


def test_certainty_is_told_drawn_and_printed_as_json(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    picture = tmp_path / "sure.svg"
    code, out, _ = run(
        capsys,
        "certainty",
        FILE,
        "--share",
        "0.9",
        "--confidence",
        "80 %",
        "--samples",
        "1024",
        "--picture",
        str(picture),
    )
    assert code == 0
    assert "With 80% confidence, at least 90% of the packs" in out
    assert "What fails first" in out
    assert "standard error from sampling" in out
    drawn = picture.read_text("utf-8")
    assert "packs still good" in drawn
    assert 'role="img"' in drawn
    code, out, _ = run(capsys, "certainty", FILE, "--samples", "1024", "--json")
    told = json.loads(out)
    assert (code, told["schema"]) == (0, "hardtack certainty 1")
    assert told["day"] < told["plain_day"]
    assert sum(one["share"] for one in told["first_failures"]) == pytest.approx(1.0)
    assert len(told["dates"]) == told["samples"]


def test_measure_next_is_ranked_drawn_and_printed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    table = tmp_path / "next.csv"
    code, out, _ = run(capsys, "measure-next", FILE, "--picture", str(table))
    assert code == 0
    assert "Measurements, by the days" in out
    assert "What makes the date unsure" in out
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    gains = [float(row["firmer by, days"]) for row in rows if row["firmer by, days"]]
    assert gains == sorted(gains, reverse=True)
    assert any(row["number"] for row in rows)


def test_the_picture_of_what_to_measure_is_described(tmp_path: Path) -> None:
    """Drawn from a frozen answer, without a run."""
    import hardtack
    from hardtack.pictures.measure_next import description, next_picture
    from hardtack.pictures.render import svg

    found = hardtack.measure_next(hardtack.load(Path(FILE).with_name("hard-biscuit-plain.yaml")))
    said = description(found)
    assert found.measurements[0].name in said
    assert found.shares[0].name in said
    assert found.measurements[0].name in svg(next_picture(found))


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (("--share", "2"), "no part of the whole"),
        (("--share", "0.995"), "share of packs"),
        (("--confidence", "much"), "--confidence"),
        (("--seed", "-1"), "a seed of -1"),
        (("--picture", "sure.txt"), "end the name in"),
        (("--picture", "nowhere/sure.svg"), "does not exist"),
    ],
)
def test_slips_are_told_before_the_long_work(
    capsys: pytest.CaptureFixture[str], flags: tuple[str, ...], said: str
) -> None:
    code, _, err = run(capsys, "certainty", FILE, *flags)
    assert code == 2
    assert said in err
