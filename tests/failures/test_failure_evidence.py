"""The published comparisons of the failures: each runs, and one that lies outside says why."""

from __future__ import annotations

import tomllib
from importlib import resources

import pytest

from hardtack.evidence import predict, run
from hardtack.evidence.predict_failures import PREDICTORS


@pytest.fixture(scope="module")
def content() -> dict[str, object]:
    file = resources.files("hardtack.evidence") / "cases" / "failures.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))


def test_the_comparisons_run_and_name_their_misses(
    content: dict[str, list[dict[str, object]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "PREDICTORS", {**predict.PREDICTORS, **PREDICTORS})
    rows = [run._row("failures", case) for case in content["case"]]
    assert len(rows) >= 12
    assert len({row.data_set for row in rows}) >= 8
    outside = {row.what for row in rows if not row.within}
    assert outside == {
        "mould day of 24 days at activity 0.81, 21 degC carried to 0.81, 27 degC",
        "mould day of 24 days at activity 0.81, 21 degC carried to 0.85, 27 degC",
        "least activity for growth of Aspergillus niger in the growth model",
        "rate of staling at 7 degC over that at 30 degC",
        "undissociated share of benzoic acid at pH 3, its exponent 4.19 as printed",
        "undissociated share of benzoic acid at pH 5, its exponent 4.19 as printed",
        "undissociated share of benzoic acid at pH 7, its exponent 4.19 as printed",
        "factor on the mould-free life of soy bread by 20 % carbon dioxide",
    }
    assert all(row.remark for row in rows if not row.within)
