"""How a crumb firms: firmness against days at one temperature or several, by Avrami.

E(t) = fresh + (final - fresh) (1 - exp(-(k t)^n)); n = 1 unless AICc asks for another (n = 1 for bread:
Cornford, Axford and Elton 1964, Cereal Chem. 41:216, who also found one final firmness at all temperatures).
Over temperature k follows an apparent Arrhenius energy, which for firming is negative: faster when colder.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.firming import Firming
from hardtack.measurements.fitting import Constants, Fit, Sought, least_squares
from hardtack.measurements.table import SetAside, Table
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import DAY, celsius
from hardtack.water.air import GAS_CONSTANT

_ONE_TEMPERATURE = 0.5
_FASTEST = 100.0
_STEEPEST = 3e5


@dataclass(frozen=True, slots=True, eq=False)
class FirmingResult:
    """The fit (`fresh`, `final` [N], `rate` [1/day] at `temperature` [K], `n`, `energy` [J/mol])."""

    fit: Fit
    temperature: float
    n: float
    energy: float | None
    range: tuple[float, float]
    told: tuple[str, ...]
    provenance: Provenance = "measured here"

    def firming(self, layer: str, limit: float, source: str = "") -> Firming:
        """The crumb for a forecast, failing at firmness `limit` [N] of the same method.

        Raises `HardtackError` when the measured energy is not negative: that is no firming.
        """
        if self.energy is not None and not self.energy < 0:
            raise HardtackError(
                f"an Arrhenius energy of {self.energy / 1e3:+.0f} kJ/mol is no firming",
                "look at drying out between the readings, and at readings taken cold",
            )
        values = self.fit.values
        return Firming(
            layer, values["rate"] / DAY, self.temperature, self.n, limit=limit, fresh=values["fresh"],
            final=values["final"], energy=self.energy, provenance="measured here", source=source,
        )  # fmt: skip


def firming_from(
    table: Table, temperature: float | None = None
) -> tuple[FirmingResult, tuple[SetAside, ...]]:
    """Firming from a table of time and force, with temperature unless given [K]; and what was left out."""
    meanings = ("time", "force") if temperature is not None else ("time", "force", "temperature")
    taken = table.take(*meanings, replicated="force")
    t, E = taken.columns[:2]
    T = taken.columns[2] if temperature is None else np.full(t.size, temperature)
    return fit_firming(t, E, T, rows=taken.rows), taken.aside


def fit_firming(
    times: Floats,
    firmness: Floats,
    temperature: Floats,
    *,
    rows: tuple[int, ...] = (),
    profiles: bool = True,
) -> FirmingResult:
    """Fit times [s], firmness [N] and temperature [K], all temperatures at once; `profiles` as in
    `least_squares`.

    Raises `HardtackError` when there are too few points or firmness does not rise.
    """
    t, E, T = (np.asarray(values, dtype=float) for values in (times, firmness, temperature))
    days = t / DAY
    if days.size < 4 or not np.ptp(days) > 0:
        raise HardtackError(
            "too few days to see firming", "measure on four days at least, the first one fresh"
        )
    T_ref = float(np.median(T))
    several = bool(np.ptp(T) > _ONE_TEMPERATURE)
    low, high = float(E.min()), float(E.max())
    names = [
        Sought("fresh", 0.0, float("inf"), "N", "firmness when fresh"),
        Sought("final", 0.0, float("inf"), "N", "firmness in the end"),
        Sought("rate", 1e-6, _FASTEST, "1/day", f"rate at {celsius(T_ref):.0f} °C"),
    ]
    if several:
        names.append(Sought("energy", -_STEEPEST, _STEEPEST, "J/mol", "apparent Arrhenius energy"))
    n = Sought("n", 0.2, 4.0, "", "Avrami exponent")
    starts = [
        {"fresh": low, "final": high * top, "rate": rate / float(days.max()), "energy": -3e4, "n": 1.0}
        for rate in (0.7, 2.0, 6.0)
        for top in (1.02, 1.5)
    ]

    def predict(p: Constants) -> Floats:
        return avrami(p, days, T, T_ref)

    fit = least_squares(predict, E, names, starts, profiles=False)
    if E.size > len(names) + 2:
        bent = least_squares(predict, E, [*names, n], [{**fit.values, "n": 1.0}, *starts], profiles=False)
        if bent.aicc < fit.aicc and not any("ran into its bound" in doubt for doubt in bent.weak):
            fit, names = bent, [*names, n]
    fit = least_squares(predict, E, names, [fit.values], profiles=profiles)
    values = fit.values
    if values["final"] <= values["fresh"]:
        raise HardtackError(
            "firmness does not rise with time", "look at the order of days, and at the unit of force"
        )
    energy = values.get("energy")
    span = (float(T.min()), float(T.max()))
    return FirmingResult(fit, T_ref, values.get("n", 1.0), energy, span, _told(fit, T_ref, days, span, rows))


def avrami(p: Constants, days: Floats, T: Floats | float, T_ref: float) -> Floats:
    """Firmness [N] after `days` at T [K] by the constants of a fit whose rate holds at T_ref [K]."""
    k = p["rate"] * np.exp(-p.get("energy", 0.0) * (1 / T - 1 / T_ref) / GAS_CONSTANT)
    way = 1.0 - np.exp(-((k * days) ** p.get("n", 1.0)))
    return np.asarray(p["fresh"] + (p["final"] - p["fresh"]) * way)


def _told(
    fit: Fit, T_ref: float, days: Floats, span: tuple[float, float], rows: tuple[int, ...]
) -> tuple[str, ...]:
    values = fit.values
    n = values.get("n", 1.0)
    half = np.log(2) ** (1 / n) / values["rate"]
    said = [
        f"Firmness rises from {values['fresh']:.3g} to {values['final']:.3g} N; half of the way after {half:.2g} days "
        f"at {celsius(T_ref):.0f} °C (Avrami exponent {n:.2g}).",
        *(str(estimate) for estimate in fit.estimates),
        f"Measured to day {days.max():.3g}, {celsius(span[0]):.0f} to {celsius(span[1]):.0f} °C.",
    ]
    if half > days.max():
        said.append("The test ended before half of the way: the final firmness is an extrapolation.")
    energy = values.get("energy")
    if energy is not None and energy >= 0:
        said.append(
            "Firming came out faster when warmer, which bread crumb does not do above 4 °C: look at drying out "
            "and at pieces measured before they reached room temperature."
        )
    said += [f"{doubt}." for doubt in fit.weak]
    said += [
        f"{f'row {rows[i]}' if rows else f'point {i + 1}'} stands apart from the curve; it is still in the fit."
        for i in fit.outliers
    ]
    return tuple(said)
