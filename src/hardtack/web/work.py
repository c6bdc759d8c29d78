"""Long work in the background: one after the other, a bounded line of those that wait, progress, and a stop.

Whoever asks may go to another page or close the browser: the work goes on and its answer is there on return. Asking again
after a change takes the place of what was asked before for the same page of the same product.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

from hardtack.errors import HardtackError, Problem
from hardtack.web.desk import once

WAITING = 60
"""So many may wait; who comes later is asked to come again."""
Owner = tuple[str, str]
"""A product and one of its pages."""
Heard = Callable[[float], None]
"""Told the share of the work done, from 0 to 1."""


class Stopped(Exception):  # noqa: N818 -- it says what it is
    """The work is not wanted any more."""


@dataclass(slots=True)
class Work:
    """One piece of long work, as it stands now."""

    owner: Owner
    key: tuple[Any, ...]
    make: Callable[[Heard], Any]
    state: Literal["waiting", "running", "done", "failed", "stopped"] = "waiting"
    share: float = 0.0
    problems: tuple[Problem, ...] = ()
    unwanted: threading.Event = field(default_factory=threading.Event)

    def heard(self, share: float) -> None:
        """Take note of progress. Raises `Stopped` when the work is not wanted any more."""
        self.share = min(1.0, max(0.0, share))
        if self.unwanted.is_set():
            raise Stopped

    @property
    def going(self) -> bool:
        """Whether an answer is still to come."""
        return self.state in ("waiting", "running")


_line: queue.Queue[Work] = queue.Queue(maxsize=WAITING)
_works: dict[Owner, Work] = {}
_guard = threading.Lock()


def begin(owner: Owner, key: tuple[Any, ...], make: Callable[[Heard], Any]) -> Work:
    """Put work in line; the same work asked for twice is done once. Its answer is remembered under `key`.

    Raises `HardtackError` when too many wait.
    """
    with _guard:
        known = _works.get(owner)
        if known is not None and known.key == key and known.going and not known.unwanted.is_set():
            return known
        work = Work(owner, key, make)
        try:
            _line.put_nowait(work)
        except queue.Full:
            raise HardtackError(
                f"{WAITING} others wait for long answers already", "ask again in a minute"
            ) from None
        if known is not None:
            known.unwanted.set()
        _works[owner] = work
        _start()
    return work


def look(owner: Owner, key: tuple[Any, ...]) -> Work | None:
    """The work asked for last on that page, if it was for that answer."""
    with _guard:
        work = _works.get(owner)
    return work if work is not None and work.key == key else None


def stop(owner: Owner) -> None:
    """Give up the work of a page; it ends at its next sign of progress."""
    with _guard:
        work = _works.get(owner)
    if work is not None and work.going:
        work.unwanted.set()
        if work.state == "waiting":
            work.state = "stopped"


def before(work: Work) -> int:
    """How many are in line before it."""
    with _line.mutex:
        waiting = [each for each in _line.queue if each.state == "waiting" and not each.unwanted.is_set()]
    return waiting.index(work) if work in waiting else 0


@cache
def _start() -> threading.Thread:
    """The one worker; it is no part of what must end before the program does."""
    worker = threading.Thread(target=_work_on, name="long work", daemon=True)
    worker.start()
    return worker


def _work_on() -> None:
    while True:
        work = _line.get()
        if work.unwanted.is_set():
            work.state = "stopped"
            continue
        work.state = "running"
        try:
            once(work.key, lambda work=work: work.make(work.heard))  # type: ignore[misc]
            work.state, work.share = "done", 1.0
        except Stopped:
            work.state = "stopped"
        except HardtackError as error:
            work.problems, work.state = error.problems, "failed"
        except Exception as error:  # the worker outlives any fault; the page says it
            what = f"the work broke off ({type(error).__name__})"
            work.problems = (Problem(what, "take the product file along and report it"),)
            work.state = "failed"
