"""The march against general solvers, at equal error: one table, and one plot on request.

    python benchmarks/transport.py                    about two minutes
    python benchmarks/transport.py --plot speed.svg   with the work-precision plot
    python benchmarks/transport.py --quick            fewer repeats and scenarios

Times are CPU times, medians of interleaved repeats, the compiler and imports apart. "At equal error" means: every solver is
run over a row of tolerances, and its time at the target error is read between two of them, straight in the logarithms.
The error is the largest in activity, over all product cells (or layer means) and 365 days, against RODAS4 at 1e-9; that
this reference solves the peers' equations too is printed as the distance of the peers' tightest runs from it. Peers get
a tridiagonal band and difference it themselves: three of their right-hand sides for a Jacobian.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from peers import Rate, compiled_rate, cvode, lsoda, numpy_rate, problem

from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Isotherm, Layer, Piece
from hardtack.transport.chain import Chain, chain
from hardtack.transport.many import Draws, march_many
from hardtack.transport.march import at_rest, march
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure
from hardtack.water.isotherm import activity_and_slope

T = 298.15
DAYS = np.arange(366) * DAY
HOURS = np.arange(365 * 24 + 1) * 3600.0
G = 3e-9
TARGET = 1e-5


SWING = T + 7 * np.cos(2 * np.pi * (HOURS / DAY - 14 / 24)) + 3 * np.sin(2 * np.pi * HOURS / (9 * DAY))
"""Invented hourly temperature [K]: by the day, and fronts."""


def piece() -> Piece:
    """Invented: a soft filling and a cracker with fat between, activities that rise with temperature, D(X)."""
    heat = IsostericHeat(8000.0, 0.1)
    filling = Isotherm("filling", "gab", {"Xm": 0.07, "C": 9.0, "K": 0.97}, heat=heat)
    cracker = Isotherm("cracker", "gab", {"Xm": 0.06, "C": 10.0, "K": 0.95}, heat=heat)
    return Piece(
        "slab",
        (
            Layer("filling", 5e-3, 8e-3, 0.12, filling, Diffusivity(6e-11, 5.0, 0.1, T, 30e3)),
            Barrier("fat", 3e-4, 3e-10, T, 40e3),
            Layer("cracker", 3e-3, 5e-3, 0.03, cracker, Diffusivity(2e-11, 6.0, 0.05, T, 30e3)),
        ),
        2.5e-3,
        (False, True),
        6,
    )


def cut(cells: int = 40) -> Chain:
    """Curves of three temperatures, as on a journey that swings: the march interpolates among them."""
    return chain([piece()], 1e-4, (T - 2.5, T + 2.5), cells_per_layer=cells // 2)


def steady() -> Surroundings:
    """Constant air."""
    return surroundings([Stretch(DAYS[[0, -1]], np.full(2, G), np.full(2, 0.6), np.full(2, T))])


def humidity() -> Floats:
    """Invented hourly weather, and a film that lets through more when it is damp."""
    noise = 0.04 * np.random.default_rng(7).standard_normal(HOURS.size)
    daily, season = 0.12 * np.sin(2 * np.pi * HOURS / DAY), 0.08 * np.sin(2 * np.pi * HOURS / (365 * DAY))
    return np.clip(0.55 + season + daily + noise, 0.05, 0.98)


def damp_film() -> Floats:
    """Conductance of the film at every hour."""
    film: Floats = G * np.exp(1.5 * (humidity() - 0.55))
    return film


def weather(limit: float) -> Surroundings:
    """Hourly air; steps span up to `limit` [s], or resolve every hour at 0."""
    return surroundings([Stretch(HOURS, damp_film(), humidity(), np.full(HOURS.size, T), limit)])


def swinging(limit: float) -> Surroundings:
    """Hourly air whose temperature swings, too; steps span up to `limit` [s], or resolve every hour at 0."""
    film = G * np.asarray(saturation_pressure(SWING)) / float(saturation_pressure(T))
    return surroundings([Stretch(HOURS, film, humidity(), SWING, limit)])


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


def peers_of(row: Chain, edges: Floats, g: Floats, b: Floats) -> tuple[Floats, dict[str, Rate]]:
    """First state and the two right-hand sides."""
    p = problem(row, T)
    water = at_rest(row, steady(), 0.0)
    width = edges[1] - edges[0]

    def air(t: float) -> tuple[float, float]:
        k = min(max(int(t / width), 0), edges.size - 2)
        w = (t - edges[k]) / width
        return float(g[k] + w * (g[k + 1] - g[k])), float(b[k] + w * (b[k + 1] - b[k]))

    rates: dict[str, Rate] = {"numpy": numpy_rate(p, air), "compiled": compiled_rate(p, edges, g, b)}
    return np.append(water[:-1] / row.dry_mass, water[-1] / p.unit), rates


def own_run(row: Chain, air: Surroundings, scheme: Scheme = RODAS3) -> Run:
    """The march as moistures of all cells [days, cells]."""
    start = at_rest(row, air, 0.0)
    return lambda tol: (
        march(row, air, DAYS, tolerance=tol, scheme=scheme, start=start).water[:, :-1] / row.dry_mass
    )


def in_activity(
    row: Chain, exact: Floats, *, means: bool, layers: Sequence[Layer] = piece().layers
) -> Callable[[Floats], float]:
    """Largest error of moistures as activity, by cells or by layers' means."""
    slopes = np.concatenate([activity_and_slope(x.isotherm, exact[:, i:j], T)[1] for x, (i, j) in zip(layers, row.spans, strict=True)], axis=1)  # fmt: skip

    def error(X: Floats) -> float:
        wrong = X[:, : exact.shape[1]] - exact
        if not means:
            return float(np.abs(wrong * slopes).max())
        held = row.dry_mass / slopes  # water for one unit of activity
        return max(
            float(np.abs((wrong * row.dry_mass)[:, i:j].sum(axis=1) / held[:, i:j].sum(axis=1)).max())
            for i, j in row.spans
        )

    return error


