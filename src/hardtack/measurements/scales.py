"""From a column's unit to SI: percent, basis, Fahrenheit, the trade's units of mass, force and transmission."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from hardtack.errors import HardtackError
from hardtack.units import ZERO_CELSIUS, convert

STANDARD_GRAVITY = 9.80665
"""m/s2, by definition (3rd General Conference on Weights and Measures, 1901)."""
_FORCES = {
    "N": 1.0,
    "kN": 1e3,
    "mN": 1e-3,
    "gf": STANDARD_GRAVITY * 1e-3,
    "kgf": STANDARD_GRAVITY,
    "lbf": STANDARD_GRAVITY * 0.45359237,
}
_SI = {
    "mass": "kg", "duration": "s", "length": "m", "area": "m2", "transmission rate": "kg/m2/s",
    "permeance": "kg/m2/s/Pa", "gas permeance": "m3/m2/s/Pa", "speed": "m/s",
}  # fmt: skip


class NotMoisture(ValueError):  # noqa: N818 -- reads as the sentence it is
    """A number that cannot be a moisture on the stated basis."""


@lru_cache(maxsize=256)
def scale(kind: str, unit: str) -> Callable[[float], float]:
    """The function from a number in `unit` to SI. Raises `HardtackError` when the unit is not of that kind.

    The function of a moisture raises `NotMoisture` for wet-basis values of 100 % and more.
    """
    if kind == "number":
        return _same
    if kind == "fraction" and unit in ("percent", "fraction"):
        return _hundredth if unit == "percent" else _same
    if kind == "moisture":
        return _moisture(unit)
    if kind == "temperature":
        known = {"degC": _celsius, "degF": _fahrenheit, "K": _same}
        if unit in known:
            return known[unit]
    if kind == "force" and unit in _FORCES:
        return _times(_FORCES[unit])
    if kind in _SI and unit:
        return _times(convert(1.0, unit, _SI[kind]))
    raise HardtackError(f"{unit!r} is not a unit of {kind}", "state the column's unit")


def _moisture(unit: str) -> Callable[[float], float]:
    words = set(unit.split())
    if not (words & {"percent", "fraction"} and words & {"wet", "dry"}):
        raise HardtackError(f"{unit!r} is not a unit of moisture", "state percent or fraction, wet or dry")
    share = 0.01 if "percent" in words else 1.0
    if "dry" in words:
        return _times(share)

    def wet(value: float) -> float:
        W = share * value
        if W >= 1:
            raise NotMoisture(f"a moisture of {value:g} on wet basis is all water")
        return W / (1 - W)

    return wet


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


def _same(value: float) -> float:
    return value


def _hundredth(value: float) -> float:
    return value / 100.0


def _celsius(value: float) -> float:
    return value + ZERO_CELSIUS


def _fahrenheit(value: float) -> float:
    return (value - 32.0) * 5.0 / 9.0 + ZERO_CELSIUS
