"""What the water report says in sentences, for every face alike."""

from __future__ import annotations

from hardtack.keeping.water_report import LayerWater, WaterReport
from hardtack.units import celsius, wet_basis

HISTORY = {
    "adsorption": "adsorption",
    "desorption": "desorption",
    "scanning": "from the drying branch into the wetting one",
}


def moisture_words(X: float) -> str:
    """A moisture on both bases."""
    return f"{100 * wet_basis(X):.1f} % wb ({100 * X:.1f} % db)"


def layer_words(layer: LayerWater) -> tuple[str, ...]:
    """A layer as packed, whence its isotherm is, and its glass where it has one."""
    where = f"computed from the formula “{layer.formula}”" if layer.formula else layer.isotherm.name
    error = (
        ""
        if layer.isotherm.activity_sd is None
        else f", good to about ±{layer.isotherm.activity_sd:.2g} in activity"
    )
    return (
        f"As packed: {moisture_words(layer.moisture)}, water activity {layer.activity:.3f} at 25 °C.",
        f"Isotherm: {where} ({HISTORY[layer.branch]}){error}.",
        *((glass_words(layer),) if layer.glass is not None else ()),
    )


def glass_words(layer: LayerWater) -> str:
    """Where the layer's glass softens at 25 degC and on which side it stands."""
    glass = layer.glass
    assert glass is not None  # asked for only where there is one
    solids = ", ".join(glass.solids)
    now = f"its glass transition stands at {celsius(glass.Tg):.0f} °C now"
    if glass.activity is None or glass.moisture is None:
        return f"Glass ({solids}): no activity softens it at 25 °C; {now}."
    if glass.activity == 0.0:
        return f"Glass ({solids}): soft at 25 °C even when dry; {now}."
    stands = "above, so soft" if layer.activity > glass.activity else "below, so glassy"
    return (
        f"Glass ({solids}): softens at 25 °C at activity {glass.activity:.2f}, "
        f"{moisture_words(glass.moisture)}; the layer stands {stands}: {now}."
    )


def table_words(row: tuple[float | None, ...]) -> tuple[str, ...]:
    """One line of a layer's table, % dry basis; a dash beyond the isotherm's end."""
    return tuple("-" if X is None else f"{100 * X:.1f}" for X in row)


def table_name(layer: LayerWater) -> str:
    """The name under which the layer's table is laid open."""
    return f"moistures of the {layer.name} over activity"


def rest_words(report: WaterReport) -> tuple[str, ...]:
    """Where the layers come to rest and what each gains or gives; nothing for a single layer."""
    if report.rest is None:
        return ()
    lines = [f"Common water activity: {report.rest.activity:.3f}."]
    for layer, X in zip(report.layers, report.rest.moistures, strict=True):
        gained = X - layer.moisture
        way = "gains" if gained > 0 else "gives"
        grams = f"{way} {1e3 * layer.dry_mass * abs(gained):.3g} g a {report.per}"
        lines.append(f"{layer.name}: {moisture_words(layer.moisture)} → {moisture_words(X)}; {grams}.")
    if report.rest.free_water > 0:
        lines.append(
            f"{1e3 * report.rest.free_water:.3g} g of water a {report.per} is more than all can hold."
        )
    return tuple(lines)
