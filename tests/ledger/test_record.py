"""The ledger: nothing is lost, nothing is overwritten, undo leads back, on SQLite and on PostgreSQL."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from sqlalchemy import Engine, delete, text, update
from sqlalchemy.exc import DatabaseError

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger import (
    bring_file,
    brought_file,
    brought_files,
    change,
    edit_at,
    head,
    heads,
    history,
    open_ledger,
    record,
    redo,
    start_product,
    tables,
    undo,
)


def _set(ledger: Engine, product: str, new: str, place: str = "") -> None:
    change(ledger, product, lambda _: new, f"set {new}", place)


def test_every_state_stays_and_undo_and_redo_walk_between_them(ledger: Engine) -> None:
    product = start_product(ledger, "one", "begun").step.product
    _set(ledger, product, "two")
    _set(ledger, product, "three")
    assert undo(ledger, product).text == "two"
    assert undo(ledger, product).text == "one"
    assert not undo(ledger, product).can_undo  # nothing before the first: it stays
    assert redo(ledger, product).text == "two"
    _set(ledger, product, "four")  # a new branch: what was undone can no longer be redone, but is still there
    present = redo(ledger, product)
    assert (present.text, present.can_undo, present.can_redo) == ("four", True, False)
    assert undo(ledger, product).text == "two"
    assert [edit_at(ledger, product, step.seq).text for step in history(ledger, product)] == [
        "one", "two", "three", "two", "one", "two", "four", "two",
    ]  # fmt: skip


def test_typing_in_one_place_is_undone_at_once(ledger: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    product = start_product(ledger, "", "begun").step.product
    for typed in ("4", "4.", "4.5"):
        _set(ledger, product, typed, "piece/thickness")
    _set(ledger, product, "4.5 26", "piece/count")
    assert undo(ledger, product).text == "4.5"
    assert undo(ledger, product).text == ""
    monkeypatch.setattr(record, "ONE_STEP", -1.0)  # the same steps, far apart in time
    assert redo(ledger, product).can_undo


def test_what_does_not_change_adds_nothing_and_a_stale_base_is_refused(ledger: Engine) -> None:
    product = start_product(ledger, "one", "begun").step.product
    _set(ledger, product, "one")
    assert len(history(ledger, product)) == 1
    change(ledger, product, lambda old: old + "+", "more", based_on=1)
    with pytest.raises(HardtackError, match="changed meanwhile"):
        change(ledger, product, lambda old: old + "-", "less", based_on=1)
    assert head(ledger, product).text == "one+"


def test_writers_at_the_same_time_lose_nothing(ledger: Engine) -> None:
    product = start_product(ledger, "", "begun").step.product

    def write(letter: str) -> None:
        for _ in range(10):
            change(ledger, product, lambda old: old + letter, letter)

    threads = [threading.Thread(target=write, args=(letter,)) for letter in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(head(ledger, product).text) == sorted("abcd" * 10)
    assert [step.seq for step in history(ledger, product)] == list(range(1, 42))


def test_the_database_itself_refuses_to_change_or_delete(ledger: Engine) -> None:
    product = start_product(ledger, "one", "begun").step.product
    bring_file(ledger, product, "cups.csv", b"a;b\n")
    for deed in (
        update(tables.edits).values(text="other"),
        delete(tables.edits),
        update(tables.files).values(name="other"),
        delete(tables.files),
    ):
        with pytest.raises(DatabaseError, match="only added to"), ledger.begin() as connection:
            connection.execute(deed)
    assert head(ledger, product).text == "one"


def test_files_come_back_as_they_were_brought(ledger: Engine) -> None:
    product = start_product(ledger, "one", "begun").step.product
    other = start_product(ledger, "two", "begun").step.product
    brought = bring_file(ledger, product, "../../cups.csv", b"\x00\xff")
    assert brought_file(ledger, product, brought.id) == ("../../cups.csv", b"\x00\xff")
    assert [(file.name, file.size) for file in brought_files(ledger, product)] == [("../../cups.csv", 2)]
    with pytest.raises(NotOnShelf):
        brought_file(ledger, other, brought.id)


def test_the_last_changed_product_comes_first_and_unknown_ones_are_told(ledger: Engine) -> None:
    first = start_product(ledger, "one", "begun").step.product
    second = start_product(ledger, "two", "begun").step.product
    assert {edit.step.product for edit in heads(ledger)} == {first, second}
    for ask in (head, history, undo):
        with pytest.raises(NotOnShelf, match="no such product"):
            ask(ledger, "nothing")
    for seq in (0, 2, 2**40, -1):
        with pytest.raises(NotOnShelf, match="no state"):
            edit_at(ledger, first, seq)


def test_a_ledger_opens_again_with_what_it_held_and_a_newer_one_is_refused(place: str) -> None:
    ledger = open_ledger(place)
    product = start_product(ledger, "± °C µ", "begun").step.product
    ledger.dispose()
    again = open_ledger(place)
    assert head(again, product).text == "± °C µ"
    with again.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'v9999'"))
    again.dispose()
    with pytest.raises(HardtackError, match="newer program"):
        open_ledger(place)


def test_the_steps_lead_to_the_tables_of_the_code(ledger: Engine) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.config import Config
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory

    with ledger.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []
    config = Config()
    config.set_main_option("script_location", str(Path(record.__file__).parent / "migrations"))
    assert ScriptDirectory.from_config(config).get_current_head() == tables.HEAD


@pytest.mark.parametrize("place", ["nosuch://x/y", "postgresql://nobody@127.0.0.1:1/none?connect_timeout=2"])
def test_a_ledger_that_cannot_be_opened_is_told_in_words(place: str) -> None:
    with pytest.raises(HardtackError, match="ledger"):
        open_ledger(place)
    with pytest.raises(HardtackError, match="ledger"):
        open_ledger(Path(__file__) / "below" / "a file")
