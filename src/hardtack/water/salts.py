"""Humidity over saturated salt solutions: the fixed points that isotherms and meters are measured against."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import Row, lookup, rows
from hardtack.sourced import PROVENANCES, Sourced
from hardtack.units import ZERO_CELSIUS, celsius

_HANDBOOK_UNCERTAINTY = 0.02
"""Accuracy that the handbook states for its exponential form."""


def is_salt(name: str) -> bool:
    """Whether a table holds the saturated salt of that name."""
    return bool(name) and any(_row(topic, name) is not None for topic in _TABLES)


def salt_activity(name: str, T: float) -> Sourced:
    """Water activity over the saturated solution of a salt at T [K]; `source` tells the table it is from.

    Takes the first table that holds the salt and reaches T: Greenspan's polynomials, tabulated values
    (straight lines between them), the handbook's exponential form. `low` and `high` are the uncertainty,
    where one is stated. Never extrapolates: raises `HardtackError` when no table reaches T, `NotOnShelf` when
    none holds the salt. In a real jar the temperature matters more: one degree between air and salt is about
    3 %RH at 50 %RH.
    """
    held = [
        (row, table) for row, table in ((_row(topic, name), table) for topic, table in _TABLES.items()) if row
    ]
    if not held:
        known = sorted({row.name for topic in _TABLES for row in rows(topic)})
        raise NotOnShelf(f"no table holds a saturated salt {name!r}", f"there are: {'; '.join(known)}")
    for row, (reach, evaluate) in held:
        low, high = reach(row)
        if low <= T <= high:
            return evaluate(row, T)
    spans = "; ".join(
        f"{row.topic} {celsius(low):g} to {celsius(high):g} degC"
        for row, (reach, _) in held
        for low, high in (reach(row),)
    )
    raise HardtackError(
        f"{held[0][0].name}: no table of its humidity reaches {celsius(T):.4g} degC",
        f"keep the jar within one of: {spans} (T is in kelvin here)",
    )


def _row(topic: str, name: str) -> Row | None:
    try:
        return lookup(topic, name)
    except NotOnShelf:
        return None


def _stated_reach(row: Row) -> tuple[float, float]:
    return row["t_low"], row["t_high"]


def _polynomial(row: Row, T: float) -> Sourced:
    """RH% = a0 + a1 t + a2 t^2 + a3 t^3, t in degC (Greenspan 1977, J. Res. NBS 81A:89)."""
    t = celsius(T)
    a = [row[symbol] if symbol in row.values else 0.0 for symbol in ("a0", "a1", "a2", "a3")]
    value = (a[0] + t * (a[1] + t * (a[2] + t * a[3]))) / 100.0
    spread = row["uncertainty"] if "uncertainty" in row.values else None
    return _sourced(row, value, spread)


def _tabulated_nodes(row: Row) -> tuple[list[float], list[Sourced]]:
    nodes = [
        (float(symbol.removeprefix("RH at ").removesuffix(" degC")) + ZERO_CELSIUS, amount)
        for symbol, amount in row.values.items()
    ]
    nodes.sort(key=lambda node: node[0])
    return [node[0] for node in nodes], [node[1] for node in nodes]


def _tabulated_reach(row: Row) -> tuple[float, float]:
    temperatures, _ = _tabulated_nodes(row)
    return temperatures[0], temperatures[-1]


def _tabulated(row: Row, T: float) -> Sourced:
    temperatures, amounts = _tabulated_nodes(row)
    spreads = [amount.sd for amount in amounts if amount.sd is not None]
    value = float(np.interp(T, temperatures, [amount.value for amount in amounts]))
    return _sourced(row, value, max(spreads, default=None))


def _exponential(row: Row, T: float) -> Sourced:
    """RH% = A exp(B/T), T in kelvin."""
    return _sourced(row, row["A"] * float(np.exp(row["B"] / T)) / 100.0, _HANDBOOK_UNCERTAINTY)


def _sourced(row: Row, value: float, spread: float | None) -> Sourced:
    """The value with the weakest provenance among the numbers it came from."""
    weakest = max((amount.provenance for amount in row.values.values()), key=PROVENANCES.index)
    return Sourced(
        value,
        "",
        weakest,
        f"{row.topic}: {row.source.citation}",
        low=None if spread is None else value - spread,
        high=None if spread is None else value + spread,
    )


_Reach = Callable[[Row], tuple[float, float]]
_Evaluate = Callable[[Row, float], Sourced]
_TABLES: dict[str, tuple[_Reach, _Evaluate]] = {
    "salt polynomials": (_stated_reach, _polynomial),
    "salt humidities": (_tabulated_reach, _tabulated),
    "salt exponentials": (_stated_reach, _exponential),
}
