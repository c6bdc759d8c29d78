"""Histories in packs that depend on their own inside: passes until the headspace agrees with what it was taken to be."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import BalanceError, HardtackError
from hardtack.keeping.begun import Begun, went_on
from hardtack.keeping.history import Standing, history_of, output_times
from hardtack.pack.outer import Around, Inner
from hardtack.pack.passes import Pass
from hardtack.pack.stretches import Inside, first_airs, leans_on_inside, stretches_of
from hardtack.states import Climate, Floats, History, Journey, Leg, Pack, Piece
from hardtack.transport.march import BALANCE_LIMIT
from hardtack.transport.surroundings import Stretch

PASSES = 40
BEYOND = 2.5
DEPTH = 5
"""Passes remembered when the next one is chosen."""
AGREED = 2e-4
"""Activity of headspace and outer airs to which two passes must agree; a date moves by less than a thousandth for it."""
APART = 1e-3
"""Activity to which outer airs that hand on just what the march let in must agree with those it was given."""


@dataclass(frozen=True, slots=True)
class Settled:
    """The history, the stretches it ran through, and the water of the outer packs with board at its end [kg]."""

    history: History
    stretches: tuple[Stretch, ...]
    outer: Floats


def settled(
    pieces: Sequence[Piece],
    pack: Pack | None,
    journey: Journey,
    watches: Sequence[tuple[str, float, bool]],
    begun: Begun | None = None,
) -> Settled:
    """The history over the journey; with `begun` only its last leg is followed, from where the product stands then.

    A film that opens in damp air and the air of outer packs depend on the headspace, which the history gives: they
    are taken at the pass before, until two agree; the water of packs, outer airs and boards is then audited as one.
    Raises as `keep`, and when the passes do not come to agree.
    """
    if begun is not None:
        rest = _settled(pieces, pack, replace(journey, legs=journey.legs[-1:]), watches, begun)
        whole = went_on(begun, rest.history)
        return Settled(whole, (*begun.stretches, *rest.stretches), rest.outer)
    return _settled(pieces, pack, journey, watches, None)


def begin(
    pieces: Sequence[Piece], pack: Pack | None, journey: Journey, watches: Sequence[tuple[str, float, bool]]
) -> Begun | None:
    """The legs before the last followed; None where there are none, or where they take no march. Raises as `settled`."""
    if len(journey.legs) < 2:
        return None
    found = settled(pieces, pack, replace(journey, legs=journey.legs[:-1]), watches)
    if found.history.method != "transport":
        return None
    standing = Standing(float(found.history.times[-1]), found.history.last_water)
    return Begun(found.history, found.stretches, standing, found.outer)


def _settled(
    pieces: Sequence[Piece],
    pack: Pack | None,
    journey: Journey,
    watches: Sequence[tuple[str, float, bool]],
    begun: Begun | None,
) -> Settled:
    stretches = stretches_of(journey, pack, pieces)
    history = history_of(pieces, pack, journey, stretches, watches, None if begun is None else begun.standing)
    if not leans_on_inside(pack, journey):
        return Settled(history, tuple(stretches), np.zeros(0))
    # an open end is followed a few times as far as the first pass needs, and all the way where that is too short
    last, met = journey.legs[-1], _first(history)
    if last.open_ended and met is not None and last.start + BEYOND * met < last.end:
        end = last.start + BEYOND * met
        shorter = replace(journey, legs=(*journey.legs[:-1], cut_leg(last, end)))
        found = _agreed(pieces, pack, shorter, watches, begun)
        if _first(found.history) is not None:
            return found
    return _agreed(pieces, pack, journey, watches, begun)


def _first(history: History) -> float | None:
    return min((crossing.time for crossing in history.crossings if crossing.time is not None), default=None)


def cut_leg(leg: Leg, end: float) -> Leg:
    """The leg, ended earlier, at `end` [s]."""
    climate = leg.climate
    times = np.append(climate.times[climate.times < end], end)
    return replace(
        leg,
        end=end,
        climate=Climate(
            times,
            np.interp(times, climate.times, climate.temperature),
            np.interp(times, climate.times, climate.humidity),
        ),
    )


def _agreed(
    pieces: Sequence[Piece],
    pack: Pack | None,
    journey: Journey,
    watches: Sequence[tuple[str, float, bool]],
    begun: Begun | None,
) -> Settled:
    """Passes until they agree: headspace and outer airs with those before, and the airs with their account."""
    standing = None if begun is None else begun.standing
    outer = np.zeros(0) if begun is None else begun.outer
    a_start = None if begun is None else float(begun.history.headspace[-1])
    around = first_airs(journey, pack, pieces, output_times(journey.legs), a_start, outer)
    inside = Inside(np.zeros(1), np.zeros(1), around)
    taken, got = list[Floats](), list[Floats]()
    moved = apart = 0.0
    for _ in range(PASSES):
        stretches = stretches_of(journey, pack, pieces, inside)
        history = history_of(pieces, pack, journey, stretches, watches, standing)
        run = Pass(
            journey,
            pack,
            tuple(pieces),
            around,
            tuple(stretches),
            Inner(history.times, history.headspace, history.water_gained, history.held),
            outer,
        )
        found = _joined(history.headspace, run.corrected())
        if taken:
            got.append(found)
            moved = float(np.max(np.abs(found - taken[-1])))
            if moved < AGREED:
                apart, imbalance, left = run.booked()
                if apart < APART:
                    return Settled(_audited(history, imbalance), tuple(stretches), left)
            found = np.clip(_mixed(taken[-DEPTH:], got[-DEPTH:]), 0.0, 1.0)
        taken.append(found)
        around = _parted(found[history.times.size :], around)
        inside = Inside(history.times, found[: history.times.size], around)
    raise HardtackError(
        f"the pack's air did not settle: the last two passes differ by {max(moved, apart):.2g} in activity",
        "look for an outer pack with next to no air or a film that lets nearly everything through",
    )


def _audited(history: History, imbalance: float) -> History:
    """The history with the balance of packs and outer packs as one; raises `BalanceError` when it does not close."""
    if not imbalance <= BALANCE_LIMIT:
        raise BalanceError(
            f"water balance of the packs with the packs around them off by {imbalance:.2e} of the pieces' water",
            "please report this run",
        )
    return replace(history, imbalance=max(history.imbalance, imbalance))


def _joined(headspace: Floats, around: Sequence[Around | None]) -> Floats:
    """What two passes must agree in, as one row."""
    return np.concatenate([headspace, *(at.airs.ravel() for at in around if at is not None)])


def _parted(row: Floats, around: Sequence[Around | None]) -> tuple[Around | None, ...]:
    """The outer airs of each leg out of one row."""
    parts: list[Around | None] = []
    for at in around:
        if at is None:
            parts.append(None)
            continue
        own, row = row[: at.airs.size], row[at.airs.size :]
        parts.append(replace(at, airs=own.reshape(at.airs.shape)))
    return tuple(parts)


def _mixed(taken: Sequence[Floats], got: Sequence[Floats]) -> Floats:
    """What to take the headspace for next: the mix of earlier passes whose mismatch is least, carried on.

    Anderson 1965, J. ACM 12:547 (mixing of iterates; from memory).
    """
    mismatch = [g - t for t, g in zip(taken, got, strict=True)]
    if len(mismatch) == 1:
        return got[-1]
    steps = np.stack([later - earlier for earlier, later in itertools.pairwise(mismatch)], axis=1)
    share = np.linalg.lstsq(steps, mismatch[-1], rcond=1e-8)[0]
    moves = np.stack([later - earlier for earlier, later in itertools.pairwise(got)], axis=1)
    mixed: Floats = got[-1] - moves @ share
    return mixed