def constant(repeats: int) -> list[Point]:
    """Constant air, 365 daily outputs."""
    row = cut()
    exact = own_run(row, steady(), RODAS4)(1e-9)
    y0, rates = peers_of(row, DAYS[[0, -1]], np.full(2, G), np.full(2, G * 0.6))
    runs: dict[str, tuple[Run, Sequence[float]]] = {
        "march": (own_run(row, steady()), (1e-3, 1e-4, 3e-5, 1e-5, 1e-6)),
    }
    for kind, rate in rates.items():
        runs[f"LSODA {kind}"] = (lambda tol, f=rate: lsoda(f, y0, DAYS, tol), (1e-4, 1e-5, 1e-6, 1e-8))
        runs[f"CVODE {kind}"] = (lambda tol, f=rate: cvode(f, y0, DAYS, tol), (1e-4, 1e-5, 1e-6, 1e-8))
    return sweep(runs, in_activity(row, exact, means=False), repeats)


def hourly(repeats: int) -> list[Point]:
    """Hourly air: projected steps, and every hour resolved; layer means."""
    row = cut()
    exact = own_run(row, weather(0.0), RODAS4)(1e-7)
    y0, rates = peers_of(row, HOURS, damp_film(), damp_film() * humidity())
    peer_tols = (1e-4, 1e-5, 1e-6, 1e-7)
    runs: dict[str, tuple[Run, Sequence[float]]] = {
        "march, steps of a day": (own_run(row, weather(DAY)), (1e-4, 1e-5)),
        "march, steps of six hours": (own_run(row, weather(DAY / 4)), (1e-4, 1e-5)),
        "march, every hour": (own_run(row, weather(0.0)), (1e-4, 1e-5)),
        "CVODE numpy, every hour": (lambda tol: cvode(rates["numpy"], y0, DAYS, tol, 3600.0), peer_tols),
        "CVODE compiled, every hour": (
            lambda tol: cvode(rates["compiled"], y0, DAYS, tol, 3600.0),
            peer_tols,
        ),
    }
    return sweep(runs, in_activity(row, exact, means=True), repeats)


