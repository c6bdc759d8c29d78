"""Mould: a colony is seen on the wettest place.

Three ways, each named by the spec it is given, none of them guessed: the published mould-free lines of cakes;
the cardinal growth model with lag and visible colony; a mould day measured on the product, carried to other
conditions by the growth model. In each the share of life is the integral of dt over the life the day's
conditions would give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.growth import PLAIN, Organism, Setting, Watched, carried, growth_factor, organism
from hardtack.failures.names import MOULD
from hardtack.failures.running import first_time, running_integral, wettest
from hardtack.reference import lookup, rows
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Floats, History
from hardtack.units import DAY, celsius, days

NAME = MOULD
_SIMPSON = np.array([1.0, 4.0, 1.0]) / 6.0
SHARPEN = (
    "mould-free days of 20 packs of this product at the store's temperature, with its water activity and "
    "pH; then again "
    "at one other activity"
)


@dataclass(frozen=True, slots=True)
class MouldFreeLines:
    """The published lines for wrapped cakes without preservative. `layers` that may mould; all when empty."""

    layers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Growth:
    """Growth of one organism of the shelf from spores present at packing, in this `setting`.

    `slower` times the work to a visible colony: few spores, and not at their best, start on real goods.
    """

    organism: str
    setting: Setting = PLAIN
    layers: tuple[str, ...] = ()
    slower: float = 1.0


@dataclass(frozen=True, slots=True)
class MeasuredDay:
    """Mould was first seen after `life` [s] at constant activity `a` and T [K], in the setting `measured_in`.

    `organism` gives the growth factors that carry it to the history's conditions and to `setting`.
    """

    life: float
    a: float
    T: float
    organism: str
    measured_in: Setting = PLAIN
    setting: Setting = PLAIN
    layers: tuple[str, ...] = ()
    provenance: Provenance = "measured here"
    source: str = ""


def course(history: History, spec: MouldFreeLines | Growth | MeasuredDay) -> FailureCourse:
    """The mould course by the way the spec names. Raises `HardtackError` as that way does."""
    if isinstance(spec, MouldFreeLines):
        return by_lines(history, spec)
    if isinstance(spec, Growth):
        return by_growth(history, spec)
    return by_measured_day(history, spec)


def mould_free_life(a: Floats | float, T: Floats | float) -> Floats:
    """Mould-free life [s] of wrapped cake at activity `a` and T [K], by the published lines.

    log10 days = intercept - slope ERH at 21 and 27 degC (Cauvain and Seiler; Adams and Moss), and straight in
    temperature between. Raises `HardtackError` outside activity 0.74-0.90 and 21-27 degC: there is no
    prediction there (bread, at 0.94-0.97, is outside).
    """
    cool, warm = sorted(rows("mould-free lines"), key=lambda row: row["temperature"])
    a, T = np.asarray(a, dtype=np.float64), np.asarray(T, dtype=np.float64)
    low, high = max(cool["a_low"], warm["a_low"]), min(cool["a_high"], warm["a_high"])
    slack = 1e-9
    if not np.all((a >= low - slack) & (a <= high + slack)):
        raise HardtackError(
            f"mould-free lines: water activity {_furthest(a, (low + high) / 2):.3f} is outside the studied "
            "range: "
            "no prediction",
            f"the lines hold from {low:.2f} to {high:.2f}; use the growth model, or a mould day measured on "
            "the product",
        )
    if not np.all((cool["temperature"] - slack <= T) & (warm["temperature"] + slack >= T)):
        raise HardtackError(
            f"mould-free lines: {celsius(_furthest(T, 297.15)):.1f} °C is outside the studied range: no "
            "prediction",
            "the lines hold from 21 to 27 °C; use the growth model, or a mould day measured on the product",
        )
    share = (T - cool["temperature"]) / (warm["temperature"] - cool["temperature"])
    log_days = [row["intercept"] - row["slope"] * 100.0 * a for row in (cool, warm)]
    return np.asarray(DAY * 10.0 ** ((1.0 - share) * log_days[0] + share * log_days[1]))


def by_lines(history: History, spec: MouldFreeLines) -> FailureCourse:
    """Share of life by the mould-free lines on the wettest place, held where it stands once mould is seen.

    Raises as `mould_free_life` when the lines' range is left before that.
    """
    a, layer = wettest(history, spec.layers)
    share = np.zeros_like(a)
    for n in range(1, a.size):
        if share[n - 1] >= 1.0:
            share[n:] = share[n - 1]
            break
        T = history.temperature[n]
        pace = 1.0 / mould_free_life(np.array([a[n - 1], (a[n - 1] + a[n]) / 2.0, a[n]]), T)
        share[n] = share[n - 1] + float(pace @ _SIMPSON) * (history.times[n] - history.times[n - 1])
    row = rows("mould-free lines")[0]
    return _course(
        history,
        layer,
        share,
        limit=f"first mould on {layer}, by the mould-free lines of cakes",
        valid="wrapped cakes, activity 0.74-0.90, 21-27 °C, no preservative, air; ordinary bakery hygiene",
        source=f"{row.source.citation}; {rows('mould-free lines')[1].source.citation}",
        provenance=row.provenance,
    )


def work_to_visible(kind: Organism) -> float:
    """Lag and growth to a visible colony, counted at the optimum [s]. Raises `HardtackError` for no colony
    former."""
    if kind.lag_opt is None or kind.radial_opt is None:
        raise HardtackError(
            f"{kind.name} makes no mould colony",
            "name a mould of the shelf's growth cardinals, or use the yeast course",
        )
    return kind.lag_opt + lookup("growth cardinals", "visible colony")["radius"] / kind.radial_opt


def middle_of_the_lines() -> tuple[float, float]:
    """Activity and temperature [K] in the middle of what the mould-free lines cover."""
    cool, warm = sorted(rows("mould-free lines"), key=lambda row: row["temperature"])
    low, high = max(cool["a_low"], warm["a_low"]), min(cool["a_high"], warm["a_high"])
    return (low + high) / 2.0, (cool["temperature"] + warm["temperature"]) / 2.0


def slower_on_goods() -> float:
    """How much longer mould takes on wrapped cakes than by the growth model from spores on agar.

    The published lines over the model, for the mould that is fastest there, in the middle of what the lines cover:
    it sets the model's scale by goods instead of agar.
    """
    a, T = middle_of_the_lines()
    moulds = [organism(row.name) for row in rows("growth cardinals") if "radial_opt" in row.values]
    fastest = max(float(growth_factor(kind, a, T, PLAIN)) / work_to_visible(kind) for kind in moulds)
    return float(mould_free_life(a, T)) * fastest


def by_growth(history: History, spec: Growth) -> FailureCourse:
    """Share of life by the cardinal model: the integral of gamma over the work to a visible colony.

    Lag rule: lag and growth are one work, done at the rate gamma; a cold or dry stretch delays both alike.
    """
    kind = organism(spec.organism)
    work = spec.slower * work_to_visible(kind)
    a, layer = wettest(history, spec.layers)
    share = running_integral(history, a, lambda a, T: growth_factor(kind, a, T, spec.setting) / work)
    return _course(
        history,
        layer,
        share,
        limit=f"a colony of {kind.name} seen on {layer} (lag, then 3 mm across)",
        valid=(
            "spores present when packed; one scale for all goods, so good to a factor of two or three: compare designs "
            "with it, and set dates by a measured day"
        ),
        source=kind.source,
        provenance=kind.provenance,
        told=_dry(a, kind),
    )


def by_measured_day(history: History, spec: MeasuredDay) -> FailureCourse:
    """Share of life by a measured mould day: dt / life, times gamma here over gamma where it was measured.

    Raises `HardtackError` when the organism could not have grown where the day was measured.
    """
    kind = organism(spec.organism)
    pace = carried(Watched(kind, spec.life, spec.a, spec.T, spec.measured_in), spec.setting)
    a, layer = wettest(history, spec.layers)
    share = running_integral(history, a, pace)
    return _course(
        history,
        layer,
        share,
        limit=(
            f"first mould on {layer}, from {days(spec.life):.3g} days measured at activity {spec.a:.2f} and "
            f"{celsius(spec.T):.0f} °C"
        ),
        valid=f"while {kind.name} or its like is what moulds; surest near the conditions that were measured",
        source=spec.source,
        provenance=spec.provenance,
        told=_dry(a, kind),
    )


def _dry(a: Floats, kind: Organism) -> tuple[str, ...]:
    if a.max() > kind.a[0]:
        return ()
    return (
        f"{kind.name} does not grow below activity {kind.a[0]:.2f}; others may, down to about 0.61. Growth "
        "is stopped by "
        "dryness; organisms may still be alive",
    )


def _furthest(values: Floats, middle: float) -> float:
    flat = np.atleast_1d(values)
    return float(flat[np.argmax(np.abs(flat - middle))])


def _course(
    history: History,
    layer: str,
    share: Floats,
    limit: str,
    valid: str,
    source: str,
    provenance: Provenance,
    told: tuple[str, ...] = (),
) -> FailureCourse:
    return FailureCourse(
        name=NAME,
        layer=layer,
        share=share,
        time=first_time(history.times, share),
        limit=limit,
        meaning=f"mould is seen on the {layer}. Mouldy goods are thrown away: some moulds make poisons",
        valid=valid,
        source=source,
        provenance=provenance,
        sharpen=SHARPEN,
        told=told,
    )
