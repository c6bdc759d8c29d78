"""What every isotherm form shares: the type of its constants and the checks on them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from hardtack.errors import HardtackError
from hardtack.states import Floats

Numbers = float | Floats
"""A scalar or an array; a form takes either and gives the same back."""
Constants = Mapping[str, Numbers]
"""A form's constants by name. They are arrays when the temperature is."""

POLE_MARGIN = 1e-9
"""How far below its pole (relative) a form that runs to infinite moisture is still evaluated."""


def require(form: str, names: tuple[str, ...], p: Constants, *, above_zero: tuple[str, ...]) -> None:
    """Check that `p` holds exactly the constants `names`, all finite, those `above_zero` above zero.

    Raises `HardtackError` that names the form and every faulty constant.
    """
    listed = ", ".join(names)
    if set(p) != set(names):
        missing = ", ".join(name for name in names if name not in p) or "none"
        unknown = ", ".join(sorted(str(name) for name in p if name not in names)) or "none"
        raise HardtackError(
            f"{form} needs the constants {listed} (missing: {missing}; not its own: {unknown})",
            f"give exactly {listed}, moistures in kg water per kg dry solid",
        )
    for name in names:
        value = np.asarray(p[name], dtype=float)
        if not np.all(np.isfinite(value)):
            raise HardtackError(f"{form}: {name} is not a finite number", f"give a number for {name}")
        if name in above_zero and not np.all(value > 0):
            raise HardtackError(
                f"{form}: {name} = {float(value.min()):g} must be above zero",
                "check sign and basis of the fit: with this constant moisture would not rise with activity",
            )
