"""Moisture and water activity of one material at any temperature: plain functions on an `Isotherm`.

Moisture X is kg water per kg dry solid, activity a fraction, T in kelvin. Scalars or arrays in, the same out
(arrays broadcast).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import overload

import numpy as np
from numpy.typing import NDArray

from hardtack.errors import HardtackError
from hardtack.states import Floats, Isotherm
from hardtack.water.air import GAS_CONSTANT
from hardtack.water.isotherms import form_named
from hardtack.water.isotherms.constants import Constants, Numbers
from hardtack.water.isotherms.table import Points
from hardtack.water.temperature import check_heat, constants_at, heated, shift, unheated

_WETTEST_HALF = 2.0
"""Moisture at activity 0.5 [kg/kg dry] above which constants are taken for percent; assumed."""
_FACTOR_RANGE = (0.25, 4.0)


def validate(iso: Isotherm) -> None:
    """Raise `HardtackError` when the record cannot be an isotherm: form, constants, points, laws, ranges."""
    form = form_named(iso.form)
    if not (np.isfinite(iso.scale) and iso.scale > 0):
        raise HardtackError(f"{iso.name}: scale = {iso.scale:g}", "the scale must be a number above zero")
    low, high = iso.activity_range
    if not 0 <= low < high <= 1:
        raise HardtackError(
            f"{iso.name}: {low:g} to {high:g} is no range of activity",
            "write two rising fractions from 0 to 1",
        )
    shift(iso, iso.reference_temperature)
    if iso.form == "table":
        if iso.parameters or iso.enthalpies:
            raise HardtackError(
                f"{iso.name}: a table has points, no constants", "drop the constants, or name their form"
            )
        form.check(iso.points)
    else:
        if iso.points:
            raise HardtackError(f"{iso.name}: points given for the form {iso.form}", "use the form 'table'")
        form.check(iso.parameters)
    _validate_laws(iso)
    half = iso.scale * float(form.moisture(0.5, _constants(iso)))
    if half > _WETTEST_HALF:
        raise HardtackError(
            f"{iso.name}: {half:.3g} kg water per kg dry solid at activity 0.5 is no baked product",
            "moistures are kg/kg dry here: divide constants given in % or g/100 g by 100",
        )


def _validate_laws(iso: Isotherm) -> None:
    if iso.heat is not None and iso.enthalpies:
        raise HardtackError(
            f"{iso.name}: both an isosteric heat and enthalpies of the constants are given",
            "keep one of the two",
        )
    if iso.heat is not None and not (np.isfinite(iso.heat.q0) and iso.heat.X0 > 0):
        raise HardtackError(
            f"{iso.name}: isosteric heat q0 = {iso.heat.q0:g} J/mol with X0 = {iso.heat.X0:g} kg/kg dry",
            "q0 must be a number and X0 above zero (leave X0 out for a constant heat)",
        )
    for name, value in iso.enthalpies.items():
        if name not in iso.parameters or not np.isfinite(value):
            raise HardtackError(
                f"{iso.name}: enthalpy {value:g} J/mol for {name!r}",
                f"give a number in J/mol for one of the constants of {iso.form}: {', '.join(iso.parameters)}",
            )


@overload
def moisture(iso: Isotherm, a: float, T: float) -> float: ...
@overload
def moisture(iso: Isotherm, a: Floats, T: float | Floats) -> Floats: ...
@overload
def moisture(iso: Isotherm, a: float, T: Floats) -> Floats: ...
def moisture(iso: Isotherm, a: Numbers, T: Numbers) -> Numbers:
    """Equilibrium moisture X [kg/kg dry] at water activity a and T [K].

    Raises `HardtackError` when a is below 0 or above `activity_limit`, or the record is not valid.
    """
    r, p, _ = _at_reference(iso, a, T)
    return _plain(iso.scale * form_named(iso.form).moisture(r, p))


@overload
def activity(iso: Isotherm, X: float, T: float) -> float: ...
@overload
def activity(iso: Isotherm, X: Floats, T: float | Floats) -> Floats: ...
@overload
def activity(iso: Isotherm, X: float, T: Floats) -> Floats: ...
def activity(iso: Isotherm, X: Numbers, T: Numbers) -> Numbers:
    """Water activity at moisture X [kg/kg dry] and T [K].

    Moisture beyond the curve's end gives `activity_limit`: what exceeds it is free water. Raises
    `HardtackError` when X is negative or not a number, or the record is not valid.
    """
    r, p, theta = _reference_activity(iso, X, T)
    return _plain(r if iso.heat is None else heated(r, p, iso, theta)[0])


def activity_and_slope(iso: Isotherm, X: Floats, T: float) -> tuple[Floats, Floats]:
    """Water activity at moistures X [kg/kg dry] and T [K], with da/dX at constant T. Raises as `activity`.

    da/dX is zero or infinite at X = 0 for forms that leave the origin straight up or flat.
    """
    r, p, theta = _reference_activity(iso, X, T)
    a, rate = (r, 1.0) if iso.heat is None else heated(r, p, iso, theta)
    with np.errstate(divide="ignore"):
        return np.asarray(a), np.asarray(rate / (iso.scale * form_named(iso.form).slope(r, p)))


@overload
def slope(iso: Isotherm, a: float, T: float) -> float: ...
@overload
def slope(iso: Isotherm, a: Floats, T: float | Floats) -> Floats: ...
@overload
def slope(iso: Isotherm, a: float, T: Floats) -> Floats: ...
def slope(iso: Isotherm, a: Numbers, T: Numbers) -> Numbers:
    """dX/da [kg/kg dry] at constant T [K]; infinite at a = 0 for some forms. Raises as `moisture`."""
    r, p, theta = _at_reference(iso, a, T)
    rise = iso.scale * form_named(iso.form).slope(r, p)
    return _plain(rise if iso.heat is None else rise / heated(r, p, iso, theta)[1])


def activity_limit(iso: Isotherm, T: float) -> float:
    """Largest water activity the isotherm can be evaluated at, at T [K]: 1, or just below its pole."""
    p, _ = _prepare(iso, T)
    return float(form_named(iso.form).limit(p))


def in_range(iso: Isotherm, a: Numbers) -> bool | NDArray[np.bool_]:
    """Whether activity lies in the isotherm's range of validity (for a table, also between its points)."""
    low, high = iso.activity_range
    if iso.form == "table":
        low, high = max(low, iso.points[0][0]), min(high, iso.points[-1][0])
    inside = (np.asarray(a) >= low) & (np.asarray(a) <= high)
    return bool(inside) if inside.ndim == 0 else inside


