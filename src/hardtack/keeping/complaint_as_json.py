"""A complaint's causes as JSON with a stable schema (docs/json.md)."""

from __future__ import annotations

from typing import Any

from hardtack.keeping.complaint import Complaint

SCHEMA_VERSION = 1


def complaint_json(answer: Complaint) -> dict[str, Any]:
    """Causes and measurements as plain numbers and text."""
    return {
        "schema": f"hardtack complaint {SCHEMA_VERSION}",
        "product": answer.product,
        "name": answer.name,
        "day": answer.day,
        "sentence": answer.sentence,
        "found": list(answer.found),
        "causes": [
            {
                "cause": one.name,
                "before": one.before,
                "after": one.after,
                "best": one.best,
                "expected": list(one.expected),
                "range": one.range,
            }
            for one in answer.causes
        ],
        "measure_next": [
            {
                "what": one.what,
                "names_the_right_one": one.right,
                "under_the_first": one.first,
                "under_the_second": one.second,
                "effort": one.effort,
                "how": one.how,
            }
            for one in answer.telling
        ],
        "remarks": list(answer.remarks),
    }
