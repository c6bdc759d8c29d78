"""The water report as JSON: a documented, stable schema (`docs/json.md`).

Temperatures are degrees Celsius, moisture kg water per kg dry solid with its wet-basis twin, activity and
shares fractions. Keys are added within a schema version, never renamed or removed.
"""

from __future__ import annotations

from typing import Any

from hardtack.keeping.as_json import used_json
from hardtack.keeping.water_report import TABLE, FormulaWater, GlassWater, LayerWater, WaterReport
from hardtack.units import celsius, wet_basis

SCHEMA_VERSION = 1


def water_json(report: WaterReport) -> dict[str, Any]:
    """Every part of the report as plain numbers, text, lists and mappings."""
    return {
        "schema": f"hardtack water {SCHEMA_VERSION}",
        "version": report.version,
        "product": report.product,
        "per": report.per,
        "pieces": report.count,
        "formulas": [_formula(formula) for formula in report.formulas],
        "layers": [_layer(layer, report) for layer in report.layers],
        "rest": _rest(report),
        "assumptions": [used_json(used) for used in report.used],
        "cautions": list(report.cautions),
    }


def _formula(formula: FormulaWater) -> dict[str, Any]:
    return {
        "name": formula.name,
        "ingredients": [
            {
                "name": line.name,
                "share": line.share,
                "bakers_percent": None if line.bakers is None else 100 * line.bakers,
                "water": line.water,
            }
            for line in formula.lines
        ],
        "moisture_dry_basis": formula.moisture,
        "moisture_wet_basis": wet_basis(formula.moisture),
        "activity": formula.activity,
        "rms_activity": formula.error,
        "at_degC": 25.0,
        "hydration": formula.hydration,
        "effective_hydration": formula.effective_hydration,
        "sugar": formula.sugar,
        "crystalline": list(formula.crystalline),
        "made": formula.made,
    }


def _layer(layer: LayerWater, report: WaterReport) -> dict[str, Any]:
    return {
        "name": layer.name,
        "formula": layer.formula or None,
        "activity": layer.activity,
        "moisture_dry_basis": layer.moisture,
        "moisture_wet_basis": wet_basis(layer.moisture),
        "dry_mass_kg": layer.dry_mass,
        "isotherm": {
            "name": layer.isotherm.name,
            "branch": layer.branch,
            "provenance": layer.isotherm.provenance,
            "source": layer.isotherm.source,
            "rms_activity": layer.isotherm.activity_sd,
            "activity": list(TABLE),
            "tables": [
                {"at_degC": celsius(T), "moisture_dry_basis": list(row)}
                for T, row in zip(report.temperatures, layer.moistures, strict=True)
            ],
        },
        "glass": None if layer.glass is None else _glass(layer.glass),
    }


def _glass(glass: GlassWater) -> dict[str, Any]:
    return {
        "solids": list(glass.solids),
        "softens_at_degC": 25.0,
        "activity": glass.activity,
        "moisture_dry_basis": glass.moisture,
        "transition_now_degC": celsius(glass.Tg),
    }


def _rest(report: WaterReport) -> dict[str, Any] | None:
    if report.rest is None:
        return None
    return {
        "activity": report.rest.activity,
        "at_degC": 25.0,
        "free_water_kg": report.rest.free_water,
        "layers": [
            {"name": layer.name, "moisture_dry_basis": X, "moisture_wet_basis": wet_basis(X)}
            for layer, X in zip(report.layers, report.rest.moistures, strict=True)
        ],
    }
