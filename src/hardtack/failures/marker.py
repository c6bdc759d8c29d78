"""Marker: a reading that rises as fat oxidises (hexanal, or a peroxide value past its straight part).

The measured rise is added up in time with its own temperature law, and by activity as for rancidity where the
activity of the test is given. The oxygen of the pack is not in it: it holds where there was as much in the test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import MARKER
from hardtack.failures.rancidity import activity_factor
from hardtack.failures.running import Warmth, first_time, running_integral
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, History
from hardtack.units import DAY, celsius

NAME = MARKER
Rise = Literal["straight", "exponential"]


@dataclass(frozen=True, slots=True)
class Marker:
    """A `marker` of `layer` that rises from `start` to `limit` in its own unit: by `rate` [unit/s] when straight, by the
    share `rate` [1/s] when exponential, at `warmth.T` [K] and activity `a` (None: activity is left out)."""

    layer: str
    marker: str
    rise: Rise
    rate: float
    start: float
    limit: float
    a: float | None
    warmth: Warmth
    provenance: Provenance = "measured here"
    source: str = ""


def course(history: History, spec: Marker) -> FailureCourse:
    """Share of life used: of the way from start to limit, in the logarithm when the rise is exponential.

    Raises `HardtackError` for a rate or Q10 not above zero, or a limit not above the start.
    """
    floor = 0.0 if spec.rise == "exponential" else -np.inf
    if not (spec.rate > 0.0 and spec.warmth.Q10 > 0.0 and floor < spec.start < spec.limit):
        raise HardtackError(
            f"{spec.marker}: rate {spec.rate:g} 1/s, start {spec.start:g}, limit {spec.limit:g}, Q10 {spec.warmth.Q10:g}",
            "rate and Q10 are above zero and the limit above the start, which is above zero where the rise is exponential",
        )
    way = spec.limit - spec.start if spec.rise == "straight" else float(np.log(spec.limit / spec.start))
    own = 1.0 if spec.a is None else float(activity_factor(spec.a))
    a = history.activity[:, history.layers.index(spec.layer)]
    share = running_integral(
        history,
        a,
        lambda a, T: (
            spec.rate * spec.warmth(T) * (1.0 + 0.0 * a if spec.a is None else activity_factor(a) / own) / way
        ),
    )
    each = "a day" if spec.rise == "straight" else "of itself a day"
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=(
            f"{spec.marker} of {spec.layer} at {spec.limit:g}, from {spec.start:.3g} by {spec.rate * DAY:.3g} {each} at "
            f"{celsius(spec.warmth.T):.0f} °C"
        ),
        meaning=f"the {spec.marker} of the {spec.layer} has risen to its limit",
        valid=(
            "with as much oxygen in the pack as there was in the test, in the dark, away from the melting range of the fat"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen="the marker and a panel's verdict every two weeks at two temperatures in this pack",
    )
