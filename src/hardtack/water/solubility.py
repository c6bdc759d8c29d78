"""Solubility of sugars, polyols and salts in pure water against temperature."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hardtack.reference import lookup
from hardtack.sourced import Sourced
from hardtack.units import ZERO_CELSIUS, celsius


def solubility(name: str, T: float) -> Sourced:
    """Solubility of `name` in pure water at T [K], kg of anhydrous solute per kg of water.

    Between tabulated temperatures ln S is straight in T (exact at the table's own). Outside them the nearest
    value is held; then the provenance is "assumed" and the source says so. Raises `NotOnShelf`.
    """
    row = lookup("solubilities", name)
    nodes = sorted(
        (float(symbol.removeprefix("S at ").removesuffix(" degC")) + ZERO_CELSIUS, amount)
        for symbol, amount in row.values.items()
    )
    temperatures = np.array([node[0] for node in nodes])
    values = np.array([node[1].value for node in nodes])
    S = float(np.exp(np.interp(T, temperatures, np.log(values))))
    nearest = nodes[int(np.argmin(np.abs(temperatures - T)))][1]
    found = replace(nearest, value=S, sd=None, low=None, high=None, written="")
    if temperatures[0] - 1e-9 <= T <= temperatures[-1] + 1e-9:
        return found
    edge = celsius(float(np.clip(T, temperatures[0], temperatures[-1])))
    return replace(
        found, provenance="assumed", source=f"{found.source}; held at its value at {edge:.4g} degC"
    )
