"""What temperature does to an isotherm: the two laws an `Isotherm` may carry.

`enthalpies` move the form's own constants: c(T) = c_ref exp(dH/R (1/T - 1/T_ref)).

`heat` moves the activity at constant moisture (Clausius-Clapeyron with the net isosteric heat q):
ln a(X, T) = ln a_ref(X) - q(X)/R (1/T - 1/T_ref), q(X) = q0 exp(-X/X0). This holds as it stands until the
warmer of the two activities reaches 0.9, where isotherms are no longer fitted and most heat has faded. Taken
further it would carry wet product past a = 1, or leave free water below 1 in the cold. So beyond that join
the deficit follows a power of the deficit at T_ref,

    (top - a) / (top - a_join) = ((top - a_ref) / (top - a_ref,join))^m,

with m from the slope at the join and `top` the largest activity of the form (1, or its pole): the curve keeps
rising, never passes `top`, and free water is free at the same moisture at every temperature. That choice is
assumed; the literal law up to the join is not.

In this module moistures are the form's own, before `scale`: scaling an isotherm scales X0 with it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats, IsostericHeat, Isotherm
from hardtack.water.air import GAS_CONSTANT
from hardtack.water.isotherms import form_named
from hardtack.water.isotherms.constants import Constants, Numbers
from hardtack.water.isotherms.inverse import invert
from hardtack.water.isotherms.table import Points

WET_JOIN = 0.9
"""Share of the largest activity up to which Clausius-Clapeyron is taken literally; assumed."""

_COLDEST, _HOTTEST = 150.0, 600.0
_JOIN_ROUNDS = 8
_PROBES = np.concatenate((np.geomspace(1e-5, 0.004, 40), np.linspace(0.005, WET_JOIN, 180)))


class _Join(NamedTuple):
    """Where the literal law ends: activity r at T_ref and a at T, the slope da/dr there, and the power m."""

    r: Numbers
    a: Numbers
    rate: Numbers
    m: Numbers


def shift(iso: Isotherm, T: Numbers) -> Numbers:
    """theta = (1/T_ref - 1/T)/R [mol/J], so that ln a = ln a_ref + theta q. Raises when T is no kelvin."""
    kelvin = np.asarray(T, dtype=float)
    if not np.all((kelvin > _COLDEST) & (kelvin < _HOTTEST)):
        raise HardtackError(
            f"{iso.name}: a temperature of {float(kelvin.flat[0]):g} K is out of reach of an isotherm",
            "temperatures are in kelvin here: add 273.15 to degrees Celsius",
        )
    return ((1.0 / iso.reference_temperature - 1.0 / kelvin) / GAS_CONSTANT)[()]


def constants_at(iso: Isotherm, T: Numbers) -> Constants | Points:
    """The form's constants (or the table's points) at T [K], checked. Raises `HardtackError`."""
    theta = shift(iso, T)
    if iso.form == "table":
        return iso.points
    if not iso.enthalpies:
        return iso.parameters
    p = {
        name: c * np.exp(-theta * iso.enthalpies[name]) if name in iso.enthalpies else c
        for name, c in iso.parameters.items()
    }
    form_named(iso.form).check(p)
    return p


def heated(r: Numbers, p: Constants | Points, iso: Isotherm, theta: Numbers) -> tuple[Floats, Floats]:
    """Activity at theta and its derivative by r, at the moisture that shows activity r at T_ref."""
    heat = _heat(iso)
    r = np.asarray(r, dtype=float)
    top = form_named(iso.form).limit(p)
    a, rate = _literal(r, p, iso, theta)
    # No join lies below this, so a dry product need not look for it.
    if np.all(r <= WET_JOIN * top * np.exp(-np.maximum(theta * heat.q0, 0.0))):
        return a, rate
    join = _join(p, iso, theta)
    left = np.minimum(1.0, (top - r) / (top - join.r))
    with np.errstate(divide="ignore"):
        wet_rate = join.rate * left ** (join.m - 1.0)
    wet = r > join.r
    return (
        np.where(wet, top - (top - join.a) * left**join.m, a),
        np.where(wet, wet_rate, rate),
    )


def unheated(a: Numbers, p: Constants | Points, iso: Isotherm, theta: Numbers) -> Numbers:
    """The activity r at T_ref of the moisture that shows activity `a` at theta: inverse of `heated`."""
    a = np.asarray(a, dtype=float)
    top = form_named(iso.form).limit(p)
    join = _join(p, iso, theta)
    left = np.minimum(1.0, (top - a) / (top - join.a))
    # The heat lies between none and q0, which brackets r.
    full = a * np.exp(-theta * _heat(iso).q0)
    dry = invert(
        lambda r: _literal(r, p, iso, theta),
        np.minimum(a, join.a),
        np.minimum(join.r, np.minimum(a, full)),
        np.minimum(join.r, np.maximum(a, full)),
    )
    return np.where(a > join.a, top - (top - join.r) * left ** (1.0 / join.m), dry)[()]


def check_heat(iso: Isotherm, theta: Numbers) -> None:
    """Raise `HardtackError` when, at theta, activity would not rise with moisture below the join.

    A heat that decays too steeply warms the dry end so much more than the wet end that two moistures would
    share one activity. Where X is about proportional to a this happens once theta q0 exceeds e, whatever X0;
    where crystals dissolve and much water comes at one activity, sooner.
    """
    heat = _heat(iso)
    form = form_named(iso.form)
    p: Constants | Points = iso.points if iso.form == "table" else iso.parameters
    for extreme in (float(np.min(theta)), float(np.max(theta))):
        if extreme * heat.q0 <= 0 or not np.isfinite(heat.X0):
            continue
        r = _probes(iso.points) if iso.form == "table" else _PROBES * form.limit(p)
        end = _join(p, iso, extreme).r
        r = np.append(r, end)  # the curve may begin to fall between the last probe and the join
        a, rate = _literal(r, p, iso, extreme)
        falls = (rate <= 0) & (r <= end)
        if not np.any(falls):
            continue
        at = int(np.argmax(falls))
        X = iso.scale * float(form.moisture(r[at], p))
        T = 1.0 / (1.0 / iso.reference_temperature - GAS_CONSTANT * extreme)
        raise HardtackError(
            f"{iso.name}: at {T - 273.15:.0f} degC activity would fall as moisture rises "
            f"(near {X:.3g} kg/kg dry, activity {float(a[at]):.2f}): the isosteric heat decays too steeply",
            f"lower q0 = {heat.q0 / 1000:g} kJ/mol (net heats published for cereals reach 30), or change X0",
        )


def rising_heat(points: Points, X0: float, theta: float) -> float:
    """The largest q0 [J/mol] that with this X0 keeps a table's activity rising with moisture up to theta.

    From d ln r/dX >= theta q0/X0 exp(-X/X0) at every point below the join.
    """
    r = _probes(points)
    form = form_named("table")
    X, rise = form.moisture(r, points), form.slope(r, points)
    return float(np.min(X0 * np.exp(X / X0) / (theta * r * rise)))


@lru_cache(maxsize=64)
def _probes(points: Points) -> Floats:
    """Activities that miss no corner of a table's curve: its points and five places between any two."""
    knots = np.array([0.0, *(a for a, _ in points if a > 0.0)])
    between = knots[:-1, None] + np.diff(knots)[:, None] * np.array([0.0, 0.15, 0.35, 0.5, 0.65, 0.85])
    r = np.append(between.ravel()[1:], knots[-1])
    return np.asarray(r[r <= WET_JOIN])


