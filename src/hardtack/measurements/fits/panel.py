"""`hardtack fit panel`: until which day people accept the product."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers, question
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Mark, Points, layer_named
from hardtack.measurements.fitting import Estimate
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.panel import PanelResult, panel_from, verdicts_of
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Table
from hardtack.product import Product
from hardtack.units import DAY, celsius

_TIED = (
    "A panel's day belongs to the product, pack and climate that were tasted: in a product file it follows no cause. Moisture, "
    "force and peroxide value of the packs tasted on that day, given as limits, do."
)


def fit_panel(
    data: str | Path,
    *,
    shares: Sequence[float] = (0.5, 0.25),
    temperature: float | None = None,
    humidity: float | None = None,
    said: Answers = NONE,
) -> FitAnswer:
    """Fit survival of acceptance and give the days at which these `shares` of people reject.

    `temperature` [K] and `humidity` are those the packs were kept at: a product file that takes the first share's
    day asks for the temperature.

    Raises `HardtackError` when the file leaves something open or the verdicts fix no distribution.
    """
    table = read_table(data, said)
    temperature = _kept_at(table) if temperature is None else temperature
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
        told=(*result.told, _TIED),
        estimates=(*result.best.estimates, *result.lives),
        drawing=_drawing(table, result, shares),
        tables=(table,),
        aside=result.aside,
        weak=result.weak,
        covariance=(tuple(each.name for each in result.best.estimates), result.best.covariance),
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
        places=lambda product, layer: _entries(
            product, layer, (shares[0], first), (temperature, humidity), Path(data).name
        ),
    )  # fmt: skip


def _kept_at(table: Table) -> float | None:
    """The one temperature of all rows, by its column or as answered; None where there is none or several."""
    found = {row.values.get("temperature") for row in table.rows}
    only = found.pop() if len(found) == 1 else None
    return only if isinstance(only, float) else None


def _entries(
    product: Product,
    layer: str,
    found: tuple[float, Estimate],
    kept_in: tuple[float | None, float | None],
    source: str,
) -> tuple[Entry, ...]:
    """The panel's day over what the file has. Raises `HardtackError` where nothing says the packs' temperature."""
    share, life = found
    temperature, humidity = kept_in
    if temperature is None:
        raise HardtackError(question("at which temperature were the packs kept?", "temperature", source))
    made = {
        "layer": layer_named(product, layer),
        "accepted for": amount_text(life.value, life.sd, "days", source=source),
        "rejecting": amount_text(100 * share, None, "%", source=source),
        "at": amount_text(celsius(temperature), None, "degC", source=source),
        **({} if humidity is None else {"humidity": amount_text(100 * humidity, None, "%", source=source)}),
    }
    return (Entry("failures / acceptance", made, () if humidity is not None else ("humidity",)),)


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
