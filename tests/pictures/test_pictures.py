"""Every picture of every kind of statement renders without a warning, says what it shows, fits its frame."""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest
import vl_convert

from hardtack.errors import HardtackError
from hardtack.keeping.answer import keep
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import (
    figure,
    journey,
    journey_picture,
    keeping_picture,
    ladder,
    ladder_picture,
    write_picture,
)
from hardtack.pictures.render import VEGA_LITE, png, svg
from hardtack.pictures.style import AIR, BAND, GRID, PICTURE_WIDTH, Spec
from hardtack.product import load
from tests.house.tree import ROOT
from tests.pictures import invented
from tests.pictures.drawn import drawn_of, words_of

STATEMENTS: dict[str, Callable[[], KeepingStatement]] = {
    "one layer, three legs": invented.cracker,
    "three layers": invented.sandwich,
    "four layers, six legs": invented.four_layers,
    "never fails": invented.never_fails,
    "fails at once": lambda: invented.of_days(1095, 0.0),
    "an hour and a half": lambda: invented.of_days(0.5, 0.0625),
    "one day": lambda: invented.of_days(1, None),
    "eleven days": lambda: invented.of_days(11, 10.2),
    "three years": lambda: invented.of_days(1095, None),
    "unpacked": invented.unpacked,
}


@pytest.fixture(params=STATEMENTS.values(), ids=STATEMENTS.keys())
def statement(request: pytest.FixtureRequest) -> KeepingStatement:
    made: KeepingStatement = request.param()
    return made


def test_the_figure_renders_without_a_warning_and_says_what_it_is(
    statement: KeepingStatement, capfd: pytest.CaptureFixture[str]
) -> None:
    drawn = drawn_of(keeping_picture(statement), capfd)
    assert float(drawn.attrib["width"]) == PICTURE_WIDTH
    assert float(drawn.attrib["height"]) <= 1.4 * PICTURE_WIDTH  # fits an upright page with its margins
    shown = words_of(drawn)
    assert statement.product in shown
    assert all(word in shown for word in statement.sentence.split())
    assert f"computed by Hardtack {statement.version}; a model is not a validation" in shown
    for axis in ("water activity", "°C", "from packing"):
        assert axis in shown


def test_a_computed_statement_is_drawn(capfd: pytest.CaptureFixture[str]) -> None:
    statement = keep(load(ROOT / "examples" / "hard-biscuit-metallised.yaml"))
    shown = words_of(drawn_of(keeping_picture(statement), capfd))
    assert all(word in shown for word in f"{statement.sentence} {statement.limiting}".split())
    assert f"limit {statement.limits[0].activity:.2f}" in shown


@pytest.mark.parametrize("picture", [ladder_picture, journey_picture])
def test_each_part_stands_alone_at_the_same_width(
    picture: Callable[[KeepingStatement], Spec], capfd: pytest.CaptureFixture[str]
) -> None:
    for made in (invented.cracker, invented.four_layers, invented.unpacked):
        assert float(drawn_of(picture(made()), capfd).attrib["width"]) == PICTURE_WIDTH


def test_a_wrong_specification_does_warn(capfd: pytest.CaptureFixture[str]) -> None:
    spec = ladder_picture(invented.cracker())
    spec["layer"][0]["encoding"]["size"] = {"field": "x", "type": "quantitative"}
    spec["layer"][0]["mark"]["type"] = "rect"
    vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE, show_warnings=True)
    said = capfd.readouterr()
    assert "dropped" in said.out + said.err


def test_svg_is_one_described_image() -> None:
    statement = invented.cracker()
    root = ElementTree.fromstring(svg(ladder_picture(statement)))
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == ladder.description(statement)


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (invented.cracker, "on day 143 (22 October 2026): crispness of the cracker"),
        (invented.sandwich, "on day 50 (21 July 2026): crispness of the lower shell"),
        (lambda: invented.of_days(0.5, 0.0625), "after 1.5 hours: crispness of the cracker"),
        (lambda: invented.of_days(1095, 0.0), "when packed: crispness of the cracker"),
        (invented.never_fails, "Nothing fails: the journey ends on day 96 (5 September 2026)"),
    ],
)
def test_descriptions_and_pictures_tell_the_moment_of_failure(
    made: Callable[[], KeepingStatement], words: str
) -> None:
    statement = made()
    for module in (ladder, journey, figure):
        assert words in module.description(statement)
    assert words in svg(journey_picture(statement))


def test_png_has_two_pixels_a_point_and_svg_is_well_formed(tmp_path: Path) -> None:
    spec = keeping_picture(invented.cracker())
    path = write_picture(spec, tmp_path / "out.PNG")
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    drawn = write_picture(spec, str(tmp_path / "out.svg")).read_text("utf-8")
    assert "Invented lean cracker" in drawn
    root = ElementTree.fromstring(drawn)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    assert struct.unpack(">II", data[16:24]) == (2 * width, 2 * height)


def test_the_same_statement_gives_the_same_picture() -> None:
    assert svg(journey_picture(invented.sandwich())) == svg(journey_picture(invented.sandwich()))
    assert png(ladder_picture(invented.cracker())) == png(ladder_picture(invented.cracker()))


@pytest.mark.parametrize(("name", "mend"), [("out.pdf", "out.svg"), ("out", "out.svg"), (".png", ".png.svg")])
def test_another_suffix_is_told_what_to_write(tmp_path: Path, name: str, mend: str) -> None:
    with pytest.raises(HardtackError, match=re.escape(mend)) as told:
        write_picture({}, tmp_path / name)
    assert told.value.problems[0].mend


def test_places_that_cannot_be_written_are_told(tmp_path: Path) -> None:
    spec = ladder_picture(invented.cracker())
    with pytest.raises(HardtackError, match="does not exist"):
        write_picture(spec, tmp_path / "none" / "out.svg")
    (tmp_path / "folder.svg").mkdir()
    with pytest.raises(HardtackError, match="cannot write"):
        write_picture(spec, tmp_path / "folder.svg")
    kept = tmp_path / "out.svg"
    kept.write_text("before")
    write_picture(spec, kept)
    assert kept.read_text("utf-8").startswith("<svg")


def _luminance(color: str) -> float:
    """Relative luminance of a colour (WCAG 2.2, definition of relative luminance)."""
    parts = [int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_words_stand_out_from_every_ground_as_wcag_asks(statement: KeepingStatement) -> None:
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1 for text; here on every grey it may lie on."""
    spec = json.dumps(keeping_picture(statement))
    marks = re.findall(r'"mark": (\{[^{}]*"type": "text"[^{}]*\})', spec)
    colors = {mark["color"] for mark in map(json.loads, marks) if "stroke" not in mark}
    assert colors
    for color in colors:
        for ground in ("#ffffff", AIR, BAND, GRID):
            assert (_luminance(ground) + 0.05) / (_luminance(color) + 0.05) >= 4.5, (color, ground)
