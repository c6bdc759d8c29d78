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
    no_place = _no_place(indicator, result)
    return FitAnswer(
        kind="rancidity",
        sentence=_sentence(result.told[0], indicator, life, limit, store),
        told=(*cautions, *result.told, *((f"Not for a product file (--into): {no_place}.",) if no_place else ())),
        estimates=(*fit.estimates, *(() if life is None else (life,))),
        drawing=Drawing("days", indicator, tuple(points), tuple(curves), marks, indicator),
        tables=(table,),
        aside=aside,
        weak=fit.weak,
        facts={
            "indicator": indicator, "order": result.order, "rate_at_degC": celsius(result.temperature),
            "temperature_range_degC": [celsius(end) for end in result.range],
            "limit": limit, "at_degC": celsius(store),
            "days_to_limit": None if life is None else {"value": life.value, "low": life.low, "high": life.high},
            "cautions": list(result.cautions(store)),
        },
        places=None if no_place
        else lambda product, layer: _entries(product, layer, result, limit, given, Path(data).name),
        no_place=no_place,
    )  # fmt: skip


def _no_place(indicator: str, result: RancidityResult) -> str:
    """Why no product file holds this result; nothing where one does."""
    if indicator != "peroxide value":
        return (
            f"the forecast counts oxygen taken up as peroxide value, and {indicator} does not say how much that was; measure "
            "the peroxide value of the same packs"
        )
    if result.order != "straight":
        return (
            "the forecast follows a rise that is straight in the oxygen there is, and these readings rise exponentially; fit "
            "the readings of the first, straight part by themselves"
        )
    return ""


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
    rate, start, energy = (result.fit[name] for name in ("rate", "start", "energy"))
    made = {
        "layer": layer_named(product, layer),
        **given,
        "rate": amount_text(rate.value, rate.sd, "1/day", source=source),
        "at": f"{celsius(result.temperature):.4g} degC",
        "start": amount_text(start.value, start.sd, "", source=source),
        "activation energy": amount_text(
            energy.value / 1e3, None if energy.sd is None else energy.sd / 1e3, "kJ/mol", source=source
        ),
    }
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
