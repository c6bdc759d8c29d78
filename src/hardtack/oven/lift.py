"""Lift against setting: the gas in the cells over the bake, and how much of it the walls still follow.

In every cell of the piece dry gas and steam share the bubbles at the pressure outside: V = n R T / (P - p_w). Water gives
back its carbon dioxide as it warms. What the walls cannot hold leaks; what comes while they set or while pores open
moves them by the share not yet set nor open: dV = (1 - setting)(1 - opening) dV_free.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from hardtack.dough.gas import carbon_dioxide_solubility
from hardtack.dough.release import Release, release
from hardtack.dough.yeast import MOLAR_MASS_GLUCOSE
from hardtack.oven.leavens import Leavens
from hardtack.oven.sheets import Parted, Sheets, part
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import GAS_CONSTANT, MOLAR_MASS_WATER, STANDARD_PRESSURE, saturation_pressure

MOST_STEAM = 0.95
"""Share of steam in the bubbles up to which the balance of pressures is reckoned; beyond it the dough boils and what
the walls hold decides."""
GROUPS = 4
"""Parts of the piece, by dry mass, in which the leavening is followed on its own temperature."""
SET = 0.5
"""Setting at which a place counts as set."""
MATTERS = 0.3
"""Share of the gas that must come too early or too late to be called so; assumed."""

Timing = Literal["too early", "in time", "too late", "no gas"]


@dataclass(frozen=True, slots=True)
class Rising:
    """What the lift is computed from. Per kg of dough: volumes [m3] without gas and of gas at the start, water [kg] in
    X [k, n] through `dough_water` (kg dry per kg dough); `hold` gas per volume of gas-free dough; `proofed` whether the
    gas at the start is yeast's; `kept` the share of the leaveners' gas of the bench that is still there. `sheets` of a
    folded dough that part, None where there are none.
    """

    leavens: Leavens
    dense: float
    gas: float
    dry: float
    hold: float
    proofed: bool
    kept: float
    sheets: Sheets | None = None


@dataclass(frozen=True, slots=True)
class Lift:
    """Over the bake [k]: share of the leavening's gas given so far, share of steam in the bubbles, mean setting, and
    volume over that of the dough. `rise` is the volume ratio when half of the piece has set, `final` at the end.

    `parted` is how the sheets of a folded dough part; its height is in the volume. `sugar_out_at` [s] is when the yeast has
    used up its sugar: 0 before the oven, None when it does not or there is none.

    `early`, `useful` and `late` are shares of all gas the leavening gives: lost before the oven (what is still in cells
    and water of the dough is useful), while the piece was open, and after half of it had set. `leaked` is the share of the free volume that the walls could not hold, at the most.
    """

    given: Floats
    steam: Floats
    setting: Floats
    volume: Floats
    rise: float
    final: float
    set_at: float | None
    early: float
    useful: float
    late: float
    leaked: float
    timing: Timing
    soda_split: float
    carbon_dioxide: float
    parted: Parted | None
    sugar_out_at: float | None


def lift(
    rising: Rising,
    times: Floats,
    T: Floats,
    a: Floats,
    X: Floats,
    walls: tuple[Floats, Floats],
    weights: Floats,
) -> Lift:
    """Lift over a course of T [K], activity and X [k, n], with `walls` setting and opening [k, n].

    `weights` are the cells' shares of dry mass.
    """
    setting, opening = walls
    moles, before, split, sugar_out = _leavening(rising, times, T, weights)
    y = np.minimum(a * saturation_pressure(T) / STANDARD_PRESSURE, MOST_STEAM)
    held, free = _free_volume(rising, before, moles, T, y, X)
    proof = before if rising.proofed else float(held @ weights)
    early = before - proof
    kept = np.minimum(free, rising.hold * rising.dense)
    follows = (1.0 - setting) * (1.0 - opening)
    open_share = (follows[1:] + follows[:-1]) / 2
    gas = rising.gas + np.concatenate(
        [np.zeros_like(kept[:1]), np.cumsum(open_share * np.diff(kept, axis=0), axis=0)]
    )
    volume = (rising.dense + np.maximum(gas, 0.0) @ weights) / (rising.dense + rising.gas)
    parted = None
    if rising.sheets is not None:
        parted = part(rising.sheets, times, T, a, X, setting, weights)
        # rolled sheets hold no cells of their own to speak of: without leavening they keep their thickness
        volume = (volume if before + float((moles @ weights)[-1]) > 0 else 1.0) + parted.height - 1.0
    mean_setting = setting @ weights
    given, total = moles @ weights, float((moles @ weights)[-1])
    set_index = int(np.argmax(mean_setting >= SET)) if mean_setting[-1] >= SET else None
    at_set = given[-1] if set_index is None else given[set_index]
    whole = before + total
    useful = proof + float(at_set)
    share = (early / whole, useful / whole, (total - float(at_set)) / whole) if whole > 0 else (0.0, 0.0, 0.0)
    top = float(np.max(free @ weights))
    return Lift(
        given=(before + given) / whole if whole > 0 else np.zeros_like(given),
        steam=y @ weights,
        setting=mean_setting,
        volume=volume,
        rise=float(volume[-1 if set_index is None else set_index]),
        final=float(volume[-1]),
        set_at=None if set_index is None else float(times[set_index]),
        early=share[0],
        useful=share[1],
        late=share[2],
        leaked=1.0 - float(np.max(kept @ weights)) / top if top > 0 else 0.0,
        timing=_timing(*share, whole),
        soda_split=split,
        carbon_dioxide=whole,
        parted=parted,
        sugar_out_at=sugar_out,
    )


def _timing(early: float, useful: float, late: float, whole: float) -> Timing:
    if whole <= 0:
        return "no gas"
    if late > MATTERS and late >= early:
        return "too late"
    return "too early" if early > max(MATTERS, useful) else "in time"


def _leavening(
    rising: Rising, times: Floats, T: Floats, weights: Floats
) -> tuple[Floats, float, float, float | None]:
    """Carbon dioxide (and ammonia) given in the oven [k, n, mol per kg of dough], what came before it, the share of the
    left soda split by heat at the end, and when the yeast's sugar runs out [s].
    """
    leavens, moles, early, split = rising.leavens, np.zeros_like(T), 0.0, 0.0
    sugar_out = None
    if leavens.any_chemical:
        for cells in _groups(weights):
            part = weights[cells] / weights[cells].sum()
            given: Release = release(
                1.0, leavens.bases, times, T[:, cells] @ part, leavens.acids, leavens.sour
            )
            course = given.carbon_dioxide + given.ammonia
            moles[:, cells] = (course - course[0])[:, None]
            early = float(course[0])
            split += float(given.soda.extent[-1] * weights[cells].sum())
    if leavens.yeast > 0:
        mean = T @ weights
        rate = np.array([leavens.yeast_rate(max(float(t), ZERO_CELSIUS)) for t in mean])
        made = np.concatenate([[0.0], np.cumsum(np.diff(times) * (rate[1:] + rate[:-1]) / 2)])
        most = 2.0 * leavens.food / MOLAR_MASS_GLUCOSE  # C6H12O6 -> 2 C2H5OH + 2 CO2
        if made[-1] >= most:
            sugar_out = float(np.interp(most, made, times)) if most > 0 else 0.0
        moles = moles + np.minimum(made, most)[:, None]
        if rising.proofed:
            early += rising.gas * STANDARD_PRESSURE / (GAS_CONSTANT * float(mean[0]))
    return moles, early, split, sugar_out


def _groups(weights: Floats) -> list[slice]:
    """The cells in runs of about equal dry mass."""
    edges = np.searchsorted(np.cumsum(weights), np.linspace(0, 1, GROUPS + 1)[1:-1])
    marks = [0, *sorted({int(edge) for edge in edges} - {0, weights.size}), weights.size]
    return [slice(first, last) for first, last in pairwise(marks)]


def _free_volume(
    rising: Rising, before: float, moles: Floats, T: Floats, y: Floats, X: Floats
) -> tuple[Floats, Floats]:
    """Carbon dioxide held at the start [n, mol per kg of dough], and the volume of the bubbles [k, n, m3 per kg of dough]
    if nothing leaked and nothing set.

    Carbon dioxide parts between bubbles and water (Henry, pure water) as in `dough.gas.cells_and_water`. At the start
    the bubbles have the dough's own volume: yeast's gas over saturated water, or air with what is kept of the gas
    that came `before` the oven [mol per kg of dough]; more than saturates both is lost.
    """
    at = np.linspace(ZERO_CELSIUS, ZERO_CELSIUS + 100.0, 21)
    solubility = np.interp(T, at, [carbon_dioxide_solubility(float(t)) for t in at])
    dry_pressure = STANDARD_PRESSURE * (1.0 - y)
    full = rising.dry * X / MOLAR_MASS_WATER * solubility * dry_pressure / 1e5
    first = rising.gas * dry_pressure[0] / (GAS_CONSTANT * T[0])
    most = first + full[0]
    held = most if rising.proofed else np.minimum(rising.kept * before, most)
    carbon = moles + held
    air = np.zeros_like(moles) + first * (1.0 - held / most)
    # x (x + air) + full x = carbon (x + air), the positive root written without cancellation
    b = air + full - carbon
    root = np.sqrt(b * b + 4.0 * carbon * air)
    with np.errstate(invalid="ignore", divide="ignore"):
        small = np.where(b + root > 0, 2.0 * carbon * air / (b + root), 0.0)
    in_cells = np.where(b <= 0, (root - b) / 2.0, small)
    return held, np.asarray((air + in_cells) * GAS_CONSTANT * T / dry_pressure)
