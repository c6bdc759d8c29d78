"""What grows: mould and the yeasts of sweet fillings, as the file states them or by the shelf's growth model."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from hardtack import reference
from hardtack.failures.names import FERMENTATION, MOULD
from hardtack.keeping.judged import Judged, NotJudged, Verdict, all_layers
from hardtack.pack import pack_of
from hardtack.pack.gas import IN_AIR, mean_share
from hardtack.product.failures_spec import FermentationSpec, MouldSpec, SettingSpec
from hardtack.product.schema import Product
from hardtack.sourced import Sourced, Used
from hardtack.states import Journey, Layer, Piece
from hardtack.units import DAY, celsius
from hardtack.water.isotherm import activity

if TYPE_CHECKING:
    from hardtack.failures.growth import Setting
    from hardtack.failures.mould import MeasuredDay
    from hardtack.failures.preservatives import Acid

GAS_LOOKED_AT = 14 * DAY
"""Time over which the packed carbon dioxide counts by its mean; mould of moist goods comes within it (assumed)."""
CARDINALS = ("lag_opt", "radial_opt", "a_min", "a_opt", "T_min", "T_opt", "T_max")


def preservatives_of(spec: SettingSpec | None) -> tuple[Acid, ...]:
    """The weak acids of a setting. Raises `NotOnShelf`."""
    if spec is None:
        return ()
    from hardtack.failures.preservatives import acid

    return tuple(acid(held.name, held.dose.value, held.weighed_as == "salt") for held in spec.preservatives)


def mould_failure(product: Product, pieces: tuple[Piece, ...], journey: Journey) -> Verdict:
    """Mould by the way the file names; without one by the growth model, for the mould that grows fastest.

    That is the one of the shelf that is fastest at the activity of the moistest part and the journey's mean
    temperature. Nothing is judged when every part, and the air on bare pieces, is drier than any mould grows at.
    """
    spec = product.failures.mould if product.failures else None
    wettest = max(_watched(pieces, spec), key=_activity)
    highest = max(_activity(wettest), _bare_air(journey))
    if spec is None and highest < reference.growth_limits()[0]["a_min"]:
        why = (
            f"all is packed too dry (the {wettest.name}, the moistest, at {highest:.2f}) for anything to grow"
        )
        return NotJudged(MOULD, why)
    from hardtack.failures import mould

    if spec is not None and spec.way == "lines":
        slopes = tuple(
            Used(f"slope of the mould-free lines, {row.name}", row.values["slope"], False)
            for row in reference.rows("mould-free lines")
        )
        lines = mould.MouldFreeLines(spec.layers)
        return Judged(MOULD, wettest.name, partial(mould.course, spec=lines), slopes, bounded=True)
    given = spec.organism if spec else None
    name = given or _fastest(highest, _mean_temperature(journey))
    if name is None:
        return NotJudged(
            MOULD, f"no mould of the shelf grows at activity {highest:.2f} and the journey's temperature"
        )
    setting, used = _setting(spec, wettest.pH, "")
    setting, gas_used = _packed_gas(product, journey, spec, setting)
    used += gas_used
    row = reference.lookup("growth cardinals", name)
    used += tuple(
        Used(f"{symbol} of {row.name}", row.values[symbol], given is not None) for symbol in CARDINALS
    )
    layers = spec.layers if spec else ()
    if spec is None or spec.way == "growth":
        slower = mould.slower_on_goods()
        growth = mould.Growth(row.name, setting, layers, slower)
        a, T = mould.middle_of_the_lines()
        source = (
            f"mould-free lines of cakes over the growth model, at activity {a:.2f} and {celsius(T):.0f} °C "
            f"({reference.rows('mould-free lines')[0].source.citation})"
        )
        scale = Sourced(slower, "", "assumed", source, written=f"{slower:.2g} times")
        used += (Used("mould on goods, slower than by the growth model on agar", scale, False),)
        return Judged(MOULD, wettest.name, partial(mould.course, spec=growth), used)
    day, day_used = _measured_day(spec, row.name, setting)
    return Judged(MOULD, wettest.name, partial(mould.course, spec=day), (*day_used, *used))


def _measured_day(spec: MouldSpec, organism: str, setting: Setting) -> tuple[MeasuredDay, tuple[Used, ...]]:
    """The day mould was first seen, as the file states it, and the numbers behind it."""
    from hardtack.failures import mould

    assert spec.seen_after is not None  # the product file asks for all three
    assert spec.activity is not None
    assert spec.at is not None
    there, there_used = (
        (setting, ()) if spec.measured_in is None else _setting(spec.measured_in, None, "as measured: ")
    )
    day = mould.MeasuredDay(
        life=spec.seen_after.value,
        a=spec.activity.value,
        T=spec.at.value,
        organism=organism,
        measured_in=there,
        setting=setting,
        layers=spec.layers,
        provenance=spec.seen_after.provenance,
        source=spec.seen_after.source,
    )
    return day, (*_day_used("mould first seen", spec.seen_after, spec), *there_used)


def fermentation_failure(product: Product) -> Verdict:
    """Fermentation from the measured day the file states."""
    spec = product.failures.fermentation if product.failures else None
    if spec is None:
        return NotJudged(
            FERMENTATION, "it takes a measured day of the filling; its gate says whether yeasts can grow"
        )
    from hardtack.failures import yeast

    own = next(layer.pH for layer in product.layers if layer.name == spec.layer)
    setting, used = _setting(spec, None if own is None else own.value, "")
    there, there_used = (
        (setting, ()) if spec.measured_in is None else _setting(spec.measured_in, None, "as measured: ")
    )
    day = yeast.Fermentation(
        layer=spec.layer,
        life=spec.noticed_after.value,
        a=spec.activity.value,
        T=spec.at.value,
        measured_in=there,
        setting=setting,
        provenance=spec.noticed_after.provenance,
        source=spec.noticed_after.source,
    )
    used = (*_day_used("fermentation noticed", spec.noticed_after, spec), *used, *there_used)
    return Judged(FERMENTATION, spec.layer, partial(yeast.course, spec=day), used)


def _day_used(what: str, after: object, spec: MouldSpec | FermentationSpec) -> tuple[Used, ...]:
    amounts = (
        (f"{what} after", after),
        ("activity of that day", spec.activity),
        ("temperature of that day", spec.at),
    )
    return tuple(Used(words, amount, True) for words, amount in amounts)  # type: ignore[arg-type]


def _setting(spec: SettingSpec | None, layer_pH: float | None, head: str) -> tuple[Setting, tuple[Used, ...]]:
    """The setting of growth, the layer's pH where the spec gives none; and its numbers."""
    from hardtack.failures.growth import Setting

    if spec is None:
        return Setting(pH=layer_pH), ()
    used = [Used(f"{head}pH for growth", spec.pH, True)] if spec.pH else []
    used += [Used(f"{head}{held.name} ({held.weighed_as})", held.dose, True) for held in spec.preservatives]
    if spec.carbon_dioxide is not None:
        used.append(Used(f"{head}carbon dioxide in the headspace", spec.carbon_dioxide, True))
    setting = Setting(
        pH=spec.pH.value if spec.pH else layer_pH,
        acids=preservatives_of(spec),
        carbon_dioxide=spec.carbon_dioxide.value if spec.carbon_dioxide else 0.0,
    )
    return setting, tuple(used)


