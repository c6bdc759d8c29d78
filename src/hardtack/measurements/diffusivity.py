"""Diffusivity from a sorption step: moisture against time of a slab, cylinder or sphere in air of new humidity.

The step is followed by the transport core itself, with the product's own isotherm, moved so that it ends where
the sample ends; D is taken as constant over the step. With a straight isotherm this is Crank's uptake from a
surface of constant concentration (Crank 1975, The Mathematics of Diffusion, eqs. 4.18, 5.23, 6.20).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.fitting import Constants, Fit, Sought, least_squares
from hardtack.pack.film import bare_conductance
from hardtack.sourced import Provenance
from hardtack.states import Diffusivity, Floats, Isotherm, Layer, Piece, Shape
from hardtack.water.isotherm import moisture as equilibrium

STIRRED = 1.0
"""Conductance to the air [kg/s per unit activity] that stands for a surface at once in balance."""
CELLS = 40
_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Sample:
    """The sample: `size` [m] is the thickness of a slab open on both faces, or the radius of a round piece.

    `area` [m2] is its open face (both faces of a slab), `dry_mass` [kg]. `film_coefficient` [m/s] is that of
    the air over it, None when the air is stirred well enough not to matter.
    """

    shape: Shape
    size: float
    area: float
    dry_mass: float
    film_coefficient: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class DiffusivityResult:
    """D [m2/s] with sd and 90 % interval, between moistures `range` [kg/kg dry], at `temperature` [K]."""

    fit: Fit
    D: float
    sd: float
    low: float | None
    high: float | None
    final_moisture: float
    range: tuple[float, float]
    temperature: float
    told: tuple[str, ...]
    provenance: Provenance = "measured here"


def fit_diffusivity(
    sample: Sample, isotherm: Isotherm, times: Floats, moistures: Floats, activity: float, temperature: float
) -> DiffusivityResult:
    """Fit D and the final moisture to mean moistures [kg/kg dry] at times [s] from the step on.

    `times` begins with 0, whose moisture is the start; air of constant `activity` and `temperature` [K]. Raises
    `HardtackError` when moisture does not move, or times do not rise from 0.
    """
    t, X = np.asarray(times, dtype=float), np.asarray(moistures, dtype=float)
    _check(t, X)
    half = _half(sample)
    start, last = float(X[0]), float(X[-1])
    way = last - start
    # time of half the way gives D to order: Crank 1975, sect. 4.3.2, t = 0.197 l^2 / D
    t_half = float(np.interp(0.5, np.maximum.accumulate((X - start) / way), t))
    D0 = 0.197 * half**2 / max(t_half, 1e-3 * t[-1])
    ends = sorted((start + 0.5 * way, start + 3.0 * way))
    names = (
        Sought("log10_D", np.log10(D0) - 3, np.log10(D0) + 3, "log10 m2/s", "diffusivity"),
        Sought("final", max(ends[0], 1e-6), ends[1], "kg/kg dry", "moisture in balance with the air"),
    )

    def predict(p: Constants) -> Floats:
        return course(sample, isotherm, t, start, p, activity, temperature)[1:]

    starts = [{"log10_D": float(np.log10(D0)), "final": last + 0.02 * way}]
    fit = least_squares(predict, X[1:], names, starts)
    log_D = fit["log10_D"]
    D = 10**log_D.value
    sd = D * np.log(10) * log_D.sd if log_D.sd is not None else float("inf")
    low, high = (None if end is None else 10**end for end in (log_D.low, log_D.high))
    final = fit["final"].value
    made = DiffusivityResult(
        fit, D, float(sd), low, high, final, (min(start, final), max(start, final)), temperature, ()
    )
    reached = abs(last - start) / abs(final - start)
    said = float(equilibrium(isotherm, activity, temperature))
    return replace(made, told=_told(made, reached, said, sample.film_coefficient is not None))


def _check(t: Floats, X: Floats) -> None:
    if t.size < 4 or t[0] != 0 or not np.all(np.diff(t) > 0):
        raise HardtackError(
            "times must rise from 0, four or more", "the first row is the start of the step, time 0"
        )
    if not np.all(X > 0) or abs(X[-1] - X[0]) < 1e-6:
        raise HardtackError("the moisture does not move in this step", "take a larger step of humidity")


def _half(sample: Sample) -> float:
    """Way of the water [m]: half the thickness of a slab, the radius of a round piece."""
    return sample.size / 2 if sample.shape == "slab" else sample.size


def course(
    sample: Sample,
    isotherm: Isotherm,
    t: Floats,
    start: float,
    p: Constants,
    activity: float,
    T: float,
) -> Floats:
    """Mean moisture of the sample at times t, through the transport core."""
    from hardtack.transport.chain import chain
    from hardtack.transport.march import march
    from hardtack.transport.surroundings import Stretch, surroundings

    moved = replace(isotherm, scale=isotherm.scale * p["final"] / equilibrium(isotherm, activity, T))
    layer = Layer(
        "sample", _half(sample), sample.dry_mass, start, moved, Diffusivity(10 ** p["log10_D"], T_ref=T)
    )
    piece = Piece(sample.shape, (layer,), sample.area, (False, True))
    h = sample.film_coefficient
    g = STIRRED if h is None else float(bare_conductance(sample.area, h, T))
    cut = chain([piece], 1e-9, (T, T), cells_per_layer=CELLS)
    air = surroundings([Stretch(t[[0, -1]], np.full(2, g), np.full(2, activity), np.full(2, T))])
    run = march(cut, air, t, tolerance=_TOLERANCE)
    return np.asarray(run.layer_moisture(cut)[:, 0])


def _told(
    made: DiffusivityResult, reached: float, isotherm_says: float, film_counted: bool
) -> tuple[str, ...]:
    ends = tuple("open" if end is None else f"{end:.2e}" for end in (made.low, made.high))
    said = [
        f"D = {made.D:.2e} ± {made.sd:.1e} m2/s (90 %: {ends[0]} to {ends[1]}), between {made.range[0]:.4f} and "
        f"{made.range[1]:.4f} kg/kg dry.",
        f"The sample ends at {made.final_moisture:.4f} kg/kg dry; the isotherm says {isotherm_says:.4f}.",
    ]
    if reached < 0.8:
        said.append(
            f"The test ended at {reached:.0%} of the way: D and the final moisture lean on each other."
        )
    if film_counted:
        said.append(
            "The air's film was counted with the given coefficient; a wrong one goes straight into D."
        )
    else:
        said.append("The air was taken as stirred: a still film over the sample makes D come out too small.")
    said += [f"{doubt}." for doubt in made.fit.weak]
    said += [
        f"reading {i + 2} stands apart from the curve; it is still in the fit." for i in made.fit.outliers
    ]
    return tuple(said)
