"""The comparisons run, count honestly, and the page is theirs."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardtack.evidence import EvidenceRow, run_evidence
from hardtack.evidence.page import markdown
from hardtack.evidence.run import ROUNDING

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rows() -> tuple[EvidenceRow, ...]:
    return run_evidence()


def test_every_row_is_whole(rows: tuple[EvidenceRow, ...]) -> None:
    for row in rows:
        assert row.area
        assert row.data_set
        assert row.reason
        assert row.source
        assert row.tolerance > 0
        assert row.within == (abs(row.error) <= row.tolerance * (1 + ROUNDING))
        assert row.within or row.remark, f"{row.what} lies outside its tolerance and nothing says why"


def test_nothing_remembered_is_called_evidence(rows: tuple[EvidenceRow, ...]) -> None:
    for row in rows:
        assert "from memory" not in row.source


def test_the_page_is_generated_from_the_run() -> None:
    """Made again with: python -c "from hardtack.evidence.page import markdown; print(markdown(), end='')"."""
    assert (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8") == markdown()
