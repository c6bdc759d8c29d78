"""`hardtack fit panel`: until which day people accept the product."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Mark, Points
from hardtack.measurements.panel import PanelResult, panel_from, verdicts_of
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Table
from hardtack.units import DAY

_NO_PLACE = (
    "a forecast follows causes, and a panel's day belongs to one product in one pack and climate; measure moisture, force "
    "or peroxide value of the packs that were tasted on that day and give that as the limit"
)


def fit_panel(data: str | Path, *, shares: Sequence[float] = (0.5, 0.25), said: Answers = NONE) -> FitAnswer:
    """Fit survival of acceptance and give the days at which these `shares` of people reject.

    Raises `HardtackError` when the file leaves something open or the verdicts fix no distribution.
    """
    table = read_table(data, said)
    result = panel_from(table, shares)
    first = result.lives[0]
    ends = ["open" if end is None else f"{end:.3g}" for end in (first.low, first.high)]
    sentence = (
        f"{shares[0]:.0%} of the people on this panel reject the product after {first.value:.3g} days "
        f"(90 %: {ends[0]} to {ends[1]})."
    )
    return FitAnswer(
        kind="panel",
        sentence=sentence,
        told=(*result.told, f"Not for a product file (--into): {_NO_PLACE}."),
        estimates=(*result.best.estimates, *result.lives),
        drawing=_drawing(table, result, shares),
        tables=(table,),
        aside=result.aside,
        facts={
            "distribution": result.best.distribution,
            "people": len(result.intervals),
            "minus_log_likelihood": {fit.distribution: fit.minus_log_likelihood for fit in (result.best, result.other)},
            "days_to_share_rejecting": [
                {"share": share, "value": life.value, "low": life.low, "high": life.high}
                for share, life in zip(shares, result.lives, strict=True)
            ],
            "intervals_days": [
                [person.left / DAY, person.right / DAY if np.isfinite(person.right) else None]
                for person in result.intervals
            ],
        },
        no_place=_NO_PLACE,
    )  # fmt: skip


def _drawing(table: Table, result: PanelResult, shares: Sequence[float]) -> Drawing:
    inside = {interval.person for interval in result.intervals}
    by_day: dict[float, list[bool]] = {}
    for person, given in verdicts_of(table).items():
        for t, accepted in given if person in inside else ():
            by_day.setdefault(t / DAY, []).append(accepted)
    day = np.array(sorted(by_day))
    share = np.array([float(np.mean(by_day[d])) for d in day])
    # nobody has given the fresh product up
    predicted = np.array(
        [100 * float(result.best.accepting(np.array([d]))[0][0]) if d > 0 else 100.0 for d in day]
    )
    last = max(float(day.max()), max(life.value for life in result.lives) * 1.05)
    x = np.linspace(last / 120, last, 120)
    y, low, high = (100 * values for values in result.best.accepting(x))
    marks = tuple(
        Mark(life.value, f"{rejecting:.0%} reject: day {life.value:.3g}")
        for rejecting, life in zip(shares, result.lives, strict=True)
    )
    return Drawing(
        "days", "people who accept, %", (Points("verdicts of the day", day, 100 * share, (), predicted),),
        (Curve(result.best.distribution, x, y, low, high),), marks, "%",
    )  # fmt: skip
