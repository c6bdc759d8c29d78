"""What an unsure number is, and all of them together: laws by place, ties among them, values from standard normals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hardtack.keeping.inputs import Path
from hardtack.keeping.laws import Law
from hardtack.reference import lookup
from hardtack.sourced import Provenance, Sourced, Spread
from hardtack.states import Floats

Acts = Literal[
    "moisture", "activity", "permeance", "energy", "isotherm", "diffusivity", "barrier", "limit", "mass",
    "temperature", "humidity", "pace", "number",
]  # fmt: skip
"""What a number acts on. Of moisture, permeance, isotherm, diffusivity, barrier, mass and pace the law is of a factor;
of energy, temperature, humidity, activity and a limit stated as activity of a shift; of an isotherm from a formula of a
standard normal; of any other number of the file the number itself."""
SHELF = "input spreads"
FROM_PACK_TO_PACK: tuple[str, ...] = ("moisture", "activity", "mass", "whole-pack factor")
"""What differs from pack to pack, of the spreads a file states, unless it says otherwise."""


@dataclass(frozen=True, slots=True)
class Unsure:
    """One number that is unsure: what it acts on, of which layers, legs or failures (`of`), and its law.

    `name` says it in words, `told` how far it spreads, `why` where that comes from. `path` is its place in the file
    when it acts as a plain number of it. `measured_by` names the form of the measurements that would narrow it.
    """

    name: str
    acts: Acts
    of: tuple[str, ...]
    law: Law
    spread: Spread
    told: str
    why: str
    path: Path | None = None
    measured_by: str = "number"


@dataclass(frozen=True, slots=True)
class Ties:
    """Numbers whose errors hang together: their places in the list, and the lower Cholesky factor of the correlations."""

    places: tuple[int, ...]
    lower: Floats


@dataclass(frozen=True, slots=True)
class Doubt:
    """All that is unsure of a product. Numbers tied to one another count as one in shares of the variance."""

    listed: tuple[Unsure, ...]
    ties: tuple[Ties, ...] = ()

    @property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Places in the list that belong together, every number once, in order."""
        tied = {place: ties.places for ties in self.ties for place in ties.places}
        found = [tied.get(place, (place,)) for place in range(len(self.listed))]
        return tuple(dict.fromkeys(found))

    def values(self, z: Floats) -> Floats:
        """Values of the listed numbers [samples, numbers] at independent standard normals z."""
        tied = np.array(z, dtype=np.float64)
        for ties in self.ties:
            tied[:, ties.places] = z[:, ties.places] @ ties.lower.T
        columns = [one.law.at(tied[:, k]) for k, one in enumerate(self.listed)]
        return np.stack(columns, axis=1) if columns else np.zeros((z.shape[0], 0))

    def narrowed(self, laws: dict[int, Law]) -> Doubt:
        """The doubt with some laws replaced, by their places."""
        listed = tuple(replace(one, law=laws.get(k, one.law)) for k, one in enumerate(self.listed))
        return replace(self, listed=listed)


def told_of(law: Law, unit: str = "") -> str:
    """How far a law spreads, in words."""
    if unit == "%":
        return f"± {100 * law.spread:.2g} %"
    if unit:
        return f"± {law.spread:.2g} {unit}"
    return f"± {100 * law.relative:.2g} %"


def known(provenance: Provenance, what: str) -> float:
    """How far a number may be off by how it is known, off the shelf."""
    return lookup(SHELF, provenance)[what]


def by_shelf(provenance: Provenance) -> str:
    """Where such a spread comes from, in words."""
    return f"{provenance}, by the shelf"


def from_line(what: str) -> float:
    """How far packs and lots of one line differ, off the shelf."""
    return lookup("pack spreads", "one line")[what]


def spread_of(amount: Sourced, key: str) -> Spread:
    """What a stated spread is: as the file says, else by the kind of number."""
    return amount.spread or ("pack to pack" if key in FROM_PACK_TO_PACK else "not known")


def listed_names(names: Sequence[str]) -> str:
    """Names as one says them."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
