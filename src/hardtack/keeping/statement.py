"""The keeping statement: everything one run has to say, as frozen data. The faces only show it."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

import numpy as np

from hardtack.keeping.judged import NotJudged
from hardtack.keeping.stale import TwoStales
from hardtack.sourced import Used
from hardtack.states import FailureCourse, Floats, Gate, History, Journey, Pack, Piece

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True)
class Rung:
    """One place on the activity ladder: its activity when packed and at the end of the statement.

    `capacity` [kg] is the water it takes to raise it by one hundredth of activity (inf for outside air, which
    has no end of it). `moisture` is in words with its basis, empty for air.
    """

    name: str
    start: float
    end: float
    capacity: float
    moisture: str


@dataclass(frozen=True, slots=True)
class Flow:
    """Water running when packed from rung `source` down to rung `sink` [kg/s, per pack]."""

    source: str
    sink: str
    rate: float


@dataclass(frozen=True, slots=True)
class LegAccount:
    """What one leg did: its climate in extremes, each layer's activity in and out, and life spent in it.

    `share` is the share of life the first failure used in this leg (the legs' shares add up to the share at
    the end). `until` is the moment of the statement's end when the leg was cut short there.
    """

    name: str
    start: float
    end: float
    temperature: tuple[float, float]
    humidity: tuple[float, float]
    sealed: bool
    activity_in: tuple[float, ...]
    activity_out: tuple[float, ...]
    share: float


@dataclass(frozen=True, slots=True)
class Limit:
    """A texture limit of one layer: activity at the limit's own temperature [K], and moisture [kg/kg dry]."""

    failure: str
    layer: str
    activity: float
    temperature: float
    moisture: float


@dataclass(frozen=True, slots=True)
class IsothermError:
    """What the error of an isotherm computed from a formula does: `rms` in activity, and the moments [s] of the
    first failure with the isotherm of `layers` moved by it, up and down (None: not within the journey)."""

    formula: str
    layers: tuple[str, ...]
    rms: float
    soonest: float | None
    latest: float | None


@dataclass(frozen=True, slots=True)
class KeepingStatement:
    """What fails first, when, why, and on which assumptions.

    `sentence` is the statement itself, `chain` the first failure's cause in one more. `courses` are ordered first
    failure first, with `numbers` each leans on in the same order, and `chains` likewise; `not_judged` are the ways
    of failing not looked at. `clashes` warn where what helps one failure hurts another. `way` tells what happened
    leg by leg. `end` [s] is where the statement ends: the first failure, or the end of the journey.
    """

    product: str
    sentence: str
    causes: tuple[str, ...]
    limiting: str
    way: tuple[str, ...]
    courses: tuple[FailureCourse, ...]
    gates: tuple[Gate, ...]
    legs: tuple[LegAccount, ...]
    limits: tuple[Limit, ...]
    ladder: tuple[Rung, ...]
    flows: tuple[Flow, ...]
    used: tuple[Used, ...]
    cautions: tuple[str, ...]
    history: History
    journey: Journey
    pieces: tuple[Piece, ...]
    pack: Pack | None
    end: float
    end_date: str
    version: str
    isotherm_errors: tuple[IsothermError, ...] = ()
    chain: str = ""
    chains: tuple[str, ...] = ()
    numbers: tuple[tuple[Used, ...], ...] = ()
    not_judged: tuple[NotJudged, ...] = ()
    stale: TwoStales | None = None
    clashes: tuple[str, ...] = ()

    @property
    def first(self) -> FailureCourse | None:
        """The first failure, or None when nothing fails within the journey."""
        return self.courses[0] if self.courses and self.courses[0].time is not None else None

    @property
    def days(self) -> float | None:
        """Days from packing to the first failure, or None."""
        return None if self.first is None or self.first.time is None else self.first.time / 86400.0

    @property
    def piece(self) -> Piece:
        """The first, and mostly the only, kind of piece."""
        return self.pieces[0]

    @property
    def shares(self) -> tuple[float, ...]:
        """Share of life used by each of `courses` at the end of the statement."""
        return tuple(self.share_at(course, self.end) for course in self.courses)

    def _repr_html_(self) -> str:
        """In a notebook: the sentence, the shares and the pictures.

        Pictures stand on a higher floor; they are asked for by name here, when a notebook shows the statement,
        so that nothing on this floor leans on them.
        """
        html: str = import_module("hardtack.report.notebook").statement_html(self)
        return html

    def share_at(self, course: FailureCourse, time: float) -> float:
        """Share of life a course has used by `time` [s]."""
        return float(np.interp(time, self.history.times, course.share))

    def times_in_days(self) -> Floats:
        """The history's times in days."""
        return self.history.times / 86400.0
