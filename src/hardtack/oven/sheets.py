"""Lift of a folded dough, sheet by sheet: steam parts the sheets where fat keeps them apart.

Between two dough sheets lies a gap of height h, at the pressure that carries the sheets above it, P + g m_above. While
the dough there is below its boiling point the gap holds folded-in air with the steam of the sheets' own vapour pressure,
n = n_air p_w / (P' - p_w). From the boiling point on, half of the steam that leaves the piece (assumed) goes inwards from
where it boils off, and all gaps that boil share it alike, for it passes where the fat is broken. A gap loses steam at the
rim, where fat sheets are broken, as a slot: u = 2 (r h)^3 dp / (3 mu R^2) [m/s over the face] from the middle of a round
face to its rim, where the sheets stand r h apart (laminar flow between plates with an even source, mean pressure dp); and
through holes and cracks, u = c s sqrt(2 dp / rho). Where fat is whole, the melted fat seals the rim up to h = 2 gamma / dp.
A sheet bends until it has set and dried: dh follows by the share not yet standing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt

from hardtack.dough import Formula
from hardtack.dough.makeup import laminate_of
from hardtack.product import FormulaSpec
from hardtack.reference import lookup, on_shelf
from hardtack.sourced import Sourced, Used
from hardtack.states import Floats
from hardtack.units import degrees
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, STANDARD_PRESSURE, saturation_pressure

GRAVITY = 9.80665
"""Standard gravity [m/s2]."""
GAPS = 60
"""Gaps that are followed; where there are more, each stands for its share of them."""
TOPIC = "lamination"

BISECTIONS = 50
LEAST, NEAR = 0.98, 0.99
"""Shares of a gap's pressure between which its sheets come to boil: 0.6 and 0.3 K below, about what the bake's march allows
as error in a step."""
HOT = 373.15
"""Temperature [K] for the density of steam that leaves through holes."""

Loss = Literal["the rim", "holes", "the sheets"]
LOSSES: tuple[Loss, ...] = ("the rim", "holes", "the sheets")
Limit = Literal[Loss, "the steam", "no boiling"]


@dataclass(frozen=True, slots=True)
class Sheets:
    """A folded dough as it enters the oven: `count` dough sheets; thickness [m] of one dough sheet and of one fat sheet;
    `whole` share of the fat sheets that is unbroken; `holes` share of the face that is open through all sheets; `load`
    [kg of dough per m2 of face]; `reach` [m] from the middle of the face to its rim; `lean` share of the dry matter that
    is no fat. `fat_words` tell the fat's firmness.
    """

    count: int
    dough: float
    fat: float
    whole: float
    holes: float
    load: float
    reach: float
    lean: float
    merged: bool
    fat_words: str

    @property
    def through(self) -> float:
        """Vapour from sheet to sheet over that in a dough without fat sheets: through broken fat, and a little through
        whole fat."""
        passes = lookup(TOPIC, "fat sheet")["passes"]
        return passes + (1.0 - passes) * (1.0 - self.whole)

    @property
    def pair(self) -> float:
        """Thickness of a dough sheet with its fat [m]."""
        return self.dough + self.fat


@dataclass(frozen=True, slots=True)
class Parted:
    """How the `sheets` part. Over the bake [k]: height of all gaps [m] together and `height` of the piece over the dough's,
    `standing` share of the sheets that has set and dried. `gaps` [m] at the highest moment, bottom to top, with the
    `pressure` [Pa] over the room's that lifts there. `limit` is what kept most gaps from opening further.

    `boils_at` [s] is when half of the gaps boil, None when they never do; `lifted_at` when nine tenths of the lift are
    there. `lost` are shares of all steam that the sheets give off, lost by then at the rim, through holes, and through the
    sheets once they are as far apart as they go.
    """

    sheets: Sheets
    height: Floats
    standing: Floats
    gaps: Floats
    pressure: Floats
    limit: Limit
    boils_at: float | None
    lifted_at: float | None
    lost: Mapping[Loss, float]


def sheets_of(
    spec: FormulaSpec, formula: Formula, given: float | None, load: float, thickness: float, area: float
) -> tuple[Sheets | None, tuple[Used, ...]]:
    """The sheets of a dough, None where it has no more than two.

    `given` is a number of sheets that outranks the folds; `load` [kg/m2] and `thickness` [m] of the dough as it enters,
    `area` [m2] of its face. Raises `HardtackError` as `laminate_of`.
    """
    folded = laminate_of(spec, formula)
    count = round(given) if given is not None else (folded.dough_sheets if folded is not None else 1)
    if count <= 2:
        return None, ()
    share = folded.fat_thickness / (folded.fat_thickness + folded.dough_thickness) if folded else 0.0
    pair = thickness / count
    whole, words, used = _whole(spec, share * pair)
    holes = spec.structure.holes if spec.structure else None
    if holes is not None:
        used = (*used, Used("holes and cracks through the sheets", holes, True))
    return (
        Sheets(
            count, pair * (1.0 - share), pair * share, whole, holes.value if holes else 0.0, load,
            sqrt(area / pi), 1.0 - formula.composition.fat / formula.composition.dry_mass, pair < lookup("structure", "merging sheets")["pair"], words,
        ),
        (*used, *_of_shelf()),
    )  # fmt: skip


def _of_shelf() -> tuple[Used, ...]:
    """The shelf's numbers on which the parting leans, whatever the fat."""
    rows = (
        ("gap at the rim over its mean", "steam", "rim"),
        ("steam that goes inwards", "steam", "inwards"),
        ("discharge through a hole", "steam", "discharge"),
        ("tension of the melted fat [N/m]", "melted fat", "tension"),
        ("most that the sheets open", "most", "times"),
        ("moisture above which a set sheet bends", "standing", "bends"),
        ("moisture below which a set sheet stands", "standing", "stands"),
        ("air folded in", "folded-in air", "air"),
    )
    return tuple(Used(what, lookup(TOPIC, name).values[key], False) for what, name, key in rows)


