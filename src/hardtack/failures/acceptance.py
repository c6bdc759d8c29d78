"""Acceptance: a panel stops accepting the product, whatever it was that changed.

A measured day, no law of causes: it belongs to the product, the pack and the climate that were tasted. Another
temperature counts by a factor per 10 K where the file gives one; without one, and for another humidity or
another pack, nothing carries it, and nothing is made up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import ACCEPTANCE
from hardtack.failures.running import Warmth, first_time, running_integral
from hardtack.sourced import Provenance
from hardtack.states import FailureCourse, History
from hardtack.units import celsius, days

NAME = ACCEPTANCE
NEAR = 3.0
"""How far the journey may stand from the panel's temperature where no factor carries it [K]; assumed."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """After `life` [s] in air of T [K] and `humidity` (None: not said) the share `rejecting` of the panel rejected the
    `layer`'s product; `warmth` carries it to other temperatures, None when nothing does."""

    layer: str
    life: float
    rejecting: float
    T: float
    humidity: float | None
    warmth: Warmth | None
    provenance: Provenance = "measured here"
    source: str = ""


def course(history: History, spec: Acceptance) -> FailureCourse:
    """Share of life used: time over the panel's day, by temperature where a factor is given.

    Raises `HardtackError` when the journey leaves the panel's temperature and nothing carries it there.
    """
    T = history.temperature[1:]
    if spec.warmth is None and T.size and float(np.max(np.abs(T - spec.T))) > NEAR:
        low, high = (f"{celsius(float(end)):.0f}" for end in (T.min(), T.max()))
        stands = f"stands at {low}" if low == high else f"runs from {low} to {high}"
        raise HardtackError(
            f"the panel's day holds at {celsius(spec.T):.0f} °C and the journey {stands} °C",
            "give 'Q10' or 'activation energy' of the acceptance from panels at two temperatures",
        )
    warmth = spec.warmth or Warmth(spec.T)
    share = running_integral(
        history,
        np.zeros(history.times.size),
        lambda a, T: warmth(T) / spec.life + 0.0 * a,
    )
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=share,
        time=first_time(history.times, share),
        limit=(
            f"{spec.rejecting:.0%} of a panel reject it, as after {days(spec.life):.3g} days at {celsius(spec.T):.0f} °C"
            + ("" if spec.humidity is None else f" and {spec.humidity:.0%} humidity")
        ),
        meaning=f"{spec.rejecting:.0%} of the people on the panel no longer accept the product",
        valid=(
            "for the product, the pack and the humidity the panel's packs were kept in; it does not follow a change of "
            "any of them"
        ),
        source=spec.source,
        provenance=spec.provenance,
        sharpen="the same panel again from this pack, with moisture, force and peroxide value of the packs tasted",
        told=(
            "this day follows no cause: a better film or another formula moves it, and how far is not known here",
        ),
    )
