"""`hardtack fit bake` on an oven log: when the core has which temperature, and the log for the product file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fit_answer import Drawing, FitAnswer, Mark, Points, curve, grid, within
from hardtack.measurements.into import Entry
from hardtack.measurements.oven_log import CoreCourse, fit_core, slipped
from hardtack.measurements.table import SetAside, Table
from hardtack.product import Product
from hardtack.states import Floats
from hardtack.units import celsius

WRITTEN = 12
"""Points of the log that go into a product file."""
_PASSED = (60.0, 80.0, 90.0, 95.0)


def is_oven_log(table: Table) -> bool:
    """Whether a table is the log of a core instead of weights before and after the oven."""
    return bool(table.keys("core temperature")) and not table.keys("dough mass")


def log_answer(table: Table, data: str | Path) -> FitAnswer:
    """Fit the core's heating; readings of a probe that slipped out are set aside. Raises as `fit_core`."""
    taken = table.take("time", "core temperature")
    t, T = taken.columns
    order = np.argsort(t, kind="stable")
    t, T, rows = t[order], T[order], np.array(taken.rows)[order]
    out, aside = _out(table, t, T, rows)
    kept = np.array([k for k in range(t.size) if k not in out], dtype=int)
    found = fit_core(t[kept], T[kept])
    minutes, degrees = found.times / 60, np.array([celsius(each) for each in found.temperatures])
    passed = {degree: found.minutes_to(degree) for degree in _PASSED}
    inside = {d: m for d, m in passed.items() if m is not None and m[0] <= minutes[-1]}
    x = grid(minutes)
    drawn = [
        Points("core", minutes, degrees, within(found.fit.outliers, range(minutes.size)), found.fit.predicted)
    ]
    if out:
        lost = sorted(out)
        drawn.append(
            Points("probe out", (t[lost] - t[0]) / 60, np.array([celsius(each) for each in T[lost]]))
        )
    return FitAnswer(
        kind="bake",
        sentence=_sentence(found, inside, float(minutes[-1]), float(degrees[-1])),
        told=(*_zones(table), *found.told),
        estimates=found.fit.estimates,
        drawing=Drawing(
            "minutes in the oven", "core, °C", tuple(drawn),
            (curve(found.fit, "fitted", x, lambda p: found.at(x, p)),),
            tuple(Mark(m[0], f"{d:.0f} °C") for d, m in inside.items()), "K",
        ),
        tables=(table,),
        aside=(*taken.aside, *aside),
        weak=found.fit.weak,
        covariance=found.fit.named_covariance,
        facts={
            "minutes_to_degC": {
                f"{d:.0f}": None if m is None else {"value": m[0], "sd": m[1]} for d, m in passed.items()
            },
            "time_range_min": [0.0, float(minutes[-1])],
        },
        places=lambda product, _: _entries(product, found, Path(data).name),
    )  # fmt: skip


def _out(table: Table, t: Floats, T: Floats, rows: np.ndarray) -> tuple[set[int], list[SetAside]]:
    out: set[int] = set()
    aside = []
    for first, last in slipped(t, T):
        reason = f"the probe was out: {t[last] - t[first]:.0f} s in which the reading jumps by more than 8 K and back"
        for k in range(first, last + 1):
            out.add(k)
            aside.append(
                SetAside(table.file, int(rows[k]), "core temperature", f"{celsius(T[k]):.1f} °C", reason)
            )
    return out, aside


def _sentence(found: CoreCourse, inside: dict[float, tuple[float, float]], span: float, last: float) -> str:
    end = f"ends at {last:.1f} °C after {span:.3g} min"
    if not inside:
        return f"The core {end}."
    degrees, (minutes, sd) = max(inside.items())
    return f"The core passes {degrees:.0f} °C after {minutes:.3g} ± {sd:.1g} min and {end}."


def _zones(table: Table) -> list[str]:
    """The zones' own readings, each in one line, for the product file's `zones`."""
    lines = []
    for column in table.understood:
        if column.meaning == "zone temperature":
            values = [celsius(v) for row in table.rows if isinstance(v := row.values.get(column.key), float)]
            if values:
                lines.append(
                    f"{column.column}: {np.mean(values):.0f} °C, from {min(values):.0f} to {max(values):.0f} °C."
                )
    return lines


def _entries(product: Product, found: CoreCourse, source: str) -> tuple[Entry, ...]:
    """A dozen points of the log. Raises `HardtackError` where the product file has no oven."""
    if product.oven is None:
        raise HardtackError(
            f"{product.name} has no oven: a core log has no place there",
            "describe the bake first (docs/oven.md)",
        )
    places = np.unique(np.linspace(0, found.times.size - 1, WRITTEN + 1).round().astype(int))[1:]
    log = [
        {
            "at": f"{found.times[k] / 60:.4g} min",
            "temperature": f"{celsius(found.temperatures[k]):.1f} degC [measured here, {source}]",
        }
        for k in places
    ]
    return (Entry("oven / measured / core", log),)
