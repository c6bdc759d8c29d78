"""A layer that was baked dry and has since taken up water: its isotherm between the branches of its formula."""

from __future__ import annotations

from hardtack.dough import Formula, isotherm_of_formula
from hardtack.piece.materials import ROOM
from hardtack.product.schema import LayerSpec
from hardtack.states import Isotherm
from hardtack.water.isotherm import activity, moisture
from hardtack.water.scanning import scanning_isotherm


def scanning_of(formula: Formula, layer: LayerSpec) -> Isotherm:
    """The isotherm on which the layer goes on from its state when packed, at 25 degC.

    With its moisture or activity alone it is taken to stand on the drying branch, where the oven left it; with
    both it stands where they put it. Raises `HardtackError` when that is not between the branches.
    """
    wetting, drying = (isotherm_of_formula(formula, branch) for branch in ("adsorption", "desorption"))
    X = None if layer.moisture is None else layer.moisture.value
    a = None if layer.activity is None else layer.activity.value
    if a is not None and layer.activity_at is not None:
        a = float(activity(drying, moisture(drying, a, layer.activity_at.value), ROOM))
    if X is None:
        assert a is not None  # the product file has one or the other
        X = float(moisture(drying, a, ROOM))
    if a is None:
        a = float(activity(drying, X, ROOM))
        X = float(moisture(drying, a, ROOM))  # on the branch to the last digit
    return scanning_isotherm(wetting, drying, a, X, ROOM)
