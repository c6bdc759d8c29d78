"""Where tanks, arrows and words of the activity ladder stand: pixels across, and upwards from activity 0."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from hardtack.keeping.ladder import OUTSIDE
from hardtack.keeping.statement import KeepingStatement, Rung
from hardtack.pictures import style
from hardtack.pictures.placing import Box
from hardtack.pictures.words import flow_words
from hardtack.units import DAY

UNIT = 264.0
"""Pixels from activity 0 to 1."""
MARGIN = 14.0
LEAST_COLUMN = 78.0
NARROWEST_TANK, WIDEST_TANK = 12.0, 220.0
HOLDS_NUMBERS, HOLDS_PIPE, HOLDS_WORDS = 36.0, 48.0, 84.0
"""Tanks from this width on take, inside their walls: figures; a pipe beside them; words in one line [px]."""
LEAST_GAP, EASY_GAP, MOST_GAP = 70.0, 86.0, 150.0
"""Room for an arrow and its words: least with six places and more, easy below, and at most [px]."""
CHANNEL = 26.0
"""Height of one channel for water that passes over a neighbour [px]."""
SAME = 0.005
"""A level that ends nearer than this to where it began is drawn once."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Column:
    """A rung and its place: the column its level lines span, and the tank in its middle."""

    rung: Rung
    left: float
    right: float
    tank_left: float
    tank_right: float

    @property
    def unlimited(self) -> bool:
        """Outside air: no end of water, so no walls."""
        return self.rung.name == OUTSIDE

    @property
    def tank(self) -> float:
        """Width of the tank."""
        return self.tank_right - self.tank_left

    @property
    def rises(self) -> bool:
        """Whether the level ends no lower than it was when packed."""
        return self.rung.end >= self.rung.start

    @property
    def pipe(self) -> float:
        """Where a pipe from above stands in the tank: beside the figures, or in a narrow tank's middle."""
        return self.tank_left + (8.0 if self.tank >= HOLDS_PIPE else self.tank / 2)


