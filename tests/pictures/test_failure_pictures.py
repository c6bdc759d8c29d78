"""Profile, shares and stales: drawn without a warning from real runs, they say and hold what the run says."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from hardtack.cli import main
from hardtack.errors import HardtackError
from hardtack.keeping import keep
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import KINDS, profile, shares, stales
from hardtack.pictures.profile_layout import LEAST_LAYER, panels, shared, ticks, to_scale
from hardtack.pictures.render import svg
from hardtack.pictures.style import PICTURE_WIDTH
from hardtack.product import load
from tests.house.tree import ROOT
from tests.pictures import invented
from tests.pictures.drawn import drawn_of, words_of

LOAF = "crusty-loaf-in-plastic"  # a cylinder of three layers
SANDWICH = "savoury-sandwich-cracker"  # five parts, two of them barriers
MIX = "crackers-with-dried-fruit"  # two kinds of piece, one a sphere
SOFT = "soft-bread-with-emulsifier"  # one layer, followed as one
FILES = (LOAF, SANDWICH, MIX, SOFT, "wafer-with-cream-in-chocolate", "lean-cracker-humid-coast")


@cache
def _kept(name: str) -> KeepingStatement:
    return keep(load(ROOT / "examples" / f"{name}.yaml"))


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("kind", ["profile", "shares"])
def test_they_render_without_a_warning_at_the_common_width(
    name: str, kind: str, capfd: pytest.CaptureFixture[str]
) -> None:
    statement = _kept(name)
    drawn = drawn_of(KINDS[kind].picture(statement), capfd)
    assert float(drawn.attrib["width"]) == PICTURE_WIDTH
    words = words_of(drawn)
    assert statement.product.split()[0] in words
    assert ("water activity" if kind == "profile" else "share of life used") in words


@pytest.mark.parametrize(
    "made", [invented.never_fails, invented.unpacked, lambda: invented.of_days(1095, 0.0)]
)
def test_no_failure_no_pack_and_failure_at_once_are_drawn(made, capfd) -> None:  # type: ignore[no-untyped-def]
    for kind in ("profile", "shares"):
        assert float(drawn_of(KINDS[kind].picture(made()), capfd).attrib["width"]) == PICTURE_WIDTH


def test_the_profile_is_the_run_cell_by_cell() -> None:
    statement = _kept(SANDWICH)
    rows = profile.table(statement)
    assert len(rows) == statement.history.profile_positions.size
    n = profile.moments(statement)[-1]
    assert statement.history.times[n] == statement.end
    last = [list(row.values())[-1] for row in rows]
    np.testing.assert_array_equal(last, statement.history.profile[n])
    depths = [row["depth [mm]"] for row in rows]
    assert depths == sorted(depths)
    assert depths[-1] == pytest.approx(13.6, abs=0.1)  # the file's thickness, barriers counted
    upper = next(row["depth [mm]"] for row in rows if row["layer"] == "upper shell")
    assert upper > 4.5 + 0.3 + 4.0 + 0.3 - 1e-9


def test_moments_run_from_packing_to_the_end() -> None:
    for name in FILES:
        statement = _kept(name)
        times = statement.history.times[profile.moments(statement)]
        assert times[0] == 0.0
        assert times[-1] == statement.end
        assert 3 <= times.size <= 4


def test_each_panel_is_a_kind_of_piece_and_limits_stand_in_their_layer() -> None:
    placed = panels(_kept(MIX), 600.0)
    assert [panel.piece.name for panel in placed] == ["mini cracker", "apricot"]
    assert to_scale(placed)
    assert placed[1].columns[0].end == pytest.approx(7.0)  # radius of a sphere of 14 mm
    words = svg(profile.profile_picture(_kept(MIX)))
    assert "mm from the centre" in words
    assert "mm through the piece" in words
    assert "crispness:" in words


def test_thin_layers_keep_a_readable_width_and_the_rest_its_proportion() -> None:
    widths = shared([44.0, 4.0, 2.0], 600.0)
    assert sum(widths) == pytest.approx(600.0)
    assert widths[1:] == [LEAST_LAYER, LEAST_LAYER]
    assert shared([1.0] * 20, 600.0) == pytest.approx([30.0] * 20)
    assert shared([2.0, 1.0, 1.0], 800.0) == pytest.approx([400.0, 200.0, 200.0])
    assert not to_scale(panels(_kept(LOAF), 600.0))
    for name in FILES:
        for panel in panels(_kept(name), 600.0):
            places = [x for x, _ in ticks(panel)]
            assert min(np.diff(places)) >= 30 - 1e-9  # millimetres never touch


def test_shares_stop_at_the_limit_and_mark_the_first() -> None:
    statement = _kept(LOAF)
    drawn = shares.lines(statement)
    assert [line.name for line in drawn] == ["crust", "firming of the crumb", "mould of the crumb"]
    assert [line.first for line in drawn] == [True, False, False]
    for line, course in zip(drawn, statement.courses, strict=True):
        assert line.time == course.time
        assert line.last == 1.0
        assert line.shares.max() == 1.0
        np.testing.assert_allclose(
            line.shares[:-1], np.interp(line.times[:-1], statement.history.times, course.share)
        )
    said = shares.description(statement)
    assert "Mould of the crumb: all used on day 5." in said
    assert "Crust: all used after 5.3 hours." in said


def test_courses_alike_are_one_line_named_after_all_their_layers() -> None:
    drawn = shares.lines(_kept(SANDWICH))
    shells = [course.layer for course in _kept(SANDWICH).courses if course.name == "crispness"]
    assert sorted(shells) == ["lower shell", "upper shell"]
    assert drawn[0].name == f"crispness of the {' and '.join(shells)}"
    assert [line.time for line in drawn[1:]] == [None, None]
    assert len(shares.table(_kept(SANDWICH))[0]) == 1 + len(_kept(SANDWICH).courses)


def test_the_two_stales_are_opposite_arrows(capfd: pytest.CaptureFixture[str]) -> None:
    statement = _kept(LOAF)
    drawn = drawn_of(stales.stales_picture(statement), capfd)
    assert float(drawn.attrib["width"]) == PICTURE_WIDTH
    words = words_of(drawn)
    for told in ("crust crisp", "crumb soft", "crumb firm, at its limit after 47.6 hours", "g per pack"):
        assert told in words
    assert "crust leathery, at its limit after 5.3 hours" in words
    crumb, crust = stales._arrows(statement, stales.both(statement))
    assert crumb.height[0] == 0.0
    assert crumb.height[-1] == 1.0
    assert (np.diff(crumb.height) > 0).all()
    assert crust.height[0] == 1.0
    assert crust.height[-1] == 0.0
    assert (np.diff(crust.height) < 0).all()
    assert crust.times[-1] == pytest.approx(statement.end, rel=0.05)  # the crust is what fails first


def test_a_bread_without_crust_has_one_arrow_and_others_are_told_there_is_none(
    capfd: pytest.CaptureFixture[str],
) -> None:
    assert "crumb firm, at its limit on day 4" in words_of(
        drawn_of(stales.stales_picture(_kept(SOFT)), capfd)
    )
    assert len(stales._arrows(_kept(SOFT), stales.both(_kept(SOFT)))) == 1
    with pytest.raises(HardtackError, match="firming was not judged"):
        stales.stales_picture(_kept(SANDWICH))
    assert [KINDS["stales"].drawable(_kept(name)) for name in (LOAF, SANDWICH)] == [True, False]


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_is_described_and_has_its_numbers(kind: str) -> None:
    statement = _kept(LOAF)
    spec = KINDS[kind].picture(statement)
    assert spec["description"] == KINDS[kind].description(statement)
    assert statement.product in spec["description"]
    assert len(KINDS[kind].table(statement)) >= 1


def test_the_command_draws_and_writes_numbers(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = str(ROOT / "examples" / f"{LOAF}.yaml")
    for kind in KINDS:
        assert main(["picture", file, kind, str(tmp_path / f"{kind}.svg")]) == 0
        assert (tmp_path / f"{kind}.svg").read_text("utf-8").startswith("<svg")
        assert main(["picture", file, kind, str(tmp_path / f"{kind}.csv")]) == 0
        rows = list(csv.DictReader((tmp_path / f"{kind}.csv").read_text("utf-8").splitlines()))
        assert len(rows) == len(KINDS[kind].table(_kept(LOAF)))
    assert "Arrow up: the crumb goes from soft to firm" in capsys.readouterr().out
    assert main(["picture", file, "ladder", str(tmp_path / "none" / "out.csv")]) == 2
    assert main(["picture", file, "sunburst", "out.svg"]) == 2
