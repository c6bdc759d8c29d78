"""The statement as JSON: a documented, stable schema (`docs/json.md`).

Times are days from packing, temperatures degrees Celsius, moisture kg water per kg dry solid with its wet-basis
twin, activity and humidity fractions. Keys are added within a schema version, never renamed or removed.
"""

from __future__ import annotations

import math
from typing import Any

from hardtack.keeping.statement import SCHEMA_VERSION, KeepingStatement
from hardtack.sourced import Used
from hardtack.states import FailureCourse, Gate
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
        "chain": statement.chain,
        "causes": list(statement.causes),
        "limiting": {
            "words": statement.limiting,
            "method": statement.history.method,
            "film_to_inside_resistance": _finite(statement.history.resistance_ratio),
        },
        "failures": [_failure(statement, number) for number in range(len(statement.courses))],
        "not_judged": [{"name": one.name, "why": one.why} for one in statement.not_judged],
        "two_stales": _stale(statement),
        "clashes": list(statement.clashes),
        "gates": [_gate(gate) for gate in statement.gates],
        "pieces": [
            {
                "name": piece.name or None,
                "count": piece.count,
                "layers": [layer.name for layer in piece.layers],
            }
            for piece in statement.pieces
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


def _gate(gate: Gate) -> dict[str, Any]:
    return {
        "name": gate.name,
        "finding": gate.finding,
        "who_confirms": gate.confirm,
        "source": gate.source,
        "provenance": gate.provenance,
    }


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None


def _failure(statement: KeepingStatement, number: int) -> dict[str, Any]:
    course = statement.courses[number]
    return {
        "name": course.name,
        "layer": course.layer,
        "day": None if course.time is None else days(course.time),
        "share_of_life_used_at_end": statement.shares[number],
        "share_of_life_used": course.share.tolist(),
        "share_by_leg": share_by_leg(statement, course),
        "chain": statement.chains[number],
        "limit": course.limit,
        "meaning": course.meaning,
        "told": list(course.told),
        "valid": course.valid,
        "source": course.source,
        "provenance": course.provenance,
        "would_sharpen": course.sharpen,
        "numbers": [used_json(used) for used in statement.numbers[number]],
    }


def share_by_leg(statement: KeepingStatement, course: FailureCourse) -> dict[str, float]:
    """Share of life that a failure used on each leg up to the end of the statement."""
    return {
        leg.name: statement.share_at(course, leg.end) - statement.share_at(course, leg.start)
        for leg in statement.legs
    }


def judged_json(statement: KeepingStatement) -> dict[str, Any]:
    """The failures judged and those not, as `hardtack why FILE --json` lists them."""
    return {
        "schema": f"hardtack why {SCHEMA_VERSION}",
        "product": statement.product,
        "failures": [
            {
                "name": course.name,
                "layer": course.layer,
                "day": None if course.time is None else days(course.time),
                "share_of_life_used_at_end": share,
            }
            for course, share in zip(statement.courses, statement.shares, strict=True)
        ],
        "not_judged": [{"name": one.name, "why": one.why} for one in statement.not_judged],
    }


def _stale(statement: KeepingStatement) -> dict[str, Any] | None:
    stale = statement.stale
    if stale is None:
        return None
    return {
        "crumb": stale.crumb,
        "crust": stale.crust or None,
        "firming_share_of_life": stale.firming.tolist(),
        "water_into_crust_kg": stale.water_into_crust.tolist(),
        "water_out_of_crumb_kg": stale.water_out_of_crumb.tolist(),
        "words": list(stale.words),
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
        "desiccant_moisture_dry_basis": history.desiccant[:, 0].tolist() if history.desiccant.size else None,
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
        "values": list(amount.values),
        "spread": amount.spread,
        "written": amount.written,
        "provenance": amount.provenance,
        "source": amount.source,
        "given_in_file": used.given,
    }
