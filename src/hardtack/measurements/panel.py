"""Panel acceptance as survival: until which day do people accept the product?

A person who accepted on day 10 and rejected on day 20 stopped accepting somewhere between: the times are
interval-censored, and treated as such (Hough, Langohr, Gomez and Curia 2003, J. Food Sci. 68:359). Weibull:
S = exp(-(t / scale)^shape); lognormal: S = 1 - Phi((ln t - mu) / sigma). The share is one of people on this
panel, not of packs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE, Estimate, corrected_aic, pulling
from hardtack.measurements.likelihood import Peak, interval, peak
from hardtack.measurements.table import SetAside, Table
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import DAY

Distribution = Literal["weibull", "lognormal"]
FEW_PEOPLE = 50
"""Published acceptance studies ask 50 people and more (Hough et al. 2003)."""
_NAMES: Mapping[Distribution, tuple[str, str]] = {"weibull": ("shape", "scale"), "lognormal": ("mu", "sigma")}


@dataclass(frozen=True, slots=True)
class Interval:
    """A person stopped accepting after `left` and not later than `right` [s]; inf when never within the test."""

    person: str
    left: float
    right: float


@dataclass(frozen=True, slots=True, eq=False)
class Acceptance:
    """One distribution fitted to the panel: `estimates` (in days), `minus_log_likelihood` and AICc."""

    distribution: Distribution
    estimates: tuple[Estimate, Estimate]
    covariance: Floats
    minus_log_likelihood: float
    aicc: float
    _inner: Peak
    _left: Floats
    _right: Floats

    def accepting(self, days: Floats) -> tuple[Floats, Floats, Floats]:
        """Share still accepting after `days`, and the ends of its 90 % interval (linear in the standard variate)."""
        from scipy.special import log_ndtr, ndtri

        location, log_scale = self._inner.values
        scale = np.exp(log_scale)
        w = (np.log(days) - location) / scale
        slopes = np.stack([np.full_like(w, -1 / scale), -w], axis=1)
        sd = np.sqrt(np.einsum("ij,jk,ik->i", slopes, self._inner.covariance, slopes))
        width = float(ndtri(0.5 + CONFIDENCE / 2)) * sd

        def share(v: Floats) -> Floats:
            return np.asarray(np.exp(-np.exp(v) if self.distribution == "weibull" else log_ndtr(-v)))

        return share(w), share(w + width), share(w - width)

    def life(self, rejecting: float) -> Estimate:
        """Days after which the share `rejecting` of people has stopped accepting, with its 90 % interval."""
        if not 0 < rejecting < 1:
            raise HardtackError(
                f"a share of {rejecting:g}", "give the share of people who reject, such as 0.25"
            )
        w = _quantile(self.distribution, rejecting)

        # the same likelihood, with the wanted time as one of its two constants
        def nll(x: Floats) -> float:
            return _nll(self.distribution, np.array([x[0] - np.exp(x[1]) * w, x[1]]), self._left, self._right)

        location, log_scale = self._inner.values
        turned = peak(nll, np.array([location + np.exp(log_scale) * w, log_scale]), "life")
        ends = interval(nll, turned, 0)
        value = float(np.exp(turned.values[0]))
        low, high = (None if end is None else float(np.exp(end)) for end in ends)
        return Estimate(
            f"days until {rejecting:.0%} reject", value, value * float(turned.sds[0]), low, high, "days", ""
        )


@dataclass(frozen=True, slots=True, eq=False)
class PanelResult:
    """Both distributions, the better first; the intervals that went in; whom it left out and why."""

    best: Acceptance
    other: Acceptance
    intervals: tuple[Interval, ...]
    lives: tuple[Estimate, ...]
    aside: tuple[SetAside, ...]
    told: tuple[str, ...]
    weak: tuple[str, ...] = ()
    provenance: Provenance = "measured here"


def panel_from(table: Table, shares: Sequence[float] = (0.5, 0.25)) -> PanelResult:
    """Survival of acceptance from a sheet of verdicts: person, time and accepted, or a column for every day.

    Raises `HardtackError` when the columns lack or nobody changed their mind within the test.
    """
    verdicts = verdicts_of(table)
    intervals, aside, notes = intervals_of(verdicts, table.file)
    return panel_acceptance(intervals, shares, aside=aside, notes=notes)


def verdicts_of(table: Table) -> dict[str, list[tuple[float, bool]]]:
    """Times [s] and verdicts (accepted) of each person. Raises `HardtackError` when the columns lack."""
    found: dict[str, list[tuple[float, bool]]] = {}
    columns = [c for c in table.understood if c.meaning in ("accepted", "rejected")]
    wide = [c for c in columns if c.at is not None]
    who = "person" if table.keys("person") else "sample"
    if not columns:
        table.need("accepted")
    if not wide:
        table.need("time", who)
    for row in table.rows:
        person = str(row.values.get(who, f"row {row.number}"))
        pairs = [(c.at, row.values.get(c.key)) for c in wide] if wide else [
            (row.values.get("time"), row.values.get(columns[0].key))
        ]  # fmt: skip
        for t, accepted in pairs:
            if isinstance(t, float) and isinstance(accepted, bool):
                found.setdefault(person, []).append((t, accepted))
            else:
                found.setdefault(person, [])
    return found


def intervals_of(
    verdicts: Mapping[str, Sequence[tuple[float, bool]]], file: str = ""
) -> tuple[tuple[Interval, ...], tuple[SetAside, ...], tuple[str, ...]]:
    """Each person's interval from their verdicts (time [s], accepted); days missed only widen it.

    Whoever rejected the fresh product is set aside: they dislike the product, not its age. Whoever took it
    back after a rejection stopped accepting between the last acceptance before the first rejection and the
    first verdict after which they accepted no more.
    """
    intervals, aside, back = [], [], []
    for person, given in verdicts.items():
        ordered = sorted(given)
        if not ordered:
            aside.append(SetAside(file, 0, person, "", "no verdict at all"))
            continue
        if ordered[0][0] == 0 and not ordered[0][1]:
            aside.append(SetAside(file, 0, person, "", "rejected the fresh product"))
            continue
        rejected = [t for t, accepted in ordered if not accepted]
        if not rejected:
            intervals.append(Interval(person, ordered[-1][0], float("inf")))
            continue
        before = [t for t, accepted in ordered if accepted and t < rejected[0]]
        accepted_last = max((t for t, accepted in ordered if accepted), default=0.0)
        after = [t for t in rejected if t > accepted_last]
        if accepted_last > rejected[0]:
            back.append(person)
        intervals.append(Interval(person, max(before, default=0.0), min(after, default=float("inf"))))
    notes = (
        (f"{len(back)} changed their mind and back ({', '.join(back[:5])}): their intervals are wide.",)
        if back
        else ()
    )
    return tuple(intervals), tuple(aside), notes


def panel_acceptance(
    intervals: Sequence[Interval],
    shares: Sequence[float] = (0.5, 0.25),
    *,
    aside: tuple[SetAside, ...] = (),
    notes: tuple[str, ...] = (),
    profiles: bool = True,
) -> PanelResult:
    """Fit Weibull and lognormal to the intervals, and give the days at the `shares` of people rejecting;
    `profiles` is of the constants' own intervals.

    Raises `HardtackError` when all intervals are open, or the times fix no distribution.
    """
    left = np.array([person.left for person in intervals]) / DAY
    right = np.array([person.right for person in intervals]) / DAY
    if not np.isfinite(right).any():
        raise HardtackError(
            "nobody rejected the product within the test", "go on with the test, or store it warmer"
        )
    if np.isfinite(right).sum() < 2 or np.unique(right[np.isfinite(right)]).size < 2:
        raise HardtackError("all rejections fall on one day", "look at the product on more days")
    fits = sorted((_fit(kind, left, right, profiles) for kind in _NAMES), key=lambda fit: fit.aicc)
    best, other = fits
    lives = tuple(best.life(share) for share in shares)
    weak = tuple(pulling(best.covariance, [estimate.name for estimate in best.estimates]))
    weak += tuple(f"{e.name}: the verdicts leave an end of its 90 % interval open" for e in (*best.estimates, *lives)
                  if e.low is None or e.high is None)  # fmt: skip
    told = (*_told(best, other, lives, left, right, aside, notes), *(f"{doubt}." for doubt in weak))
    return PanelResult(best, other, tuple(intervals), lives, aside, told, weak)


def _fit(kind: Distribution, left: Floats, right: Floats, profiles: bool) -> Acceptance:
    """The likeliest distribution, in location and ln scale of ln t, then in its own constants."""
    from scipy.special import ndtri

    found = peak(lambda x: _nll(kind, x, left, right), _start(left, right), f"{kind} of the panel")
    location, log_scale = found.values
    s = float(np.exp(log_scale))
    width = float(ndtri(0.5 + CONFIDENCE / 2)) * found.sds
    ends: list[tuple[float | None, float | None]] = [
        interval(lambda x: _nll(kind, x, left, right), found, k) if profiles
        else (float(found.values[k] - width[k]), float(found.values[k] + width[k]))
        for k in (0, 1)
    ]  # fmt: skip
    if kind == "weibull":
        values = (1 / s, float(np.exp(location)))
        turn = np.array([[0.0, -1 / s], [values[1], 0.0]])
        both = [
            tuple(None if e is None else float(np.exp(-e)) for e in reversed(ends[1])),
            tuple(_exp(e) for e in ends[0]),
        ]
        units = ("", "days")
    else:
        values = (float(location), s)
        turn = np.array([[1.0, 0.0], [0.0, s]])
        both = [ends[0], tuple(_exp(e) for e in ends[1])]
        units = ("ln days", "ln days")
    covariance = turn @ found.covariance @ turn.T
    first, second = (
        Estimate(name, value, float(np.sqrt(covariance[k, k])), both[k][0], both[k][1], units[k], "")
        for k, (name, value) in enumerate(zip(_NAMES[kind], values, strict=True))
    )
    aicc = corrected_aic(2 * found.nll, 2, left.size)
    return Acceptance(kind, (first, second), covariance, found.nll, aicc, found, left, right)


def _exp(end: float | None) -> float | None:
    return None if end is None else float(np.exp(end))


def _start(left: Floats, right: Floats) -> Floats:
    """Mean and spread of ln t at the intervals' middles."""
    closed = np.isfinite(right)
    middle = np.log(np.where(closed, (left + np.where(closed, right, 0.0)) / 2, 1.2 * left))
    return np.array([float(middle.mean()), float(np.log(max(middle.std(), 0.05)))])


