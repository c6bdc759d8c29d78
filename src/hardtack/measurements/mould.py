"""Mould-free days against humidity and temperature: log10 days on a plane, readings that ended before mould kept.

log10 d = middle - per_humidity (ERH - ERH_mid) - per_kelvin (T - T_mid), ERH in percent: the straight lines by which
mould-free days of cakes are published (Cauvain and Seiler; Adams and Moss). A pack still free of mould at the
end of the test is written ">60" and counts as such (right-censored, normal errors in log10 days).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import CONFIDENCE, Estimate, pulling
from hardtack.measurements.likelihood import Peak, interval, peak
from hardtack.measurements.table import Bound, SetAside, Table
from hardtack.sourced import Provenance
from hardtack.states import Floats
from hardtack.units import DAY, celsius

CAUTION = (
    "Mould-free days are no safety limit: toxins and growth of pathogens need their own study, and whoever is "
    "responsible for food safety must confirm."
)
_ONE = 0.5
STRAY = 3.5
"""Scatters from the plane beyond which a pack is pointed out; as for the other fits (Iglewicz and Hoaglin 1993)."""


@dataclass(frozen=True, slots=True, eq=False)
class MouldResult:
    """The plane (`middle`, `per_humidity`, `per_kelvin` where temperatures differ, `scatter`) and its range."""

    estimates: tuple[Estimate, ...]
    covariance: Floats
    humidity: tuple[float, float]
    temperature: tuple[float, float]
    told: tuple[str, ...]
    _peak: Peak
    _middle: tuple[float, float]
    weak: tuple[str, ...] = ()
    apart: tuple[int, ...] = ()
    provenance: Provenance = "measured here"

    def days(self, activity: float, T: float) -> Estimate:
        """Median mould-free days at an activity and T [K], with the 90 % interval of that median.

        Raises `HardtackError` outside the measured humidities and temperatures: no prediction there.
        """
        inside = self.humidity[0] - 1e-9 <= activity <= self.humidity[1] + 1e-9
        if not inside or not self.temperature[0] - _ONE <= T <= self.temperature[1] + _ONE:
            raise HardtackError(
                f"activity {activity:g} at {celsius(T):.0f} °C lies outside the test",
                f"tested: activity {self.humidity[0]:.2f} to {self.humidity[1]:.2f}, {celsius(self.temperature[0]):.0f} "
                f"to {celsius(self.temperature[1]):.0f} °C; mould a few packs there",
            )
        several = len(self.estimates) == 4
        x = np.array(
            [1.0, -(100 * activity - self._middle[0]), *([-(T - self._middle[1])] if several else []), 0.0]
        )
        log = float(x[:-1] @ self._peak.values[:-1])
        sd = float(np.sqrt(x @ self._peak.covariance @ x))
        width = _z() * sd
        value = 10**log
        return Estimate(
            f"mould-free days at activity {activity:g}, {celsius(T):.0f} °C", value, value * np.log(10) * sd,
            10 ** (log - width), 10 ** (log + width), "days", "",
        )  # fmt: skip


def _z() -> float:
    from scipy.special import ndtri

    return float(ndtri(0.5 + CONFIDENCE / 2))


def mould_from(table: Table, temperature: float | None = None) -> tuple[MouldResult, tuple[SetAside, ...]]:
    """The plane from a table of activity, mould-free time (``>60`` where none came) and temperature unless given."""
    table.need("activity", "mould-free time", *(() if temperature is not None else ("temperature",)))
    points, aside = [], []
    for row in table.rows:
        a, d = row.values.get("activity"), row.values.get("mould-free time")
        T = row.values.get("temperature") if temperature is None else temperature
        if not (isinstance(a, float) and isinstance(T, float) and isinstance(d, (float, Bound))):
            aside.append(SetAside(table.file, row.number, "", "", "activity, temperature or days lack"))
        elif isinstance(d, Bound) and d.side == "<":
            aside.append(
                SetAside(
                    table.file,
                    row.number,
                    "mould-free time",
                    f"<{d.value / DAY:g}",
                    "mould before the first look",
                )
            )
        else:
            points.append((a, T, d.value if isinstance(d, Bound) else d, isinstance(d, Bound)))
    if not points:
        raise HardtackError(
            f"{table.file}: no row has activity and mould-free days", "look at what was set aside"
        )
    humid, warm, long, free = (np.array(column) for column in zip(*points, strict=True))
    return fit_mould(humid, warm, long, free.astype(bool)), tuple(aside)


def fit_mould(
    activity: Floats, temperature: Floats, times: Floats, still_free: Floats, *, profiles: bool = True
) -> MouldResult:
    """Fit activity, temperature [K], mould-free time [s]; `still_free` marks packs without mould at that time.
    `profiles` asks for profile intervals; without them the ends come from the covariance.

    Raises `HardtackError` when too few packs moulded, or all stood at one humidity.
    """
    a, T, d = (np.asarray(values, dtype=float) for values in (activity, temperature, times))
    free = np.asarray(still_free, dtype=bool)
    several = bool(np.ptp(T) > _ONE)
    needed = 5 if several else 4
    if (~free).sum() < needed:
        raise HardtackError(
            f"{(~free).sum()} packs moulded", f"wait until {needed} have, at different humidities"
        )
    if not np.ptp(a) > 0.01:
        raise HardtackError("all packs stood at one activity", "test at two activities, 0.05 apart or more")
    middle = (100 * float(a.mean()), float(T.mean()))
    X = np.stack([np.ones(a.size), -(100 * a - middle[0]), *([-(T - middle[1])] if several else [])], axis=1)
    y = np.log10(d / DAY)
    start = np.linalg.lstsq(X[~free], y[~free], rcond=None)[0]
    scatter = max(float(np.std(y[~free] - X[~free] @ start)), 0.02)

    def nll(p: Floats) -> float:
        from scipy.special import log_ndtr

        z = (y - X @ p[:-1]) / np.exp(p[-1])
        total = np.sum(np.where(free, log_ndtr(-z), -0.5 * z**2 - p[-1]))
        return -float(total) if np.isfinite(total) else 1e12

    found = peak(nll, np.array([*start, np.log(scatter)]), "mould-free days")
    names = ("middle", "per_humidity", *(("per_kelvin",) if several else ()), "scatter")
    units = ("log10 days", "per % ERH", *(("per K",) if several else ()), "log10 days")
    estimates = []
    for k, (name, unit) in enumerate(zip(names, units, strict=True)):
        value, sd = float(found.values[k]), float(found.sds[k])
        ends = interval(nll, found, k) if profiles else (value - _z() * sd, value + _z() * sd)
        if name == "scatter":
            value, ends = float(np.exp(value)), tuple(None if e is None else float(np.exp(e)) for e in ends)  # type: ignore[assignment]
            sd = value * sd
        estimates.append(Estimate(name, value, sd, *ends, unit, ""))
    span_a, span_T = (float(a.min()), float(a.max())), (float(T.min()), float(T.max()))
    told = _told(tuple(estimates), middle, int(free.sum()), a.size, span_a, span_T)
    weak = tuple(pulling(found.covariance, ["ln scatter" if name == "scatter" else name for name in names]))
    weak += tuple(f"{e.name}: the packs leave an end of its 90 % interval open" for e in estimates
                  if e.low is None or e.high is None)  # fmt: skip
    stray = (y - X @ found.values[:-1]) / np.exp(found.values[-1])
    apart = tuple(int(k) for k in np.flatnonzero(np.where(free, stray > STRAY, np.abs(stray) > STRAY)))
    told = (*told[:-1], *(f"{doubt}." for doubt in weak), *(
        f"A pack at activity {a[k]:.2f} and {celsius(float(T[k])):.0f} °C stands apart ({d[k] / DAY:.3g} days); it is still in "
        "the fit." for k in apart
    ), told[-1])  # fmt: skip
    return MouldResult(tuple(estimates), found.covariance, span_a, span_T, told, found, middle, weak, apart)


def _told(
    estimates: tuple[Estimate, ...],
    middle: tuple[float, float],
    free: int,
    n: int,
    span_a: tuple[float, float],
    span_T: tuple[float, float],
) -> tuple[str, ...]:
    by_name = {estimate.name: estimate for estimate in estimates}
    said = [
        f"{n} packs, {free} still free of mould at their last look. About {10 ** by_name['middle'].value:.3g} days at "
        f"{middle[0]:.1f} % ERH and {celsius(middle[1]):.0f} °C; {10 ** (5 * by_name['per_humidity'].value):.2f} times as "
        "many for every 5 % ERH less.",
        *(str(estimate) for estimate in estimates),
        f"Measured from activity {span_a[0]:.2f} to {span_a[1]:.2f}, {celsius(span_T[0]):.0f} to {celsius(span_T[1]):.0f} °C; "
        "no prediction outside.",
    ]
    if by_name["per_humidity"].value <= 0:
        said.append(
            "More humid packs kept longer: look for swapped labels or a preservative that was dosed unevenly."
        )
    return (*said, CAUTION)
