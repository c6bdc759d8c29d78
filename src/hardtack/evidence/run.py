"""Run every comparison of `cases/*.toml`.

A case names a predictor of `predict.py`, what it is given, the published value with its unit, the tolerance
with its reason, and the source (a key of the reference shelf's sources). The tolerance is the source's own
uncertainty, written down before the first run; data that went into a constant of the program do not count as
a comparison and are not listed. A case outside its tolerance stays in the table, with a remark that says why.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any

from hardtack.errors import HardtackError
from hardtack.evidence import (
    predict,
    predict_bakes,
    predict_dough,
    predict_failures,
    predict_oven,
    predict_packs,
    predict_solutions,
    predict_water,
)
from hardtack.reference import sources
from hardtack.units import parse_quantity

PREDICTORS = {
    **predict.PREDICTORS,
    **predict_failures.PREDICTORS,
    **predict_dough.PREDICTORS,
    **predict_water.PREDICTORS,
    **predict_packs.PREDICTORS,
    **predict_oven.PREDICTORS,
    **predict_bakes.PREDICTORS,
    **predict_solutions.PREDICTORS,
}


ROUNDING = 1e-9
"""Share of a tolerance by which a difference that equals it may seem to exceed it in binary arithmetic."""


@dataclass(frozen=True, slots=True)
class EvidenceRow:
    """One comparison; `predicted`, `published`, `error` and `tolerance` are in `unit`."""

    area: str
    data_set: str
    what: str
    unit: str
    predicted: float
    published: float
    error: float
    tolerance: float
    within: bool
    reason: str
    source: str
    address: str
    remark: str


def run_evidence() -> tuple[EvidenceRow, ...]:
    """All comparisons, in the order of the files."""
    folder = resources.files("hardtack.evidence") / "cases"
    rows: list[EvidenceRow] = []
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            content = tomllib.loads(entry.read_text(encoding="utf-8"))
            rows.extend(_row(content["area"], case) for case in content["case"])
    return tuple(rows)


def _row(area: str, case: Mapping[str, Any]) -> EvidenceRow:
    place = f"evidence, {area}: {case['what']}"
    if case["predict"] not in PREDICTORS:
        raise HardtackError(
            f"{place}: no predictor {case['predict']!r}", f"there are: {', '.join(PREDICTORS)}"
        )
    if case["source"] not in sources():
        raise HardtackError(f"{place}: source {case['source']!r} is not in sources.toml")
    predictor = PREDICTORS[case["predict"]]
    given = {
        name: parse_quantity(value, predictor.kinds[name]).value if name in predictor.kinds else value
        for name, value in case["given"].items()
    }
    predicted = float(predictor.compute(**given))
    published, tolerance = float(case["published"]), float(case["tolerance"])
    source = sources()[case["source"]]
    return EvidenceRow(
        area=area,
        data_set=case["data_set"],
        what=case["what"],
        unit=case["unit"],
        predicted=predicted,
        published=published,
        error=predicted - published,
        tolerance=tolerance,
        within=abs(predicted - published) <= tolerance * (1 + ROUNDING),
        reason=case["reason"],
        source=source.citation,
        address=source.address,
        remark=case.get("remark", ""),
    )
