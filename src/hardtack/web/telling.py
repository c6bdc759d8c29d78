"""From a product's state and what a page asks to its answer: worked out once and remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import Engine

from hardtack.errors import HardtackError
from hardtack.ledger import Edit
from hardtack.web.asking import AnswerPage, Asked, Told
from hardtack.web.desk import loggers_key, once, read
from hardtack.web.work import Heard


def given_on(at: AnswerPage, sent: Mapping[str, str]) -> dict[str, str]:
    """What was written beside the product for a page: its own questions only, those left empty or at what is usual left out."""
    asked = {ask.name: sent.get(ask.name, "").strip()[: ask.longest] for ask in at.asks}
    first = {ask.name: ask.choices[0] if ask.choices else ask.usual for ask in at.asks}
    return {name: value for name, value in asked.items() if value and value != first[name]}


def told_of(ledger: Engine, edit: Edit, at: AnswerPage, given: Mapping[str, str]) -> Told:
    """An answer, worked out here and now unless it is remembered. Raises `HardtackError` with what is in the way."""
    key, tell = question(ledger, edit, at, given)
    found: Told = once(key, lambda: tell(lambda share: None))
    return found


def question(
    ledger: Engine, edit: Edit, at: AnswerPage, given: Mapping[str, str]
) -> tuple[tuple[Any, ...], Callable[[Heard], Told]]:
    """The key under which an answer is remembered, and what works it out. Raises `HardtackError` where the product
    file does not read."""
    reading = read(edit.text, ledger, edit.step.product)
    if reading.product is None:
        raise HardtackError(reading.problems)
    known = reading.product
    loggers = loggers_key(edit.text, ledger, edit.step.product)
    key = ("told", at.slug, tuple(sorted(given.items())), edit.text, loggers)
    return key, lambda heard: at.tell(Asked(known, given, heard))
