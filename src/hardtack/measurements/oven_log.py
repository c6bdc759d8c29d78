"""The log of a probe in the piece while it bakes: readings of a probe that had slipped out, and the heating curve.

T(t) = end - (end - start) j 10^(-t/f): the straight part of a heating curve on a logarithmic scale (Ball 1923, from
memory), `f` the time for one tenth of what is left, `j` the delay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import Constants, Fit, Sought, least_squares
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import celsius

JUMP_K = 8.0
"""From one reading to the next no core moves so far within half a minute: assumed."""
_SOON = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class CoreCourse:
    """The fitted heating of the core: over `times` [s] the `temperatures` [K] that count, in degC in the fit."""

    fit: Fit
    start: float
    times: Floats
    temperatures: Floats
    told: tuple[str, ...]
    provenance: Provenance = "measured here"

    def at(self, minutes: Floats, constants: Constants | None = None) -> Floats:
        """Core temperature [degC] after so many minutes."""
        return _curve(np.asarray(minutes, dtype=float), constants or self.fit.values, self.start)

    def minutes_to(self, degrees: float) -> tuple[float, float] | None:
        """Minutes until the core has `degrees` [degC] with the standard deviation; None where it never does."""

        def minutes(p: Constants) -> float:
            left = (p["end"] - degrees) / (p["end"] - self.start)
            return float(p["f"] * np.log10(p["j"] / left)) if left > 0 else float("nan")

        value, sd = self.fit.spread(minutes)
        return (value, sd) if np.isfinite(value) and value > 0 else None


def slipped(t: Floats, T: Floats) -> list[tuple[int, int]]:
    """First and last reading of each stretch in which the probe was not in the piece: away in one jump, back in another."""
    step, soon = np.diff(T), np.diff(t) <= _SOON
    jumps = [int(k) + 1 for k in np.flatnonzero((np.abs(step) > JUMP_K) & soon)]
    found = []
    while len(jumps) >= 2:
        out, back = jumps[0], jumps[1]
        if np.sign(step[out - 1]) != np.sign(step[back - 1]):
            found.append((out, back - 1))
            jumps = jumps[2:]
        else:
            jumps = jumps[1:]
    return found


def fit_core(t: Floats, T: Floats, *, profiles: bool = True) -> CoreCourse:
    """Fit times [s] and core temperatures [K], slipped readings taken out before. Raises `HardtackError` when the core
    does not heat up or too little is left."""
    order = np.argsort(t)
    t, T = np.asarray(t, dtype=float)[order], np.asarray(T, dtype=float)[order]
    if t.size < 6 or not T[-1] > T[0] + 10:
        raise HardtackError(
            "the core does not heat up in this log", "give the log of one bake, from cold dough on"
        )
    minutes, degrees = (t - t[0]) / 60, np.array([celsius(each) for each in T])
    start = float(degrees[0])
    span = float(minutes[-1]) or 1.0
    sought = (
        Sought("end", float(degrees.max()) - 2.0, float(degrees.max()) + 60.0, "degC", "temperature the core goes towards"),
        Sought("f", span / 100, span * 20, "min", "time for nine tenths of what is left"),
        Sought("j", 0.5, 10.0, "", "delay: 1 heats at once"),
    )  # fmt: skip
    starts = [
        {"end": float(degrees.max()) + up, "f": span * share, "j": 1.2}
        for up in (0.5, 5.0)
        for share in (0.4, 1.0, 2.0)
    ]
    fit = least_squares(lambda p: _curve(minutes, p, start), degrees, sought, starts, profiles=profiles)
    told = (
        *(str(estimate) for estimate in fit.estimates),
        f"Logged for {span:.3g} min; later times are extrapolation.",
        "Neighbouring readings of one log go astray together: the errors are those of this log, not from bake to bake.",
        *(f"{doubt}." for doubt in fit.weak),
    )
    return CoreCourse(fit, start, t - t[0], T, told)


def _curve(minutes: Floats, p: Constants, start: float) -> Floats:
    return p["end"] - (p["end"] - start) * np.minimum(p["j"] * 10.0 ** (-minutes / p["f"]), 1.0)
