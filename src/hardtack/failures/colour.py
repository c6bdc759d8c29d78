"""Colour: browning or fading in storage, by a rate the user has measured.

No law for baked goods with constants worth quoting was found, so there is no default rate. Zero order, with a
factor per 10 K; light is not in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import COLOUR
from hardtack.failures.running import first_time, running_integral
from hardtack.reference import lookup
from hardtack.sourced import Provenance, Sourced
from hardtack.states import FailureCourse, History
from hardtack.units import DAY, celsius

NAME = COLOUR


@dataclass(frozen=True, slots=True)
class Colour:
    """Change of colour of `layer`: `rate` [1/s] in the units of `limit` (a colour difference) at T [K], and
    the factor `Q10` on it per 10 K."""

    layer: str
    rate: float
    limit: float
    T: float
    Q10: float
    provenance: Provenance = "measured here"
    source: str = ""


def default_Q10() -> Sourced:
    """The shelf's factor per 10 K, 2.2 to 3.5: seen for another dry food, so say so where it is used."""
    return lookup("browning", "default").values["Q10"]


def course(history: History, spec: Colour) -> FailureCourse:
    """Share of life used: of the way to the limit. Raises `HardtackError` for a rate, limit or Q10 not above
    zero."""
    if not (spec.rate > 0.0 and spec.limit > 0.0 and spec.Q10 > 0.0):
        raise HardtackError(
            f"colour: rate {spec.rate:g}, limit {spec.limit:g}, Q10 {spec.Q10:g}",
            "all three are above zero; measure the colour difference against days in the dark at the "
            "store's temperature",
        )
    a = history.activity[:, history.layers.index(spec.layer)]
    share = (
        running_integral(history, a, lambda a, T: spec.rate * spec.Q10 ** ((T - spec.T) / 10.0) + 0.0 * a)
        / spec.limit
    )
    return FailureCourse(
        name=NAME,
        layer=spec.layer,
        share=np.asarray(share),
        time=first_time(history.times, share),
        limit=(
            f"a colour difference of {spec.limit:g} on {spec.layer} ({spec.rate * DAY:.3g} a day at "
            f"{celsius(spec.T):.0f} °C)"
        ),
        meaning=f"the {spec.layer} has changed colour beyond what is accepted",
        valid="in the dark, near the activity it was measured at; light fades colours and is not counted",
        source=spec.source,
        provenance=spec.provenance,
        sharpen="colour difference every two weeks at two temperatures, in the dark and on the lit shelf",
    )
