"""Speed at equal error: one table and its plots, goals beside figures, misses said.

    python benchmarks/speed.py                writes docs/speed.md and two pictures, some minutes
    python benchmarks/speed.py --quick        fewer repeats and scenarios
    python benchmarks/speed.py --docs FOLDER  writes there

The error is the largest in activity, over all product cells (or layer means) and 365 days, against RODAS4 at 1e-9, or in
temperature for the oven; that the peers solve the same equations shows in how near their tightest runs come to it.
"""

from __future__ import annotations

import argparse
import math
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import bake_peers
import peers
from equal_error import Point, at_error, best_at_error, plot, table

import transport
from hardtack.transport import many
from transport import DAY, TARGET, batch, steady, weather

DOCS = Path(__file__).parents[1] / "docs"
KELVIN = 0.05


@dataclass(frozen=True, slots=True)
class Goal:
    """What was aimed at and what came out; `most` when smaller is better. `why` is said on a miss."""

    what: str
    aim: float
    got: float
    why: str
    most: bool = False

    def row(self) -> str:
        """One line of the table."""
        met = self.got <= self.aim if self.most else self.got >= self.aim
        said = "met" if met else "not measured" if math.isnan(self.got) else f"missed: {self.why}"
        sign = "≤" if self.most else "≥"
        got = "–" if math.isnan(self.got) else f"{self.got:.3g}"
        return f"| {self.what} | {sign} {self.aim:g} | {got} | {said} |"


def start_up() -> list[tuple[str, float]]:
    """CPU seconds of imports and of the first march, compiled code kept and not, in processes of their own."""
    here = str(Path(__file__).parent)
    once = f"import sys; sys.path.insert(0, {here!r}); import transport as t; t.march(t.cut(), t.steady(), t.DAYS[[0, -1]])"
    codes = {
        "import numpy": "import numpy",
        "import hardtack.transport.march": "import hardtack.transport.march",
        "import numba": "import numba",
        "first march, compiled code kept": once,
    }

    def spent(code: str, **environment: str) -> float:
        script = f"import time\n{code}\nprint(time.process_time())"
        done = subprocess.run(
            [sys.executable, "-c", script], check=True, capture_output=True, text=True, env={**os.environ, **environment}
        )  # fmt: skip
        return float(done.stdout.split()[-1])

    rows = [(name, spent(code)) for name, code in codes.items()]
    with tempfile.TemporaryDirectory() as folder:
        rows.append(("first march, to be compiled", spent(once, NUMBA_CACHE_DIR=folder)))
    return rows


def still_goals(points: Sequence[Point]) -> list[Goal]:
    """Constant air, 365 outputs, largest error of a cell 1e-5."""
    mine = at_error(points, "march", TARGET)
    called = "of the march's time a third are outputs and a fifth is preparation in Python; the peer runs compiled throughout as well"  # fmt: skip
    goals = []
    for peer, kind, aim, why in (
        (
            "LSODA",
            "numpy",
            40,
            "of the march's time a third are outputs and a fifth is preparation in Python; the peer reads moistures off, no activities",
        ),
        ("LSODA", "compiled", 20, called),
        ("CVODE", "numpy", 35, called),
        ("CVODE", "compiled", 16, called),
    ):
        theirs = best_at_error(points, [f"{peer} {kind}", f"{peer} {kind}, exact J"], TARGET)
        goals.append(Goal(f"still air, against {peer} {kind}, its better Jacobian", aim, theirs / mine, why))
    return goals


def hourly_goals(points: Sequence[Point], count: int) -> list[Goal]:
    """Hourly air; projected steps are compared at their own error, resolved ones at 1e-5."""
    by_day = next(p for p in points if p.solver == "march, steps of a day")
    projected = at_error(points, "CVODE numpy, every hour", max(by_day.error, TARGET))
    resolved = at_error(points, "CVODE numpy, every hour", TARGET) / at_error(
        points, "march, every hour", TARGET
    )
    each, _ = batch(max(count, many.ENOUGH), weather(DAY))
    step = "a step costs about three times what it did before joints, rims, holes and three curves of temperature came in"
    return [
        Goal(
            "hourly air projected on days, against CVODE numpy held to hours",
            250,
            projected / by_day.seconds,
            step,
        ),
        Goal("the same, a scenario of a batch", 600, projected / each, step),
        Goal("hourly air, every hour resolved by both", 12, resolved, step),
    ]


def oven_goals(points: Sequence[Point]) -> list[Goal]:
    """Half an hour in the oven at 0.05 K."""
    mine = best_at_error(points, ["march, RODAS3", "march, RODAS4"], KELVIN)
    why = "the peer calls the march's own compiled fluxes, and has gained from their vectors as much as the march"
    return [
        Goal(f"oven, against {name}", aim, at_error(points, name, KELVIN) / mine, why)
        for name, aim in (("LSODA numpy", 50), ("LSODA compiled", 10), ("BDF numpy, sparsity given", 130))
    ]


