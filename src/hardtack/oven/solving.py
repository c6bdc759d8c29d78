"""How long, how hot for a wanted moisture; and what differs across the band."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from hardtack.errors import HardtackError
from hardtack.oven.baking import Baked, Dough, bake, dough_of, factors_of, oven_of
from hardtack.product import Product
from hardtack.product.oven_spec import OvenSpec
from hardtack.sourced import Sourced
from hardtack.units import wet_basis

TIMES = (0.25, 4.0)
SHIFTS = (-60.0, 60.0)
"""Factors on all times, and shifts [K] of all zones, that are searched."""
CLOSE = 1e-4
"""Difference in moisture [kg/kg dry] at which the search ends."""


@dataclass(frozen=True, slots=True)
class ToMoisture:
    """Two ways to the wanted moisture at the oven's exit [kg/kg dry]: `time_factor` on all zones' times at the file's
    temperatures, or `shift` [K] of all zones at the file's times; None where none within the range does it.
    """

    moisture: float
    time_factor: float | None
    time: float | None
    shift: float | None
    longer: Baked | None
    hotter: Baked | None


@dataclass(frozen=True, slots=True)
class Across:
    """A place across the band: heat transfer there over the middle's, exit moisture [kg/kg dry], lightness."""

    place: str
    heat: float
    moisture: float
    lightness: float


def to_moisture(product: Product, moisture: float) -> ToMoisture:
    """How long, or how hot, the oven must be for `moisture` [kg/kg dry] at its exit.

    Raises `HardtackError` for a moisture that is none, and as `bake` does.
    """
    if not moisture > 0:
        raise HardtackError(f"a moisture of {moisture:g} cannot be baked to", "give one such as 2.5 %wb")
    oven, dough = oven_of(product), dough_of(product)

    def longer(factor: float) -> Baked:
        return bake(product, oven=_scaled(oven, factor), dough=dough)

    def hotter(shift: float) -> Baked:
        return bake(product, oven=_shifted(oven, shift), dough=dough)

    factor = _search(lambda x: longer(x).exit_moisture - moisture, *TIMES)
    shift = _search(lambda x: hotter(x).exit_moisture - moisture, *SHIFTS)
    return ToMoisture(
        moisture=moisture,
        time_factor=factor,
        time=None if factor is None else factor * sum(zone.lasts.value for zone in oven.zones),
        shift=shift,
        longer=None if factor is None else longer(factor),
        hotter=None if shift is None else hotter(shift),
    )


def across_the_band(product: Product, dough: Dough | None = None) -> tuple[Across, ...]:
    """The bake at every place across the band that the file names. Raises as `bake`."""
    oven = oven_of(product)
    dough = dough or dough_of(product)
    factors = factors_of(oven)
    found = []
    for place in oven.across_the_band:
        there = bake(product, replace(factors, heat=factors.heat * place.heat.value), dough=dough)
        found.append(
            Across(place.place, place.heat.value, there.exit_moisture, float(there.colour.lightness[-1]))
        )
    return tuple(found)


def range_words(middle: Baked, places: tuple[Across, ...]) -> str:
    """The range across the band in a sentence."""
    moistures = [middle.exit_moisture, *(place.moisture for place in places)]
    told = ", ".join(f"{place.place} {100 * wet_basis(place.moisture):.2f} %" for place in places)
    return (
        f"Across the band: {told}, middle {100 * wet_basis(middle.exit_moisture):.2f} % wet basis at the exit; "
        f"a range of {100 * (wet_basis(max(moistures)) - wet_basis(min(moistures))):.2f} points."
    )


def _scaled(oven: OvenSpec, factor: float) -> OvenSpec:
    zones = tuple(zone.model_copy(update={"lasts": _times(zone.lasts, factor)}) for zone in oven.zones)
    return oven.model_copy(update={"zones": zones})


def _times(amount: Sourced, factor: float) -> Sourced:
    return replace(amount, value=amount.value * factor)


def _shifted(oven: OvenSpec, shift: float) -> OvenSpec:
    zones = []
    for zone in oven.zones:
        moved = {
            key: replace(value, value=value.value + shift)
            for key in ("temperature", "to", "walls", "band")
            if (value := getattr(zone, key)) is not None
        }
        zones.append(zone.model_copy(update=moved))
    return oven.model_copy(update={"zones": tuple(zones)})


def _search(over: Callable[[float], float], low: float, high: float) -> float | None:
    """Where `over`, falling, passes zero between low and high, by false position (Illinois); None if it does not."""
    above, below = over(low), over(high)
    if not above >= 0 >= below:
        return None
    side = 0
    for _ in range(40):
        x = low + (high - low) * above / (above - below) if above > below else (low + high) / 2
        now = over(x)
        if abs(now) < CLOSE:
            break
        if now > 0:
            low, above, below, side = x, now, below / 2 if side == 1 else below, 1
        else:
            high, below, above, side = x, now, above / 2 if side == -1 else above, -1
    return x
