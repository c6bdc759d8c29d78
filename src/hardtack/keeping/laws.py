"""The spread of one number as a law: from a standard normal z to a value, so that any two can be tied together."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hardtack.sourced import Sourced
from hardtack.states import Floats

FAR = 4.0
"""A number at least so many standard deviations above zero is taken as normal; nearer, as log-normal."""


@dataclass(frozen=True, slots=True)
class Law:
    """How a number spreads about its `centre`.

    normal: `sd` in its unit, kept within `low` and `high`. log-normal: `centre` is the median, `sd` that of the
    logarithm. even: between `low` and `high`. list: one of `values`, each as likely. A `share` below 1 draws the law
    together about its middle, as a measurement would.
    """

    kind: Literal["normal", "log-normal", "even", "list"]
    centre: float
    sd: float
    low: float = -math.inf
    high: float = math.inf
    values: tuple[float, ...] = ()
    share: float = 1.0

    def at(self, z: Floats) -> Floats:
        """Values at standard normals z."""
        z = np.asarray(z, dtype=np.float64) * self.share
        if self.kind == "normal":
            return np.clip(self.centre + self.sd * z, self.low, self.high)
        if self.kind == "log-normal":
            return np.asarray(np.clip(self.centre * np.exp(self.sd * z), self.low, self.high))
        from scipy.special import ndtr

        u = np.asarray(ndtr(z))
        if self.kind == "even":
            return np.asarray(self.low + (self.high - self.low) * u)
        ranked = np.sort(np.array(self.values))
        return np.asarray(ranked[np.minimum((u * ranked.size).astype(int), ranked.size - 1)])

    def narrowed(self, error: float) -> Law:
        """The law once the number was measured with this error: a share of it for a log-normal law, else in its unit.

        Two independent readings of one number combine as 1/sd2 = 1/sd2 + 1/error2; the centre stays where it is.
        """
        known = self.spread
        return replace(self, share=self.share * error / math.hypot(error, known)) if known > 0 else self

    @property
    def spread(self) -> float:
        """One standard deviation: of the logarithm for a log-normal law, else in the number's unit."""
        if self.kind == "even":
            return self.share * (self.high - self.low) / math.sqrt(12.0)
        if self.kind == "list":
            return self.share * float(np.std(self.values))
        return self.share * self.sd

    @property
    def relative(self) -> float:
        """The standard deviation as a share of the centre."""
        return self.spread if self.kind == "log-normal" else self.spread / abs(self.centre or 1.0)


def law_of(amount: Sourced, low: float = -math.inf, high: float = math.inf) -> Law | None:
    """The law an amount states: its list, its range (even), or its sd; None when it states none.

    `low` and `high` are the ends its kind of number may not pass.
    """
    if amount.values:
        return Law("list", amount.value, 0.0, values=amount.values)
    if amount.low is not None and amount.high is not None and amount.low < amount.high:
        return Law("even", amount.value, 0.0, amount.low, amount.high)
    if not amount.sd:
        return None
    if low >= 0.0 and 0.0 < amount.value < FAR * amount.sd:
        sd = math.sqrt(math.log1p((amount.sd / amount.value) ** 2))
        return Law("log-normal", amount.value, sd, low, high)
    return Law("normal", amount.value, amount.sd, low, high)


def as_factor(law: Law) -> Law:
    """The law of the number over its centre."""
    c = law.centre
    ends = sorted((law.low / c, law.high / c))
    sd = law.sd if law.kind == "log-normal" else law.sd / abs(c)
    low = max(ends[0], 1e-6)
    return replace(law, centre=1.0, sd=sd, low=low, high=ends[1], values=tuple(x / c for x in law.values))


def as_shift(law: Law) -> Law:
    """The law of the number less its centre."""
    c = law.centre
    if law.kind == "log-normal":  # a shift has no logarithm: the same spread about zero
        return Law("normal", 0.0, law.sd * c, law.low - c, law.high - c, share=law.share)
    return replace(
        law, centre=0.0, low=law.low - c, high=law.high - c, values=tuple(x - c for x in law.values)
    )


def factor_law(sd: float) -> Law:
    """A factor about 1 whose logarithm has this sd."""
    return Law("log-normal", 1.0, sd)


def shift_law(sd: float) -> Law:
    """A shift about 0, normal."""
    return Law("normal", 0.0, sd)