def _whole(spec: FormulaSpec, fat: float) -> tuple[float, str, tuple[Used, ...]]:
    """Share of the fat sheets that is whole, in numbers and in words; by the fat, its temperature and its thickness."""
    row = lookup(TOPIC, "fat sheet")
    best, given = row["whole"], spec.structure
    used = [Used("fat sheets that are whole", row.values["whole"], False)]
    name = given.rolled_in if given and given.rolled_in else None
    at = given.rolled_at if given else None
    words, off = "the fat is taken as firm when rolled", 0.0
    shelf = on_shelf(TOPIC, name) if name is not None else None
    if at is not None and shelf is not None and "workable" in shelf.values:
        span: Sourced = shelf.values["workable"]
        low, high = span.low or span.value, span.high or span.value
        used += [
            Used("fat when rolled", at, True),
            Used(f"workable temperatures of {shelf.name}", span, False),
        ]
        off = max(low - at.value, at.value - high, 0.0)
        state = (
            "firm and pliable"
            if off == 0
            else "too soft: it smears"
            if at.value > high
            else "too hard: it breaks"
        )
        words = f"{name} at {degrees(at.value)} is {state} (workable from {degrees(low)} to {degrees(high)})"
    firm = 0.5 ** (off / row["halves"])
    return best * firm * (fat / (fat + row["thin"]) if fat > 0 else 0.5), words, tuple(used)


@dataclass(frozen=True, slots=True)
class _Gaps:
    """What the gaps are reckoned with, bottom to top: pressure inside and over the room's [Pa], folded-in air [mol/m2],
    height [m] to which the rim is sealed and to which sheets of that thickness part at most.
    """

    inside: Floats
    over: Floats
    air: Floats
    sealed: Floats
    most: float
    rim: float
    holes: Floats


def part(
    sheets: Sheets, times: Floats, T: Floats, a: Floats, X: Floats, setting: Floats, weights: Floats
) -> Parted:
    """Follow the gaps over a course of T [K], activity, moisture [kg/kg dry] and setting, each [k, n]; `weights` are the
    cells' shares of dry mass, from the bottom up.
    """
    n = min(sheets.count - 1, GAPS)
    at = (np.arange(n) + 0.5) / n
    middle = np.cumsum(weights) - weights / 2
    dry = sheets.load / (1.0 + float(X[0] @ weights))
    # steam that leaves the piece in a step, and of it what comes to each of the gaps that are followed [mol/m2]
    given = np.maximum(-np.diff(X @ weights), 0.0) * dry / MOLAR_MASS_WATER
    T, a, X, setting = (_read(at, middle, course) for course in (T, a, X, setting))
    stands_for = (sheets.count - 1) / n
    gaps, standing, vapour = (
        _gaps(sheets, T[0], at),
        _standing(X / sheets.lean, setting),
        a * saturation_pressure(T),
    )
    boils = vapour >= NEAR * gaps.inside
    steam, heights, lost = np.zeros(n), np.zeros_like(T), np.zeros((times.size, len(LOSSES)))
    free = gaps.air * GAS_CONSTANT * T[0] / gaps.inside
    share_inwards = lookup(TOPIC, "steam")["inwards"]
    for k, dt in enumerate(np.diff(times)):
        cool = np.minimum(vapour[k + 1], NEAR * gaps.inside)
        taking = np.clip((vapour[k + 1] / gaps.inside - LEAST) / (NEAR - LEAST), 0.0, 1.0)
        inwards = share_inwards * given[k] / stands_for * taking / max(float(taking.sum()), 1.0)
        there = np.where(boils[k + 1], steam + inwards, gaps.air * cool / (gaps.inside - cool))
        steam, gone = _step(gaps, there, float(dt), T[k + 1])
        lost[k + 1] = lost[k] + stands_for * gone
        now = (steam + gaps.air) * GAS_CONSTANT * T[k + 1] / gaps.inside
        bends = 1.0 - (standing[k] + standing[k + 1]) / 2
        heights[k + 1] = np.maximum(heights[k] + bends * (now - free), 0.0)
        free = now
    if sheets.merged:
        heights = np.zeros_like(heights)
    total = stands_for * heights.sum(axis=1)
    top = int(np.argmax(total))
    half = np.mean(boils, axis=1) >= 0.5
    whole = float(given.sum())
    return Parted(
        sheets=sheets,
        height=1.0 + total / (sheets.count * sheets.pair),
        standing=standing.mean(axis=1),
        gaps=heights[top],
        pressure=gaps.over,
        limit=_limit(boils[: top + 1], lost[top]),
        boils_at=float(times[int(np.argmax(half))]) if half.any() else None,
        lifted_at=float(times[int(np.argmax(total >= 0.9 * total[top]))]) if total[top] > 0 else None,
        lost={name: float(x) / whole for name, x in zip(LOSSES, lost[top], strict=True)} if whole > 0 else {},
    )


