"""`hardtack fit mould`: mould-free days against humidity and temperature."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Points, grid, groups
from hardtack.measurements.fitting import Estimate
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.mould import MouldResult, mould_from
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Bound, Table
from hardtack.states import Floats
from hardtack.units import DAY, celsius


def fit_mould_days(
    data: str | Path,
    *,
    temperature: float | None = None,
    activity: float | None = None,
    at: float | None = None,
    said: Answers = NONE,
) -> FitAnswer:
    """Fit the plane of mould-free days; `temperature` [K] where the file has none.

    `activity` and `at` [K] are where the days are wanted: without them, the middle of the test. Raises
    `HardtackError` when the file leaves something open, too few packs moulded, or that place was not tested.
    """
    table = read_table(data, said)
    result, aside = mould_from(table, temperature)
    a, T, days, free = _packs(table, temperature)
    place = (
        float(np.mean(result.humidity)) if activity is None else activity,
        float(np.mean(result.temperature)) if at is None else at,
    )
    wanted = result.days(*place)
    sentence = (
        f"At water activity {place[0]:.2f} and {celsius(place[1]):.0f} °C half of the packs are free of mould for "
        f"{wanted.value:.3g} days (90 %: {wanted.low:.3g} to {wanted.high:.3g}); this is no safety limit."
    )
    return FitAnswer(
        kind="mould",
        sentence=sentence,
        told=result.told,
        estimates=(*result.estimates, wanted),
        drawing=_drawing(result, a, T, days, free),
        tables=(table,),
        aside=aside,
        weak=result.weak,
        covariance=(tuple("ln scatter" if e.name == "scatter" else e.name for e in result.estimates), result.covariance),
        facts={
            "activity": place[0], "at_degC": celsius(place[1]),
            "mould_free_days": {"value": wanted.value, "low": wanted.low, "high": wanted.high},
            "activity_range": list(result.humidity),
            "temperature_range_degC": [celsius(end) for end in result.temperature],
        },
        places=lambda product, layer: _entries(wanted, place, Path(data).name),
    )  # fmt: skip


def _entries(days: Estimate, place: tuple[float, float], source: str) -> tuple[Entry, ...]:
    made = {
        "way": "measured day",
        "seen after": amount_text(days.value, days.sd, "day", source=source),
        "activity": f"{place[0]:.4g}",
        "at": f"{celsius(place[1]):.4g} degC",
    }
    return (Entry("failures / mould", made),)


def _packs(table: Table, temperature: float | None) -> tuple[Floats, Floats, Floats, Floats]:
    found: list[tuple[float, float, float, float]] = []
    for row in table.rows:
        a, d = row.values.get("activity"), row.values.get("mould-free time")
        T = row.values.get("temperature") if temperature is None else temperature
        if not isinstance(a, float) or not isinstance(T, float):
            continue
        if isinstance(d, Bound) and d.side == ">":
            found.append((a, T, d.value / DAY, 1.0))
        elif isinstance(d, float):
            found.append((a, T, d / DAY, 0.0))
    humid, warm, days, free = np.array(found, dtype=float).reshape(-1, 4).T
    return humid, warm, days, free


def _drawing(result: MouldResult, a: Floats, T: Floats, days: Floats, free: Floats) -> Drawing:
    points, curves = [], []
    for kelvin, places in groups(T, 1.0):
        name = f"{celsius(kelvin):.0f} °C"
        came = places[free[places] == 0]
        still = places[free[places] == 1]
        if came.size:
            predicted = np.array([result.days(float(x), kelvin).value for x in a[came]])
            points.append(Points(name, a[came], days[came], (), predicted))
        if still.size:
            points.append(Points(f"{name}, still free", a[still], days[still]))
        x = grid(a[places])
        found = [result.days(float(v), kelvin) for v in x]
        low, high = (np.array([getattr(e, end) for e in found], dtype=float) for end in ("low", "high"))
        curves.append(Curve(name, x, np.array([e.value for e in found]), low, high))
    return Drawing("water activity", "mould-free days", tuple(points), tuple(curves), residual_title="days")
