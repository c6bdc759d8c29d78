"""`hardtack fit rancidity`: accelerated tests in one step, and the life at the store's temperature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.fit_answer import (
    Drawing,
    FitAnswer,
    Mark,
    Points,
    curve,
    grid,
    groups,
    layer_named,
    within,
)
from hardtack.measurements.fitting import Constants, Estimate
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.rancidity import (
    INDICATORS,
    RancidityResult,
    Transition,
    indicator_after,
    rancidity_from,
)
from hardtack.measurements.reading import read_table
from hardtack.product import Product
from hardtack.units import DAY, celsius

_NO_OXYGEN = (
    "A product file takes this as a marker (--into with --limit): it rises as it did in the test, and the oxygen of the pack is "
    "not in it. A peroxide value that rises straight is followed with the pack's oxygen in balance."
)


def fit_oxidation(
    data: str | Path,
    *,
    limit: float | None = None,
    at: float | None = None,
    transitions: Sequence[Transition] = (),
    fat: str = "",
    activity: str = "",
    film_oxygen: str = "",
    said: Answers = NONE,
) -> FitAnswer:
    """Fit all temperatures of the file at once.

    With a `limit` of the indicator the days to it are given at `at` [K], the coldest of the test unless said. `fat` of
    the layer, water `activity` of the test and `film_oxygen`, as a product file has them, are what the file of readings
    does not know.
    Raises `HardtackError` when the file leaves something open or tells nothing of another temperature.
    """
    table = read_table(data, said)
    result, aside = rancidity_from(table, transitions)
    indicator = next(name for name in INDICATORS if table.keys(name))
    taken = table.take("time", indicator, "temperature", replicated=indicator)
    days, y, T = taken.columns[0] / DAY, taken.columns[1], taken.columns[2]
    store = result.range[0] if at is None else at
    life = None if limit is None else result.life(limit, store)
    fit = result.fit
    points, curves = [], []
    for kelvin, places in groups(T, 1.0):
        name = f"{celsius(kelvin):.0f} °C"
        points.append(
            Points(name, days[places], y[places], within(fit.outliers, places), fit.predicted[places])
        )
        x = grid(days[places])

        def over(p: Constants, at: Any = x, warm: float = kelvin) -> Any:
            return indicator_after(result.order, p, at, warm, result.temperature)

        curves.append(curve(fit, name, x, over))
    cautions = [line for line in result.cautions(store) if line not in result.told]
    marks = (
        ()
        if life is None or life.value > days.max()
        else (Mark(life.value, f"{limit:g} at {celsius(store):.0f} °C"),)
    )
    given = {"fat": fat, "activity": activity, "film oxygen": film_oxygen}
    by_oxygen = indicator == "peroxide value" and result.order == "straight"
    return FitAnswer(
        kind="rancidity",
        sentence=_sentence(result.told[0], indicator, life, limit, store),
        told=(*cautions, *result.told, *(() if by_oxygen else (_NO_OXYGEN,))),
        estimates=(*fit.estimates, *(() if life is None else (life,))),
        drawing=Drawing("days", indicator, tuple(points), tuple(curves), marks, indicator),
        tables=(table,),
        aside=aside,
        weak=fit.weak,
        covariance=fit.named_covariance,
        facts={
            "indicator": indicator, "order": result.order, "rate_at_degC": celsius(result.temperature),
            "temperature_range_degC": [celsius(end) for end in result.range],
            "limit": limit, "at_degC": celsius(store),
            "days_to_limit": None if life is None else {"value": life.value, "low": life.low, "high": life.high},
            "cautions": list(result.cautions(store)),
        },
        places=lambda product, layer: (
            _entries(product, layer, result, limit, given, Path(data).name) if by_oxygen
            else _marker_entries(product, layer, result, (indicator, limit, activity), Path(data).name)
        ),
    )  # fmt: skip


def _marker_entries(
    product: Product, layer: str, result: RancidityResult, read: tuple[str, float | None, str], source: str
) -> tuple[Entry, ...]:
    """The rise as a marker, over what the file has: hexanal, or a peroxide value that rises exponentially.

    Raises `HardtackError` without a limit: nothing is on record for a marker.
    """
    indicator, limit, activity = read
    if limit is None:
        raise HardtackError(
            f"nothing says at how much {indicator} the product is rancid",
            "say --limit, in the file's own unit",
        )
    made = {
        "layer": layer_named(product, layer),
        "marker": indicator,
        "rise": result.order,
        **_rise(result, source),
        **({"activity": activity} if activity else {}),
        "limit": f"{limit:g}",
    }
    return (Entry("failures / marker", made, ("Q10",) if activity else ("Q10", "activity")),)


def _rise(result: RancidityResult, source: str) -> dict[str, str]:
    """Rate, the temperature it holds at, start and energy as a product file has them."""
    rate, start, energy = (result.fit[name] for name in ("rate", "start", "energy"))
    return {
        "rate": amount_text(rate.value, rate.sd, "1/day", source=source),
        "at": f"{celsius(result.temperature):.4g} degC",
        "start": amount_text(start.value, start.sd, "", source=source),
        "activation energy": amount_text(
            energy.value / 1e3, None if energy.sd is None else energy.sd / 1e3, "kJ/mol", source=source
        ),
    }


def _entries(
    product: Product,
    layer: str,
    result: RancidityResult,
    limit: float | None,
    of_the_test: Mapping[str, str],
    source: str,
) -> tuple[Entry, ...]:
    """Rate, start and energy, with fat and activity of the test, over what the file has.

    Raises `HardtackError` where neither the file nor `of_the_test` knows fat and activity.
    """
    given = {key: text for key, text in of_the_test.items() if text}
    there = product.failures is not None and product.failures.rancidity is not None
    if lacking := [key for key in ("fat", "activity") if not there and key not in given]:
        raise HardtackError(
            f"{product.name} has no 'rancidity' yet, and the readings do not say its {' and '.join(lacking)}",
            "say --fat (of the layer as packed, such as '18 %') and --activity (of the product in the test, such as 0.3)",
        )
    made = {"layer": layer_named(product, layer), **given, **_rise(result, source)}
    if limit is not None:
        made["limit"] = f"{limit:g}"
    return (Entry("failures / rancidity", made, ("Q10",)),)


def _sentence(first: str, indicator: str, life: Estimate | None, limit: float | None, store: float) -> str:
    if life is None:
        return f"{first} Say --limit for the days to a {indicator} of your choice."
    return (
        f"The {indicator} reaches {limit:g} after {life.value:.3g} days at {celsius(store):.0f} °C "
        f"(90 %: {life.low:.3g} to {life.high:.3g})."
    )
