"""What the evidence cases can ask of the program: small questions with one number for an answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from hardtack import reference
from hardtack.pack.film import permeance_at, permeance_from_rate
from hardtack.states import Diffusivity, Film, Floats, Isotherm, Layer, Piece, Shape
from hardtack.transport.chain import chain
from hardtack.transport.march import march
from hardtack.transport.surroundings import Stretch, surroundings
from hardtack.units import DAY
from hardtack.water.air import humidity_ratio, saturation_pressure, saturation_pressure_ice
from hardtack.water.isotherm import activity, moisture
from hardtack.water.salts import salt_activity

HELD = float("inf")
"""k L / D of a surface that is held."""


@dataclass(frozen=True, slots=True)
class Predictor:
    """A function and the kinds of quantity of its arguments; arguments without a kind are taken as they are."""

    compute: Callable[..., float]
    kinds: Mapping[str, str]


def moisture_at(isotherm: str, a: float, T: float) -> float:
    """Moisture [% dry basis] of a shelf isotherm at activity `a` and T."""
    return 100 * float(moisture(reference.isotherm(isotherm), a, T))


def activity_at(isotherm: str, X: float, T: float) -> float:
    """Activity of a shelf isotherm at moisture X and T."""
    return float(activity(reference.isotherm(isotherm), X, T))


def film_rate(film: str, thickness: float, T: float, wet: float, dry: float) -> float:
    """Transmission [g/m2/day] of a shelf film scaled to another thickness and carried to other conditions."""
    row = reference.film(film)
    own = Film(
        film,
        permeance_from_rate(
            row["transmission"], row["temperature"], row["humidity_wet"], row["humidity_dry"]
        ),
        row["temperature"],
        row["E"],
    )
    rate = (
        float(permeance_at(own, T))
        * row["thickness"]
        / thickness
        * float(saturation_pressure(T))
        * (wet - dry)
    )
    return rate * 1e3 * DAY


def fractional_uptake(shape: Shape, fourier: float, biot: float = HELD) -> float:
    """Share of the final uptake of a slab (one face), cylinder or sphere at D t / L2 = `fourier`, behind a film of
    k L / D = `biot` or with its surface held."""
    X, dry = _followed(shape, fourier, biot)
    return float((X @ dry / dry.sum() - 0.02) / (0.08 - 0.02))


def change_inside(shape: Shape, fourier: float, place: float) -> float:
    """Share of the final change at `place` (0 the centre or closed face, 1 the surface) of a slab, cylinder or sphere
    whose surface is held, at D t / L2 = `fourier`."""
    X, dry = _followed(shape, fourier, HELD)
    within = np.concatenate([[0.0], np.cumsum(dry)]) / dry.sum()
    faces = within ** (1.0 / {"slab": 1, "cylinder": 2, "sphere": 3}[shape])
    return float((np.interp(place, (faces[:-1] + faces[1:]) / 2.0, X) - 0.02) / (0.08 - 0.02))


def _followed(shape: Shape, fourier: float, biot: float) -> tuple[Floats, Floats]:
    """Moisture and dry mass of the cells, centre first, once D t / L2 is `fourier`; from 0.02, in air of 0.08."""
    L, D, area, density = 5e-3, 1e-10, 0.01, 500.0
    volume = area * L / {"slab": 1, "cylinder": 2, "sphere": 3}[shape]
    # a straight isotherm X = 0.1 a, as measured points
    straight = Isotherm(
        "straight", "table", points=tuple((a, 0.1 * a) for a in np.linspace(0.05, 0.95, 19).tolist())
    )
    layer = Layer("slab", L, volume * density, 0.02, straight, Diffusivity(D))
    piece = Piece(shape, (layer,), area, (False, True))
    T = 298.15
    cells = chain([piece], 1e-9, (T, T), cells_per_layer=80)
    end = fourier * L**2 / D
    # a film passes k rho dX/da per area and unit of activity
    g = 0.1 if np.isinf(biot) else biot * D / L * density * 0.1 * area
    stretch = Stretch(np.array([0.0, end]), np.full(2, g), np.full(2, 0.8), np.full(2, T))
    run = march(cells, surroundings([stretch]), np.array([0.0, end]), tolerance=1e-6)
    return run.water[-1, :-1] / cells.dry_mass, cells.dry_mass


PREDICTORS: Mapping[str, Predictor] = {
    "saturation pressure": Predictor(lambda T: float(saturation_pressure(T)), {"T": "temperature"}),
    "saturation pressure over ice": Predictor(
        lambda T: float(saturation_pressure_ice(T)), {"T": "temperature"}
    ),
    "saturated humidity ratio": Predictor(
        lambda T: float(humidity_ratio(float(saturation_pressure(T)))), {"T": "temperature"}
    ),
    "salt humidity": Predictor(lambda salt, T: 100 * salt_activity(salt, T).value, {"T": "temperature"}),
    "moisture at activity": Predictor(moisture_at, {"a": "activity", "T": "temperature"}),
    "activity at moisture": Predictor(activity_at, {"X": "moisture", "T": "temperature"}),
    "film transmission": Predictor(
        film_rate, {"thickness": "length", "T": "temperature", "wet": "humidity", "dry": "humidity"}
    ),
    "fractional uptake": Predictor(fractional_uptake, {"fourier": "number"}),
    "fractional uptake behind a film": Predictor(fractional_uptake, {"fourier": "number", "biot": "number"}),
    "change inside": Predictor(change_inside, {"fourier": "number", "place": "number"}),
}
