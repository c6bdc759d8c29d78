"""The benchmarks run, so that they cannot rot. No time is asserted."""

from __future__ import annotations

import importlib.util
import sys

import pytest

from tests.house.tree import ROOT
from tests.web.chromium import program


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


def test_the_page_benchmark_prints_its_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if program() is None:
        pytest.skip("no Chromium is installed (Debian: apt install chromium; else set HARDTACK_CHROMIUM)")
    spec = importlib.util.spec_from_file_location("page_latency", ROOT / "benchmarks" / "page_latency.py")
    assert spec is not None
    assert spec.loader is not None
    latency = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "page_latency", latency)
    spec.loader.exec_module(latency)
    monkeypatch.setattr(latency, "KINDS", ("cracker",))
    latency.main(2, 1)
    out = capsys.readouterr().out
    assert "start to first page" in out
    assert "change to picture, cracker" in out