def _packed_gas(
    product: Product, journey: Journey, spec: MouldSpec | None, setting: Setting
) -> tuple[Setting, tuple[Used, ...]]:
    """The setting with the carbon dioxide packed, as the film lets it go; where the file states none of its own."""
    if product.pack is None or product.pack.atmosphere is None or (spec and spec.carbon_dioxide is not None):
        return setting, ()
    if product.pack.atmosphere.carbon_dioxide.value <= IN_AIR["carbon dioxide"]:
        return setting, ()
    pack, _ = pack_of(product)
    assert pack is not None
    share = mean_share(pack, journey, "carbon dioxide", GAS_LOOKED_AT)
    source = f"packed with {product.pack.atmosphere.carbon_dioxide.written}, through film, seals and holes"
    amount = Sourced(share, "", "assumed", source, written=f"{share:.0%}")
    words = f"carbon dioxide in the headspace, mean of the first {GAS_LOOKED_AT / DAY:.0f} days"
    return replace(setting, carbon_dioxide=share), (Used(words, amount, False),)


def _watched(pieces: tuple[Piece, ...], spec: MouldSpec | None) -> list[Layer]:
    names = spec.layers if spec else ()
    return [layer for layer in all_layers(pieces) if not names or layer.name in names]


def _activity(layer: Layer) -> float:
    return float(activity(layer.isotherm, layer.moisture, layer.isotherm.reference_temperature))


def _bare_air(journey: Journey) -> float:
    """The highest humidity that bare pieces meet."""
    return max(
        (float(leg.climate.humidity.max()) for leg in journey.legs if leg.film_coefficient is not None),
        default=0.0,
    )


def _mean_temperature(journey: Journey) -> float:
    return float(np.mean([leg.climate.temperature.mean() for leg in journey.legs]))


def _fastest(a: float, T: float) -> str | None:
    """The mould that is seen first at this activity and temperature; None when none grows."""
    from hardtack.failures.growth import PLAIN, growth_factor, organism
    from hardtack.failures.mould import work_to_visible

    days: dict[str, float] = {}
    for row in reference.rows("growth cardinals"):
        if "radial_opt" in row.values:
            kind = organism(row.name)
            gamma = float(growth_factor(kind, a, T, PLAIN))
            if gamma > 0.0:
                days[row.name] = work_to_visible(kind) / gamma
    return min(days, key=lambda name: days[name]) if days else None