def isosteric_heat(iso: Isotherm, X: float, T: float) -> float:
    """Net isosteric heat of sorption [J/mol] at moisture X [kg/kg dry] and T [K], from `activity` itself.

    q = -R d ln a / d(1/T) at constant X, by a central difference over 1 K. Add the molar latent heat for the
    total. Raises `HardtackError` when X is not above zero.
    """
    if not X > 0:
        raise HardtackError(
            f"{iso.name}: no isosteric heat at a moisture of {X:g}", "give a moisture above zero"
        )
    cold, warm = T - 0.5, T + 0.5
    rise = np.log(activity(iso, X, warm)) - np.log(activity(iso, X, cold))
    return float(GAS_CONSTANT * rise / (1.0 / cold - 1.0 / warm))


def reconcile(iso: Isotherm, X: float, a: float, T: float) -> tuple[Isotherm, float]:
    """Move the isotherm through a measured pair (moisture X [kg/kg dry], activity a at T [K]) by its scale.

    Gives the moved isotherm and the factor on every moisture. Moisture is what is conserved, so it is the
    isotherm that yields. Raises `HardtackError` when the factor lies outside 0.25..4: then the pair or the
    isotherm is of another material, or a basis or percent slipped.
    """
    if not (X > 0 and a > 0):
        raise HardtackError(
            f"{iso.name}: cannot move an isotherm through moisture {X:g}, activity {a:g}",
            "both must be above zero: measure the pair on the product as it leaves the line",
        )
    factor = X / moisture(iso, a, T)
    low, high = _FACTOR_RANGE
    if not low <= factor <= high:
        raise HardtackError(
            f"{iso.name}: moisture {X:.4g} kg/kg dry at activity {a:g} is {factor:.3g} times the isotherm's",
            _slip(factor, X),
        )
    return replace(iso, scale=iso.scale * factor), factor


def _slip(factor: float, X: float) -> str:
    low, high = _FACTOR_RANGE
    if low <= factor / 100 <= high or low <= factor * 100 <= high:
        return (
            "percent slip: the moisture is a hundred times off, so write 2.5 % for 0.025, not 2.5 or 0.025 %"
        )
    wet = f" ({X:.3g} kg/kg dry is {100 * X / (1 + X):.3g} % wet basis)"
    return f"check wet against dry basis{wet}, percent against fraction, and that both are the same material"


def _reference_activity(iso: Isotherm, X: Numbers, T: Numbers) -> tuple[Numbers, Constants | Points, Numbers]:
    """The activity at T_ref of moisture X, with constants and theta; with enthalpies, the activity at T."""
    p, theta = _prepare(iso, T)
    X = np.asarray(X, dtype=float)
    if not np.all(X >= 0):
        raise HardtackError(
            f"{iso.name}: a moisture of {float(np.min(X)):g} kg/kg dry",
            "moisture on dry basis is zero or more",
        )
    form = form_named(iso.form)
    return np.minimum(form.activity(X / iso.scale, p), form.limit(p)), p, theta


def _at_reference(iso: Isotherm, a: Numbers, T: Numbers) -> tuple[Numbers, Constants | Points, Numbers]:
    """The activity at T_ref of the moisture that shows `a` at T, with constants and theta."""
    p, theta = _prepare(iso, T)
    a = np.asarray(a, dtype=float)
    top = form_named(iso.form).limit(p)
    if not np.all((a >= 0) & (a <= top)):
        everywhere, tops = np.broadcast_arrays(a, top)
        worst = float(everywhere[~((everywhere >= 0) & (everywhere <= tops))][0])
        raise HardtackError(
            f"{iso.name}: water activity {worst:.6g} cannot be turned into moisture",
            f"this isotherm ({iso.form}) runs from 0 to {float(np.min(top)):.6g}",
        )
    if iso.heat is None or not np.any(theta):
        return a, p, theta
    return unheated(a, p, iso, theta), p, theta


def _prepare(iso: Isotherm, T: Numbers) -> tuple[Constants | Points, Numbers]:
    validate(iso)
    theta = shift(iso, T)
    if iso.heat is not None:
        check_heat(iso, theta)
    return constants_at(iso, T), theta


def _constants(iso: Isotherm) -> Mapping[str, float] | Points:
    return iso.points if iso.form == "table" else iso.parameters


def _plain(numbers: Numbers) -> Numbers:
    """A zero-dimensional array as the scalar it is."""
    return np.asarray(numbers)[()]
