"""The numbers of the water at rest laid open: equation, what went into it, source."""

from __future__ import annotations

from hardtack.keeping.water_report import TABLE, FormulaWater, LayerWater, WaterReport
from hardtack.keeping.water_words import glass_words, table_name, table_words
from hardtack.sourced import Computed, about
from hardtack.units import celsius, wet_basis

SHARED = (
    "All parts share the water at one activity: polymers by their own isotherms, dissolved sugars, polyols and salts by solution "
    "laws up to solubility; fat, ash and crystals hold next to nothing."
)


def water_computed(report: WaterReport) -> tuple[Computed, ...]:
    """Every number the page on water speaks of, with its equation."""
    found = [_formula(report, formula) for formula in report.formulas]
    for layer in report.layers:
        found.append(_layer(report, layer))
        found.append(_table(report, layer))
        if layer.glass is not None:
            found.append(_glass(report, layer))
    if report.rest is not None:
        found.append(_rest(report))
    return tuple(found)


def _formula(report: WaterReport, formula: FormulaWater) -> Computed:
    return Computed(
        f"water activity of the {formula.name} as mixed",
        f"{formula.activity:.3f} ± {formula.error:.2g} at 25 °C",
        f"{SHARED} The activity is that at which the shares add up to the water of the formula.",
        "X = sum(w_i X_i(a))",
        "X water per dry solid, w_i share of a part in the dry matter, X_i(a) its own isotherm",
        about(report.used, f"the formula {formula.name}", f"in {formula.name}", "water in", "kinds of sugar"),
        "the isotherms and solution laws of the shelf; docs/water.md; the error is the rms against published pairs",
    )


def _layer(report: WaterReport, layer: LayerWater) -> Computed:
    whence = f"computed from the formula “{layer.formula}”" if layer.formula else layer.isotherm.name
    return Computed(
        f"state of the {layer.name} when packed",
        f"water activity {layer.activity:.3f}, moisture {100 * wet_basis(layer.moisture):.1f} % (wet basis), at 25 °C",
        "Moisture and activity belong together by the layer's isotherm, read on its branch; where both were measured the isotherm "
        f"is moved through the pair. Here: {whence}, {layer.branch}.",
        "X = X(a, T)",
        f"X moisture on dry basis; form of the isotherm: {layer.isotherm.form}",
        about(report.used, layer.name, *((f"formula {layer.formula}",) if layer.formula else ("isotherm",))),
        layer.isotherm.source or "see the isotherm on the shelf; docs/water.md",
    )


def _table(report: WaterReport, layer: LayerWater) -> Computed:
    rows = "; ".join(
        f"{celsius(T):.0f} °C: " + ", ".join(table_words(row))
        for T, row in zip(report.temperatures, layer.moistures, strict=True)
    )
    heat = layer.isotherm.heat
    law = (
        "At constant moisture activity moves with temperature by the net isosteric heat q(X) = q0 exp(-X/X0) (Clausius and Clapeyron)"
        + (f"; here q0 = {heat.q0 / 1e3:.3g} kJ/mol, X0 = {100 * heat.X0:.3g} % db." if heat else ".")
    )
    return Computed(
        table_name(layer),
        f"{rows} (% dry basis, at activities {TABLE[0]:g} to {TABLE[-1]:g} in tenths)",
        f"The layer's isotherm read at each activity. {law}",
        "X = X(a, T)",
        f"X moisture on dry basis; form of the isotherm: {layer.isotherm.form}",
        about(report.used, layer.name, *((f"formula {layer.formula}",) if layer.formula else ("isotherm",))),
        layer.isotherm.source or "see the isotherm on the shelf; docs/water.md",
    )


def _glass(report: WaterReport, layer: LayerWater) -> Computed:
    assert layer.glass is not None  # asked for only where there is one
    return Computed(
        f"glass transition of the {layer.name}",
        glass_words(layer),
        "The amorphous solids and their water are one phase; its transition lies between those of its parts, weighted by mass.",
        "Tg = (w_1 Tg_1 + k w_2 Tg_2) / (w_1 + k w_2)",
        "w shares of solids and water, Tg their transitions [K], k fitted to the pair (Gordon and Taylor); several solids are joined by "
        "their steps in heat capacity (Couchman and Karasz 1978)",
        about(report.used, layer.name, *((f"formula {layer.formula}",) if layer.formula else ())),
        "the shelf's topic on glass transitions, each row with its source; docs/water.md",
    )


def _rest(report: WaterReport) -> Computed:
    assert report.rest is not None  # asked for only where there is one
    return Computed(
        "common water activity at rest",
        f"{report.rest.activity:.3f} at 25 °C",
        "Sealed together, no water lost, the layers exchange water until all have one activity: the sum of their water stays.",
        "sum(m_k X_k(a)) = sum(m_k X_k0)",
        "m_k dry mass of a layer, X_k(a) its isotherm, X_k0 its moisture when packed",
        about(report.used, "when packed", "isotherm", "mass", "share", "formula"),
        "conservation of water; docs/water.md",
    )
