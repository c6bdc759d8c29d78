"""Honest error bars: the 90 % intervals that are reported hold the truth in 85 to 95 % of 500 simulated laboratories, fit by fit.

A constant's is its profile; that of a curve or of a derived life is the one drawn or told. `profiles=False` only leaves out
profiles that the derived number does not use.

HARDTACK_LABS sets how many laboratories are simulated (500 in the full run, 150 in the ordinary one; with fewer than 500
the count lies within the 99 % band of the binomial). Sixty are too few for nine fits: of the straight fit of the bake, whose
interval is exact, the first 60 of these held 46, the 500 hold 444.
"""

from __future__ import annotations

import os
from collections.abc import Callable

import numpy as np
import pytest

from hardtack.measurements.bake_loss import fit_bake_loss
from hardtack.measurements.crispness import crispness_limit
from hardtack.measurements.film import TestClimate, film_permeance
from hardtack.measurements.firming import avrami, fit_firming
from hardtack.measurements.fit_answer import curve
from hardtack.measurements.fitting import least_squares
from hardtack.measurements.mould import fit_mould
from hardtack.measurements.panel import Interval, panel_acceptance
from hardtack.measurements.rancidity import fit_rancidity, indicator_after
from hardtack.measurements.starts import sought
from hardtack.water.isotherms import form_named

LABS = int(os.environ.get("HARDTACK_LABS", "150"))
DAY = 86400.0
Held = Callable[[np.random.Generator], bool]
"""One laboratory: whether its interval holds the truth."""


def _between(low: float | None, truth: float, high: float | None) -> bool:
    return (low is None or low <= truth) and (high is None or truth <= high)


def isotherm(rng: np.random.Generator) -> bool:
    """The moisture a GAB curve gives at activity 0.45, from eight jars."""
    a = np.array([0.113, 0.225, 0.328, 0.432, 0.529, 0.576, 0.753, 0.843])
    truth = {"Xm": 0.045, "C": 11.0, "K": 0.86}
    X = np.asarray(form_named("gab").moisture(a, truth)) + 0.001 * rng.normal(size=8)
    form = form_named("gab")
    fit = least_squares(
        lambda p: np.asarray(form.moisture(a, p)), X, sought("gab", 0.843), [truth], profiles=False
    )
    at = np.array([0.45])
    drawn = curve(fit, "", at, lambda p: np.asarray(form_named("gab").moisture(at, p)))
    assert drawn.low is not None
    assert drawn.high is not None
    return bool(drawn.low[0] <= form_named("gab").moisture(0.45, truth) <= drawn.high[0])


def monolayer(rng: np.random.Generator) -> bool:
    """The monolayer of the same jars, a constant of the fit with its profile."""
    a = np.array([0.113, 0.225, 0.328, 0.432, 0.529, 0.576, 0.753, 0.843])
    truth = {"Xm": 0.045, "C": 11.0, "K": 0.86}
    form = form_named("gab")
    X = np.asarray(form.moisture(a, truth)) + 0.0005 * rng.normal(size=8)
    fit = least_squares(lambda p: np.asarray(form.moisture(a, p)), X, sought("gab", 0.843), [truth])
    return _between(fit["Xm"].low, 0.045, fit["Xm"].high)


def film(rng: np.random.Generator) -> bool:
    """The permeance from one cup; its steady run is chosen by its straightness."""
    t = np.arange(0, 12) * DAY
    m = 0.1 + 2e-9 * t + 2e-5 * rng.normal(size=t.size)
    result = film_permeance({"cup": (t, m)}, 0.005, TestClimate(311.15, 0.9, 0.0))
    return _between(result.low, 2e-9 / (0.005 * result.climate.pressure_difference), result.high)


