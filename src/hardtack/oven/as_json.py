"""The bake as plain data, with units in the keys; docs/oven.md tells them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from hardtack.oven import words
from hardtack.oven.awaited import computed_layers
from hardtack.oven.baking import Baked
from hardtack.oven.calibration import NAMES, Fit, beside, coefficients
from hardtack.oven.handover import at_packing, crust, layers_of, shares_of
from hardtack.oven.resting import resting
from hardtack.oven.sheets import Parted
from hardtack.oven.solving import Across, ToMoisture
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS, wet_basis
from hardtack.version import VERSION


def bake_json(
    baked: Baked, places: Sequence[Across] = (), wanted: ToMoisture | None = None, fit: Fit | None = None
) -> dict[str, Any]:
    """Everything the bake says. Times in s, temperatures in °C, moistures in kg/kg dry, shares as fractions."""
    return {
        "hardtack": VERSION,
        "kind": "bake",
        "product": baked.product.name,
        "sentence": words.headline(baked),
        "loss": baked.loss,
        "cooling_loss": baked.cooling_loss,
        "exit": _exit(baked),
        "packing": _packing(baked),
        "lift": _lift(baked),
        "kill_step": [
            {
                "row": found.row.name,
                "tenfold_reductions": found.held,
                "activity": list(found.activity),
                "counted_at_activity": found.counted_at,
                "source": found.row.source.citation,
            }
            for found in baked.lethality
        ],
        "layers": _layers(baked),
        "courses": _courses(baked),
        "across_the_band": [asdict(place) for place in places],
        "measured": [
            {
                "what": row.what,
                "unit": row.unit,
                "measured": row.measured,
                "sd": row.sd,
                "computed": row.after,
            }
            for row in beside(baked)
        ],
        "wanted": None if wanted is None else _wanted(wanted),
        "calibration": None if fit is None else _fit(fit),
        "balance": {"water": baked.march.water_imbalance, "energy": baked.march.energy_imbalance},
        "bake": list(words.bake_lines(baked)),
        "advice": list(words.advice(baked)),
        "cautions": [*words.kill_lines(baked), *words.caution_lines(baked)],
        "used": [
            {
                "what": used.what,
                "value": used.amount.value,
                "unit": used.amount.unit,
                "provenance": used.amount.provenance,
                "source": used.amount.source,
                "given": used.given,
            }
            for used in baked.used
        ],
    }


def _exit(baked: Baked) -> dict[str, Any]:
    march = baked.march
    return {
        "time_s": float(march.times[baked.out]),
        "moisture_db": baked.exit_moisture,
        "moisture_wb": float(wet_basis(baked.exit_moisture)),
        "core_degC": float(baked.core[baked.out]) - ZERO_CELSIUS,
        "surface_degC": float(march.surface[baked.out, 1]) - ZERO_CELSIUS,
        "crust_m": crust(baked),
        "gelatinised": float(baked.gelatinised[baked.out] @ march.dry_mass / march.dry_mass.sum()),
        "lightness": float(baked.colour.lightness[-1]),
        "colour_difference": float(baked.colour.difference[-1]),
    }


def _packing(baked: Baked) -> dict[str, Any]:
    end, rest = at_packing(baked), resting(baked)
    return {
        "warmest_degC": end.centre - ZERO_CELSIUS,
        "moisture_wb": end.mean,
        "centre_less_surface_wb": end.difference,
        "cool_after_s": end.cool_after,
        "halved_s": rest.halved,
        "within_a_point_s": rest.within,
        "checking": end.checking,
    }


def _lift(baked: Baked) -> dict[str, Any]:
    lift = baked.lift
    return {
        "timing": lift.timing,
        "early": lift.early,
        "useful": lift.useful,
        "late": lift.late,
        "set_at_s": lift.set_at,
        "rise_at_setting": lift.rise,
        "rise": lift.final,
        "rise_of_the_file": baked.baked_volume / baked.dough_volume,
        "soda_split": lift.soda_split,
        "sugar_out_at_s": lift.sugar_out_at,
        "sheets": None if lift.parted is None else _sheets(lift.parted),
    }


def _sheets(parted: Parted) -> dict[str, Any]:
    sheets = parted.sheets
    return {
        "count": sheets.count,
        "dough_m": sheets.dough,
        "fat_m": sheets.fat,
        "whole": sheets.whole,
        "holes": sheets.holes,
        "merged": sheets.merged,
        "boils_at_s": parted.boils_at,
        "lifted_at_s": parted.lifted_at,
        "highest": float(parted.height.max()),
        "at_exit": float(parted.height[-1]),
        "limit": parted.limit,
        "lost": dict(parted.lost),
        "gaps_m": _list(parted.gaps),
        "pressure_Pa": _list(parted.pressure),
    }


def _layers(baked: Baked) -> list[dict[str, Any]]:
    if not computed_layers(baked.product):
        return []
    return [
        {
            "name": layer.name,
            "dry_mass_kg": layer.dry_mass,
            "moisture_db": layer.moisture,
            "activity_25_degC": layer.activity,
            "thickness_m": layer.thickness,
            "density_kg_m3": layer.density,
        }
        for layer in layers_of(baked)
    ]


def _wanted(wanted: ToMoisture) -> dict[str, Any]:
    return {
        "moisture_db": wanted.moisture,
        "time_s": wanted.time,
        "time_factor": wanted.time_factor,
        "shift_K": wanted.shift,
    }


def _courses(baked: Baked) -> dict[str, Any]:
    march, lift = baked.march, baked.lift
    start = float(march.mean_moisture[0])
    return {
        "time_s": _list(march.times),
        "centre_degC": _list(baked.core - ZERO_CELSIUS),
        "surface_degC": _list(march.surface[:, 1] - ZERO_CELSIUS),
        "weight_lost": _list((start - march.mean_moisture) / (1.0 + start)),
        "mean_moisture_db": _list(march.mean_moisture),
        "centre_moisture_db": _list(march.moisture[:, baked.core_cell]),
        "surface_moisture_db": _list(march.moisture[:, -1]),
        "layers": _layer_courses(baked),
        "in_the_oven": {
            "time_s": _list(march.times[: baked.out + 1]),
            "gas_given": _list(lift.given),
            "setting": _list(lift.setting),
            "steam_share": _list(lift.steam),
            "volume_ratio": _list(lift.volume),
            "sheets_height": None if lift.parted is None else _list(lift.parted.height),
            "sheets_standing": None if lift.parted is None else _list(lift.parted.standing),
            "lightness": _list(baked.colour.lightness),
        },
        "profile_when_packed": {
            "position_m": _list(march.centres),
            "moisture_db": _list(march.moisture[-1]),
            "gelatinised": _list(baked.gelatinised[-1]),
        },
    }


def _layer_courses(baked: Baked) -> list[dict[str, Any]]:
    """Every baked layer over time, each value the mean over its dry mass."""
    march = baked.march
    courses = {
        "temperature_degC": march.temperature - ZERO_CELSIUS,
        "moisture_db": march.moisture,
        "activity": march.activity,
        "gelatinised": baked.gelatinised,
        "setting": baked.setting,
    }
    return [
        {"name": name, **{key: _list(course @ share) for key, course in courses.items()}}
        for name, share in zip(*shares_of(baked), strict=True)
    ]


def _fit(fit: Fit) -> dict[str, Any]:
    return {
        "factors": {"heat": fit.factors.heat, "dry_path": fit.factors.dry_path, "wet_path": fit.factors.wet_path},
        "order": list(NAMES),
        "coefficients": [asdict(row) for row in coefficients(fit)],
        "covariance_of_logarithms": [_list(row) for row in fit.covariance],
        "misfit": fit.misfit,
        "readings": [
            {"what": row.what, "unit": row.unit, "measured": row.measured, "sd": row.sd, "before": row.before, "after": row.after}
            for row in fit.readings
        ],
    }  # fmt: skip


def _list(values: Floats) -> list[float]:
    return [float(f"{value:.6g}") for value in np.asarray(values)]
