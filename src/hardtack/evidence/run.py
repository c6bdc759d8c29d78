"""Run every comparison of `cases/*.toml`.

A case names a predictor of `predict.py`, what it is given, the published value with its unit, the tolerance
with its reason, and the source (a key of the reference shelf's sources). The tolerance is the source's own
uncertainty, written down before the first run; data that went into a constant of the program do not count as
a comparison: a case whose data were taken up later says `fitted = true`. A case outside its tolerance stays in
the table, with a remark that says why.
`taken` lists what the predictor was given and the source does not print: see `docs/evidence.md` for the rule.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
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


PRINTED = "inputs printed"
SOME_TAKEN = "some taken"
ALL = "all"

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
    taken: tuple[str, ...]
    reason: str
    source: str
    address: str
    remark: str
    fitted: bool = False
    """Whether a constant of the program was taken from it: shown, and not counted."""

    @property
    def inputs(self) -> str:
        """Whether the source prints all that the prediction was given."""
        return SOME_TAKEN if self.taken else PRINTED


@dataclass(frozen=True, slots=True)
class Count:
    """Comparisons of one area, or of all, by what their sources print; each pair is (within, all)."""

    area: str
    printed: tuple[int, int]
    some_taken: tuple[int, int]

    @property
    def all(self) -> tuple[int, int]:
        """Both classes together."""
        return self.printed[0] + self.some_taken[0], self.printed[1] + self.some_taken[1]


def counts(rows: Sequence[EvidenceRow]) -> tuple[Count, ...]:
    """Within tolerance and all, by class of inputs: for each area in the order of the rows, then for all (`ALL`).

    Rows that a constant was fitted to do not count.
    """
    rows = [row for row in rows if not row.fitted]
    areas = [
        (area, [row for row in rows if row.area == area]) for area in dict.fromkeys(r.area for r in rows)
    ]
    return tuple(
        Count(area, _pair(here, PRINTED), _pair(here, SOME_TAKEN)) for area, here in [*areas, (ALL, rows)]
    )


def _pair(rows: Sequence[EvidenceRow], inputs: str) -> tuple[int, int]:
    chosen = [row for row in rows if row.inputs == inputs]
    return sum(row.within for row in chosen), len(chosen)


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
    if "taken" not in case:
        raise HardtackError(
            f"{place}: does not say which inputs were taken",
            "write taken = [] where the source prints them all, else a list of what it does not print",
        )
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
        taken=tuple(case["taken"]),
        reason=case["reason"],
        source=source.citation,
        address=source.address,
        remark=case.get("remark", ""),
        fitted=case.get("fitted", False),
    )
