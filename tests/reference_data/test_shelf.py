"""Every row of the shelf is complete, readable, sourced and findable."""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import shelf
from hardtack.sourced import PROVENANCES
from hardtack.units import KINDS

DATA = Path(shelf.__file__).parent / "data"
TOPICS = reference.topics()


def _raw(topic: str) -> dict[str, Any]:
    return tomllib.loads((DATA / f"{topic.replace(' ', '_')}.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("topic", TOPICS)
def test_every_row_has_value_unit_conditions_source_and_provenance(topic: str) -> None:
    held = reference.topic(topic)
    assert held.about.strip()
    written = _raw(topic)["row"]
    assert len(held.rows) == len(written)
    for row, raw in zip(held.rows, written, strict=True):
        assert row.values, row.name
        assert row.conditions.strip(), row.name
        assert row.provenance in PROVENANCES
        assert row.source.key in reference.sources()
        for symbol, amount in row.values.items():
            assert amount.unit == KINDS[held.symbols[symbol].kind].si
            assert amount.written == str(raw["values"][symbol])


@pytest.mark.parametrize("topic", TOPICS)
def test_names_are_unique_and_found_by_every_spelling(topic: str) -> None:
    for row in reference.rows(topic):
        for name in (row.name, *row.also):
            assert reference.lookup(topic, name.upper()) is row


@pytest.mark.parametrize("topic", TOPICS)
def test_every_symbol_is_used_and_every_pointer_leads_somewhere(topic: str) -> None:
    held = reference.topic(topic)
    assert set(held.symbols) == {symbol for row in held.rows for symbol in row.values}
    for row in held.rows:
        assert bool(row.see) <= bool(held.see_topic)
        if row.see:
            assert reference.lookup(held.see_topic, row.see)


def test_every_source_is_used_and_says_what_was_seen() -> None:
    used = {row.source.key for topic in TOPICS for row in reference.rows(topic)}
    cases = (resources.files("hardtack.evidence") / "cases").iterdir()
    compared = {
        case["source"] for file in cases for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]
    }
    assert used | compared == set(reference.sources())
    for source in reference.sources().values():
        assert source.citation.strip()
        assert source.address.strip()
        assert source.seen.strip()


def test_seen_rows_lean_on_something_seen_and_remembered_rows_on_nothing() -> None:
    for topic in TOPICS:
        for row in reference.rows(topic):
            if row.provenance == "seen":
                assert row.source.seen != "nothing", row.name
            if row.provenance == "from memory":
                assert row.source.key == "memory", row.name


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"conditions": ""}, "lacking"),
        ({"source": "nowhere"}, "not in sources"),
        ({"provenance": "hearsay"}, "not on the list"),
        ({"values": {"E": "33 parsec"}}, "not a unit"),
        ({"values": {"E": "33"}}, "has no unit"),
        ({"values": {"F": "33 kJ/mol"}}, "does not explain"),
        ({"colour": "blue"}, "unknown"),
    ],
)
def test_a_poor_row_is_refused(change: dict[str, object], complaint: str) -> None:
    good: dict[str, object] = {
        "name": "any",
        "values": {"E": "33 kJ/mol"},
        "conditions": "about 25 degC",
        "source": "memory",
        "provenance": "from memory",
    }
    symbols = {"E": reference.Symbol("molar energy", "activation energy")}
    assert shelf._row("test", good, symbols)["E"] == pytest.approx(33000.0)
    with pytest.raises(HardtackError, match=complaint):
        shelf._row("test", good | change, symbols)


def test_a_missing_name_lists_near_spellings_and_all_that_is_there() -> None:
    with pytest.raises(NotOnShelf, match=r"perhaps 'soda cracker'.*rusk"):
        reference.lookup("isotherms", "soda craker")
    with pytest.raises(NotOnShelf, match="isotherms"):
        reference.rows("isotherm")
    with pytest.raises(NotOnShelf, match="it gives: E"):
        reference.lookup("film temperature law", "LDPE")["D"]


def test_find_searches_all_topics_without_regard_to_case() -> None:
    topics = {row.topic for row in reference.find("CRISPBREAD")}
    assert {"isotherms", "diffusivities", "crispness limits"} <= topics
    assert reference.find("zzz") == ()
    assert reference.find(" ") == ()