@dataclass(frozen=True, slots=True)
class Arrow:
    """Water running down from one column to another [mg/day], along its corners."""

    source: Column
    sink: Column
    milligrams_a_day: float
    corners: tuple[Point, ...]

    @property
    def overhead(self) -> bool:
        """Whether it passes over a neighbour."""
        return len(self.corners) > 2


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place: `left` edge and `middle` height of the block."""

    text: str
    left: float
    middle: float
    size: float = style.SIZE_SMALL

    @property
    def box(self) -> Box:
        """What it covers (as if bold), upwards."""
        lines = self.text.split("\n")
        width = max(style.text_width(line, self.size, bold=True) for line in lines)
        height = style.block_height(len(lines), self.size)
        return Box(self.left, self.middle - height / 2, width, height)


def columns(statement: KeepingStatement) -> list[Column]:
    """Places of the rungs from left to right; the outside air takes the room that is left."""
    rungs = statement.ladder
    held = [0.0 if rung.name == OUTSIDE else rung.capacity for rung in rungs]
    most = max(held, default=0.0)
    shares = [capacity / most if most else 0.0 for capacity in held]
    widest = _widest(shares)
    tanks = [max(NARROWEST_TANK, widest * share) for share in shares]
    widths = [max(LEAST_COLUMN, tank) for tank in tanks]
    left_over = style.VIEW_WIDTH - 2 * MARGIN - sum(widths)
    gap = min(MOST_GAP, left_over / max(1, len(rungs) - 1))
    placed = []
    left = MARGIN
    for rung, width, tank in zip(rungs, widths, tanks, strict=True):
        outside = rung.name == OUTSIDE
        right = style.VIEW_WIDTH - MARGIN if outside else left + width
        inset = 0.0 if outside else (right - left - tank) / 2
        placed.append(Column(rung, left, right, left + inset, right - inset))
        left = right + gap
    return placed


def _widest(shares: Sequence[float]) -> float:
    """Width of the largest tank that still leaves every gap its room."""
    gap = EASY_GAP if len(shares) < 6 else LEAST_GAP
    room = style.VIEW_WIDTH - 2 * MARGIN - (len(shares) - 1) * gap
    tried = WIDEST_TANK
    while tried > LEAST_COLUMN and sum(max(LEAST_COLUMN, tried * share) for share in shares) > room:
        tried -= 2.0
    return tried


def arrows(statement: KeepingStatement, placed: Sequence[Column]) -> list[Arrow]:
    """The flows, each turned so that it runs from the higher activity to the lower, whoever is named first.

    Straight between neighbours; up and over others, the shorter way below the longer.
    """
    number = {column.rung.name: k for k, column in enumerate(placed)}
    flows = sorted(statement.flows, key=lambda flow: abs(number[flow.source] - number[flow.sink]))
    found: list[Arrow] = []
    ceiling = UNIT + 0.65 * CHANNEL
    for flow in flows:
        ends = (placed[number[flow.source]], placed[number[flow.sink]])
        source, sink = sorted(ends, key=lambda column: column.rung.start, reverse=True)
        rate = abs(flow.rate) * 1e6 * DAY
        if source.rung.start == sink.rung.start or rate == 0.0:
            continue
        neighbours = abs(number[flow.source] - number[flow.sink]) == 1
        found.append(
            Arrow(source, sink, rate, _straight(source, sink) if neighbours else _over(source, sink, ceiling))
        )
        ceiling += 0.0 if neighbours else CHANNEL
    return found


def _straight(source: Column, sink: Column) -> tuple[Point, ...]:
    high, low = source.rung.start * UNIT, sink.rung.start * UNIT
    if sink.left > source.left:
        return (source.right + 4, high), (sink.left - 4, low)
    return (source.left - 4, high), (sink.right + 4, low)


def _over(source: Column, sink: Column, ceiling: float) -> tuple[Point, ...]:
    out, down = source.pipe, sink.pipe
    return (out, source.rung.start * UNIT), (out, ceiling), (down, ceiling), (down, sink.rung.start * UNIT)


@dataclass(frozen=True, slots=True)
class Words:
    """Every word on the ladder, placed."""

    packed: list[Label]
    ended: list[Label]
    limits: list[Label]
    flows: list[Label]


def words(statement: KeepingStatement, placed: Sequence[Column], running: Sequence[Arrow]) -> Words:
    """Place the figures of the levels, then the limits, then the flows, each clear of those before."""
    piped = {column.rung.name for arrow in running if arrow.overhead for column in (arrow.source, arrow.sink)}
    packed, ended = _figures(placed, piped)
    taken = [label.box for label in (*packed, *ended)]
    for column in placed:
        for level in (column.rung.start, column.rung.end):
            taken.append(Box(column.left, level * UNIT - 2, column.right - column.left, 4))
    shafts = [box for arrow in running for box in _along(arrow.corners)]
    limits = []
    for limit in statement.limits:
        for column in placed:
            if column.rung.name == limit.layer:
                inset = 15.0 if column.rung.name in piped else 6.0
                limits.append(_limit(column, limit.activity, inset, [*taken, *shafts]))
                taken.append(limits[-1].box)
    flows = []
    for arrow in running:
        flows.append(_flow(arrow, taken))
        taken.append(flows[-1].box)
    return Words(packed, ended, limits, flows)


def _figures(placed: Sequence[Column], piped: set[str]) -> tuple[list[Label], list[Label]]:
    """The levels in figures: packed at the left, end at the right, each on the outer side of its line.

    Inside the walls, or left and right of a tank too narrow for them.
    """
    packed, ended = [], []
    width = style.text_width("0.00", style.SIZE_TEXT, bold=True)
    for column in placed:
        rung = column.rung
        inset = 15.0 if rung.name in piped and column.tank >= HOLDS_PIPE else 4.0
        left, right = column.tank_left + inset, column.tank_right - 4 - width
        if column.tank < HOLDS_NUMBERS:
            left, right = column.tank_left - 4 - width, column.tank_right + 4
        side = -9 if column.rises and rung.start > 0.06 else 9
        packed.append(Label(f"{rung.start:.2f}", left, rung.start * UNIT + side, style.SIZE_TEXT))
        if abs(rung.end - rung.start) > SAME:
            middle = rung.end * UNIT + (9 if column.rises else -9)
            ended.append(Label(f"{rung.end:.2f}", right, middle, style.SIZE_TEXT))
    return packed, ended


def _limit(column: Column, activity: float, inset: float, taken: Sequence[Box]) -> Label:
    """A limit's figure: inside the tank, in two lines if need be, or beside a tank too narrow for it."""
    text, steps = f"limit {activity:.2f}", (10, -10, 24, -24)
    lefts = [column.tank_left + inset]
    if column.tank < HOLDS_WORDS:
        text, steps = text.replace(" ", "\n"), (17, -17, 31, -31)
    if column.tank < HOLDS_NUMBERS:
        width = style.text_width("limit", style.SIZE_SMALL, bold=True)
        lefts = [column.tank_left - 11 - width, column.tank_right + 11]
    up = 1 if activity >= column.rung.start else -1
    places = [Label(text, left, activity * UNIT + up * step) for step in steps for left in lefts]
    return _clearest([place for place in places if place.box.top > 1], taken)


def _flow(arrow: Arrow, taken: Sequence[Box]) -> Label:
    """A flow's words: above a flat shaft, across a steep one where it meets no other word."""
    (x1, y1), (x2, y2) = arrow.corners[1:3] if arrow.overhead else arrow.corners
    text = flow_words(arrow.milligrams_a_day)
    width = style.text_width(text, style.SIZE_SMALL, bold=True)
    flat = abs(y2 - y1) < 30
    if not flat and width > abs(x2 - x1) - 14:
        text = text.replace(" ", "\n")
        width = style.text_width("mg/day", style.SIZE_SMALL, bold=True)
    places = []
    for share in (0.5, 0.45, 0.55, 0.4, 0.6, 0.35, 0.65, 0.3, 0.7):
        x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        places.append(Label(text, x - width / 2, max(y1, y2) + 10 if flat else y))
    return _clearest(places, taken)


def _clearest(places: Sequence[Label], taken: Sequence[Box]) -> Label:
    """The first of the places where the words cover least."""
    return min(places, key=lambda label: sum(label.box.overlap(other) for other in taken))


def _along(corners: Sequence[Point]) -> list[Box]:
    """Small boxes along a shaft, so that words can keep clear of it."""
    boxes = []
    for (x1, y1), (x2, y2) in pairwise(corners):
        count = max(2, int(max(abs(x2 - x1), abs(y2 - y1)) / 6))
        boxes += [
            Box(x1 + k / count * (x2 - x1) - 3, y1 + k / count * (y2 - y1) - 3, 6, 6)
            for k in range(count + 1)
        ]
    return boxes
