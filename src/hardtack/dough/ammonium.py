"""Ammonium bicarbonate: where it may be used, and its caution."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.units import wet_basis

CAUTION = (
    "Ammonia irritates eyes, nose and lungs, and ammonium bicarbonate raises acrylamide: vent the oven, keep "
    "to the local limits of exposure, and let the person responsible for safety at work and the local food "
    "code decide."
)


@dataclass(frozen=True, slots=True)
class AmmoniumUse:
    """Whether ammonium bicarbonate suits a piece. `suits` is None when that cannot be told."""

    suits: bool | None
    finding: str
    caution: str


def ammonium_use(final_moisture: float | None, thickness: float | None) -> AmmoniumUse:
    """Judge by final moisture [kg/kg dry] and thickness [m] of the baked piece; None where unknown.

    Below 5 % moisture (wet basis) ammonia leaves thin pieces; in thicker or moister ones it stays and is
    tasted. The thickness is assumed, the sources say thin and no number. Raises `HardtackError` for values
    that cannot be.
    """
    dry, thin = lookup("ammonium limits", "dry")["moisture"], lookup("ammonium limits", "thin")["thickness"]
    for name, value in (("final moisture", final_moisture), ("thickness", thickness)):
        if value is not None and not value >= 0:
            raise HardtackError(f"a {name} of {value:g} cannot be", "give a value of zero or more, or None")
    moist = f"the limit is {wet_basis(dry):.0%} on wet basis"
    if final_moisture is not None and final_moisture >= dry:
        finding = f"Too moist: {wet_basis(final_moisture):.1%}, {moist}. Ammonia stays in it and is tasted."
        return AmmoniumUse(False, finding, CAUTION)
    if thickness is not None and thickness > thin:
        finding = (
            f"Too thick: {1000 * thickness:.1f} mm (up to {1000 * thin:.0f} mm counts as thin, assumed). "
            "Ammonia may stay in the middle."
        )
        return AmmoniumUse(False, finding, CAUTION)
    if final_moisture is None or thickness is None:
        missing = "final moisture" if final_moisture is None else "thickness"
        return AmmoniumUse(None, f"Cannot be told without the {missing} as baked: {moist}.", CAUTION)
    finding = f"Suits: thin and dry ({wet_basis(final_moisture):.1%}, {moist}). See that no smell is left."
    return AmmoniumUse(True, finding, CAUTION)
