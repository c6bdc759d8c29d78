"""The statement as JSON: a documented, stable schema (`docs/json.md`).

Times are days from packing, temperatures degrees Celsius, moisture kg water per kg dry solid with its wet-basis
twin, activity and humidity fractions. Keys are added within a schema version, never renamed or removed.
"""

from __future__ import annotations

import math
from typing import Any

from hardtack.keeping.statement import SCHEMA_VERSION, KeepingStatement
from hardtack.sourced import Used
from hardtack.states import FailureCourse
from hardtack.units import celsius, days, wet_basis


def statement_json(statement: KeepingStatement) -> dict[str, Any]:
    """Every part of the statement as plain numbers, text, lists and mappings."""
    return {
        "schema": f"hardtack statement {SCHEMA_VERSION}",
        "version": statement.version,
        "product": statement.product,
        "sentence": statement.sentence,
        "days": statement.days,
        "end": {"day": days(statement.end), "date": statement.end_date or None},
        "causes": list(statement.causes),
        "limiting": {
            "words": statement.limiting,
            "method": statement.history.method,
            "film_to_inside_resistance": _finite(statement.history.resistance_ratio),
        },
        "failures": [_failure(course) for course in statement.courses],
        "gates": [
            {
                "name": gate.name,
                "finding": gate.finding,
                "who_confirms": gate.confirm,
                "source": gate.source,
                "provenance": gate.provenance,
            }
            for gate in statement.gates
        ],
        "legs": _legs(statement),
        "limits": [
            {
                "failure": limit.failure,
                "layer": limit.layer,
                "activity": limit.activity,
                "at_degC": celsius(limit.temperature),
            }
            for limit in statement.limits
        ],
        "ladder": _ladder(statement),
        "history": _history(statement),
        "assumptions": [used_json(used) for used in statement.used],
        "isotherm_errors": [
            {
                "formula": error.formula,
                "layers": list(error.layers),
                "rms_activity": error.rms,
                "day_soonest": None if error.soonest is None else days(error.soonest),
                "day_latest": None if error.latest is None else days(error.latest),
            }
            for error in statement.isotherm_errors
        ],
        "cautions": list(statement.cautions),
        "water_balance_error": statement.history.imbalance,
    }


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def _failure(course: FailureCourse) -> dict[str, Any]:
    return {
        "name": course.name,
        "layer": course.layer,
        "day": None if course.time is None else days(course.time),
        "share_of_life_used_at_end": float(course.share[-1]),
        "share_of_life_used": course.share.tolist(),
        "limit": course.limit,
        "meaning": course.meaning,
        "valid": course.valid,
        "source": course.source,
        "provenance": course.provenance,
        "would_sharpen": course.sharpen,
    }


def _legs(statement: KeepingStatement) -> list[dict[str, Any]]:
    layers = statement.history.layers
    return [
        {
            "name": leg.name,
            "from_day": days(leg.start),
            "to_day": days(leg.end),
            "temperature_degC": [celsius(T) for T in leg.temperature],
            "humidity": list(leg.humidity),
            "sealed": leg.sealed,
            "activity_in": dict(zip(layers, leg.activity_in, strict=True)),
            "activity_out": dict(zip(layers, leg.activity_out, strict=True)),
            "share_of_life_used": leg.share,
            "words": words,
        }
        for leg, words in zip(statement.legs, statement.way, strict=True)
    ]


def _ladder(statement: KeepingStatement) -> dict[str, Any]:
    return {
        "rungs": [
            {
                "name": rung.name,
                "activity_packed": rung.start,
                "activity_end": rung.end,
                "kg_water_per_hundredth": _finite(rung.capacity),
                "moisture": rung.moisture or None,
            }
            for rung in statement.ladder
        ],
        "flows": [{"from": flow.source, "to": flow.sink, "kg_per_s": flow.rate} for flow in statement.flows],
    }


def _history(statement: KeepingStatement) -> dict[str, Any]:
    history = statement.history
    return {
        "day": days_list(history.times),
        "leg": history.leg.tolist(),
        "temperature_degC": [celsius(T) for T in history.temperature.tolist()],
        "humidity": history.humidity.tolist(),
        "headspace_activity": history.headspace.tolist(),
        "water_gained_kg": history.water_gained.tolist(),
        "layers": [
            {
                "name": name,
                "activity": history.activity[:, k].tolist(),
                "moisture_dry_basis": history.moisture[:, k].tolist(),
                "moisture_wet_basis": [wet_basis(X) for X in history.moisture[:, k].tolist()],
            }
            for k, name in enumerate(history.layers)
        ],
    }


def days_list(seconds: Any) -> list[float]:
    """Days of an array of seconds, as plain floats."""
    return [days(t) for t in seconds.tolist()]


def used_json(used: Used) -> dict[str, Any]:
    """A number an answer leans on, as plain data."""
    amount = used.amount
    return {
        "what": used.what,
        "value": amount.value,
        "unit": amount.unit,
        "sd": amount.sd,
        "low": amount.low,
        "high": amount.high,
        "written": amount.written,
        "provenance": amount.provenance,
        "source": amount.source,
        "given_in_file": used.given,
    }