def hourly_temperature(repeats: int) -> list[Point]:
    """Hourly temperature and humidity, means of layers: a cracker alone, and one beside a filling with fat between."""
    points: list[Point] = []
    both = piece()
    alone = replace(both, parts=both.parts[-1:], open_ends=(True, True))
    for name, kind in (("cracker", alone), ("filling, fat, cracker", both)):
        row = chain([kind], 1e-4, (float(SWING.min()), float(SWING.max())))
        exact = own_run(row, swinging(0.0), RODAS4)(1e-6)
        runs: dict[str, tuple[Run, Sequence[float]]] = {
            f"{name}, {how}": (own_run(row, swinging(limit)), (1e-4,))
            for how, limit in (
                ("every hour", 0.0),
                ("steps of up to 8 h", DAY / 3),
                ("steps of up to a day", DAY),
            )
        }
        points += sweep(runs, in_activity(row, exact, means=True, layers=kind.layers), repeats)
    return points


def draws(count: int) -> Draws:
    """Film and diffusivity a fifth either way."""
    rng = np.random.default_rng(1)
    return Draws(
        film=np.exp(rng.normal(0, 0.2, count)), diffusivity={"cracker": np.exp(rng.normal(0, 0.2, count))}
    )


def batch(count: int, air: Surroundings, cells: int = 40, threads: int = 1) -> tuple[float, float]:
    """CPU and wall seconds a scenario, end states only."""
    row, drawn = cut(cells), draws(count)
    march_many([row], [air], DAYS[[0, -1]], draws=draws(2), keep=["moisture"], threads=threads)
    wall, start = time.perf_counter(), time.process_time()
    march_many([row], [air], DAYS[[0, -1]], draws=drawn, keep=["moisture"], threads=threads)
    return (time.process_time() - start) / count, (time.perf_counter() - wall) / count


def start_up() -> list[tuple[str, float]]:
    """CPU seconds of imports and of the first march, compiled cache empty and full, in processes of their own."""
    import tempfile

    march_once = "import sys; sys.path.insert(0, {here!r}); import transport as t; t.march(t.cut(), t.steady(), t.DAYS[[0, -1]])"
    codes = {
        "import numpy": "import numpy",
        "import hardtack.transport.march": "import hardtack.transport.march",
        "import numba": "import numba",
        "first march, compiled code kept": march_once.format(here=str(Path(__file__).parent)),
    }

    def spent(code: str, **environment: str) -> float:
        import os

        script = f"import time\n{code}\nprint(time.process_time())"
        done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True, env={**os.environ, **environment})  # fmt: skip
        return float(done.stdout.split()[-1])

    rows = [(name, spent(code)) for name, code in codes.items()]
    with tempfile.TemporaryDirectory() as folder:
        rows.append(("first march, to be compiled", spent(list(codes.values())[-1], NUMBA_CACHE_DIR=folder)))
    return rows


def table(title: str, points: Sequence[Point]) -> None:
    """Every point measured."""
    print(f"\n{title}\n\n| solver | tolerance | CPU ms | error in activity |\n| --- | --- | --- | --- |")
    for p in points:
        print(f"| {p.solver} | {p.tolerance:.0e} | {p.seconds * 1e3:.3g} | {p.error:.1e} |")


STOPS = "it stops at all 365 outputs, 365 steps where 69 would do, and works out every cell's activity; peers read theirs off"
WHY = {
    "constant, against LSODA numpy": STOPS,
    "constant, against LSODA compiled": STOPS,
    "constant, against CVODE numpy": STOPS,
    "constant, against CVODE compiled": STOPS,
    "one to two threads, wall": "the lock is free during a march; what is short here is a second core, or the scenario",
    "scenario-years a CPU second, constant air": "three fifths of the time are Python's, preparing each scenario; no lanes yet",
}


def verdicts(rows: Sequence[tuple[str, float, float]]) -> None:
    """What was reached beside what was aimed at."""
    print("\n| goal | aim | reached | |\n| --- | --- | --- | --- |")
    for what, aim, got in rows:
        print(
            f"| {what} | {aim:g} | {got:.3g} | {'' if got >= aim else 'missed: ' + WHY.get(what, 'see the table')} |"
        )


