"""Remedies: the least move of each kind that gives the wanted days, what else it does, and what it costs."""

from __future__ import annotations

import datetime
import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from hardtack.errors import HardtackError
from hardtack.keeping.cases import Case, case_of, follow_case
from hardtack.keeping.costs import Cost, cost_of_change
from hardtack.keeping.gates import gates_of
from hardtack.keeping.history import until
from hardtack.keeping.moves import Move, Setting, moves_of
from hardtack.keeping.moves_formula import formula_moves
from hardtack.keeping.moves_pack import going_on, pack_moves
from hardtack.keeping.moves_piece import piece_moves
from hardtack.product import Product
from hardtack.units import DAY

SCAN = 6
"""Settings looked at over the whole range before the search closes in: more than one rise and fall shows in them."""
REFINED = 3
"""How often the search halves about the best setting when none of the scan suffices."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one variant comes to: `days` to its first failure (inf: none within three years), `first` in words, every
    failure's days by its words, the gates' findings by name, and the failures not judged with why."""

    days: float
    first: str
    failures: tuple[tuple[str, float], ...]
    gates: tuple[tuple[str, str], ...]
    not_judged: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """A failure whose day a remedy moves [days; inf: not within three years]."""

    failure: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Remedy:
    """One move, and the least setting of it that suffices, or the best there is.

    `suffices` tells which. `outcome` is there. `share` is how much of its range is used, 0..1. `why_not` says what
    limits where none suffices. `tried` are the settings looked at, value and days. `gates` are findings that change.
    """

    move: Move
    setting: Setting
    suffices: bool
    outcome: Outcome
    share: float
    cost: Cost
    effects: tuple[Effect, ...]
    gates: tuple[tuple[str, str], ...]
    told: tuple[str, ...]
    why_not: str
    tried: tuple[tuple[float, float], ...]
    monotone: bool


@dataclass(frozen=True, slots=True)
class Remedies:
    """What gives `wanted` days: `sentence` in short, `now` as the file stands, remedies that suffice first.

    `idle` are the moves that do not lengthen it at all. `promise` is the last remedy, fewer days: whole days that can be promised, with the date where the file is dated.
    """

    product: str
    wanted: float
    now: Outcome
    sentence: str
    found: tuple[Remedy, ...]
    idle: tuple[str, ...]
    promise: int | None
    promise_date: str
    currency: str
    remarks: tuple[str, ...]

    @property
    def sufficient(self) -> tuple[Remedy, ...]:
        """Those that give the wanted days."""
        return tuple(one for one in self.found if one.suffices)


def outcome_of(case: Case, days: float) -> Outcome:
    """Follow a variant; its gates are read over its life, to the wanted days at most. Raises as `keep`."""
    followed = follow_case(case)
    first = math.inf if followed.first_time is None else followed.first_time
    life = until(followed.history, max(min(first, days * DAY), 60.0))
    failures = tuple(
        (_words(course.name, course.layer), math.inf if course.time is None else course.time / DAY)
        for _, course in followed.judged
    )
    gates = tuple((gate.name, gate.finding) for gate in gates_of(case.product, case.pieces, life))
    silent = tuple((one.name, one.why) for one in followed.not_judged)
    return Outcome(failures[0][1], failures[0][0], failures, gates, silent)


def _words(name: str, layer: str) -> str:
    return name if name == layer else f"{name} of the {layer}"


def remedies(
    product: Product,
    days: float,
    progress: Callable[[float], None] | None = None,
    threads: int | None = None,
) -> Remedies:
    """What gives `days` from packing to the first failure. `progress` is told the share of the moves searched.

    Raises as `keep`, and `HardtackError` when the days are none or beyond the three years anything is followed.
    """
    if not 0.0 < days <= 3 * 365.0:
        raise HardtackError(f"{days:g} days", "ask for more than none and at most 1095 days")
    product, remark = going_on(product)
    base = case_of(product)
    now = outcome_of(base, days)
    remarks = [remark] if remark else []
    end = base.journey.legs[-1].end / DAY
    if math.isinf(now.days) and end < days:
        raise HardtackError(
            f"the journey ends on day {end:.0f} with a logger's record", "ask for fewer days, or add a leg"
        )
    found: list[Remedy] = []
    if now.days < days:
        moves = moves_of(
            piece_moves(product, base, tuple(_names(now))),
            formula_moves(product),
            pack_moves(product, base, _failing_leg(base, now.days)),
        )
        found = _searched(moves, (product, base), now, days, progress, threads)
    promise = None if math.isinf(now.days) else math.floor(now.days + 1e-9)
    currencies = [one.cost.currency for one in found if one.cost.currency]
    return Remedies(
        product=product.name,
        wanted=days,
        now=now,
        sentence=_sentence(product.name, days, now, found, promise),
        found=tuple(sorted((one for one in found if one.share > 0.0), key=_rank)),
        idle=tuple(one.move.what for one in found if one.share == 0.0),
        promise=promise,
        promise_date=_date(product, promise),
        currency=currencies[0] if currencies else "",
        remarks=tuple(remarks),
    )


