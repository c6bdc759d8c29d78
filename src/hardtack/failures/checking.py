"""Checking: hard biscuits crack by themselves hours to days after the oven.

The rim has left the oven drier than the centre; as the water evens out the rim swells and the centre shrinks,
and a hairline runs through. This is an index, a rule of thumb: the difference in moisture when packed against
the greatest that is called harmless. It is no calculation of strength.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures.names import CHECKING
from hardtack.failures.running import first_time
from hardtack.reference import lookup
from hardtack.states import FailureCourse, Floats, History, Layer, Piece
from hardtack.units import wet_basis
from hardtack.water.isotherm import moisture

NAME = CHECKING


@dataclass(frozen=True, slots=True)
class Checking:
    """The hard `layers`, centre and rim in the piece's order (or one layer through its thickness), and the
    greatest harmless `difference` in moisture between them (fraction, wet basis)."""

    layers: tuple[str, ...]
    difference: float


def difference(history: History, piece: Piece, names: tuple[str, ...]) -> Floats:
    """Moisture of the wettest inner cell less that of the driest outer cell of these layers [n], wet basis.

    Zero where the outside is the wetter: a biscuit that drinks goes soft and seldom checks. Inner is the
    middle half of a slab and the half about the centre of a round piece. Raises `HardtackError` when the
    history keeps no profile: without one there is no gradient to see.
    """
    if history.profile.shape[1] == 0:
        raise HardtackError(
            "checking needs the moisture across the biscuit, and this answer took the piece as one",
            "give the centre and the rim as layers, each with its own moisture, so that the profile is "
            "computed",
        )
    spans = [_span(piece, name) for name in names]
    start, end = spans[0][0], spans[-1][0] + spans[-1][1].thickness
    x, W = [], []
    for _, layer in spans:
        inside = history.profile_layer == history.layers.index(layer.name)
        X = np.asarray(moisture(layer.isotherm, history.profile[:, inside], history.temperature[:, None]))
        x.append((history.profile_positions[inside] - start) / (end - start))
        W.append(X / (1.0 + X))
    where, all_W = np.concatenate(x), np.concatenate(W, axis=1)
    inner = np.abs(where - 0.5) <= 0.25 if piece.shape == "slab" else where <= 0.5
    return np.asarray(np.maximum(0.0, all_W[:, inner].max(axis=1) - all_W[:, ~inner].min(axis=1)))


def course(history: History, piece: Piece, spec: Checking) -> FailureCourse:
    """The index as a share: the greatest difference so far over the harmless one. Raises as `difference`."""
    if not spec.difference > 0.0:
        raise HardtackError(
            f"a harmless difference of {spec.difference:g}", "it is above zero, such as 1 % of moisture"
        )
    name = spec.layers[-1]
    share = np.maximum.accumulate(difference(history, piece, spec.layers)) / spec.difference
    row = lookup("checking", "hard biscuit")
    low, high = row.values["mean"].low, row.values["mean"].high
    W = wet_basis(_mean_when_packed(piece, spec.layers))
    told = ["a rule of thumb: it ranks bakes and coolings, it does not say how many will crack"]
    if low is not None and high is not None and not wet_basis(low) - 1e-9 <= W <= wet_basis(high) + 1e-9:
        told.append(
            f"mean moisture when packed is {100 * W:.1f} % (wet basis); 2 to 3 % is called good against "
            "checking"
        )
    return FailureCourse(
        name=NAME,
        layer=name,
        share=share,
        time=first_time(history.times, share),
        limit=(f"{name} with {100 * spec.difference:.2g} % moisture (wet basis) from centre to rim"),
        meaning=f"the {name} is likely to check: cracks by itself as its moisture evens out",
        valid=(
            "hard, low-fat biscuits and crackers in the first days after the oven; soft and fat ones "
            "seldom check"
        ),
        source=row.source.citation,
        provenance=row.provenance,
        sharpen=(
            "moisture of rim and centre at the end of cooling, and a count of checked pieces after 1, 2 "
            "and 7 days"
        ),
        told=tuple(told),
    )


def _span(piece: Piece, name: str) -> tuple[float, Layer]:
    start = 0.0
    for part in piece.parts:
        if isinstance(part, Layer) and part.name == name:
            return start, part
        start += part.thickness if isinstance(part, Layer) else 0.0  # cells leave barriers out
    raise HardtackError(
        f"no layer {name!r} in the piece", f"there are: {', '.join(layer.name for layer in piece.layers)}"
    )


def _mean_when_packed(piece: Piece, names: tuple[str, ...]) -> float:
    """Mean moisture of the layers [kg/kg dry]."""
    held = [layer for layer in piece.layers if layer.name in names]
    dry = sum(layer.dry_mass for layer in held)
    return sum(layer.dry_mass * layer.moisture for layer in held) / dry
