"""What a second worker is worth to a sweep, and that it changes no number.

    python benchmarks/sweeps.py                 256 samples of four designs at two places, one worker and two
    python benchmarks/sweeps.py --samples 2048  longer, so that the start weighs less

The rate is that of the run from its first finished portion on: starting a process costs seconds once. Processor time
for each scenario says what two cores that have nothing else to do would give, also on a machine that is busy. Nothing
is asserted: a slow machine is no fault.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from hardtack import open_sweep
from hardtack.keeping.sweeping import Progress, read_plan, run_sweep

ROOT = Path(__file__).parents[1]
PLAN = """hardtack sweep: 1
products: [{file}]
designs: {{crossed: {{"pack: headspace": [200 mL, 250 mL, 300 mL, 350 mL]}}}}
places: [Miami, London]
samples: {samples}
seed: 1
"""


@dataclass(frozen=True, slots=True)
class Run:
    """One sweep: scenarios, wall time in all [s], scenarios a second once under way (None when too short to say), and
    processor time for each scenario [s]."""

    workers: int
    scenarios: int
    seconds: float
    rate: float | None
    processor: float


def measured(plan: Path, folder: Path, workers: int) -> Run:
    """Carry out the plan afresh with so many workers."""
    marks: list[tuple[float, int]] = []

    def told(progress: Progress) -> None:
        if progress.done:
            marks.append((time.perf_counter(), progress.done))

    before, start = os.times(), time.perf_counter()
    run_sweep(read_plan(plan), folder, workers=workers, told=told)
    seconds, after = time.perf_counter() - start, os.times()
    first, last = marks[0], marks[-1]
    rate = (last[1] - first[1]) / (last[0] - first[0]) if last[1] > first[1] else None
    return Run(workers, last[1], seconds, rate, (sum(after[:4]) - sum(before[:4])) / last[1])


def main(samples: int) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = folder / "plan.yaml"
        file = ROOT / "examples" / "lean-cracker-humid-coast.yaml"
        (folder / file.name).write_text(file.read_text("utf-8"), encoding="utf-8")
        plan.write_text(PLAN.format(file=file.name, samples=2), encoding="utf-8")
        run_sweep(read_plan(plan), folder / "compiled")  # compiled code comes from the cache from here on
        plan.write_text(PLAN.format(file=file.name, samples=samples), encoding="utf-8")
        one, two = (measured(plan, folder / str(workers), workers) for workers in (1, 2))
        alike = all(
            open_sweep(folder / "1")[key].values.tobytes() == open_sweep(folder / "2")[key].values.tobytes()
            for key in ("days", "first_failure")
        )
    print(f"{'workers':>8} {'scenarios':>10} {'wall [s]':>9} {'a second':>9} {'processor, each [ms]':>21}")
    for run in (one, two):
        rate = "too short" if run.rate is None else f"{run.rate:.1f}"
        print(
            f"{run.workers:>8} {run.scenarios:>10} {run.seconds:>9.1f} {rate:>9} {1e3 * run.processor:>21.1f}"
        )
    if one.rate and two.rate:
        print(f"two workers over one, as measured: {two.rate / one.rate:.2f}")
    print(f"two workers over one, by processor time, on free cores: {2 * one.processor / two.processor:.2f}")
    print(f"the same numbers, bit for bit: {'yes' if alike else 'NO'}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--samples", type=int, default=256)
    main(parser.parse_args().samples)