def batch_goals(count: int) -> list[Goal]:
    """Batches against the lockstep in numpy, C with vectors, two threads, and the plain number."""
    count = max(count, many.ENOUGH)  # smaller ones do not go in lanes
    still, still_twin = transport.against_twin(5 * count, steady())
    damp, damp_twin = transport.against_twin(count, weather(DAY))
    own, c, off = transport.against_vectors(count)
    alone, lanes = transport.scalar_and_lanes(count, weather(DAY))
    _, one = batch(16 * count, weather(DAY), threads=1)
    _, two = batch(16 * count, weather(DAY), threads=2)
    return [
        Goal(f"{5 * count} scenarios of still air, against the numpy lockstep", 7, still_twin / still, "see the table"),
        Goal(f"{count} scenarios of hourly air, against the numpy lockstep", 7, damp_twin / damp, "see the table"),
        Goal(
            f"{count} scenarios of daily stops, time over that of C with vectors (ends differ by {off:.0e})", 1.4, own / c,
            "more of the time than in C goes into what C leaves out: air, outputs, audits", most=True,
        ),
        Goal(f"{count} scenarios of hourly air, in lanes against one by one", 2, alone / lanes, "see the table"),
        Goal("one to two threads, wall time", 1.9, one / two, "the lock is free during a march, the second core was busy with other work"),
        Goal("CPU ms a scenario-year, still air", 0.15, still * 1e3, "see the table", most=True),
        Goal("CPU ms a scenario-year, hourly air on steps of a day", 0.15, lanes * 1e3, "some 600 steps of 40 cells, for each day's air bends the outer cells anew; up to half of the time is each lane's choice of its step", most=True),
    ]  # fmt: skip


def most_memory() -> float:
    """Megabytes that this process has held at its most; asked of Unix."""
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def scaling(count: int, *, quick: bool) -> str:
    """Time by cells and by scenarios."""
    lines = ["| cells | CPU ms a scenario | of it per cell [µs] |", "| --- | --- | --- |"]
    for cells in (10, 40, 100, 400, 1000):
        each, _ = batch(max(many.ENOUGH, 4 * count // cells), weather(DAY), cells)
        lines.append(f"| {cells} | {each * 1e3:.3g} | {each * 1e6 / cells:.3g} |")
    lines += ["", "| scenarios, still air | CPU ms each |", "| --- | --- |"]
    for number in (1, 10, 100, 1000) if quick else (1, 10, 100, 1000, 10_000):
        lines.append(f"| {number} | {batch(number, steady())[0] * 1e3:.3g} |")
    lines += [
        "",
        "| scenarios, a year of hourly air, two threads | wall s | CPU ms each | memory of the process at its most [MB] |",
        "| --- | --- | --- | --- |",
    ]
    for number in (1000, 10_000, 100_000):
        each, wall = batch(number, weather(DAY), threads=2)
        lines.append(f"| {number} | {wall * number:.3g} | {each * 1e3:.3g} | {most_memory():.0f} |")
    return "\n".join(lines)


PAGE = """# Speed

One run of `python benchmarks/speed.py{run}`, which writes this page. Times are CPU times of one machine, two cores shared with other
work: only the ratios mean something. “At equal error” means that every solver is run over a row of tolerances and its time is read where
the error is the same, straight in the logarithms. Compiler and imports are apart, at the end. The equations are the shipped ones, with
activities that rise with temperature, D(X), a fat barrier and a film; in hourly air the film lets through more when it is damp.

| what, ratio of times unless said | aim | reached | |
| --- | --- | --- | --- |
{goals}

{cvode}General solvers get a band and difference it themselves, or get the exact Jacobian (“exact J”) in storage; the better of
the two counts. Their right-hand side comes in vectorised numpy and compiled. In the oven they difference their band of seven.

## Still air, 40 cells, 365 outputs

{still}

![Error against time in still air](pictures/speed-still.svg)

Where air stands still the march takes steps as long as the tolerance allows and reads outputs off within them.

## Hourly air and a damp film, 40 cells, 365 outputs, layer means

{hourly}

Of the gain over a solver that is held to hours, part is compiled code and part the projection of the air on long steps: the rows in
which the march resolves every hour, too, tell them apart.

## Hourly temperature and humidity, 20 cells a layer, 365 outputs, layer means

{swing}

A temperature that swings by the day moves every conductance and every activity in the pack. Steps of several hours average the fluxes over
spells of like temperature; the error is that against every hour resolved with RODAS4 at 1e-6.

## Half an hour in the oven, 40 cells of water and heat

{oven}

![Error against time in the oven](pictures/speed-oven.svg)

## How it grows

{scaling}

## Start

| what | CPU s |
| --- | --- |
{start}
"""


def main(docs: Path, *, quick: bool) -> None:
    """Write the page and its pictures."""
    repeats, count = (1, 20) if quick else (5, 200)
    still = transport.constant(repeats)
    hourly = transport.hourly(1 if quick else 2)
    swing = transport.hourly_temperature(1 if quick else 2)
    oven = bake_peers.half_hour(repeats)
    goals = [*still_goals(still), *hourly_goals(hourly, count), *oven_goals(oven), *batch_goals(count)]
    plot(still, "largest error of a cell's activity", docs / "pictures" / "speed-still.svg")
    plot(oven, "largest error of temperature [K]", docs / "pictures" / "speed-oven.svg")
    page = PAGE.format(
        run=" --quick" if quick else "",
        goals="\n".join(goal.row() for goal in goals),
        cvode="" if peers.has_cvode() else "CVODE's wrapper (scikit-sundae) was not installed. ",
        still=table(still, "error in activity"),
        hourly=table(hourly, "error in activity"),
        swing=table(swing, "error in activity"),
        oven=table(oven, "error [K]"),
        scaling=scaling(count, quick=quick),
        start="\n".join(f"| {name} | {seconds:.2f} |" for name, seconds in start_up()),
    )
    (docs / "speed.md").write_text(page, encoding="utf-8")
    print(page)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="fewer repeats and scenarios")
    parser.add_argument("--docs", type=Path, default=DOCS, help="folder to write to")
    given = parser.parse_args()
    main(given.docs, quick=given.quick)
