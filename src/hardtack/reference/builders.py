"""Rows of the shelf as the types the rest of the program computes with."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import cast

from hardtack.reference.shelf import Row, lookup, on_shelf, rows
from hardtack.sourced import Sourced
from hardtack.states import Barrier, Branch, Diffusivity, IsostericHeat, Isotherm

_NOT_CONSTANTS = frozenset(("temperature", "a_low", "a_high"))


def isotherm(name: str) -> Isotherm:
    """The isotherm of a product or ingredient, with its range, branch and net isosteric heat.

    Raises `NotOnShelf` when the shelf holds none by that name.
    """
    row = lookup("isotherms", name)
    points = tuple(
        (float(symbol.removeprefix("X at ")), amount.value)
        for symbol, amount in row.values.items()
        if symbol.startswith("X at ")
    )
    constants = {
        symbol: amount.value
        for symbol, amount in row.values.items()
        if symbol not in _NOT_CONSTANTS and not symbol.startswith("X at ")
    }
    branch = "desorption" if "desorption" in row.conditions else "adsorption"
    return Isotherm(
        name=row.name,
        form=row.form,
        parameters=MappingProxyType(constants),
        points=points,
        reference_temperature=row["temperature"],
        heat=isosteric_heat(row.see),
        activity_range=(row["a_low"], row["a_high"]),
        branch=cast(Branch, branch),
        provenance=row.provenance,
        source=row.source.citation,
    )


def isosteric_heat(name: str = "default") -> IsostericHeat:
    """The net isosteric heat law q0 exp(-X/X0) of that name [J/mol, kg/kg dry]."""
    row = lookup("isosteric heats", name)
    return IsostericHeat(q0=row["q0"], X0=row["X0"])


def diffusivity(name: str) -> Diffusivity:
    """The moisture diffusivity law of a material: D_ref [m2/s], slope, X_ref, T_ref [K], E [J/mol]."""
    row = lookup("diffusivities", name)
    return Diffusivity(
        D_ref=row["D_ref"],
        slope=row["slope"],
        X_ref=row["X_ref"],
        T_ref=row["T_ref"],
        E=row["E"],
    )


def barrier(name: str, thickness: float) -> Barrier:
    """A barrier of that material and `thickness` [m]: permeance = permeability / thickness."""
    row = lookup("barriers", name)
    return Barrier(
        name=row.name,
        thickness=thickness,
        permeance=row["permeability"] / thickness,
        T_ref=row["T_ref"],
        E=row["E"],
    )


def film(name: str) -> Row:
    """A packaging film as tested, completed by the activation energy `E` of its temperature law.

    Its values are `transmission` [kg/m2/s] at `temperature` [K] between `humidity_wet` and `humidity_dry`,
    the `thickness` [m] where known, and `E` [J/mol] of permeance.
    """
    row = lookup("films", name)
    law = lookup("film temperature law", row.see)
    return replace(row, values=MappingProxyType({**row.values, "E": law.values["E"]}))


def whole_pack_factor(name: str = "default") -> Sourced:
    """The factor from film-area prediction to whole pack (seals, folds) for a way of packing."""
    return lookup("whole pack factors", name).values["factor"]


def film_coefficient(name: str = "still air") -> Sourced:
    """The outside mass-transfer coefficient [m/s] of an unpacked piece in that kind of air."""
    return lookup("external coefficients", name).values["k"]


def film_humidity_law(name: str) -> Row | None:
    """How a film's permeance rises in damp air, by the film's name: `factor at A` for mean activities A; None when
    the shelf knows of no rise."""
    return on_shelf("film humidity law", name)


def reclosing(name: str = "default") -> Row:
    """A pack in use: `factor` of a way of closing it again, or `air_changes` [1/s] while it stands open."""
    return lookup("reclosing", name)


def place(name: str) -> Row:
    """A place's year: `T1`..`T12` [K], `RH1`..`RH12`, `swing` [K] and `humidity_swing` of the day."""
    return lookup("places", name)


def climate(name: str) -> tuple[Sourced, Sourced]:
    """Temperature [K] and relative humidity of a named climate."""
    row = lookup("climates", name)
    return row.values["temperature"], row.values["humidity"]


def crispness_limit(name: str) -> Row:
    """The crispness limit of a product: `limit` [activity] at `temperature` [K]; `a50` and `b` where known.

    `see` names the isotherm that belongs to it.
    """
    return lookup("crispness limits", name)


def growth_limits() -> tuple[Row, ...]:
    """The lowest activities reported for growth, `a_min`, by organism and group, the most tolerant first."""
    return tuple(sorted(rows("growth limits"), key=lambda row: row["a_min"]))
