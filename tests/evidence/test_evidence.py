"""The comparisons run, count honestly, and the page is theirs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hardtack.evidence import EvidenceRow, counts, run_evidence
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
        assert row.remark or not row.fitted, (
            f"{row.what} went into the program and nothing says how it ran before"
        )
        assert row.within or row.remark, f"{row.what} lies outside its tolerance and nothing says why"


def test_counts_by_class_of_inputs_leave_no_row_out(rows: tuple[EvidenceRow, ...]) -> None:
    *areas, whole = counts(rows)
    rows = tuple(row for row in rows if not row.fitted)
    assert whole.all == (sum(row.within for row in rows), len(rows))
    assert [count.area for count in areas] == list(dict.fromkeys(row.area for row in rows))
    assert sum(count.printed[1] + count.some_taken[1] for count in areas) == len(rows)
    assert whole.printed == (
        sum(row.within for row in rows if not row.taken),
        sum(not row.taken for row in rows),
    )


def test_what_was_taken_is_told_whether_or_not_the_row_is_within(rows: tuple[EvidenceRow, ...]) -> None:
    """The reason of a tolerance that says something was taken, assumed or not printed stands with a taken input."""
    told = re.compile(
        r"\b(assumed|not printed|prints no|prints neither|nor .* is printed|by analogy|stands for pasta)\b"
    )
    for row in rows:
        assert all(text.strip() for text in row.taken), row.what
        if told.search(row.reason) or re.search(r"stand-in|assumed|\btaken\b", row.what):
            assert row.inputs == "some taken", row.what


def test_rows_of_one_set_asked_alike_are_classed_alike(rows: tuple[EvidenceRow, ...]) -> None:
    """No row of a series may be excused that its neighbours are not: within and outside share their class."""
    series: dict[tuple[str, str], set[str]] = {}
    for row in rows:
        series.setdefault((row.data_set, row.reason), set()).add(row.inputs)
    assert all(len(classes) == 1 for classes in series.values()), series


def test_nothing_remembered_is_called_evidence(rows: tuple[EvidenceRow, ...]) -> None:
    for row in rows:
        assert "from memory" not in row.source


def test_the_page_is_generated_from_the_run() -> None:
    """Made again with: python -c "from hardtack.evidence.page import markdown; print(markdown(), end='')"."""
    assert (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8") == markdown()
