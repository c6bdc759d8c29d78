"""Starch and walls while baking: how much is gelatinised, and how far the structure has set.

Both only go forward. Sugar and salt in the water phase raise their temperatures; short water widens gelatinisation and
delays setting. The laws and their sources stand in the topics 'gelatinisation' and 'setting'.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.reference import lookup, rows
from hardtack.states import Floats
from hardtack.water.air import GAS_CONSTANT
from hardtack.water.composition import Composition

MOST_SUGAR = 0.6
"""Share of sugar in the water phase up to which the rise is reckoned: beyond it the law was not seen."""


@dataclass(frozen=True, slots=True)
class Solids:
    """What counts for starch, per kg of dry matter [kg/kg]."""

    starch: float
    sugar: float
    salt: float


def solids_of(composition: Composition) -> Solids:
    """Starch, sugars with polyols, and salts of a dry matter."""
    dry = composition.dry_mass
    sugar = sum(composition.sugars.values()) + sum(composition.polyols.values())
    return Solids(composition.starch / dry, sugar / dry, sum(composition.salts.values()) / dry)


def solute_rise(solids: Solids, X: Floats) -> Floats:
    """By how much [K] sugar and salt raise gelatinisation and setting, at moisture X [kg/kg dry].

    Linear in the share of each in the water phase (water with that solute), with a second slope beyond its turn.
    """
    rise = np.zeros_like(X)
    for name, mass, most in (("sugar", solids.sugar, MOST_SUGAR), ("salt", solids.salt, 1.0)):
        if mass <= 0.0:
            continue
        row = lookup("gelatinisation", name)
        share = np.minimum(mass / (mass + X), most)
        low, high, turn = 100.0 * row["low"], 100.0 * row["high"], row["turn"]
        rise = rise + low * np.minimum(share, turn) + high * np.maximum(share - turn, 0.0)
    return rise


def beyond_bread(solids: Solids, X: Floats) -> Floats:
    """The rise [K] by sugar and salt less that of the bread dough in which opening was seen."""
    salted = lookup("setting", "bread dough")["salted"]
    return solute_rise(solids, X) - float(solute_rise(Solids(0.0, 0.0, salted), np.array([1.0 - salted]))[0])


def span(water: Floats) -> tuple[Floats, Floats]:
    """Temperatures [K] at which gelatinisation begins and is complete, at `water` [kg per kg of starch]; no sugar, no salt.

    Straight between the rows of the shelf, level outside them.
    """
    points = sorted(
        (row["water"], row["onset"], row["end"]) for row in rows("gelatinisation") if row.form == "end"
    )
    w, onsets, ends = np.array(points).T
    return np.asarray(np.interp(water, w, onsets)), np.asarray(np.interp(water, w, ends))


def gelatinised(solids: Solids, times: Floats, T: Floats, X: Floats) -> Floats:
    """Share of starch gelatinised [k, n] over a course of temperature [K] and moisture [kg/kg dry], both [k, n].

    d(alpha)/dt = k(T') (alpha_end - alpha), k = A exp(-E/RT'), T' = T less the rise by solutes, alpha_end straight
    from 0 at the onset to 1 at the end temperature. Exact for temperatures constant between two times.
    """
    rate = lookup("gelatinisation", "rate")
    middle_T, middle_X = (T[1:] + T[:-1]) / 2, (X[1:] + X[:-1]) / 2
    plain = middle_T - solute_rise(solids, middle_X)
    if solids.starch <= 0.0:
        return np.zeros_like(T)
    onset, top = span(middle_X / solids.starch)
    reach = np.clip((plain - onset) / (top - onset), 0.0, 1.0)
    passed = -np.expm1(-rate["A"] * np.exp(-rate["E"] / (GAS_CONSTANT * plain)) * np.diff(times)[:, None])
    alpha = np.zeros_like(T)
    for k in range(passed.shape[0]):
        alpha[k + 1] = alpha[k] + np.maximum(reach[k] - alpha[k], 0.0) * passed[k]
    return alpha


def setting(solids: Solids, T: Floats, X: Floats) -> Floats:
    """How far the walls have set, 0..1 [k, n], over a course of temperature [K] and moisture [kg/kg dry].

    Straight from where setting begins to where all expansion ends, both raised by sugar, salt and dryness; never back.
    """
    dough, dry = lookup("setting", "dough"), lookup("setting", "dry")
    late = dry["dry_rise"] * np.clip(1.0 - X / dry["moist"], 0.0, 1.0)
    plain = T - solute_rise(solids, X) - late
    reach = np.clip((plain - dough["begins"]) / (dough["ends"] - dough["begins"]), 0.0, 1.0)
    return np.asarray(np.maximum.accumulate(reach, axis=0))


def opening(solids: Solids, T: Floats, X: Floats) -> Floats:
    """How far the pores have opened, so that gas escapes instead of lifting, 0..1 [k, n]; never back.

    Straight between the two temperatures of the shelf, raised by sugar and salt as setting is.
    """
    opens, open_at = opening_span(solids, X)
    return np.asarray(np.maximum.accumulate(np.clip((T - opens) / (open_at - opens), 0.0, 1.0), axis=0))


def opening_span(solids: Solids, X: Floats) -> tuple[Floats, Floats]:
    """Temperatures [K] between which pores open at moisture X [kg/kg dry]."""
    row, rise = lookup("setting", "opening"), beyond_bread(solids, X)
    return row["opens"] + rise, row["open"] + rise
