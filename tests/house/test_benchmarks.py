"""The benchmarks run, so that they cannot rot. No time is asserted."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.house.tree import ROOT
from tests.web.chromium import needed_program


def benchmark(name: str, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "benchmarks"))
    spec = importlib.util.spec_from_file_location(name, ROOT / "benchmarks" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, name, module)
    spec.loader.exec_module(module)
    return module


def test_the_start_up_budgets_print_their_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    budgets = benchmark("budgets", monkeypatch)
    # the first compile takes its time; the others are enough to see that the table comes
    monkeypatch.setattr(budgets, "BUDGETS", budgets.BUDGETS[:2])
    budgets.main(1)
    out = capsys.readouterr().out
    assert "hardtack --help" in out
    assert "quadrature" in out


@pytest.mark.chromium
def test_the_page_benchmark_prints_its_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    needed_program()
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


def test_the_benchmark_of_samples_prints_its_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    samples = benchmark("certainty", monkeypatch)
    monkeypatch.setattr(samples, "CASES", samples.CASES[:1])
    samples.main(8)
    assert "ms a sample" in capsys.readouterr().out


def test_the_march_and_its_peers_solve_the_same_equations(monkeypatch: pytest.MonkeyPatch) -> None:
    """The benchmark's own right-hand side, in numpy, carried by LSODA (ODEPACK): as close as its tolerance asks."""
    transport = benchmark("transport", monkeypatch)
    row = transport.cut(8)
    y0, rates = transport.peers_of(row, transport.DAYS[[0, -1]], np.full(2, 3e-9), np.full(2, 1.8e-9))
    exact = transport.own_run(row, transport.steady(), transport.RODAS4)(1e-9)
    error = transport.in_activity(row, exact, means=False)
    assert error(transport.peers.lsoda(rates["numpy"], y0, transport.DAYS, 1e-9)) < 1e-7
    assert error(exact + 1e-3) > 1e-4
    assert transport.in_activity(row, exact, means=True)(exact + 1e-3) > 1e-4


def test_the_peers_exact_jacobian_is_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    """Against central differences of the right-hand side; and compiled as in numpy."""
    transport = benchmark("transport", monkeypatch)
    row, edges, g = transport.cut(8), transport.DAYS[[0, -1]], np.full(2, 3e-9)
    y0, rates = transport.peers_of(row, edges, g, 0.6 * g)
    p = transport.problem(row, transport.T)
    bands = transport.peers.numpy_bands(p, lambda t: (3e-9, 1.8e-9))(0.0, y0).copy()
    assert transport.peers.compiled_bands(p, edges, g)(0.0, y0) == pytest.approx(bands, rel=1e-12)
    for j in range(y0.size):
        ends = []
        for sign in (1.0, -1.0):
            y, out = y0.copy(), np.empty_like(y0)
            y[j] *= 1.0 + sign * 1e-6
            rates["numpy"](0.0, y, out)
            ends.append(out)
        column = (ends[0] - ends[1]) / (2e-6 * y0[j])
        for i in range(max(0, j - 1), min(y0.size, j + 2)):
            assert bands[1 + i - j, j] == pytest.approx(column[i], rel=1e-6), (i, j)


def test_the_oven_and_its_peers_solve_the_same_equations(monkeypatch: pytest.MonkeyPatch) -> None:
    oven = benchmark("bake_peers", monkeypatch)
    d = oven.dough()
    y = oven.first_state(d)
    y *= 1.0 + 0.05 * np.sin(np.arange(y.size))
    compiled, plain = np.empty_like(y), np.empty_like(y)
    oven.compiled_rate(d)(0.0, y, compiled)
    oven.numpy_rate(d)(0.0, y, plain)
    assert plain == pytest.approx(compiled, rel=1e-9, abs=1e-12)
    assert oven.in_kelvin(oven.first_state(d)[None], d)[0, 0] == pytest.approx(oven.PIECE.temperature)


@pytest.mark.gcc
def test_the_march_in_c_ends_where_the_march_does(monkeypatch: pytest.MonkeyPatch) -> None:
    transport = benchmark("transport", monkeypatch)
    own, theirs, off = transport.against_vectors(3)
    assert min(own, theirs) > 0.0
    assert off < 1e-13


def test_goals_say_what_was_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    speed = benchmark("speed", monkeypatch)
    assert speed.Goal("a", 2.0, 3.0, "so").row().endswith("| met |")
    assert speed.Goal("a", 2.0, 1.0, "so").row().endswith("| missed: so |")
    assert speed.Goal("a", 2.0, 1.0, "so", most=True).row().endswith("| met |")
    assert speed.Goal("a", 2.0, float("nan"), "so").row().endswith("| not measured |")
    committed = (ROOT / "docs" / "speed.md").read_text("utf-8")
    headings = [line for line in speed.PAGE.splitlines() if line.startswith("#")]
    assert headings == [line for line in committed.splitlines() if line.startswith("#")]
    assert "](pictures/speed-still.svg)" in committed


def test_time_at_equal_error_is_read_between_tolerances(monkeypatch: pytest.MonkeyPatch) -> None:
    equal = benchmark("equal_error", monkeypatch)
    points = [
        equal.Point("a", tol, seconds, error)
        for tol, seconds, error in ((1e-3, 1.0, 1e-4), (1e-5, 4.0, 1e-6))
    ]
    assert equal.at_error(points, "a", 1e-5) == pytest.approx(2.0)
    assert equal.at_error(points, "a", 1e-6) == 4.0
    assert np.isnan(equal.at_error(points, "a", 1e-7))
    assert equal.best_at_error([*points, equal.Point("b", 1e-5, 1.5, 1e-5)], ["a", "b", "none"], 1e-5) == 1.5


def test_the_verification_page_is_made(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    verification = benchmark("verification", monkeypatch)
    (tmp_path / "pictures").mkdir()
    for name in ("crank_rows", "manufactured_rows"):
        real = getattr(verification, name)
        monkeypatch.setattr(verification, name, lambda *sizes, real=real: real(*[size[:3] for size in sizes]))
    monkeypatch.setattr(verification, "against_radau", lambda: [("left out here", 0.0)])
    monkeypatch.setattr(verification, "replayed", lambda: 0.0)
    monkeypatch.setattr(verification, "LOCKSTEP_PACKS", 1)
    verification.main(3, tmp_path)
    page = (tmp_path / "verification.md").read_text("utf-8")
    assert "3 invented packs" in page
    assert page.count("| 40 |") == 4
    pictures = sorted(path.name for path in (tmp_path / "pictures").iterdir())
    assert pictures == [f"verification-{name}.svg" for name in ("balance", "crank", "space", "time")]
    committed = (ROOT / "docs" / "verification.md").read_text("utf-8")
    headings = [line for line in page.splitlines() if line.startswith("## ")]
    assert headings == [line for line in committed.splitlines() if line.startswith("## ")]


def test_the_sweep_benchmark_prints_its_table(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    sweeps = benchmark("sweeps", monkeypatch)
    monkeypatch.setattr(sweeps, "PLAN", sweeps.PLAN.replace("[Miami, London]", "[Miami]"))
    sweeps.main(8)
    out = capsys.readouterr().out
    assert "two workers over one, by processor time" in out
    assert "bit for bit: yes" in out
