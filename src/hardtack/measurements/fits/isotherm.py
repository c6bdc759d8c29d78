"""`hardtack fit isotherm`: jars or meter readings to the isotherm of a layer, on one branch or both."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.fit_answer import (
    Curve,
    Drawing,
    FitAnswer,
    Points,
    curve,
    grid,
    groups,
    layer_named,
    within,
)
from hardtack.measurements.fitting import Constants
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.isotherm import (
    RANKED,
    IsothermFit,
    IsothermStudy,
    form_title,
    isotherm_from,
    with_constants,
)
from hardtack.measurements.meter import MeterCorrection, meter_from
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Table
from hardtack.product import Product
from hardtack.product.correlations import pair_key
from hardtack.product.isotherm_spec import CONSTANTS
from hardtack.states import Branch
from hardtack.units import celsius
from hardtack.water.isotherm import moisture

SHOWN = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


def fit_isotherm(
    data: str | Path,
    *,
    said: Answers = NONE,
    temperature: float | None = None,
    branch: Branch | None = None,
    meter: str | Path | None = None,
    meter_said: Answers = NONE,
    progress: Callable[[float], None] = lambda _: None,
) -> FitAnswer:
    """Fit every form to the file and rank them; `temperature` [K] where the file has none.

    `branch` is the one that is wanted: of a file that holds both, adsorption unless said, and the other is
    fitted beside it. `meter` is a log of salt standards by which the readings are corrected first. Raises
    `HardtackError` when the file leaves something open or the points allow no fit.
    """
    if temperature is not None:  # salts are read at it
        said = Answers({"temperature": f"{temperature} K"}).over(said)
    table = read_table(data, said)
    tables = [table]
    correction: MeterCorrection | None = None
    if meter is not None:
        log = read_table(meter, meter_said)
        tables.append(log)
        correction, _ = meter_from(log)
    study, other = _studies(table, branch, correction, progress)
    told = [*study.told[1:], study.told[0]]
    if correction is not None:
        told += correction.told
    told += _ranking(study)
    if other is not None:
        told.append(_other_branch(study, other))
    if study.bet is not None:
        Xm = study.bet.fit["Xm"]
        told.append(f"BET up to activity 0.5: monolayer {100 * Xm.value:.2f} g/100 g dry ({Xm}).")
    best = study.best
    return FitAnswer(
        kind="isotherm",
        sentence=_sentence(study),
        told=tuple(told),
        estimates=best.fit.estimates,
        drawing=_drawing(study, other),
        tables=tuple(tables),
        aside=study.aside,
        weak=best.doubts,
        covariance=best.fit.named_covariance,
        facts=_facts(study, other, correction),
        places=lambda product, layer: isotherm_entry(product, layer, best, Path(data).name),
    )


def _studies(
    table: Table,
    branch: Branch | None,
    correction: MeterCorrection | None,
    progress: Callable[[float], None],
) -> tuple[IsothermStudy, IsothermStudy | None]:
    wanted: Branch = branch or "adsorption"
    opposite: Branch = "desorption" if wanted == "adsorption" else "adsorption"
    change = None if correction is None else correction.corrected
    study = isotherm_from(table, branch=wanted, change=change, progress=progress)
    if not table.keys("branch"):
        return study, None
    try:
        return study, isotherm_from(table, branch=opposite, change=change)
    except HardtackError:
        return study, None  # the file holds too little of the other branch


def _sentence(study: IsothermStudy) -> str:
    best = study.best
    iso, (low, high) = best.isotherm, best.isotherm.activity_range
    T = iso.reference_temperature
    a = float(np.clip(round(study.activity.mean(), 1), low, high))
    X = 100 * float(moisture(iso, a, T))
    return (
        f"{form_title(iso.form)} describes the {study.activity.size} points best, to {best.mean_deviation:.1f} % of "
        f"their moisture: at activity {a:.2f} and {celsius(T):.0f} °C the product holds {X:.2f} g water per 100 g dry. "
        f"It holds from activity {low:.2f} to {high:.2f}."
    )


def _ranking(study: IsothermStudy) -> list[str]:
    least = study.ranked[0].fit.aicc
    which = (
        "All forms"
        if len(study.ranked) >= len(RANKED)
        else "The forms that come nearest at one temperature, with heat"
    )
    lines = [f"{which}, best by AICc first (difference of AICc, mean relative deviation E, residual):"]
    for found in study.ranked:
        state = "" if found.sound else "; not usable"
        lines.append(
            f"{form_title(found.isotherm.form)}: {found.fit.aicc - least:+.1f}, E {found.mean_deviation:.1f} %, "
            f"{100 * found.fit.sigma:.2g} g/100 g dry{state}"
        )
    return lines


def _other_branch(study: IsothermStudy, other: IsothermStudy) -> str:
    (low, high), T = _common(study, other), study.best.isotherm.reference_temperature
    a = np.linspace(low, high, 9)
    gap = 100 * (moisture(other.best.isotherm, a, T) - moisture(study.best.isotherm, a, T))
    k = int(np.argmax(np.abs(gap)))
    return (
        f"On {other.best.isotherm.branch} ({other.activity.size} points, {form_title(other.best.isotherm.form)}, E "
        f"{other.best.mean_deviation:.1f} %) the product holds up to {gap[k]:+.2f} g/100 g dry against "
        f"{study.best.isotherm.branch}, at activity {a[k]:.2f}."
    )


def _common(study: IsothermStudy, other: IsothermStudy) -> tuple[float, float]:
    ends = (study.best.isotherm.activity_range, other.best.isotherm.activity_range)
    low, high = max(end[0] for end in ends), min(end[1] for end in ends)
    return (low, high) if low < high else ends[0]


def _drawing(study: IsothermStudy, other: IsothermStudy | None) -> Drawing:
    points: list[Points] = []
    curves: list[Curve] = []
    for held in (study, other):
        if held is None:
            continue
        best, word = held.best, held.best.isotherm.branch
        for T, places in groups(held.temperature, 1.0):
            name = f"{celsius(T):.0f} °C" + (f", {word}" if other is not None else "")
            predicted = best.fit.predicted[places]
            apart = within(best.fit.outliers, places)
            points.append(
                Points(name, held.activity[places], 100 * held.moisture[places], apart, 100 * predicted)
            )
            a = grid(held.activity[places])

            def over(p: Constants, at: Any = a, kelvin: float = T, fitted: IsothermFit = best) -> Any:
                return moisture(with_constants(fitted.isotherm, p), at, kelvin)

            curves.append(curve(best.fit, name, a, over, 100.0))
    return Drawing(
        "water activity", "moisture, g water per 100 g dry", tuple(points), tuple(curves),
        residual_title="g/100 g dry",
    )  # fmt: skip


def _facts(
    study: IsothermStudy, other: IsothermStudy | None, correction: MeterCorrection | None
) -> dict[str, Any]:
    iso = study.best.isotherm
    low, high = iso.activity_range
    a = [value for value in SHOWN if low <= value <= high]
    facts: dict[str, Any] = {
        "form": form_title(iso.form),
        "branch": iso.branch,
        "at_degC": celsius(iso.reference_temperature),
        "activity_range": [low, high],
        "mean_relative_deviation_percent": study.best.mean_deviation,
        "curve": {"activity": a, "moisture_dry_basis": [float(moisture(iso, x, iso.reference_temperature)) for x in a]},
        "ranking": [
            {
                "form": form_title(found.isotherm.form), "aicc": found.fit.aicc, "usable": found.sound,
                "mean_relative_deviation_percent": found.mean_deviation, "doubts": list(found.doubts),
            }
            for found in study.ranked
        ],
        "other_branch": None if other is None else {
            "form": form_title(other.best.isotherm.form),
            "branch": other.best.isotherm.branch,
            "values": other.best.fit.values,
        },
        "meter": None if correction is None else {
            "offset": correction.offset, "slope": correction.slope, "sd": correction.sd,
            "activity_range": list(correction.range),
        },
    }  # fmt: skip
    return facts


def isotherm_entry(product: Product, layer: str, found: IsothermFit, source: str) -> tuple[Entry, ...]:
    """The fitted isotherm, written out in full, in its layer."""
    iso = found.isotherm
    form = form_title(iso.form)
    kinds: Mapping[str, str] = CONSTANTS[form]
    made: dict[str, str | Mapping[str, str]] = {
        "form": form,
        "at": f"{celsius(iso.reference_temperature):.4g} degC",
    }
    for name, kind in kinds.items():
        scale, unit = (100.0, "%db") if kind == "moisture" else (1.0, "")
        made[name] = _amount(found, name, scale, unit, source)
    if iso.heat is not None:
        made["isosteric heat"] = _amount(found, "q0", 1e-3, "kJ/mol", source)
        if np.isfinite(iso.heat.X0):
            made["fades over"] = _amount(found, "X0", 100.0, "%db", source)
    correlations = _correlations(found)
    if correlations:
        made["correlations"] = correlations
    made["branch"] = iso.branch
    made["range"] = f"{iso.activity_range[0]:.3f}..{iso.activity_range[1]:.3f}"
    return (Entry(f"piece / layers / {layer_named(product, layer)} / isotherm", made, _KEYS),)


def _correlations(found: IsothermFit) -> dict[str, str]:
    """The correlations of the fitted constants' errors, by the names the product file has for them."""
    fit = found.fit
    names = [_FILE_NAMES.get(estimate.name, estimate.name) for estimate in fit.estimates]
    sd = np.sqrt(np.diag(fit.covariance))
    known = [k for k in range(len(names)) if np.isfinite(sd[k]) and sd[k] > 0]
    return {
        pair_key(names[i], names[j]): f"{fit.covariance[i, j] / (sd[i] * sd[j]):.5f}"
        for i, j in combinations(known, 2)
    }


_FILE_NAMES = {"q0": "isosteric heat", "X0": "fades over"}
_KEYS = tuple(
    dict.fromkeys([
        "points", "correlations", "enthalpies", "isosteric heat", "fades over", "name",
        *(name for constants in CONSTANTS.values() for name in constants),
    ])
)  # fmt: skip


def _amount(found: IsothermFit, name: str, scale: float, unit: str, source: str) -> str:
    estimate = found.fit[name]
    sd = None if estimate.sd is None else scale * estimate.sd
    return amount_text(scale * estimate.value, sd, unit, source=source)