def _names(outcome: Outcome) -> set[str]:
    return {words.partition(" of the ")[0] for words, _ in outcome.failures}


def _failing_leg(case: Case, days: float) -> int:
    legs = case.journey.legs
    return next((k for k, leg in enumerate(legs) if days * DAY <= leg.end), len(legs) - 1)


def _searched(
    moves: Sequence[Move],
    base: tuple[Product, Case],
    now: Outcome,
    days: float,
    progress: Callable[[float], None] | None,
    threads: int | None,
) -> list[Remedy]:
    """Every move searched, on several threads; each alone is the same whatever their number."""
    workers = min(threads or os.cpu_count() or 1, max(len(moves), 1))
    found: list[Remedy] = []
    with ThreadPoolExecutor(workers) as pool:
        task = partial(search, base=base, now=now, days=days)
        for number, one in enumerate(pool.map(task, moves), 1):
            if one is not None:
                found.append(one)
            if progress is not None:
                progress(number / len(moves))
    return found


@dataclass
class _Search:
    """Outcomes of one move's settings, each followed once.

    A setting that cannot be built counts as no days, and so does one at which a failure judged now can no longer be
    judged: days must not be won by looking away.
    """

    move: Move
    now: Outcome
    wanted: float
    outcomes: dict[int, tuple[Outcome | None, Product | None, Case | None]]
    refused: str = ""

    def days(self, k: int) -> float:
        if k not in self.outcomes:
            try:
                product = self.move.settings[k].change()
                case = case_of(product)
                outcome = outcome_of(case, self.wanted)
                _as_judged(self.now, outcome)
                self.outcomes[k] = (outcome, product, case)
            except HardtackError as error:
                self.refused = error.problems[0].what
                self.outcomes[k] = (None, None, None)
        found = self.outcomes[k][0]
        return -1.0 if found is None else found.days


def _as_judged(now: Outcome, there: Outcome) -> None:
    """See that every failure judged now is judged there. Raises `HardtackError` that says which is not and why."""
    for name in sorted(_names(now) - _names(there)):
        why = dict(there.not_judged).get(name, "")
        raise HardtackError(f"{name} cannot be judged there{f' ({why})' if why else ''}")


