"""What the evidence cases can ask of the failures: small questions with one number for an answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from hardtack.evidence.predict import Predictor
from hardtack.failures import firming
from hardtack.failures.growth import PLAIN, carbon_dioxide_factor, growth_factor, organism
from hardtack.failures.mould import mould_free_life, work_to_visible
from hardtack.failures.preservatives import undissociated_share
from hardtack.reference import lookup
from hardtack.units import DAY, ZERO_CELSIUS


def mould_free_days(a: float, T: float) -> float:
    """Mould-free life [days] by the published lines at activity `a` and T."""
    return float(mould_free_life(a, T)) / DAY


def carried_day(life: float, a: float, T: float, to_a: float, to_T: float, mould: str) -> float:
    """A mould day measured at `a`, T [K], carried to other conditions by the growth factors of `mould`
    [days]."""
    kind = organism(mould)
    there, here = (float(growth_factor(kind, *at, PLAIN)) for at in ((a, T), (to_a, to_T)))
    return life / DAY * there / here


def visible_day(mould: str, a: float, T: float) -> float:
    """Days to a visible colony from spores on the surface, by the growth model."""
    kind = organism(mould)
    return work_to_visible(kind) / float(growth_factor(kind, a, T, PLAIN)) / DAY


def fastest_temperature(mould: str, tried: Sequence[float], a: float) -> float:
    """The temperature [degC] among those `tried` at which the mould grows fastest at activity `a`."""
    gamma = growth_factor(organism(mould), a, np.array(tried) + ZERO_CELSIUS, PLAIN)
    return float(tried[int(gamma.argmax())])


def fastest_firming(tried: Sequence[float]) -> float:
    """The temperature [degC] among those `tried` at which crumb firms fastest."""
    return float(tried[int(firming.rate_at(np.array(tried) + ZERO_CELSIUS).argmax())])


def least_activity(mould: str) -> float:
    """The activity below which the growth model has no growth."""
    return organism(mould).a[0]


PREDICTORS: Mapping[str, Predictor] = {
    "mould-free days": Predictor(mould_free_days, {"a": "activity", "T": "temperature"}),
    "mould day carried over": Predictor(
        carried_day,
        {"life": "duration", "a": "activity", "T": "temperature", "to_a": "activity", "to_T": "temperature"},
    ),
    "day of a visible colony": Predictor(visible_day, {"a": "activity", "T": "temperature"}),
    "growth factor": Predictor(
        lambda mould, a, T: float(growth_factor(organism(mould), a, T, PLAIN)),
        {"a": "activity", "T": "temperature"},
    ),
    "fastest temperature of growth": Predictor(fastest_temperature, {"a": "activity"}),
    "least activity for growth": Predictor(least_activity, {}),
    "fastest temperature of firming": Predictor(fastest_firming, {}),
    "ratio of firming rates": Predictor(
        lambda T, over: float(firming.rate_at(T)) / float(firming.rate_at(over)),
        {"T": "temperature", "over": "temperature"},
    ),
    "factor per 10 K on rancidity": Predictor(lambda: lookup("rancidity", "bakery goods")["Q10"], {}),
    "carbon dioxide factor": Predictor(carbon_dioxide_factor, {"share": "share"}),
    "undissociated share": Predictor(
        lambda acid, pH: undissociated_share(pH, lookup("preservatives", acid)["pKa"]), {"pH": "pH"}
    ),
    "undissociated share at pKa": Predictor(undissociated_share, {"pH": "pH", "pKa": "number"}),
}
