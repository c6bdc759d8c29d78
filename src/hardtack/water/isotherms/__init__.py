"""One file per isotherm form; all have the same functions.

`PARAMETERS` names the constants; `moisture(a, p)`, `activity(X, p)`, `slope(a, p)` = dX/da; `check(p)` raises
`HardtackError` on impossible constants; `limit(p)` is the largest activity the form can be evaluated at.
`table` takes its points where the others take constants.
"""

from __future__ import annotations

from types import ModuleType

from hardtack.errors import HardtackError
from hardtack.water.isotherms import (
    bet,
    chung_pfost,
    gab,
    halsey,
    henderson,
    lewicki,
    oswin,
    peleg,
    smith,
    table,
)

FORMS: dict[str, ModuleType] = {
    "gab": gab,
    "bet": bet,
    "oswin": oswin,
    "halsey": halsey,
    "henderson": henderson,
    "chung_pfost": chung_pfost,
    "smith": smith,
    "peleg": peleg,
    "lewicki": lewicki,
    "table": table,
}


def form_named(name: str) -> ModuleType:
    """The module of an isotherm form, in any usual writing (GAB, Chung-Pfost). Raises `HardtackError`."""
    form = FORMS.get(name.lower().replace("-", "_").replace(" ", "_"))
    if form is None:
        raise HardtackError(f"{name!r} is no isotherm form", f"choose one of: {', '.join(FORMS)}")
    return form
