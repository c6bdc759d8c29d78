"""What the evidence cases can ask of isotherms made from a composition."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hardtack.errors import NotOnShelf
from hardtack.evidence.predict import Predictor
from hardtack.reference import Row, lookup
from hardtack.states import Branch
from hardtack.water.composition import Composition, from_proximate
from hardtack.water.isotherm import activity
from hardtack.water.sharing import formula_isotherm


def activity_from_composition(
    X: float,
    T: float,
    branch: Branch,
    row: str = "",
    composition: Mapping[str, Any] | None = None,
    sugars: Mapping[str, float] | None = None,
    protein: str = "wheat",
    crystalline: Sequence[str] = (),
) -> float:
    """Activity at moisture X [kg/kg dry] and T [K] of dry matter known by its composition alone.

    The composition is written out, or is that of a `row` of finished goods or ingredients with its `sugars`
    split by kind; `crystalline` names the sugars that are crystals where not dissolved.
    """
    made = (
        from_proximate(_row(row), sugars or {}, protein)
        if composition is None
        else Composition(**composition)
    )
    iso = formula_isotherm(row, made, crystalline=crystalline, branch=branch, T=T)
    return float(activity(iso, X, T))


def _row(name: str) -> Row:
    try:
        return lookup("finished goods", name)
    except NotOnShelf:
        return lookup("ingredients", name)


PREDICTORS: Mapping[str, Predictor] = {
    "activity from composition": Predictor(activity_from_composition, {"X": "moisture", "T": "temperature"}),
}