def plot(points: Sequence[Point], path: Path) -> None:
    """Error against time, one line a solver."""
    import vl_convert

    values = [{"solver": p.solver, "ms": p.seconds * 1e3, "error": max(p.error, 1e-10)} for p in points]
    axis = {"type": "quantitative", "scale": {"type": "log"}}
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": 480,
        "height": 320,
        "data": {"values": values},
        "mark": {"type": "line", "point": True},
        "encoding": {
            "x": {"field": "ms", "title": "CPU time [ms]", **axis},
            "y": {"field": "error", "title": "largest error in activity", "axis": {"format": ".0e"}, **axis},
            "color": {"field": "solver", "type": "nominal"},
            "strokeDash": {"field": "solver", "type": "nominal"},
            "shape": {"field": "solver", "type": "nominal"},
        },
    }
    path.write_text(vl_convert.vegalite_to_svg(json.dumps(spec)), encoding="utf-8")


def main(*, quick: bool, picture: Path | None) -> None:
    """Print all tables."""
    repeats, count = (2, 40) if quick else (5, 200)
    print("| start | CPU s |\n| --- | --- |")
    for name, seconds in start_up():
        print(f"| {name} | {seconds:.2f} |")
    steady_points = constant(repeats)
    table("Constant air, 40 cells, 365 daily outputs, worst cell", steady_points)
    hour_points = hourly(1 if quick else 3)
    table("Hourly air and a damp film, 40 cells, 365 daily outputs, layer means", hour_points)
    table("Hourly temperature and humidity, 20 cells a layer, 365 daily outputs, layer means", hourly_temperature(1 if quick else 3))  # fmt: skip
    single = at_error(steady_points, "march", TARGET)
    # the projected march at its default tolerance sets the error at which its peer is read; resolved, both are at TARGET
    by_day = next(p for p in hour_points if p.solver == "march, steps of a day")
    projected_peer = at_error(hour_points, "CVODE numpy, every hour", by_day.error)
    by_hour, hour_peer = (
        at_error(hour_points, name, TARGET) for name in ("march, every hour", "CVODE numpy, every hour")
    )
    many_cpu, _ = batch(count, weather(DAY))
    flat_cpu, _ = batch(10 * count, steady())
    _, one_wall = batch(count, weather(DAY), threads=1)
    _, two_wall = batch(count, weather(DAY), threads=2)
    peer = {name: at_error(steady_points, name, TARGET) for name in ("LSODA numpy", "LSODA compiled", "CVODE numpy", "CVODE compiled")}  # fmt: skip
    verdicts(
        [
            ("constant, against LSODA numpy", 40, peer["LSODA numpy"] / single),
            ("constant, against LSODA compiled", 20, peer["LSODA compiled"] / single),
            ("constant, against CVODE numpy", 35, peer["CVODE numpy"] / single),
            ("constant, against CVODE compiled", 16, peer["CVODE compiled"] / single),
            ("hourly, projected, against CVODE numpy", 250, projected_peer / by_day.seconds),
            ("the same, a batch", 600, projected_peer / many_cpu),
            ("hourly, resolved by both", 12, hour_peer / by_hour),
            ("one to two threads, wall", 1.9, one_wall / two_wall),
            ("scenario-years a CPU second, constant air", 1 / 0.15e-3, 1 / flat_cpu),
        ]
    )
    print("\n| cells | CPU ms a scenario | of it per cell [us] |\n| --- | --- | --- |")
    for cells in (10, 40, 100, 400, 1000):
        each, _ = batch(max(4, 4 * count // cells), weather(DAY), cells)
        print(f"| {cells} | {each * 1e3:.3g} | {each * 1e6 / cells:.3g} |")
    print("\n| scenarios, constant air | CPU ms each |\n| --- | --- |")
    for number in (1, 10, 100, 1000) if quick else (1, 10, 100, 1000, 10_000):
        print(f"| {number} | {batch(number, steady())[0] * 1e3:.3g} |")
    if picture is not None:
        plot(steady_points, picture)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="fewer repeats and scenarios")
    parser.add_argument("--plot", type=Path, help="write the work-precision plot here (SVG)")
    given = parser.parse_args()
    main(quick=given.quick, picture=given.plot)