def bake(rng: np.random.Generator) -> bool:
    """The rate of loss in the oven."""
    minutes = np.repeat([4.0, 5, 6, 7, 8], 3)
    baked = 10 * (1 - 0.03 * (minutes - 1.5)) + 0.02 * rng.normal(size=15)
    estimate = fit_bake_loss(minutes * 60, np.full(15, 10.0), baked).fit["rate"]
    return _between(estimate.low, 0.03, estimate.high)


def crispness(rng: np.random.Generator) -> bool:
    """The activity at which three tenths of the crispness are gone."""
    a = np.linspace(0.1, 0.85, 16)
    Y = 25 / (1 + np.exp((a - 0.57) / 0.05)) + 1.5 * rng.normal(size=16)
    found = crispness_limit(a, Y, 0.3, profiles=False)
    return _between(found.low, 0.57 + 0.05 * np.log(3 / 7), found.high)


def firming(rng: np.random.Generator) -> bool:
    """The rate of firming, from three temperatures at once."""
    days = np.tile([0.0, 1, 2, 3, 5, 7, 10], 3)
    T = np.repeat([277.15, 294.15, 303.15], 7)
    truth = {"fresh": 5.0, "final": 25.0, "rate": 0.25, "energy": -2.5e4}
    E = avrami(truth, days, T, 294.15) + 0.5 * rng.normal(size=21)
    estimate = fit_firming(days * DAY, E, T).fit["rate"]
    return _between(estimate.low, 0.25, estimate.high)


def rancidity(rng: np.random.Generator) -> bool:
    """Days to a peroxide value of 10 in the store, from three warmer temperatures."""
    days = np.tile([0.0, 7, 14, 28, 42, 56], 3)
    T = np.repeat([303.15, 313.15, 323.15], 6)
    truth = {"start": 1.0, "rate": 0.05, "energy": 8e4}
    y = indicator_after("straight", truth, days, T, 313.15) + 0.15 * rng.normal(size=18)
    life = fit_rancidity(days * DAY, y, T, profiles=False).life(10.0, 293.15)
    rate = 0.05 * np.exp(-8e4 / 8.314462618 * (1 / 293.15 - 1 / 313.15))
    return _between(life.low, 9 / rate, life.high)


def mould(rng: np.random.Generator) -> bool:
    """Mould-free days of cake in the middle of the test; packs without mould on day 40 are censored."""
    a = np.repeat([0.76, 0.80, 0.84, 0.88], 6)
    days = 10 ** (7.91 - 8.1 * a + 0.08 * rng.normal(size=24))
    free = days > 40
    found = fit_mould(a, np.full(24, 294.15), np.minimum(days, 40) * DAY, free, profiles=False).days(
        0.82, 294.15
    )
    return _between(found.low, 10 ** (7.91 - 8.1 * 0.82), found.high)


def panel(rng: np.random.Generator) -> bool:
    """The day on which a quarter of forty people reject."""
    looks = np.array([0, 7, 14, 21, 28, 35, 42.0])
    k = np.searchsorted(looks, 30 * rng.weibull(2.5, size=40))
    seen = [
        Interval(str(n), looks[i - 1] * DAY, (looks[i] if i < looks.size else np.inf) * DAY)
        for n, i in enumerate(k)
    ]
    result = panel_acceptance(seen, (), profiles=False)
    weibull = next(fit for fit in (result.best, result.other) if fit.distribution == "weibull")
    life = weibull.life(0.25)
    return _between(life.low, 30 * (-np.log(0.75)) ** (1 / 2.5), life.high)


@pytest.mark.parametrize(
    "lab", [isotherm, monolayer, film, bake, crispness, firming, rancidity, mould, panel]
)
def test_coverage(lab: Held) -> None:
    from scipy import stats

    rng = np.random.default_rng(20260601)
    held = sum(lab(rng) for _ in range(LABS))
    low, high = (0.85 * LABS, 0.95 * LABS) if LABS >= 500 else stats.binom.interval(0.99, LABS, 0.9)
    assert low <= held <= high, held
