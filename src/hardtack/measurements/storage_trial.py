"""A storage trial against the whole model: which factor on permeance or isotherm makes the forecast meet it?

The product is followed through its own journey, which must be the trial's climate. Factors multiply what the
product file gives: a `permeance` factor of 1.4 says the pack lets through 1.4 times as much as the file has it. Where a factor carries the forecast over from the quadrature to the march (film against inside), it
makes a small step there, and a profile that crosses it may come out open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hardtack.errors import HardtackError
from hardtack.keeping.history import history_of
from hardtack.measurements.fitting import Constants, Fit, Sought, least_squares
from hardtack.pack import journey_of, pack_of, stretches_of
from hardtack.piece import piece_of
from hardtack.product import Product
from hardtack.sourced import Provenance
from hardtack.states import Floats, Journey, Layer, Pack, Piece
from hardtack.units import DAY

Factor = Literal["permeance", "isotherm"]
Measured = Literal["moisture", "activity"]
MEANINGS: Mapping[str, str] = {
    "permeance": "factor on the whole pack's permeance",
    "isotherm": "factor on every moisture of the isotherm",
}
LARGEST = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class TrialResult:
    """The factors with their errors; what the file alone would have said, and what it says with them."""

    fit: Fit
    before: Floats
    after: Floats
    told: tuple[str, ...]
    provenance: Provenance = "measured here"


def fit_storage_trial(
    product: Product,
    layer: str,
    times: Floats,
    measured: Floats,
    kind: Measured,
    factors: Sequence[Factor] = ("permeance",),
) -> TrialResult:
    """Fit the factors to a layer's mean moisture [kg/kg dry] or activity at times [s] from packing.

    Raises `HardtackError` when the product has no pack, no such layer, or its journey is shorter than the trial.
    """
    t, y = np.asarray(times, dtype=float), np.asarray(measured, dtype=float)
    piece, _, _ = piece_of(product)
    pack, _ = pack_of(product)
    journey, _ = journey_of(product)
    if pack is None:
        raise HardtackError("the product lies unpacked: no permeance to fit", "give the product its pack")
    names = [part.name for part in piece.layers]
    if layer not in names:
        raise HardtackError(f"no layer {layer!r}", f"layers are: {', '.join(names)}")
    if t.max() > journey.legs[-1].end + 1:
        raise HardtackError(
            f"the trial ran {t.max() / DAY:.0f} days, the journey {journey.legs[-1].end / DAY:.0f}",
            "let the product file's journey be the trial's climate, as long as the trial",
        )
    k = names.index(layer)

    def predict(p: Constants) -> Floats:
        return _course(_moved(piece, k, p), _tighter(pack, p), journey, k, t, kind)

    before = predict({})
    sought = [Sought(name, 1 / LARGEST, LARGEST, "", MEANINGS[name]) for name in factors]
    starts: list[Constants] = [dict.fromkeys(map(str, factors), value) for value in (1.0, 1.5)]
    fit = least_squares(predict, y, sought, starts)
    after = fit.predicted
    rms = [float(np.sqrt(np.mean((values - y) ** 2))) for values in (before, after)]
    unit = "kg/kg dry" if kind == "moisture" else "of activity"
    told = (
        f"The file alone misses the trial by {rms[0]:.2g} {unit}, with the factors by {rms[1]:.2g}.",
        *(f"{estimate.meaning}: {estimate}" for estimate in fit.estimates),
        f"Held over {t.max() / DAY:.0f} days in the trial's climate; in another climate the film's temperature law rules.",
        *(f"{doubt}." for doubt in fit.weak),
        *(f"day {t[i] / DAY:g} stands apart from the course; it is still in the fit." for i in fit.outliers),
    )
    return TrialResult(fit, before, after, told)


def _moved(piece: Piece, k: int, p: Constants) -> Piece:
    factor = p.get("isotherm", 1.0)
    seen = -1
    parts: list[object] = []
    for part in piece.parts:
        if isinstance(part, Layer):
            seen += 1
            if seen == k:
                part = replace(part, isotherm=replace(part.isotherm, scale=part.isotherm.scale * factor))
        parts.append(part)
    return replace(piece, parts=tuple(parts))  # type: ignore[arg-type]


def _tighter(pack: Pack, p: Constants) -> Pack:
    return replace(pack, whole_pack_factor=pack.whole_pack_factor * p.get("permeance", 1.0))


def _course(piece: Piece, pack: Pack, journey: Journey, k: int, t: Floats, kind: Measured) -> Floats:
    history = history_of([piece], pack, journey, stretches_of(journey, pack, [piece]), ())
    values = history.moisture if kind == "moisture" else history.activity
    return np.interp(t, history.times, values[:, k])
