"""A fit's answer as plain data with a stable schema (docs/json.md)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from hardtack.measurements.fit_answer import FitAnswer
from hardtack.measurements.fitting import Estimate
from hardtack.measurements.table import SetAside, Table
from hardtack.version import VERSION


def fit_json(answer: FitAnswer) -> dict[str, Any]:
    """The whole answer; a number that has no end or is not fixed is null."""
    drawing = answer.drawing
    made = {
        "schema": "hardtack fit 1",
        "version": VERSION,
        "kind": answer.kind,
        "sentence": answer.sentence,
        "told": list(answer.told),
        "estimates": [estimate_json(estimate) for estimate in answer.estimates],
        "weak": list(answer.weak),
        "covariance": None if answer.covariance is None else {"of": list(answer.covariance[0]), "matrix": answer.covariance[1]},
        "result": answer.facts,
        "points": [
            {
                "series": part.name, "x": part.x, "y": part.y, "predicted": part.predicted,
                "stand_apart": list(part.apart),
            }
            for part in drawing.points
        ],
        "axes": {"x": drawing.x_title, "y": drawing.y_title},
        "files": [_table(table) for table in answer.tables],
        "not_in_the_fit": [_aside(item) for item in answer.aside],
    }  # fmt: skip
    return {key: plain(value) for key, value in made.items()}


def estimate_json(estimate: Estimate) -> dict[str, Any]:
    """One fitted number with its error; `low` and `high` end its 90 % interval."""
    return {
        "name": estimate.name, "value": estimate.value, "sd": estimate.sd, "low": estimate.low, "high": estimate.high,
        "unit": estimate.unit, "meaning": estimate.meaning, "provenance": estimate.provenance,
    }  # fmt: skip


def _table(table: Table) -> dict[str, Any]:
    return {
        "file": table.file,
        "rows_in": table.rows_in,
        "rows_used": len(table.rows),
        "understood": [str(column) for column in table.understood],
        "notes": list(table.notes),
        "rows_set_aside": [_aside(item) for item in table.rows_aside],
        "values_set_aside": [_aside(item) for item in table.values_aside],
    }


def _aside(item: SetAside) -> dict[str, Any]:
    return {"row": item.row, "column": item.column, "written": item.written, "reason": item.reason}


def plain(value: Any) -> Any:
    """Lists, mappings and arrays down to numbers JSON knows; what is not finite is null."""
    if isinstance(value, Mapping):
        return {str(key): plain(held) for key, held in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(held) for held in value]
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