def _gaps(sheets: Sheets, T: Floats, at: Floats) -> _Gaps:
    over = GRAVITY * sheets.load * (1.0 - at)
    inside = STANDARD_PRESSURE + over
    steam = lookup(TOPIC, "steam")
    air = lookup(TOPIC, "folded-in air")["air"] * sheets.pair * STANDARD_PRESSURE / (GAS_CONSTANT * T)
    density = inside * MOLAR_MASS_WATER / (GAS_CONSTANT * HOT)
    return _Gaps(
        inside=inside,
        over=over,
        air=air,
        sealed=2.0 * lookup(TOPIC, "melted fat")["tension"] / over,
        most=(lookup(TOPIC, "most")["times"] - 1.0) * sheets.pair,
        rim=(1.0 - sheets.whole) * steam["rim"] ** 3 * 2.0 / (3.0 * steam["viscosity"] * sheets.reach**2),
        holes=steam["discharge"] * sheets.holes * np.sqrt(2.0 * over / density),
    )


def _step(gaps: _Gaps, there: Floats, dt: float, T: Floats) -> tuple[Floats, Floats]:
    """Steam [mol/m2] left of what is `there` in the gaps after `dt` [s], and what went where (`LOSSES`), summed over them.

    The leak is taken at the end of the step: n + dt leak(n) = what there is, by bisection.
    """
    per = GAS_CONSTANT * T / gaps.inside

    def leaks(n: Floats) -> tuple[Floats, Floats]:
        height, share = (n + gaps.air) * per, n / (n + gaps.air) / per
        return gaps.rim * gaps.over * height**3 * share, gaps.holes * share

    low, high = np.zeros_like(there), there
    for _ in range(BISECTIONS):
        n = (low + high) / 2
        beyond = n + dt * sum(leaks(n)) > there
        low, high = np.where(beyond, low, n), np.where(beyond, n, high)
    rim, holes = leaks(low)
    sealed = np.clip(low, 0.0, np.maximum(gaps.sealed / per - gaps.air, 0.0))
    left = np.clip(sealed, 0.0, np.maximum(gaps.most / per - gaps.air, 0.0))
    gone = [dt * rim.sum() + (low - sealed).sum(), dt * holes.sum(), (sealed - left).sum()]
    return left, np.array(gone)


def _read(at: Floats, middle: Floats, course: Floats) -> Floats:
    """A course [k, n] over the cells' middles, read at other places."""
    right = np.clip(np.searchsorted(middle, at), 1, middle.size - 1)
    share = np.clip((at - middle[right - 1]) / (middle[right] - middle[right - 1]), 0.0, 1.0)
    return np.asarray(course[:, right - 1] * (1.0 - share) + course[:, right] * share)


def _standing(X: Floats, setting: Floats) -> Floats:
    """How far a sheet stands by itself, 0..1: set, and dried. Never back."""
    row = lookup(TOPIC, "standing")
    dried = np.clip((row["bends"] - X) / (row["bends"] - row["stands"]), 0.0, 1.0)
    return np.asarray(np.maximum.accumulate(setting * dried, axis=0))


def _limit(boils: npt.NDArray[np.bool_], lost: Floats) -> Limit:
    if not boils.any():
        return "no boiling"
    return LOSSES[int(np.argmax(lost))] if lost.max() > 0 else "the steam"