def search(move: Move, base: tuple[Product, Case], now: Outcome, days: float) -> Remedy | None:
    """The least setting of a move that gives `days`, or its best; None when no setting can be followed at all.

    A scan of the range, then halving of the settings between the first that suffices and the last before it that does
    not. Where none of the scan suffices, the neighbourhood of the best is looked at as well: days may rise and fall.
    """
    tries = _Search(move, now, days, {})
    last = len(move.settings) - 1
    scan = sorted({round(last * k / (SCAN - 1)) for k in range(SCAN)})
    for k in scan:
        tries.days(k)
    for _ in range(REFINED):
        if any(tries.days(k) >= days for k in scan):
            break
        best = max(scan, key=tries.days)
        at = scan.index(best)
        beside = [scan[n] for n in (at - 1, at + 1) if 0 <= n < len(scan)]
        scan = sorted({*scan, *((best + other) // 2 for other in beside)})
        for k in scan:
            tries.days(k)
    good = next((k for k in scan if tries.days(k) >= days), None)
    if good is not None:
        bad = max((k for k in scan if k < good), default=-1)
        while good - bad > 1:
            middle = (good + bad) // 2
            if tries.days(middle) >= days:
                good = middle
            else:
                bad = middle
    best = good if good is not None else max(scan, key=lambda k: (tries.days(k), -k))
    return _remedy(tries, best, good is not None, base, now, days)


def _remedy(
    tries: _Search, k: int, suffices: bool, base: tuple[Product, Case], now: Outcome, days: float
) -> Remedy | None:
    move = tries.move
    outcome, product, case = tries.outcomes[k]
    if outcome is None or product is None or case is None:
        return None
    setting = move.settings[k]
    one_ply = product.pack is not None and len(product.pack.laminate) == 1
    scale = setting.value / move.value if move.family == "gauge" and one_ply else None
    seen = sorted(tries.outcomes)
    course = [now.days, *(tries.days(n) for n in seen)]
    rises = [b >= a - 1e-6 for a, b in pairwise(course)]
    better = suffices or outcome.days > now.days * (1.0 + 1e-6)
    return Remedy(
        move=move,
        setting=setting,
        suffices=suffices,
        outcome=outcome,
        share=(k + 1) / len(move.settings) if better else 0.0,
        cost=cost_of_change(move.family, base, (product, case), scale),
        effects=effects(now, outcome),
        gates=tuple((name, said) for name, said in outcome.gates if dict(now.gates).get(name) not in (said,)),
        told=(*setting.told, *_warned(now, outcome)),
        why_not="" if suffices else _why_not(tries, outcome, now, days),
        tried=tuple((move.settings[n].value, tries.days(n)) for n in seen),
        monotone=all(rises) or not any(rises),
    )


def effects(before: Outcome, after: Outcome) -> tuple[Effect, ...]:
    """Every failure of either, with its day before and after."""
    was, then = dict(before.failures), dict(after.failures)
    names = dict.fromkeys((*was, *then))
    return tuple(Effect(name, was.get(name, math.inf), then.get(name, math.inf)) for name in names)


def _warned(before: Outcome, after: Outcome) -> tuple[str, ...]:
    """Failures that the remedy brings nearer."""
    return tuple(
        f"{one.failure} comes sooner: {days_words(one.before)} before, {days_words(one.after)} with it"
        for one in effects(before, after)
        if one.after < one.before * 0.98
    )


def _why_not(tries: _Search, best: Outcome, now: Outcome, days: float) -> str:
    at_best = f"at best {days_words(best.days)}"
    if best.days <= now.days * (1.0 + 1e-6):
        return f"no setting within {tries.move.within} lengthens it"
    why = f"none of the range, {tries.move.within}, gives {days:g} days: {at_best}; then {best.first} comes"
    if best.first != now.first:
        why += f" first, no longer {now.first}"
    if tries.refused:
        why += f". Beyond, it cannot be computed: {tries.refused}"
    return why


def days_words(days: float) -> str:
    """Days as people say them; nothing within three years is said so."""
    if math.isinf(days):
        return "more than 3 years"
    return f"{days:.1f} days" if days < 9.95 else f"{days:.0f} days"


def _rank(one: Remedy) -> tuple[bool, bool, float, float]:
    """Those that suffice first; then by cost where it is given, then by the share of their range they use."""
    if not one.suffices:
        return True, True, 0.0, -one.outcome.days
    return False, one.cost.more is None, one.cost.more or 0.0, one.share


def _date(product: Product, promise: int | None) -> str:
    if product.packed_on is None or promise is None:
        return ""
    return (product.packed_on + datetime.timedelta(days=promise)).isoformat()


def _sentence(name: str, days: float, now: Outcome, found: Sequence[Remedy], promise: int | None) -> str:
    stands = (
        f"{name} keeps {days_words(now.days)} as it stands"
        if promise != 0
        else f"{name} fails on its first day"
    )
    if now.days >= days:
        return f"{stands}: the wanted {days:g} days are there, and no remedy is needed."
    enough = sorted((one for one in found if one.suffices), key=_rank)
    until = f", until {now.first}"
    if not enough:
        return (
            f"{stands}{until}; no single remedy within its sensible range gives {days:g} days. Combine two "
            f"(a trade-off of two inputs shows how), or promise {promise} days."
        )
    first = enough[0]
    ways = "one remedy gives" if len(enough) == 1 else f"{len(enough)} remedies give"
    return f"{stands}{until}; {ways} {days:g} days, the first of them: {first.setting.specification}."
