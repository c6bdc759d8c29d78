"""What a product file's text says and comes to: read, computed once, remembered for the next who asks."""

from __future__ import annotations

import os
import re
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Engine

from hardtack.errors import HardtackError, Problem
from hardtack.ledger import brought_file, brought_files

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement
    from hardtack.keeping.answer import AtOnce
    from hardtack.keeping.water_report import WaterReport
    from hardtack.product import Product
    from hardtack.sourced import Computed

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]*\.(?:csv|tsv|txt)")
REMEMBERED = 200
"""Answers kept in memory; each takes some 100 kB."""
_computing = threading.BoundedSemaphore(max(2, os.cpu_count() or 2))
"""Few answers at a time, since they share one interpreter; more than one, so that a slow one lets the quick ones pass."""
_remembered: OrderedDict[tuple[Any, ...], Any] = OrderedDict()
_making: dict[tuple[Any, ...], threading.Lock] = {}
_guard = threading.Lock()


@dataclass(frozen=True, slots=True)
class Reading:
    """A product file's text, read: the product, or every problem in the way."""

    text: str
    product: Product | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """What a product comes to: its keeping statement, or every problem in the way. `known` is what the rest of a
    statement that was given at once is worked out from."""

    reading: Reading
    statement: KeepingStatement | None
    problems: tuple[Problem, ...] = ()
    known: AtOnce | None = None


def read(text: str, ledger: Engine | None = None, product: str = "") -> Reading:
    """Read a product file's text; the logger files that were brought with the product stand beside it."""
    key = ("read", text, loggers_key(text, ledger, product))
    found: Reading = once(key, lambda: _read(text, ledger, product))
    return found


def answer(text: str, ledger: Engine | None = None, product: str = "") -> Answer:
    """The keeping statement of a product file's text."""
    key = ("answer", text, loggers_key(text, ledger, product))
    found: Answer = once(key, lambda: _whole(answer_at_once(text, ledger, product)))
    return found


def answer_at_once(text: str, ledger: Engine | None = None, product: str = "") -> Answer:
    """The statement while someone types: what the error of a computed isotherm does to the date is left for later."""
    key = ("at once", text, loggers_key(text, ledger, product))
    found: Answer = once(key, lambda: _answer(read(text, ledger, product)))
    return found


def water(reading: Reading) -> WaterReport:
    """The water at rest. Raises `HardtackError` with the problems in the way."""
    from hardtack.keeping.water_report import water_report

    if reading.product is None:
        raise HardtackError(reading.problems)
    product = reading.product
    found = once(("water", reading.text), lambda: _or_error(lambda: water_report(product)))
    if isinstance(found, HardtackError):
        raise found
    report: WaterReport = found
    return report


def water_numbers(reading: Reading) -> tuple[Computed, ...]:
    """The numbers the water at rest comes to, each with its equation. Raises as `water`."""
    from hardtack.keeping.water_computed import water_computed

    return water_computed(water(reading))


def warm() -> None:
    """Load what the first answer needs (the compiled march, units, the shelf), so that nobody waits for it."""
    from hardtack.product import kinds, starter

    answer(starter(kinds()[0]))
    answer(starter("cracker"))


def once(key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
    """What `make` gives, made once for a key as long as it is remembered; who asks meanwhile waits for it. What
    `make` raises is raised, and made again for the next who asks."""
    with _guard:
        if key in _remembered:
            _remembered.move_to_end(key)
            return _remembered[key]
        making = _making.setdefault(key, threading.Lock())
    with making:
        with _guard:
            if key in _remembered:
                return _remembered[key]
        try:
            made = make()
            with _guard:
                _remembered[key] = made
        finally:
            with _guard:
                _making.pop(key, None)
        with _guard:
            while len(_remembered) > REMEMBERED:
                _remembered.popitem(last=False)
    return made


def remembered(key: tuple[Any, ...]) -> bool:
    """Whether the answer is there without computing."""
    with _guard:
        return key in _remembered


def _answer(reading: Reading) -> Answer:
    if reading.product is None:
        return Answer(reading, None, reading.problems)
    from hardtack.keeping.answer import keep_at_once

    product = reading.product
    with _computing:
        found = _or_error(lambda: keep_at_once(product))
    if isinstance(found, HardtackError):
        return Answer(reading, None, found.problems)
    return Answer(reading, found.statement, (), found)


def _whole(first: Answer) -> Answer:
    known = first.known
    if known is None:
        return first
    from hardtack.keeping.answer import with_isotherm_errors

    with _computing:
        found = _or_error(lambda: with_isotherm_errors(known))
    if isinstance(found, HardtackError):
        return Answer(first.reading, None, found.problems)
    return Answer(first.reading, found)


def _or_error(make: Callable[[], Any]) -> Any:
    try:
        return make()
    except HardtackError as error:
        return error


def loggers_key(text: str, ledger: Engine | None, product: str) -> tuple[str, ...]:
    """The logger files an answer depends on beside its text."""
    if ledger is None or not product or "logger" not in text:
        return ()
    return tuple(file.id for file in brought_files(ledger, product))


@contextmanager
def brought_folder(ledger: Engine, product: str) -> Iterator[Path]:
    """A folder that holds, for a while, the files brought with a product, by their plain names."""
    with tempfile.TemporaryDirectory(prefix="hardtack-") as name:
        folder = Path(name)
        for file in reversed(brought_files(ledger, product)):  # the later one of a name counts
            if _PLAIN_NAME.fullmatch(file.name):
                (folder / file.name).write_bytes(brought_file(ledger, product, file.id)[1])
        yield folder


def _read(text: str, ledger: Engine | None, product: str) -> Reading:
    from hardtack.product import loads

    if ledger is None or not product or "logger" not in text:
        found = _or_error(lambda: loads(text))
    else:
        with brought_folder(ledger, product) as folder:
            found = _or_error(lambda: loads(text, "product file", folder))
    if isinstance(found, HardtackError):
        return Reading(text, None, found.problems)
    return Reading(text, found)
