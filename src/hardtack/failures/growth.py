"""How fast an organism grows: the cardinal model, one factor for each condition.

gamma = CM2(T) CM2(a) CM1(pH) gamma_acid gamma_CO2, from 0 (none) to 1 (the optimum of everything). CM_n is
the cardinal function of Rosso et al. (1993), J. Theor. Biol. 162:447 (n = 2 with inflection for temperature
and activity) and (1995), Appl. Environ. Microbiol. 61:610 (n = 1 for pH). Factors multiply, without
interaction: where several conditions are hard at once the true growth is slower than this.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.preservatives import Acid, undissociated_share
from hardtack.reference import lookup
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import celsius


@dataclass(frozen=True, slots=True)
class Organism:
    """Cardinals: temperatures [K], activities, pH; and at the optimum the lag [s] and radial growth [m/s]
    (None for what makes no colony)."""

    name: str
    T: tuple[float, float, float]
    a: tuple[float, float]
    pH: tuple[float, float, float]  # noqa: N815 -- the symbol is spelled so
    lag_opt: float | None
    radial_opt: float | None
    provenance: Provenance
    source: str


@dataclass(frozen=True, slots=True)
class Setting:
    """What stays the same while it grows: pH, preservatives as free acid, share of carbon dioxide."""

    pH: float | None = None  # noqa: N815
    acids: tuple[Acid, ...] = ()
    carbon_dioxide: float = 0.0


PLAIN = Setting()
"""Neutral, in air, nothing added."""


def organism(name: str) -> Organism:
    """The organism of that name from the shelf. Raises `NotOnShelf`."""
    row = lookup("growth cardinals", name)
    held = row.values
    return Organism(
        name=row.name,
        T=(row["T_min"], row["T_opt"], row["T_max"]),
        a=(row["a_min"], row["a_opt"]),
        pH=(row["pH_min"], row["pH_opt"], row["pH_max"]),
        lag_opt=held["lag_opt"].value if "lag_opt" in held else None,
        radial_opt=held["radial_opt"].value if "radial_opt" in held else None,
        provenance=row.provenance,
        source=row.source.citation,
    )


def cardinal(x: Floats | float, low: float, best: float, high: float, n: int) -> Floats:
    """CM_n(x): 0 at and outside `low` and `high`, 1 at `best`. For n = 2 `best` must lie above the middle."""
    if not low < best < high or (n == 2 and best <= (low + high) / 2):
        raise HardtackError(
            f"cardinal values {low:g}, {best:g}, {high:g}",
            "they must rise, and for temperature and activity the best lies in the upper half",
        )
    x = np.asarray(x, dtype=np.float64)
    inside = (x > low) & (x < high)
    y = np.where(inside, x, best)
    top = (y - high) * (y - low) ** n
    bottom = (best - low) ** (n - 1) * (
        (best - low) * (y - best) - (best - high) * ((n - 1) * best + low - n * y)
    )
    return np.where(inside, top / bottom, 0.0)


def carbon_dioxide_factor(share: float) -> float:
    """Factor on mould-free life by the share of carbon dioxide in the headspace: 2^(share / 0.7).

    The lag doubled from 0 to 70 % on a sponge-cake analogue at 25 degC, activity 0.85 (Guynot et al. 2003, J.
    Food Prot. 66:1864). Above 70 % it is held at 2: more is gained there, but how much is not known well
    enough. Raises `HardtackError` outside 0..1.
    """
    if not 0.0 <= share <= 1.0:
        raise HardtackError(f"a share of carbon dioxide of {share:g}", "it lies between 0 and 1")
    row = lookup("carbon dioxide effect", "70 % carbon dioxide, sponge cake")
    return float(row["factor"] ** (min(share, row["carbon_dioxide"]) / row["carbon_dioxide"]))


def growth_factor(kind: Organism, a: Floats | float, T: Floats | float, setting: Setting) -> Floats:
    """gamma of the organism at activity `a` and T [K] in this setting.

    Above its best activity an organism is taken at its best: others that like it wetter are there too.
    Raises `HardtackError` when a preservative is given without a pH.
    """
    gamma = cardinal(T, *kind.T, n=2) * cardinal(np.minimum(a, kind.a[1]), *kind.a, 1.0, n=2)
    if setting.pH is not None:
        gamma = gamma * cardinal(setting.pH, *kind.pH, n=1)
    for acid in setting.acids:
        if setting.pH is None:
            raise HardtackError(
                f"{acid.name} without the pH of the product",
                "measure the pH: only the undissociated acid works",
            )
        gamma = gamma * max(0.0, 1.0 - acid.dose * undissociated_share(setting.pH, acid.pKa) / acid.MIC)
    return np.asarray(gamma / carbon_dioxide_factor(setting.carbon_dioxide))


@dataclass(frozen=True, slots=True)
class Watched:
    """Growth of one organism noticed after `life` [s] at constant activity `a` and T [K], in the setting `there`."""

    kind: Organism
    life: float
    a: float
    T: float
    there: Setting


def carried(day: Watched, setting: Setting) -> Callable[[Floats, Floats], Floats]:
    """The watched day carried to other activities and temperatures [K] in this setting, as a rate [1/s].

    That is growth factor here over growth factor there, over the life watched. Raises `HardtackError` when the
    organism could not have grown where it was watched.
    """
    gamma_there = float(growth_factor(day.kind, day.a, day.T, day.there))
    if not (gamma_there > 0.0 and day.life > 0.0):
        raise HardtackError(
            f"{day.kind.name} does not grow at activity {day.a:g} and {celsius(day.T):.0f} °C in that setting",
            "name the organism that was seen, or check activity, temperature, pH and preservative of the measured day",
        )
    return lambda a, T: growth_factor(day.kind, a, T, setting) / (gamma_there * day.life)
