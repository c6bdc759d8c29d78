"""Products and the states their files went through. Undo adds the earlier state; nothing is ever taken away."""

from __future__ import annotations

import datetime
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, Row, func, insert, select

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger.opening import WRITES
from hardtack.ledger.tables import edits, products

_queue = threading.Lock()
ONE_STEP = 3.0
"""Changes of one place that follow each other within this time are undone together: someone was typing [s]."""


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a product's history. `at` is UTC in ISO 8601; `kind` is change, undo or redo."""

    product: str
    seq: int
    at: str
    kind: str
    place: str
    what: str


@dataclass(frozen=True, slots=True)
class Edit:
    """A state of a product file: its `text` after `step`, and whether there is something to undo or redo."""

    step: Step
    text: str
    can_undo: bool = False
    can_redo: bool = False


def start_product(ledger: Engine, text: str, what: str) -> Edit:
    """A new product with its first state."""
    product = secrets.token_hex(5)
    _check_storable(text, what)
    with _writing(ledger) as connection:
        connection.execute(insert(products).values(id=product, started=_now()))
        return _add(connection, product, "change", "", what, text)


def change(
    ledger: Engine,
    product: str,
    make: Callable[[str], str],
    what: str,
    place: str = "",
    based_on: int | None = None,
) -> Edit:
    """Add the state that `make` makes of the present one; nothing is added when it stays the same.

    Writers follow one another, so no change is lost. With `based_on` the present state must still be that one.
    Raises `HardtackError` when it is not, whatever `make` raises, and `NotOnShelf` for an unknown product.
    """
    with _writing(ledger) as connection:
        present = _locked_head(connection, product)
        if based_on is not None and based_on != present.seq:
            raise HardtackError(
                f"the product was changed meanwhile (state {present.seq} follows the {based_on} you started from)",
                "look at the present state and make your change there",
            )
        text = make(present.text)
        _check_storable(text, what, place)
        if text == present.text:
            return _edit(connection, present)
        return _add(connection, product, "change", place, what, text)


def undo(ledger: Engine, product: str) -> Edit:
    """Add the state before the last step that is not undone. Without one, the present state stays."""
    return _back(ledger, product, "undo")


def redo(ledger: Engine, product: str) -> Edit:
    """Add the state that the last undo left. Without one, the present state stays."""
    return _back(ledger, product, "redo")


def head(ledger: Engine, product: str) -> Edit:
    """The present state. Raises `NotOnShelf` for an unknown product."""
    with ledger.connect() as connection:
        return _edit(connection, _head(connection, product))


def heads(ledger: Engine) -> tuple[Edit, ...]:
    """The present state of every product, the last changed first."""
    last = select(edits.c.product, func.max(edits.c.seq).label("seq")).group_by(edits.c.product).subquery()
    query = (
        select(edits)
        .join(last, (edits.c.product == last.c.product) & (edits.c.seq == last.c.seq))
        .order_by(edits.c.at.desc())
    )
    with ledger.connect() as connection:
        return tuple(Edit(_step(row), row.text) for row in connection.execute(query))


def edit_at(ledger: Engine, product: str, seq: int) -> Edit:
    """One state of a product. Raises `NotOnShelf` when there is none."""
    if not 0 <= seq < 2**31:  # beyond what the column holds
        raise NotOnShelf(f"there is no state {seq} of this product", "look at its history")
    with ledger.connect() as connection:
        row = connection.execute(
            select(edits).where(edits.c.product == product, edits.c.seq == seq)
        ).one_or_none()
    if row is None:
        raise NotOnShelf(f"there is no state {seq} of this product", "look at its history")
    return Edit(_step(row), row.text)


def history(ledger: Engine, product: str) -> tuple[Step, ...]:
    """All steps, the first one first. Raises `NotOnShelf` for an unknown product."""
    with ledger.connect() as connection:
        steps = _steps(connection, product)
    if not steps:
        raise NotOnShelf("the ledger has no such product", "the first page lists them")
    return steps


def _check_storable(*texts: str) -> None:
    for text in texts:
        if "\x00" in text or (not text.isascii() and any("\ud800" <= sign <= "\udfff" for sign in text)):
            raise HardtackError(
                "the text holds a character that is none", "delete it and write the word again"
            )


@contextmanager
def _writing(ledger: Engine) -> Iterator[Connection]:
    """A transaction that writes. Writers of one program queue here: SQLite would let them poll."""
    with _queue, ledger.execution_options(**{WRITES: True}).begin() as connection:
        yield connection


def _now() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")


def _head(connection: Connection, product: str) -> Row[Any]:
    query = select(edits).where(edits.c.product == product).order_by(edits.c.seq.desc()).limit(1)
    row = connection.execute(query).one_or_none()
    if row is None:
        raise NotOnShelf("the ledger has no such product", "the first page lists them")
    return row


def _locked_head(connection: Connection, product: str) -> Row[Any]:
    """The head, with other writers kept out until this one is done (SQLite's whole transaction does so)."""
    if connection.dialect.name == "postgresql":
        connection.execute(select(products.c.id).where(products.c.id == product).with_for_update())
    return _head(connection, product)


def _steps(connection: Connection, product: str) -> tuple[Step, ...]:
    columns = [column for column in edits.c if column.name != "text"]
    query = select(*columns).where(edits.c.product == product).order_by(edits.c.seq)
    return tuple(_step(row) for row in connection.execute(query))


def _step(row: Row[Any]) -> Step:
    return Step(row.product, row.seq, row.at, row.kind, row.place, row.what)


def _add(connection: Connection, product: str, kind: str, place: str, what: str, text: str) -> Edit:
    last = connection.scalar(select(func.max(edits.c.seq)).where(edits.c.product == product))
    values = {"seq": (last or 0) + 1, "at": _now(), "kind": kind, "place": place, "what": what, "text": text}
    connection.execute(insert(edits).values(product=product, **values))
    return _edit(connection, _head(connection, product))


def _edit(connection: Connection, row: Row[Any]) -> Edit:
    before, after = _stacks(_steps(connection, row.product))
    return Edit(_step(row), row.text, bool(before), bool(after))


def _back(ledger: Engine, product: str, kind: str) -> Edit:
    with _writing(ledger) as connection:
        present = _locked_head(connection, product)
        before, after = _stacks(_steps(connection, product))
        stack = before if kind == "undo" else after
        if not stack:
            return _edit(connection, present)
        query = select(edits).where(edits.c.product == product, edits.c.seq == stack[-1])
        wanted = connection.execute(query).one()
        return _add(connection, product, kind, "", f"{kind}: back to state {wanted.seq}", wanted.text)


def _stacks(steps: Iterable[Step]) -> tuple[list[int], list[int]]:
    """The states that undo and redo would go to, the nearest last."""
    before: list[int] = []
    after: list[int] = []
    present: Step | None = None
    for step in steps:
        if present is None:
            pass
        elif step.kind == "undo":
            after.append(present.seq)
            before.pop()
        elif step.kind == "redo":
            before.append(present.seq)
            after.pop()
        else:
            after.clear()
            if not _typing(present, step):
                before.append(present.seq)
        present = step
    return before, after


def _typing(last: Step, step: Step) -> bool:
    """Whether two steps are one person's typing in one place."""
    if last.kind != "change" or not step.place or last.place != step.place:
        return False
    times = [datetime.datetime.fromisoformat(each.at) for each in (last, step)]
    return (times[1] - times[0]).total_seconds() <= ONE_STEP
