"""What the terminal says of packs and journeys."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hardtack.cli import main

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_where_the_life_was_spent_by_leg(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keep", str(EXAMPLES / "crackers-opened-at-home.yaml")]) == 0
    out = capsys.readouterr().out
    table = out.split("Where the life was spent")[1].split("\n\n")[0]
    shares = [int(share) for share in re.findall(r" (\d+)%", table)]
    assert len(shares) == 3
    assert sum(shares) == pytest.approx(100, abs=2)
    assert shares[2] > shares[0]
    assert "as many pieces as were packed" in " ".join(out.split())


def test_the_pack_tells_what_it_did(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keep", str(EXAMPLES / "biscuits-in-carton-and-hood.yaml")]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "silica gel took up" in out
    assert "crosses the holes told in the file" in out