def _literal(r: Numbers, p: Constants | Points, iso: Isotherm, theta: Numbers) -> tuple[Floats, Floats]:
    """Clausius-Clapeyron as it stands: activity at theta and its derivative by r."""
    heat = _heat(iso)
    form = form_named(iso.form)
    with np.errstate(invalid="ignore"):
        stretch = np.where(np.asarray(r) > 0, r * form.slope(r, p), 0.0)
    exponent = theta * heat.q0 * np.exp(-form.moisture(r, p) / heat.X0)
    factor = np.exp(exponent)
    return np.asarray(r * factor), np.asarray(factor * (1.0 - exponent / heat.X0 * stretch))


def _join(p: Constants | Points, iso: Isotherm, theta: Numbers) -> _Join:
    """The place where the warmer activity is WET_JOIN of the top, from below.

    Starting with the undecayed heat, each round gives the decayed heat a moisture that is still too low, so
    the place creeps up and never passes the true one: any round is a valid join.
    """
    heat = _heat(iso)
    form = form_named(iso.form)
    top = form.limit(p)
    end = WET_JOIN * top
    r = end * np.exp(-np.maximum(theta * heat.q0, 0.0))
    for _ in range(_JOIN_ROUNDS if np.isfinite(heat.X0) else 0):
        warmed = theta * heat.q0 * np.exp(-form.moisture(r, p) / heat.X0)
        r = end * np.exp(-np.maximum(warmed, 0.0))
    a, rate = _literal(r, p, iso, theta)
    return _Join(r, a, rate, rate * (top - r) / (top - a))


def _heat(iso: Isotherm) -> IsostericHeat:
    if iso.heat is None:
        raise HardtackError(
            f"{iso.name} carries no isosteric heat", "give q0 and X0 to move it in temperature"
        )
    return iso.heat
