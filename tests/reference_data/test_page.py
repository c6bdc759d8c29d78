"""The page of the reference shelf holds every row and every source."""

from __future__ import annotations

import re

from hardtack import reference
from hardtack.reference.page import markdown


def test_the_page_holds_every_row_and_source_in_whole_tables() -> None:
    page = markdown()
    lines = page.splitlines()
    rows = [line for line in lines if line.startswith("| ")]
    held = sum(len(reference.rows(topic)) for topic in reference.topics())
    headings = len(reference.topics()) + 1
    assert len(rows) == held + len(reference.sources()) + headings
    for line in rows:
        assert len(re.findall(r"(?<!\\)\|", line)) in (5, 7), line
    for topic in reference.topics():
        assert f"## {topic.capitalize()}" in lines
    assert "| soda cracker (" in page
    assert "Greenspan 1977" in page
