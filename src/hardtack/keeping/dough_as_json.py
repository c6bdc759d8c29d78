"""The dough report as JSON: a documented, stable schema (`docs/json.md`).

Masses are kg, shares and baker's percents fractions of one unless a key says percent, gas mol per kg of dough.
Keys are added within a schema version, never renamed or removed.
"""

from __future__ import annotations

import math
from typing import Any

from hardtack.dough.rising import bench_share, litres
from hardtack.keeping.as_json import used_json
from hardtack.keeping.dough_report import DoughReport, DoughSheet
from hardtack.keeping.dough_words import sentence
from hardtack.keeping.leavening_report import Leavening
from hardtack.units import celsius, wet_basis

SCHEMA_VERSION = 1


def dough_json(report: DoughReport) -> dict[str, Any]:
    """Every part of the report as plain numbers, text, lists and mappings."""
    return {
        "schema": f"hardtack dough {SCHEMA_VERSION}",
        "version": report.version,
        "product": report.product,
        "doughs": [_sheet(sheet) for sheet in report.sheets],
        "cautions": list(report.cautions),
    }


def _sheet(sheet: DoughSheet) -> dict[str, Any]:
    return {
        "name": sheet.name,
        "sentence": sentence(sheet),
        "ingredients": [
            {
                "part": line.stage or None,
                "name": line.name,
                "share": line.share,
                "bakers_percent": None if line.bakers is None else 100 * line.bakers,
                "water_on_flour": line.water_on_flour,
                "batch_kg": weighed.mass,
                "cost": weighed.cost,
            }
            for line, weighed in zip(sheet.lines, sheet.batch.lines, strict=True)
        ],
        "dough": {
            "moisture_dry_basis": sheet.moisture,
            "moisture_wet_basis": wet_basis(sheet.moisture),
            "activity": sheet.activity,
            "rms_activity": sheet.error,
            "at_degC": 25.0,
            "hydration": sheet.hydration,
            "effective_hydration": sheet.effective_hydration,
            "solvent_on_flour": sheet.solvent,
            "sugar_in_solvent": sheet.sugar_in_solvent,
            "composition": dict(sheet.parts),
        },
        "baked": _baked(sheet),
        "batch": _batch(sheet),
        "ingredient_order": {
            "listed": [{"name": item.name, "of_product": item.of_product} for item in sheet.order.listed],
            "added_water_left": sheet.order.water,
            "finished_weight_known": sheet.order.finished,
            "notes": list(sheet.order.notes),
        },
        "allergens": {
            "named": [
                {"allergen": row.name, "EU": bool(row["EU"]), "US": bool(row["US"]), "from": list(names)}
                for row, names in sheet.allergens.brought
            ],
            "unknown": list(sheet.allergens.unknown),
        },
        "leavening": None if sheet.leavening is None else _leavening(sheet.leavening, sheet),
        "yeast": _yeast(sheet),
        "rise": _rise(sheet),
        "structure": _structure(sheet),
        "remarks": list(sheet.remarks),
        "assumptions": [used_json(used) for used in sheet.used],
    }


def _baked(sheet: DoughSheet) -> dict[str, Any] | None:
    baked = sheet.baked
    if baked is None:
        return None
    return {
        "moisture_dry_basis": baked.moisture,
        "moisture_wet_basis": wet_basis(baked.moisture),
        "activity": sheet.baked_activity,
        "rms_activity": sheet.baked_error,
        "bake_loss": baked.loss,
        "kg_per_kg_dough": baked.mass,
        "solids_lost": baked.solids_lost,
        "alcohol_at_most": baked.alcohol_at_most / baked.mass,
        "composition": {name: mass / baked.mass for name, mass in baked.parts.items()},
    }


def _batch(sheet: DoughSheet) -> dict[str, Any]:
    batch = sheet.batch
    return {
        "dough_kg": batch.dough,
        "dough_piece_kg": batch.dough_piece,
        "baked_piece_kg": batch.baked_piece,
        "pieces": batch.pieces,
        "process_loss": batch.process_loss,
        "yield": batch.yielded,
        "stated": batch.stated,
        "currency": batch.currency or None,
        "cost_per_kg_dough": batch.cost_dough,
        "cost_per_kg_baked": batch.cost_baked,
        "cost_per_piece": batch.cost_piece,
        "unpriced": list(batch.unpriced),
    }


