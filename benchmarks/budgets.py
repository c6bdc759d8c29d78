"""The start-up budgets of docs/design.md, measured: what a person waits for at the command line.

    python benchmarks/budgets.py            every budget, 7 runs each
    python benchmarks/budgets.py --runs 1   a quick look

Times are wall time of a fresh process; the median and the spread are printed beside the budget. Nothing is
asserted: a slow machine is no fault.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "examples"


def seconds(arguments: list[str], **environment: str) -> float:
    """Wall time of one fresh process of the command line."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "hardtack", *arguments],
        check=True,
        stdout=subprocess.DEVNULL,
        env={**{k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}, **environment},
    )
    return time.perf_counter() - start


def cold() -> float:
    """A full keep with an empty cache of compiled code."""
    with tempfile.TemporaryDirectory() as folder:
        return seconds(["keep", str(EXAMPLES / "lean-cracker-humid-coast.yaml")], NUMBA_CACHE_DIR=folder)


BUDGETS: tuple[tuple[str, float, Callable[[], float], bool], ...] = (
    ("hardtack --help", 0.3, lambda: seconds(["--help"]), True),
    (
        "keep, film-limited (quadrature)",
        0.7,
        lambda: seconds(["keep", str(EXAMPLES / "hard-biscuit-plain.yaml")]),
        True,
    ),
    (
        "keep, full march, warm",
        1.2,
        lambda: seconds(["keep", str(EXAMPLES / "lean-cracker-humid-coast.yaml")]),
        True,
    ),
    ("keep, full march, first compile", 12.0, cold, False),
)


def main(runs: int) -> None:
    """Print the table."""
    print(f"{'what':36} {'budget s':>9} {'median s':>9} {'fastest':>8} {'slowest':>8}")
    for what, budget, measure, repeat in BUDGETS:
        if repeat:
            measure()  # fill the caches that a first run fills
        times = [measure() for _ in range(runs if repeat else 1)]
        middle = statistics.median(times)
        verdict = "" if middle <= budget else "  over budget"
        print(f"{what:36} {budget:9.2f} {middle:9.2f} {min(times):8.2f} {max(times):8.2f}{verdict}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=7, help="repeats of each warm run")
    main(parser.parse_args().runs)
