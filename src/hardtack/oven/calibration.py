"""The oven's coefficients from the plant's own bake: loss, moisture, core log and colour, with covariance.

Three factors are fitted, as logarithms: on heat transfer, on vapour through dry crust and on vapour through wet crumb. What
the measurements do not tell stays where the shelf has it, with the shelf's spread: least squares with those spreads as
observations (maximum posterior). So the covariance never claims more than shelf and plant know together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.oven.baking import Baked, bake, dough_of, factors_of, oven_of
from hardtack.oven.properties import Factors, transport_row
from hardtack.oven.zones import oven_kind
from hardtack.product import Product
from hardtack.product.oven_spec import MeasuredBake, OvenSpec
from hardtack.sourced import Sourced
from hardtack.states import Floats
from hardtack.units import wet_basis

NAMES = ("heat", "dry path", "wet path")
SPREADS = np.array([0.35, 0.6, 0.3])
"""Standard deviations of the logarithms on the shelf: half the width of the ranges of h and of the two paths; assumed."""
DEFAULT_SD = {"loss": 0.005, "moisture": 0.002, "core": 2.0, "lightness": 3.0}
"""Taken where the file gives no spread: half a point of loss, 0.2 points of moisture, 2 K, 3 units of L*; assumed."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement beside the model before and after the fit, in its unit."""

    what: str
    unit: str
    measured: float
    sd: float
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A coefficient on the `shelf` and as fitted, in its unit, with its standard deviation. Their correlations are those of
    the factors."""

    what: str
    unit: str
    shelf: float
    value: float
    sd: float


@dataclass(frozen=True, slots=True)
class Fit:
    """Fitted `factors` on those of the file's shelf values, the covariance of their logarithms [3, 3] in the order of
    `NAMES`, the readings, and the bake with the fitted factors. `misfit` is chi-square per reading, priors left out.
    """

    factors: Factors
    covariance: Floats
    readings: tuple[Reading, ...]
    misfit: float
    baked: Baked

    @property
    def sd(self) -> Floats:
        """Standard deviations of the factors' logarithms: nearly relative standard deviations."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> Floats:
        """Correlations of the logarithms."""
        return np.asarray(self.covariance / np.outer(self.sd, self.sd))


def calibrate(product: Product) -> Fit:
    """Fit the oven's factors to what the file says was measured.

    Raises `HardtackError` when nothing was measured, and as `bake` does.
    """
    from scipy.optimize import least_squares

    oven = oven_of(product)
    measured = oven.measured
    if measured is None or not _observations(measured, oven):
        raise HardtackError(
            "nothing was measured on this bake",
            "add 'measured:' with loss, moisture, core or lightness to the oven",
        )
    dough, start = dough_of(product), factors_of(oven)
    observed = _observations(measured, oven)
    values, sds = (np.array([entry[k] for entry in observed]) for k in (2, 3))

    def factors(logs: Floats) -> Factors:
        heat, dry, wet = (float(x) for x in np.exp(logs))
        return Factors(start.heat * heat, start.dry_path * dry, start.wet_path * wet)

    def predicted(logs: Floats) -> Floats:
        return _predicted(bake(product, factors(logs), dough=dough), measured)

    def residuals(logs: Floats) -> Floats:
        return np.concatenate([(predicted(logs) - values) / sds, logs / SPREADS])

    # searched as one more than the logarithms: differences are relative to what is sought, and at nought would be nothing
    found = least_squares(
        lambda x: residuals(x - 1.0), np.ones(3), diff_step=0.01, x_scale=SPREADS, max_nfev=12
    )
    logs = found.x - 1.0
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    before, after = predicted(np.zeros(3)), predicted(logs)
    readings = tuple(
        Reading(what, unit, value, sd, float(b), float(a))
        for (what, unit, value, sd), b, a in zip(observed, before, after, strict=True)
    )
    misfit = float(np.mean(((after - values) / sds) ** 2))
    best = factors(logs)
    return Fit(best, covariance, readings, misfit, bake(product, best, dough=dough))


def beside(baked: Baked) -> tuple[Reading, ...]:
    """The file's measurements beside a bake; none where it has none. Raises `HardtackError` as `calibrate`."""
    oven = oven_of(baked.product)
    if oven.measured is None:
        return ()
    values = _predicted(baked, oven.measured)
    return tuple(
        Reading(what, unit, value, sd, float(now), float(now))
        for (what, unit, value, sd), now in zip(_observations(oven.measured, oven), values, strict=True)
    )


def coefficients(fit: Fit) -> tuple[Coefficient, ...]:
    """The coefficients that the factors stand for: convection, vapour in dry pores and across wet walls."""
    product = fit.baked.product
    path, oven = transport_row(product.kind), oven_of(product)
    first = oven.zones[0]
    h = first.convection.value if isinstance(first.convection, Sourced) else oven_kind(oven)["h"]
    shelf = (
        (f"convection in the zone {first.zone}", "W/m2/K", h, fit.factors.heat),
        ("vapour in dry pores over free air", "", path["dry_path"], fit.factors.dry_path),
        ("vapour across wet walls over free air", "", path["wet_path"], fit.factors.wet_path),
    )
    return tuple(
        Coefficient(what, unit, value, value * factor, value * factor * float(sd))
        for (what, unit, value, factor), sd in zip(shelf, fit.sd, strict=True)
    )


def _observations(measured: MeasuredBake, oven: OvenSpec) -> list[tuple[str, str, float, float]]:
    """What, unit, value and standard deviation of every reading."""
    rows = []
    if measured.loss is not None:
        rows.append(("loss in the oven", "%", 100 * measured.loss.value, 100 * _sd(measured.loss, "loss")))
    if measured.moisture is not None:
        X, sd = measured.moisture.value, _sd(measured.moisture, "moisture")
        rows.append(("moisture at the exit", "% wb", 100 * wet_basis(X), 100 * sd / (1 + X) ** 2))
    lasts = sum(zone.lasts.value for zone in oven.zones)
    for point in measured.core:
        if point.at.value > lasts:
            raise HardtackError(
                f"the core was read at {point.at.value:.0f} s, the oven is {lasts:.0f} s long",
                "give times since entering the oven",
            )
        rows.append(
            (
                f"centre after {point.at.value:.0f} s",
                "°C",
                point.temperature.value - 273.15,
                _sd(point.temperature, "core"),
            )
        )
    if measured.lightness is not None:
        rows.append(("lightness L*", "", measured.lightness.value, _sd(measured.lightness, "lightness")))
    return rows


def _predicted(baked: Baked, measured: MeasuredBake) -> Floats:
    """The model's values in the order of the observations. The probe sits in the middle of the piece."""
    values = []
    if measured.loss is not None:
        values.append(100 * baked.loss)
    if measured.moisture is not None:
        values.append(100 * wet_basis(baked.exit_moisture))
    cell = baked.march.centres.size // 2 if baked.product.piece.shape == "slab" else 0
    core = baked.march.temperature[:, cell] - 273.15
    values.extend(float(np.interp(point.at.value, baked.times, core)) for point in measured.core)
    if measured.lightness is not None:
        values.append(float(baked.colour.lightness[-1]))
    return np.array(values)


def _sd(amount: Sourced, what: str) -> float:
    if amount.sd is not None and amount.sd > 0:
        return amount.sd
    if amount.low is not None and amount.high is not None:
        return (amount.high - amount.low) / 4
    return DEFAULT_SD[what]
