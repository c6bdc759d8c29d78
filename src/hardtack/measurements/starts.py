"""Where the search for an isotherm's constants begins: straight lines in the form's own coordinates, small grids."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import product

import numpy as np

from hardtack.measurements.fitting import Constants, Sought
from hardtack.states import Floats
from hardtack.water.isotherms import form_named
from hardtack.water.isotherms.gab import LARGEST_K

_TINY = 1e-9
_WIDE = 1e6


def sought(form: str, a_max: float) -> tuple[Sought, ...]:
    """The constants of a form, with the bounds that keep it an isotherm over the measured activities."""
    moist = "kg/kg dry"
    K_top = min(LARGEST_K, (1 - 1e-6) / a_max)
    named = {
        "gab": (
            Sought("Xm", _TINY, 2.0, moist, "monolayer moisture"),
            Sought("C", _TINY, _WIDE, "", "energy constant of the first layer"),
            Sought("K", _TINY, K_top, "", "energy constant of the multilayer"),
        ),
        "bet": (Sought("Xm", _TINY, 2.0, moist, "monolayer moisture"), Sought("C", _TINY, _WIDE, "", "energy constant")),
        "oswin": (Sought("A", _TINY, 2.0, moist, "moisture at activity 0.5"), Sought("B", _TINY, 20.0)),
        "halsey": (Sought("A", 1e-300, _WIDE), Sought("B", _TINY, 50.0)),
        "henderson": (Sought("A", _TINY, 1e12), Sought("B", _TINY, 50.0)),
        "chung_pfost": (Sought("A", _TINY, _WIDE), Sought("B", _TINY, _WIDE)),
        "smith": (Sought("A", -2.0, 2.0, moist), Sought("B", _TINY, 20.0, moist)),
        "peleg": (
            Sought("C1", _TINY, 20.0, moist), Sought("C2", _TINY, 50.0),
            Sought("C3", _TINY, 20.0, moist), Sought("C4", _TINY, 50.0),
        ),
        "lewicki": (Sought("F", _TINY, 20.0, moist), Sought("G", _TINY, 20.0), Sought("H", _TINY, 200.0)),
    }  # fmt: skip
    return named[form]


def starts(form: str, a: Floats, X: Floats) -> list[Constants]:
    """Starting constants for points of activity and moisture [kg/kg dry], activities between 0 and 1."""
    inner = (a > 0) & (a < 1) & (X > 0)
    a, X = a[inner], X[inner]
    if form in _LINES:
        x, y, back = _LINES[form](a, X)
        slope, intercept = (float(v) for v in np.polyfit(x, y, 1))
        return [back(slope, intercept)]
    if form == "peleg":
        return [_peleg(a, X, low, high) for low, high in product((0.3, 0.8, 1.2), (3.0, 8.0, 16.0))]
    first = {"gab": "Xm", "bet": "Xm", "oswin": "A", "lewicki": "F"}[form]
    return [_scaled(form, a, X, first, shape) for shape in _shapes(form, float(a.max()))]


def _shapes(form: str, a_max: float) -> Iterable[Constants]:
    if form == "gab":
        top = min(0.98, 0.98 / a_max)
        return [{"C": C, "K": K * top} for C, K in product((1.0, 5.0, 25.0), (0.75, 0.9, 1.0))]
    if form == "bet":
        return [{"C": C} for C in (1.0, 5.0, 25.0)]
    if form == "oswin":
        return [{"B": B} for B in (0.25, 0.5, 1.0)]
    return [{"G": G, "H": H} for G, H in product((0.2, 0.5, 1.0), (0.5, 2.0, 10.0))]


def _scaled(form: str, a: Floats, X: Floats, first: str, shape: Constants) -> Constants:
    """The constant in front by linear least squares, the others given."""
    unit = np.asarray(form_named(form).moisture(a, {first: 1.0, **shape}), dtype=float)
    return {first: float(unit @ X / (unit @ unit)), **shape}


def _peleg(a: Floats, X: Floats, low: float, high: float) -> Constants:
    both = np.stack([a**low, a**high], axis=1)
    C1, C3 = np.maximum(np.linalg.lstsq(both, X, rcond=None)[0], 1e-3 * X.max())
    return {"C1": float(C1), "C2": low, "C3": float(C3), "C4": high}


def _above_zero(value: float) -> float:
    return max(value, _TINY)


_Back = Callable[[float, float], Constants]
_LINES: dict[str, Callable[[Floats, Floats], tuple[Floats, Floats, _Back]]] = {
    # ln(-ln a) = ln A - B ln X
    "halsey": lambda a, X: (
        np.log(X), np.log(-np.log(a)), lambda s, i: {"A": float(np.exp(i)), "B": _above_zero(-s)}
    ),
    # ln(-ln(1 - a)) = ln A + B ln X
    "henderson": lambda a, X: (
        np.log(X), np.log(-np.log1p(-a)), lambda s, i: {"A": float(np.exp(i)), "B": _above_zero(s)}
    ),
    # ln(-ln a) = ln A - B X
    "chung_pfost": lambda a, X: (X, np.log(-np.log(a)), lambda s, i: {"A": float(np.exp(i)), "B": _above_zero(-s)}),
    # X = A - B ln(1 - a)
    "smith": lambda a, X: (-np.log1p(-a), X, lambda s, i: {"A": i, "B": _above_zero(s)}),
}  # fmt: skip
