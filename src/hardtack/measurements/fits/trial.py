"""`hardtack fit trial`: a storage trial, finished or still running, against the whole model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Points, curve, layer_named, within
from hardtack.measurements.fitting import Constants
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.isotherm import form_title
from hardtack.measurements.model import Air, Model, model_of, pair_given
from hardtack.measurements.reading import read_table
from hardtack.measurements.storage_trial import (
    Factor,
    Progress,
    Readings,
    TrialResult,
    days_text,
    fit_storage_trial,
    predicted,
)
from hardtack.measurements.table import SetAside, Table
from hardtack.product import Product
from hardtack.product.isotherm_spec import CONSTANTS
from hardtack.states import Floats, Isotherm
from hardtack.units import DAY, celsius

_CURVE = 61
_FRESH = 0.5 * DAY
_NEAR = 0.1
"""A tenth off is more than an oven or a meter misses by: common practice, no source."""


def fit_trial(
    data: str | Path,
    product: Product,
    *,
    layer: str = "",
    factors: Sequence[Factor] = (),
    air: Air | None = None,
    said: Answers = NONE,
    progress: Progress = lambda _: None,
) -> FitAnswer:
    """Fit the trial in the file (time, and moisture or activity of one layer) to the product's model.

    The packs stood in the file's own climates (columns temperature and humidity), in `air`, or went through the
    product's journey. Raises `HardtackError` when the file leaves something open or does not fit the product.
    """
    name = layer_named(product, layer)
    model = model_of(product, name)
    if "isotherm" in factors and pair_given(model):
        raise HardtackError(
            "the file gives moisture and activity of this layer: that pair fixes the isotherm",
            "take out one of the two to let the trial move the isotherm, or ask for the other factors",
        )
    table = read_table(data, said)
    readings, aside = _readings(table, air)
    result = fit_storage_trial(product, name, readings, factors, progress)
    date = result.date
    spread = f" ± {date.sd:.2g}" if date.sd is not None and date.after is not None else ""
    sentence = (
        f"With this trial {product.name} first fails {days_text(date.after)}{spread}; the product file alone says "
        f"{days_text(date.before)}."
    )
    return FitAnswer(
        kind="trial",
        sentence=sentence,
        told=(*_as_packed(model, readings), *result.told[1:]),
        estimates=result.fit.estimates,
        drawing=_drawing(model, readings, result),
        tables=(table,),
        aside=aside,
        weak=result.fit.weak,
        covariance=result.fit.named_covariance,
        facts=_facts(name, readings, result),
        places=lambda other, wanted: _entries(other, wanted or name, result, Path(data).name),
    )


def _as_packed(model: Model, readings: Readings) -> tuple[str, ...]:
    """A word where the first pull contradicts what the file says of the product when packed: no factor mends that."""
    fresh = readings.times < _FRESH
    if not fresh.any():
        return ()
    found, stated = (
        float(readings.measured[fresh].mean()),
        float(predicted(model, readings, {})[fresh].mean()),
    )
    if abs(found - stated) <= _NEAR * stated:
        return ()
    unit, scale = ("g/100 g dry", 100.0) if readings.kind == "moisture" else ("", 1.0)
    return (
        f"On day 0 the packs held {scale * found:.3g} {unit}".rstrip()
        + f", the product file says {scale * stated:.3g}: put the {readings.kind} as measured into the file first.",
    )


def _readings(table: Table, air: Air | None) -> tuple[Readings, tuple[SetAside, ...]]:
    kinds = [kind for kind in ("moisture", "activity") if table.keys(kind)]
    if len(kinds) != 1:
        table.need("time", "moisture")
        raise HardtackError(
            f"{table.file}: moisture and activity are both there: which one counts?",
            "say --answer 'column NAME: not used' for the other",
        )
    kind = kinds[0]
    climates = air is None and bool(table.keys("temperature")) and bool(table.keys("humidity"))
    names = ("time", kind, *(("temperature", "humidity") if climates else ()))
    taken = table.take(*names, replicated=kind)
    t, y = taken.columns[:2]
    if air is not None:
        return Readings(t, y, kind, (air,), np.zeros(t.size)), taken.aside  # type: ignore[arg-type]
    if not climates:
        return Readings(t, y, kind), taken.aside  # type: ignore[arg-type]
    pairs = np.round(np.stack(taken.columns[2:], axis=1), 3)
    airs, place = np.unique(pairs, axis=0, return_inverse=True)
    if len(airs) > 12:
        raise HardtackError(
            f"{table.file}: {len(airs)} different climates are no cabinets but a logger",
            "give the climate of the cabinet in every row, or --climate '30 degC, 75 %'",
        )
    held = tuple(Air(float(T), float(RH)) for T, RH in airs)
    return Readings(t, y, kind, held, np.asarray(place, dtype=float).ravel()), taken.aside  # type: ignore[arg-type]


def _drawing(model: Model, readings: Readings, result: TrialResult) -> Drawing:
    scale = 100.0 if readings.kind == "moisture" else 1.0
    title = "moisture, g water per 100 g dry" if readings.kind == "moisture" else "water activity"
    points, curves = [], []
    for k in range(max(len(readings.airs), 1)):
        here = (
            np.arange(readings.times.size) if readings.place is None else np.flatnonzero(readings.place == k)
        )
        name = str(readings.airs[k]) if readings.airs else "measured"
        t, fitted = readings.times[here], result.fit.predicted[here]
        points.append(
            Points(
                name,
                t / DAY,
                scale * readings.measured[here],
                within(result.fit.outliers, here),
                scale * fitted,
            )
        )
        x = np.linspace(0.0, float(readings.times.max()), _CURVE)
        own = replace(
            readings, times=x, measured=x, airs=readings.airs[k : k + 1],
            place=np.zeros(x.size) if readings.airs else None,
        )  # fmt: skip

        def over(p: Constants, asked: Readings = own) -> Floats:
            return predicted(model, asked, p)

        curves.append(replace(curve(result.fit, name, x / DAY, over, scale), x=x / DAY))
        word = "the file alone" + (f", {name}" if len(readings.airs) > 1 else "")
        curves.append(Curve(word, x / DAY, scale * predicted(model, own, {})))
    return Drawing(
        "days from packing", title, tuple(points), tuple(curves), (), "g/100 g dry" if scale > 1 else ""
    )


def _facts(layer: str, readings: Readings, result: TrialResult) -> dict[str, Any]:
    date = result.date
    return {
        "layer": layer,
        "measured": readings.kind,
        "climates": [
            {"temperature_degC": celsius(air.temperature), "humidity": air.humidity} for air in readings.airs
        ],
        "last_day": float(readings.times.max()) / DAY,
        "day_of_first_failure": {"file_alone": date.before, "with_trial": date.after, "sd": date.sd},
        "support": [{"factors": list(names), "aicc": aicc} for names, aicc in result.support],
        "by_climate": {
            air: {estimate.name: {"value": estimate.value, "sd": estimate.sd} for estimate in estimates}
            for air, estimates in result.alone.items()
        },
    }


def _entries(product: Product, layer: str, result: TrialResult, source: str) -> tuple[Entry, ...]:
    """The factors on what the file holds now."""
    model = model_of(product, layer_named(product, layer))
    made: list[Entry] = []
    place = f"piece / layers / {layer_named(product, layer)}"
    for estimate in result.fit.estimates:
        f, rel = estimate.value, 0.0 if estimate.sd is None else estimate.sd / estimate.value
        if estimate.name == "permeance":
            value = model.pack.whole_pack_factor * f
            text = amount_text(value, value * rel, "", source=f"{source}, storage trial")
            made.append(Entry("pack / whole-pack factor", text))
        elif estimate.name == "diffusivity":
            D = model.piece.layers[model.layer].diffusivity
            law: dict[str, str] = {
                "value": amount_text(
                    D.D_ref * f, D.D_ref * f * rel, "m2/s", source=f"{source}, storage trial"
                ),
                "at": f"{celsius(D.T_ref):.4g} degC",
            }
            if D.slope:
                law |= {"rises with moisture": f"{D.slope:.4g}", "around": f"{100 * D.X_ref:.4g} %db"}
            if D.E:
                law["activation energy"] = f"{D.E / 1e3:.4g} kJ/mol"
            made.append(Entry(f"{place} / diffusivity", law))
        else:
            made.append(
                Entry(f"{place} / isotherm", _scaled(model.isotherm, f, rel, f"{source}, storage trial"))
            )
    return tuple(made)


def _scaled(iso: Isotherm, factor: float, rel: float, source: str) -> dict[str, Any]:
    """The isotherm written out with all its moistures times a factor."""
    f = factor * iso.scale
    form = "table" if iso.form == "table" else form_title(iso.form)
    made: dict[str, Any] = {"form": form, "at": f"{celsius(iso.reference_temperature):.4g} degC"}
    if iso.form == "table":
        made["points"] = {
            f"{a:g}": amount_text(100 * X * f, 100 * X * f * rel, "%db", source=source) for a, X in iso.points
        }
    for name, kind in CONSTANTS[form].items():
        value = iso.parameters[name]
        if kind == "moisture":
            made[name] = amount_text(100 * value * f, 100 * value * f * rel, "%db", source=source)
            continue
        # the constants that carry the unit of moisture without being one
        if (iso.form, name) == ("halsey", "A"):
            value *= f ** iso.parameters["B"]
        elif (iso.form, name) == ("henderson", "A"):
            value *= f ** -iso.parameters["B"]
        elif (iso.form, name) == ("chung_pfost", "B"):
            value /= f
        made[name] = f"{value:.5g}"
    if iso.heat is not None:
        made["isosteric heat"] = f"{iso.heat.q0 / 1e3:.4g} kJ/mol"
        if np.isfinite(iso.heat.X0):
            made["fades over"] = f"{100 * iso.heat.X0 * f:.4g} %db"
    elif iso.enthalpies:
        made["enthalpies"] = {name: f"{value / 1e3:.4g} kJ/mol" for name, value in iso.enthalpies.items()}
    made["branch"] = iso.branch
    made["range"] = f"{iso.activity_range[0]:g}..{iso.activity_range[1]:g}"
    return made
