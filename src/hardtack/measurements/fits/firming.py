"""`hardtack fit firming`: firmness against days, at one temperature or several at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.firming import FirmingResult, avrami, firming_from
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
from hardtack.measurements.fitting import Constants
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.reading import read_table
from hardtack.product import Product
from hardtack.units import DAY, celsius


def fit_firmness(
    data: str | Path,
    *,
    temperature: float | None = None,
    limit: float | None = None,
    said: Answers = NONE,
) -> FitAnswer:
    """Fit Avrami to the file, all temperatures at once; `temperature` [K] where the file has none.

    `limit` [N] is the firmness that people no longer accept: the answer then gives its day at every
    temperature. Raises `HardtackError` when the file leaves something open or firmness does not rise.
    """
    table = read_table(data, said)
    result, aside = firming_from(table, temperature)
    meanings = ("time", "force") if temperature is not None else ("time", "force", "temperature")
    taken = table.take(*meanings, replicated="force")
    days, E = taken.columns[0] / DAY, taken.columns[1]
    T = taken.columns[2] if temperature is None else np.full(days.size, temperature)
    fit = result.fit
    x = grid(days)
    points, curves = [], []
    for kelvin, places in groups(T, 1.0):
        name = f"{celsius(kelvin):.0f} °C"
        points.append(
            Points(name, days[places], E[places], within(fit.outliers, places), fit.predicted[places])
        )

        def over(p: Constants, at: Any = x, warm: float = kelvin) -> Any:
            return avrami(p, at, warm, result.temperature)

        curves.append(curve(fit, name, x, over))
    lives = [] if limit is None else [_life(result, limit, kelvin) for kelvin, _ in groups(T, 1.0)]
    marks = tuple(
        Mark(life["day"], f"{limit:.3g} N on day {life['day']:.2g} at {life['at_degC']:.0f} °C")
        for life in lives
        if life["day"] is not None and life["day"] <= float(days.max())
    )
    told = [*result.told]
    if limit is not None:
        told += [_said(life, limit, float(days.max())) for life in lives]
    return FitAnswer(
        kind="firming",
        sentence=result.told[0],
        told=tuple(told[1:]),
        estimates=fit.estimates,
        drawing=Drawing("days", "firmness, N", tuple(points), tuple(curves), marks, "N"),
        tables=(table,),
        aside=aside,
        weak=fit.weak,
        covariance=fit.named_covariance,
        facts={
            "at_degC": celsius(result.temperature), "avrami_exponent": result.n,
            "temperature_range_degC": [celsius(end) for end in result.range],
            "firmness_limit_N": limit, "days_to_limit": lives,
        },
        places=lambda product, layer: _entries(product, layer, result, limit, Path(data).name),
    )  # fmt: skip


def _entries(
    product: Product, layer: str, result: FirmingResult, limit: float | None, source: str
) -> tuple[Entry, ...]:
    """The course of firming; with a limit in N also the firmness when fresh and in the end."""

    def amount(name: str, unit: str, scale: float = 1.0) -> str:
        estimate = result.fit[name]
        sd = None if estimate.sd is None else estimate.sd * scale
        return amount_text(estimate.value * scale, sd, unit, source=source)

    made = {
        "layer": layer_named(product, layer),
        "rate": amount("rate", "1/day"),
        "at": f"{celsius(result.temperature):.4g} degC",
        "exponent": amount("n", "") if "n" in result.fit.values else "1",
    }
    if result.energy is not None:
        made["apparent energy"] = amount("energy", "kJ/mol", 1e-3)
    if limit is not None:
        made |= {
            "firmness limit": f"{limit:g} N", "fresh firmness": amount("fresh", "N"), "final firmness": amount("final", "N"),
        }  # fmt: skip
    # what was measured on this crumb holds its emulsifier and all: no effect on top of it
    return (Entry("failures / firming", made, ("effects", *(("limit",) if limit is not None else ()))),)


def _life(result: FirmingResult, limit: float, T: float) -> dict[str, float | None]:
    """Days to the limit at T [K], with its standard deviation; None when it is never reached."""
    values = result.fit.values
    if not values["fresh"] < limit < values["final"]:
        if limit <= values["fresh"]:
            raise HardtackError(
                f"fresh, the crumb has {values['fresh']:.3g} N already, the limit is {limit:g} N",
                "give a limit above the firmness when fresh",
            )
        return {"at_degC": celsius(T), "day": None, "sd": None}

    def day(p: Constants) -> float:
        way = (limit - p["fresh"]) / (p["final"] - p["fresh"])
        if not 0 < way < 1:
            return float("nan")
        inverse = (1 / T - 1 / result.temperature) / 8.314462618
        rate = p["rate"] * np.exp(-p.get("energy", 0.0) * inverse)
        return float((-np.log1p(-way)) ** (1 / p.get("n", 1.0)) / rate)

    value, sd = result.fit.spread(day)
    return {"at_degC": celsius(T), "day": value, "sd": sd if np.isfinite(sd) else None}


def _said(life: dict[str, float | None], limit: float, longest: float) -> str:
    where = f"at {life['at_degC']:.0f} °C"
    if life["day"] is None:
        return f"{limit:.3g} N is above the final firmness: never reached {where}."
    spread = f" ± {life['sd']:.2g}" if life["sd"] is not None else ""
    beyond = " (after the test's end: an extrapolation)" if life["day"] > longest else ""
    return f"{limit:.3g} N is reached on day {life['day']:.3g}{spread} {where}{beyond}."
