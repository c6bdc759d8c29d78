"""The one error a user sees.

    HardtackError            something the user can mend; carries every problem found, not only the first
    ├── NotOnShelf           a name that the reference shelf does not hold
    └── BalanceError         the water balance does not close: a fault of the program, never of the user

A problem says what is wrong, where (file and line), and how to mend it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to mend: `what` is wrong, `mend` says what to write instead, `where` is the place."""

    what: str
    mend: str = ""
    file: str = ""
    line: int | None = None
    path: str = ""

    @property
    def where(self) -> str:
        """File and line as editors understand it: ``cracker.yaml:12``."""
        if not self.file:
            return ""
        return f"{self.file}:{self.line}" if self.line else self.file

    def __str__(self) -> str:
        place = " · ".join(part for part in (self.where, self.path) if part)
        head = f"{place}: {self.what}" if place else self.what
        return f"{head}\n    mend: {self.mend}" if self.mend else head


class HardtackError(Exception):
    """Something the user can mend. `problems` holds all of them."""

    def __init__(self, problems: Problem | Iterable[Problem] | str, mend: str = "") -> None:
        if isinstance(problems, str):
            problems = Problem(problems, mend)
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NotOnShelf(HardtackError):  # noqa: N818 -- reads as the sentence it is
    """The reference shelf holds nothing by that name; the message lists near spellings."""


class BalanceError(HardtackError):
    """The audited water balance did not close to 1e-12 of the piece's water."""