def _leavening(leavening: Leavening, sheet: DoughSheet) -> dict[str, Any]:
    sums, pH = leavening.balance, leavening.pH
    return {
        "leaning": sums.leaning,
        "finding": sums.finding,
        "soda": sums.soda,
        "acid_as_soda": sums.acid,
        "neutralised": sums.neutralised,
        "left_soda": sums.left_soda,
        "left_acid_as_soda": sums.left_acid,
        "sodium": sums.sodium,
        "carbon_dioxide": {
            "by_acid": sums.by_acid,
            "by_heat_at_most": sums.by_heat,
            "by_ammonium": sums.by_ammonium,
            "ammonia": sums.ammonia,
        },
        "bench": {
            "low": leavening.bench.bench_low,
            "high": leavening.bench.bench_high,
            "unknown": list(leavening.bench.unknown),
            "finding": leavening.bench.finding,
        },
        "neutral": [
            {
                "acid": item.acid,
                "now": item.now,
                "needed": item.needed,
                "neutralising_value": item.working,
                "stoichiometric_value": item.stoichiometric,
            }
            for item in leavening.neutral
        ],
        "powders": [
            {"name": item.name, "carbon_dioxide": item.carbon_dioxide, "short_of": list(item.short_of)}
            for item in leavening.powders
        ],
        "ammonium": None
        if leavening.ammonium is None
        else {
            "suits": leavening.ammonium.suits,
            "finding": leavening.ammonium.finding,
            "caution": leavening.ammonium.caution,
        },
        "pH": {"value": pH.value, "sd": pH.sd, "why": pH.why},
        "lift": None
        if leavening.lift is None
        else {
            "acid": leavening.lift.acid,
            "cells_m3_per_kg": leavening.lift.cells,
            "at_degC": celsius(leavening.lift.T),
            "soda": leavening.lift.dose.soda,
            "acid_kg_per_kg": leavening.lift.dose.acid,
        },
    }


def _yeast(sheet: DoughSheet) -> dict[str, Any] | None:
    proved = sheet.proved
    if proved is None:
        return None
    return {
        "stages": [
            {
                "part": stage.part or None,
                "stage": stage.stage,
                "seconds": stage.duration,
                "temperature_degC": celsius(stage.T),
                "carbon_dioxide_made": stage.made,
            }
            for stage in proved.stages
        ],
        "carbon_dioxide_made": proved.made,
        "in_cells": proved.in_cells,
        "in_cells_at_most": proved.at_most,
        "dissolved": proved.dissolved,
        "sugar_used": proved.glucose,
        "alcohol_made": proved.ethanol,
        "enough_sugar": proved.enough_sugar,
    }


def _rise(sheet: DoughSheet) -> dict[str, Any]:
    rise = sheet.rise
    return {
        "seconds": rise.times.tolist(),
        "temperature_degC": [celsius(T) for T in rise.T.tolist()],
        "oven_at_s": rise.oven_at,
        "by_acid": rise.by_acid.tolist(),
        "by_heat": rise.by_heat.tolist(),
        "by_ammonium": rise.by_ammonium.tolist(),
        "by_yeast": rise.by_yeast,
        "lost_on_bench": rise.lost,
        "by_heat_open_crumb": rise.by_heat_open,
        "ammonia": rise.ammonia.tolist(),
        "bench_share": bench_share(rise),
        "litres_per_kg_25degC": litres(float(rise.carbon_dioxide[-1])),
        "cells_m3_per_kg": [None if math.isnan(V) else V for V in rise.cells.tolist()],
        "steam_in_cells": [None if math.isnan(y) else y for y in rise.steam.tolist()],
        "split_law": rise.law,
        "split_outside_range": rise.outside,
        "open_crumb_law": rise.open_law,
    }


def _structure(sheet: DoughSheet) -> dict[str, Any]:
    card, folded, texture = sheet.structure, sheet.laminate, sheet.texture
    return {
        "card": None
        if card is None
        else {
            "holder": card.holder,
            "gluten": card.gluten,
            "shortening": card.shortening,
            "toughness": card.toughness,
            "lift": card.lift,
            "crispness": card.crispness,
            "reasons": list(card.reasons),
            "guide": card.guide,
        },
        "sheets": None
        if folded is None
        else {
            "fat_sheets": folded.fat_sheets,
            "dough_sheets": folded.dough_sheets,
            "fat_thickness_m": folded.fat_thickness,
            "dough_thickness_m": folded.dough_thickness,
            "merged": folded.merged,
            "finding": folded.finding,
        },
        "texture": None
        if texture is None
        else {
            "value": texture.strength.value,
            "low": texture.strength.low,
            "high": texture.strength.high,
            "unit": texture.unit,
            "exponent": texture.strength.exponent,
            "density": texture.density,
            "wanted_density": texture.wanted_density,
            "outside_range": texture.strength.outside,
            "source": texture.strength.source,
        },
    }
