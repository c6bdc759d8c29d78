"""Histories in packs that depend on their own inside: passes until the headspace agrees with what it was taken to be."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.history import history_of
from hardtack.pack.stretches import Inside, leans_on_inside, stretches_of
from hardtack.states import Climate, Floats, History, Journey, Leg, Pack, Piece
from hardtack.transport.surroundings import Stretch

PASSES = 40
BEYOND = 2.5
DEPTH = 5
"""Passes remembered when the next one is chosen."""
AGREED = 2e-4
"""Activity of the headspace to which two passes must agree; a date moves by less than a thousandth for it."""


def settled(
    pieces: Sequence[Piece], pack: Pack | None, journey: Journey, watches: Sequence[tuple[str, float, bool]]
) -> tuple[History, list[Stretch]]:
    """The history and the stretches it ran through.

    A film that opens in damp air and the air of outer packs depend on the headspace, which the history gives: they
    are taken at the pass before. Each pass conserves water by itself. Raises as `keep`, and when the passes do not
    come to agree.
    """
    stretches = stretches_of(journey, pack, pieces)
    history = history_of(pieces, pack, journey, stretches, watches)
    if not leans_on_inside(pack, journey):
        return history, stretches
    # an open end is followed a few times as far as the first pass needs, and all the way where that is too short
    last, met = journey.legs[-1], _first(history)
    if last.open_ended and met is not None and last.start + BEYOND * met < last.end:
        end = last.start + BEYOND * met
        shorter = replace(journey, legs=(*journey.legs[:-1], _cut(last, end)))
        found = _agreed(pieces, pack, shorter, watches)
        if _first(found[0]) is not None:
            return found
    return _agreed(pieces, pack, journey, watches)


def _first(history: History) -> float | None:
    return min((crossing.time for crossing in history.crossings if crossing.time is not None), default=None)


def _cut(leg: Leg, end: float) -> Leg:
    """The leg, ended earlier."""
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
    pieces: Sequence[Piece], pack: Pack | None, journey: Journey, watches: Sequence[tuple[str, float, bool]]
) -> tuple[History, list[Stretch]]:
    """Passes until they agree."""
    stretches = stretches_of(journey, pack, pieces)
    history = history_of(pieces, pack, journey, stretches, watches)
    times, taken, got = history.times, [history.headspace], list[Floats]()
    for _ in range(PASSES):
        stretches = stretches_of(journey, pack, pieces, Inside(times, taken[-1]))
        history = history_of(pieces, pack, journey, stretches, watches)
        got.append(history.headspace)
        moved = float(np.max(np.abs(got[-1] - taken[-1])))
        if moved < AGREED:
            return history, stretches
        taken.append(np.clip(_mixed(taken[-DEPTH:], got[-DEPTH:]), 0.0, 1.0))
    raise HardtackError(
        f"the pack's air did not settle: the last two passes differ by {moved:.2g} in activity",
        "look for an outer pack with next to no air or a film that lets nearly everything through",
    )


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
