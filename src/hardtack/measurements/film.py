"""Films and packs by weighing: a cup under the film, or whole pouches in a climate, to permeance.

The gravimetric method (ASTM E96, ISO 2528): mass against time, its steady part, the rate over area gives the
transmission rate; that over the difference of vapour pressure the permeance. Both belong to the test's
temperature and humidities.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE
from hardtack.measurements.steady import Steady, steady_part
from hardtack.measurements.table import SetAside, Table
from hardtack.sourced import Provenance
from hardtack.states import Film, Floats
from hardtack.units import DAY, celsius
from hardtack.water.air import saturation_pressure

ODD_ONE = 3.5
"""A pouch whose rate lies this many robust deviations from the median is pointed out (Iglewicz and Hoaglin 1993,
How to Detect and Handle Outliers)."""
_MAD = 1.4826
"""From median absolute deviation to standard deviation of a normal sample."""


@dataclass(frozen=True, slots=True)
class TestClimate:
    """The test: `temperature` [K], humidity on both sides (fractions)."""

    __test__ = False  # no test case, though its name begins like one

    temperature: float
    outside: float
    inside: float

    @property
    def pressure_difference(self) -> float:
        """Difference of vapour pressure between the sides [Pa]."""
        return float(saturation_pressure(self.temperature)) * abs(self.outside - self.inside)

    def __str__(self) -> str:
        return f"{celsius(self.temperature):.1f} °C, {self.outside:.0%} outside, {self.inside:.0%} inside"


@dataclass(frozen=True, slots=True, eq=False)
class FilmResult:
    """Permeance [kg/m2/s/Pa] with its standard deviation and 90 % interval, at the test's climate.

    `rate` [kg/m2/s] is the transmission rate there. `series` holds the steady part of every cup or pouch,
    `odd` the names of those far from the others: they are shown, and still in the mean.
    """

    permeance: float
    sd: float
    low: float
    high: float
    rate: float
    climate: TestClimate
    series: Mapping[str, Steady]
    odd: tuple[str, ...]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"

    def film(self, name: str) -> Film:
        """The film for a pack; permeance at other temperatures needs the film's own temperature law."""
        return Film(name, self.permeance, self.climate.temperature)


def weighings(table: Table) -> tuple[dict[str, tuple[Floats, Floats]], tuple[SetAside, ...]]:
    """Times [s] and masses [kg] of each sample in a table with time, mass and (for several) sample.

    A table with one row a sample and a column for every day counts as well. Raises `HardtackError` when
    columns lack.
    """
    if any(column.at is not None and column.meaning == "mass" for column in table.understood):
        return _wide(table)
    table.need("time", "mass")
    found: dict[str, list[tuple[float, float]]] = {}
    aside = []
    for row in table.rows:
        t, m = row.values.get("time"), row.values.get("mass")
        if isinstance(t, float) and isinstance(m, float):
            found.setdefault(str(row.values.get("sample", "all")), []).append((t, m))
        else:
            aside.append(SetAside(table.file, row.number, "mass", "", "no time or no mass in this row"))
    return _sorted(found), tuple(aside)


def _wide(table: Table) -> tuple[dict[str, tuple[Floats, Floats]], tuple[SetAside, ...]]:
    days = [(c.key, c.at) for c in table.understood if c.meaning == "mass" and c.at is not None]
    found = {
        str(row.values.get("sample", f"row {row.number}")): [
            (at, value) for key, at in days if isinstance(value := row.values.get(key), float)
        ]
        for row in table.rows
    }
    return _sorted(found), ()


def _sorted(found: Mapping[str, Sequence[tuple[float, float]]]) -> dict[str, tuple[Floats, Floats]]:
    series = {}
    for name, pairs in found.items():
        t, m = np.array(sorted(pairs)).T if pairs else (np.zeros(0), np.zeros(0))
        series[name] = (t, m)
    return series


def film_permeance(
    series: Mapping[str, tuple[Floats, Floats]], area: float, climate: TestClimate
) -> FilmResult:
    """Permeance from cups or pouches of equal `area` [m2]: times [s] and masses [kg] by name.

    For pouches the area is the whole film and the result holds seals and folds: over that of the flat film it
    is the whole-pack factor. One series carries the error of its line; several that of their scatter. Raises
    `HardtackError` when nothing is steady or the two sides are equally humid.
    """
    drive = climate.pressure_difference
    if not (area > 0 and drive > 0):
        raise HardtackError(
            "no permeance without area and difference of humidity", "state both sides of the test"
        )
    found: dict[str, Steady] = {}
    told = []
    for name, (t, m) in series.items():
        try:
            found[name] = steady_part(t, m)
        except HardtackError as error:
            told.append(f"{name}: left out, {error.problems[0].what}.")
            continue
        told.append(f"{name}: {found[name].told(t)}" if len(series) > 1 else found[name].told(t))
    if not found:
        raise HardtackError("no series has a steady part", "; ".join(told) or "give weighings")
    rates = np.array([abs(steady.rate) for steady in found.values()])
    mean, sd, dof = _mean(rates, list(found.values()))
    odd = _odd(rates, list(found))
    told += _sentences(found, rates, mean, sd, area, climate, odd)
    width = _t(dof) * sd
    scale = 1.0 / (area * drive)
    return FilmResult(
        mean * scale, sd * scale, (mean - width) * scale, (mean + width) * scale, mean / area, climate, found, odd,
        tuple(told),
    )  # fmt: skip


def _mean(rates: Floats, steadies: list[Steady]) -> tuple[float, float, int]:
    if rates.size == 1:
        return float(rates[0]), steadies[0].rate_sd, steadies[0].dof
    return float(rates.mean()), float(rates.std(ddof=1) / np.sqrt(rates.size)), rates.size - 1


def _t(dof: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.5 + CONFIDENCE / 2))


def _odd(rates: Floats, names: list[str]) -> tuple[str, ...]:
    if rates.size < 5:
        return ()
    middle = float(np.median(rates))
    width = _MAD * float(np.median(np.abs(rates - middle)))
    return tuple(
        name for name, rate in zip(names, rates, strict=True) if abs(rate - middle) > ODD_ONE * width > 0
    )


def _sentences(
    found: Mapping[str, Steady],
    rates: Floats,
    mean: float,
    sd: float,
    area: float,
    climate: TestClimate,
    odd: tuple[str, ...],
) -> list[str]:
    daily = mean / area * DAY * 1e3
    spread = sd / area * DAY * 1e3
    permeance = daily / climate.pressure_difference * 1e3
    said = [
        f"Transmission rate {daily:.3g} ± {spread:.1g} g/m2/day at {climate}; "
        f"permeance {permeance:.3g} g/m2/day/kPa at {celsius(climate.temperature):.1f} °C."
    ]
    said.append(
        "At other temperatures and humidities the film's own laws carry it, measured or of the shelf: an extrapolation."
    )
    if rates.size > 1:
        said.append(
            f"{rates.size} series: from {rates.min() / mean:.2f} to {rates.max() / mean:.2f} of their mean; the error "
            "is that of the mean, the scatter from pack to pack is larger."
        )
    signs = {steady.rate > 0 for steady in found.values()}
    if len(signs) > 1:
        said.append("Some series gain and others lose mass: look at the balance, the fill and the climate.")
    said += [f"{name} stands apart (a leak, an open seal?); it is still in the mean." for name in odd]
    return said
