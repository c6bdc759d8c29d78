"""Sweeps on the page: only those of the folder the server was started with, named by number, never by a place."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine

from hardtack.errors import HardtackError
from hardtack.keeping.sweeping import read_plan, run_sweep, summary_of
from hardtack.keeping.sweeping.told import sweep_sections
from hardtack.web.serve import serve
from tests.house.tree import ROOT
from tests.web.conftest import Client, serving

PLAN = """hardtack sweep: 1
products: [{}]
designs:
  crossed:
    film: [LDPE 50 um, OPP 30 um]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one sweep, and with things that are none."""
    place = tmp_path_factory.mktemp("sweeps")
    plan = place / "films.yaml"
    plan.write_text(PLAN.format(ROOT / "examples" / "lean-cracker-humid-coast.yaml"), "utf-8")
    run_sweep(read_plan(plan), place / "films-sweep")
    (place / "other").mkdir()
    return place


def test_a_sweep_is_listed_and_shown(ledger: Engine, folder: Path) -> None:
    with serving(ledger, sweeps=folder) as client:
        page = client.get("/sweeps").text
        shown = client.get("/sweeps/1").text
        picture = client.get("/sweeps/1/picture.svg").text
    assert "films-sweep" in page
    assert ">other<" not in page
    for section in sweep_sections(summary_of(folder / "films-sweep")):
        for row in section.rows:
            assert all(cell in shown for cell in row)
    assert picture.startswith("<svg")


def test_no_name_a_browser_sends_becomes_a_place(ledger: Engine, folder: Path) -> None:
    with serving(ledger, sweeps=folder) as client:
        for asked in ("0", "2", "-1", "films-sweep", "%2e%2e%2fother", "1/../../other", "9" * 30):
            assert client.raw(f"/sweeps/{asked}") in (404, 422), asked
            assert str(folder) not in client.get(f"/sweeps/{asked}").text


def test_a_broken_sweep_is_told_without_its_place(ledger: Engine, tmp_path: Path) -> None:
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "sweep.json").write_text("{", "utf-8")
    with serving(ledger, sweeps=tmp_path) as client:
        answer = client.get("/sweeps/1")
    assert answer.status_code == 422
    assert str(tmp_path) not in answer.text


def test_without_a_folder_the_page_says_how_to_start_with_one(client: Client) -> None:
    assert "hardtack serve --sweeps FOLDER" in client.get("/sweeps").text
    assert client.get("/sweeps/1").status_code == 404


def test_a_folder_that_is_not_there_is_told_before_the_start(tmp_path: Path) -> None:
    with pytest.raises(HardtackError, match="there is no folder"):
        serve(browser=False, sweeps=tmp_path / "none")
