"""What crispness, crust, sogginess and drying out share: a limit of moisture, stated at a temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, Floats, History, Isotherm
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import activity, moisture


@dataclass(frozen=True, slots=True)
class Softening:
    """The falling sigmoid of crispness Y = 1 / (1 + exp((a - midpoint) / steepness)) (the Fermi form used
    for cracker and cookie texture, e.g. Peleg 1994; form as described in Arimi et al. 2010, Food Res. Int.
    43:1650), failing when the share `failing_loss` of the crispness is gone."""

    midpoint: float
    steepness: float
    failing_loss: float

    @property
    def activity_at_failure(self) -> float:
        """a_f = midpoint + steepness ln(f / (1 - f))."""
        return self.midpoint + self.steepness * math.log(self.failing_loss / (1.0 - self.failing_loss))


@dataclass(frozen=True, slots=True)
class TextureLimit:
    """A limit of one layer: activity at `temperature` [K], or moisture [kg/kg], or a sigmoid's loss."""

    layer: str
    temperature: float
    activity: float | None = None
    moisture: float | None = None
    softening: Softening | None = None
    provenance: Provenance = "assumed"
    source: str = ""

    @property
    def activity_at_failure(self) -> float:
        """The activity stated by the limit; NaN when it is stated as moisture."""
        if self.softening is not None:
            return self.softening.activity_at_failure
        return float("nan") if self.activity is None else self.activity

    def activity_for(self, isotherm: Isotherm) -> float:
        """The limit as an activity, whichever way it was stated."""
        if self.moisture is not None:
            return float(activity(isotherm, self.moisture, self.temperature))
        return self.activity_at_failure

    def crossing(self, history: History, X_limit: float) -> float | None:
        """When the watched layer reached the limit [s], or None."""
        for crossing in history.crossings:
            if crossing.layer == self.layer and abs(crossing.moisture - X_limit) <= 1e-12 * max(1.0, X_limit):
                return crossing.time
        raise LookupError(f"the history did not watch {self.layer} at {X_limit}")


def rising_share(X: Floats, X_limit: float) -> Floats:
    """Share of the way from the fresh moisture up (or down) to the limit; 1 and above is failed."""
    way = X_limit - X[0]
    return np.maximum(0.0, (X - X[0]) / way) if abs(way) > 1e-15 else np.ones_like(X)


def limit_moisture(limit: TextureLimit, isotherm: Isotherm) -> float:
    """The moisture [kg/kg] that the limit means, through the isotherm at the limit's temperature."""
    if limit.moisture is not None:
        return limit.moisture
    return float(moisture(isotherm, limit.activity_at_failure, limit.temperature))


@dataclass(frozen=True, slots=True)
class Words:
    """What one texture failure says of itself: name, meaning, when it holds, what would sharpen it."""

    name: str
    meaning: str
    valid: str
    sharpen: str


def crispness_left(softening: Softening, a: Floats) -> Floats:
    """Share of the dry crispness left at activity a (judged at the limit's temperature)."""
    return np.asarray(1.0 / (1.0 + np.exp((np.asarray(a) - softening.midpoint) / softening.steepness)))


def texture_course(history: History, limit: TextureLimit, isotherm: Isotherm, words: Words) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh to the limit, or of the allowed loss when the
    limit is a sigmoid. Failure time is the located crossing of the layer's mean moisture."""
    X_limit = limit_moisture(limit, isotherm)
    X = history.moisture[:, history.layers.index(limit.layer)]
    time = limit.crossing(history, X_limit)
    if time == 0.0:  # packed past its limit
        share, shape = np.ones_like(X), ""
    elif limit.softening is None:
        share, shape = rising_share(X, X_limit), ""
    else:
        share = _allowed_loss(limit.softening, np.asarray(activity(isotherm, X, limit.temperature)))
        shape = f", when {limit.softening.failing_loss:.0%} of its crispness is gone"
    return FailureCourse(
        name=words.name,
        layer=limit.layer,
        share=share,
        time=time,
        limit=(
            f"{limit.layer} at {100 * wet_basis(X_limit):.2f} % moisture (wet basis), "
            f"water activity {limit.activity_for(isotherm):.2f} at {celsius(limit.temperature):.0f} °C{shape}"
        ),
        meaning=words.meaning,
        valid=words.valid,
        source=limit.source,
        provenance=limit.provenance,
        sharpen=words.sharpen,
    )


def _allowed_loss(softening: Softening, a: Floats) -> Floats:
    left = crispness_left(softening, a)
    if left[0] <= 1.0 - softening.failing_loss:
        return np.ones_like(left)
    return np.asarray(np.maximum(0.0, (left[0] - left) / (left[0] - (1.0 - softening.failing_loss))))
