"""Solvers at equal error: every one is run over a row of tolerances, and its time at one error is read between two of them.

Times are CPU times, medians of interleaved repeats; the first call of each is not timed, so the compiler stays out.
"""

from __future__ import annotations

import json
import math
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from hardtack.states import Floats


@dataclass(frozen=True, slots=True)
class Point:
    """One solver at one tolerance: CPU seconds and error."""

    solver: str
    tolerance: float
    seconds: float
    error: float


def cpu(work: Callable[[], object]) -> float:
    """CPU seconds of one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


Run = Callable[[float], Floats]


def sweep(
    runs: dict[str, tuple[Run, Sequence[float]]], error: Callable[[Floats], float], repeats: int
) -> list[Point]:
    """Every solver at every tolerance of its own, interleaved; the first call of each is not timed."""
    first = {(name, tol): error(run(tol)) for name, (run, tols) in runs.items() for tol in tols}
    times: dict[tuple[str, float], list[float]] = {key: [] for key in first}
    for _ in range(repeats):
        for name, tol in first:
            run = runs[name][0]
            spent, count = 0.0, 0
            while spent < 5e-3:  # a clock of process time ticks coarsely
                spent, count = spent + cpu(lambda run=run, tol=tol: run(tol)), count + 1
            times[name, tol].append(spent / count)
    return [Point(name, tol, statistics.median(times[name, tol]), e) for (name, tol), e in first.items()]


def at_error(points: Sequence[Point], solver: str, target: float) -> float:
    """Seconds of a solver at the target error; its fastest point that is good enough when none lies beyond."""
    mine = sorted((p for p in points if p.solver == solver), key=lambda p: -p.error)
    good = [p for p in mine if p.error <= target]
    if not good:
        return math.nan
    best = min(good, key=lambda p: p.seconds)
    worse = [p for p in mine if p.error > target and p.seconds < best.seconds]
    if not worse:
        return best.seconds
    near = min(worse, key=lambda p: p.error)
    share = math.log(near.error / target) / math.log(near.error / best.error)
    return math.exp(math.log(near.seconds) * (1 - share) + math.log(best.seconds) * share)


def best_at_error(points: Sequence[Point], solvers: Sequence[str], target: float) -> float:
    """Seconds of the fastest of several ways to use a solver at the target error; NaN where none gets there."""
    times = [at_error(points, name, target) for name in solvers]
    return min((t for t in times if not math.isnan(t)), default=math.nan)


def table(points: Sequence[Point], unit: str) -> str:
    """Every point measured, in Markdown."""
    rows = [f"| {p.solver} | {p.tolerance:.0e} | {p.seconds * 1e3:.3g} | {p.error:.1e} |" for p in points]
    return "\n".join([f"| solver | tolerance | CPU ms | {unit} |", "| --- | --- | --- | --- |", *rows])


def plot(points: Sequence[Point], unit: str, path: Path) -> None:
    """Error against time, one line a solver."""
    import vl_convert

    values = [{"solver": p.solver, "ms": p.seconds * 1e3, "error": max(p.error, 1e-10)} for p in points]
    log = {"type": "quantitative", "scale": {"type": "log"}}
    one = {"field": "solver", "type": "nominal", "title": None, "sort": None}
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": 440,
        "height": 300,
        "data": {"values": values},
        "mark": {"type": "line", "point": True},
        "encoding": {
            "x": {"field": "ms", "title": "CPU time [ms]", **log},
            "y": {"field": "error", "title": unit, "axis": {"format": ".0e"}, **log},
            "color": one,
            "strokeDash": one,
            "shape": one,
        },
    }
    path.write_text(vl_convert.vegalite_to_svg(json.dumps(spec)), encoding="utf-8")
