"""Remedies as JSON with a stable schema (docs/json.md)."""

from __future__ import annotations

import math
from typing import Any

from hardtack.keeping.remedies import Outcome, Remedies, Remedy

SCHEMA_VERSION = 1


def remedies_json(answer: Remedies) -> dict[str, Any]:
    """Everything remedies found, as plain numbers and text; null days: nothing fails within three years."""
    return {
        "schema": f"hardtack remedies {SCHEMA_VERSION}",
        "product": answer.product,
        "wanted_days": answer.wanted,
        "sentence": answer.sentence,
        "now": _outcome(answer.now),
        "remedies": [_remedy(one) for one in answer.found],
        "no_help": list(answer.idle),
        "promise_days": answer.promise,
        "promise_until": answer.promise_date or None,
        "currency": answer.currency or None,
        "remarks": list(answer.remarks),
    }


def _days(days: float) -> float | None:
    return days if math.isfinite(days) and days >= 0.0 else None


def _outcome(outcome: Outcome) -> dict[str, Any]:
    return {
        "days": _days(outcome.days),
        "fails_first": outcome.first,
        "failures": [{"failure": name, "days": _days(days)} for name, days in outcome.failures],
    }


def _remedy(one: Remedy) -> dict[str, Any]:
    return {
        "kind": one.move.family,
        "what": one.move.what,
        "suffices": one.suffices,
        "from": {"value": one.move.value, "words": one.move.now},
        "to": {"value": one.setting.value, "words": one.setting.words},
        "unit": one.move.unit,
        "range": one.move.within,
        "share_of_range": one.share,
        "specification": one.setting.specification if one.suffices else None,
        "why_not": one.why_not or None,
        **_outcome(one.outcome),
        "effects": [
            {
                "failure": effect.failure,
                "days_before": _days(effect.before),
                "days_after": _days(effect.after),
            }
            for effect in one.effects
        ],
        "gates_changed": [{"gate": name, "finding": said} for name, said in one.gates],
        "told": list(one.told),
        "cost_per_pack": one.cost.more,
        "cost": one.cost.words,
        "tried": [{"value": value, "days": _days(days)} for value, days in one.tried],
        "rises_and_falls": not one.monotone,
    }