def _nll(kind: Distribution, x: Floats, left: Floats, right: Floats) -> float:
    """Minus log likelihood, sum of -ln(S(left) - S(right)), with ln t = location + scale w."""
    from scipy.special import log_ndtr

    scale = np.exp(x[1])
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        wl, wr = (np.log(left) - x[0]) / scale, (np.log(right) - x[0]) / scale
        if kind == "weibull":
            log_l, log_r = -np.exp(wl), -np.exp(wr)
        else:
            log_l, log_r = log_ndtr(-wl), log_ndtr(-wr)
        log_p = log_l + np.log(-np.expm1(np.minimum(log_r - log_l, 0.0)))
    total = -float(np.sum(log_p))
    return total if np.isfinite(total) else 1e12


def _quantile(kind: Distribution, share: float) -> float:
    from scipy.special import ndtri

    return float(np.log(-np.log1p(-share))) if kind == "weibull" else float(ndtri(share))


def _told(
    best: Acceptance,
    other: Acceptance,
    lives: tuple[Estimate, ...],
    left: Floats,
    right: Floats,
    aside: tuple[SetAside, ...],
    notes: tuple[str, ...],
) -> tuple[str, ...]:
    never = int((~np.isfinite(right)).sum())
    last = float(max(left.max(), right[np.isfinite(right)].max()))
    said = [
        f"{left.size} people; {never} still accepted at their last verdict. {best.distribution.capitalize()} fits best "
        f"(-log likelihood {best.minus_log_likelihood:.2f}, {other.distribution} {other.minus_log_likelihood:.2f}).",
        *(str(estimate) for estimate in best.estimates),
        *(str(life) for life in lives),
    ]
    if any(life.value > last for life in lives):
        said.append(f"The test ran {last:g} days: what lies beyond rests on the distribution's form alone.")
    if left.size < FEW_PEOPLE:
        said.append(
            f"Published studies ask {FEW_PEOPLE} people or more; with {left.size} the intervals are what they are."
        )
    said += [f"{person.column}: set aside, {person.reason}." for person in aside]
    said.append("These are shares of people on this panel, no shares of packs and no safety limit.")
    return (*said, *notes)
