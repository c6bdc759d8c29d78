"""The benchmarks run, so that they cannot rot. No time is asserted."""

from __future__ import annotations

import importlib.util
import sys

import pytest

from tests.house.tree import ROOT


def test_the_start_up_budgets_print_their_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    spec = importlib.util.spec_from_file_location("budgets", ROOT / "benchmarks" / "budgets.py")
    assert spec is not None
    assert spec.loader is not None
    budgets = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "budgets", budgets)
    spec.loader.exec_module(budgets)
    # the first compile takes its time; the others are enough to see that the table comes
    monkeypatch.setattr(budgets, "BUDGETS", budgets.BUDGETS[:2])
    budgets.main(1)
    out = capsys.readouterr().out
    assert "hardtack --help" in out
    assert "quadrature" in out
