"""How fast samples of a year are followed: CPU time by core, warm, on the products a certainty is asked for.

    python benchmarks/certainty.py                1,024 samples each
    python benchmarks/certainty.py --samples 64   a quick look

The goal is 1,000 samples of a 365-day journey with hourly air in 1 s of CPU time on one core. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

import hardtack
from hardtack.keeping.many_dates import moments
from hardtack.keeping.nested import normals
from hardtack.keeping.study import study_of

EXAMPLES = Path(__file__).parents[1] / "examples"
PLAIN = (EXAMPLES / "hard-biscuit-plain.yaml").read_text("utf-8")
STEADY = "  - leg: a year\n    lasts: 365 days\n    temperature: 24 degC\n    humidity: 62 %\n"
DAMP = (
    "  - leg: a year\n    lasts: 365 days\n    temperature: 24 degC\n"
    '    humidity: {mean: 62 %, daily swing: 10 %, highest at: "05:00"}\n'
)
SWINGS = (
    '  - leg: a year\n    lasts: 365 days\n    temperature: {mean: 24 degC, daily swing: 5 K, warmest at: "14:00"}\n'
    "    humidity: {mean: 62 %, daily swing: -10 %}\n"
)


def biscuit(leg: str) -> str:
    """The plain hard biscuit in a film tight enough for the year, on one leg."""
    head, _, _ = PLAIN.partition("journey:")
    return head.replace("film: OPP 30 um", "film: metallised BOPP") + "journey:\n" + leg


CASES = (
    ("steady air, texture alone", biscuit(STEADY)),
    ("hourly humidity, texture alone", biscuit(DAMP)),
    ("hourly temperature and humidity, texture alone", biscuit(SWINGS)),
    ("bread: firming, mould, drying out", (EXAMPLES / "formula-soft-bread.yaml").read_text("utf-8")),
    (
        "sandwich: three layers, two barriers, mould, rancidity",
        (EXAMPLES / "savoury-sandwich-cracker.yaml").read_text("utf-8"),
    ),
)


def main(samples: int) -> None:
    """Print the CPU time of so many samples of each case, on one thread."""
    print(f"{samples} samples, one thread, warm; CPU time")
    for name, text in CASES:
        study = study_of(hardtack.loads(text))
        values = study.doubt.values(normals(study.doubt, 1, 0, samples, 1))
        moments(study, values[:2], threads=1)
        start = time.process_time()
        found = moments(study, values, threads=1)
        spent = time.process_time() - start
        late = float(np.mean(np.isinf(found.first)))
        print(
            f"  {name}: {spent:.2f} s, {1000 * spent / samples:.2f} ms a sample; {late:.0%} outlast the journey"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="how fast samples are followed")
    parser.add_argument("--samples", type=int, default=1024)
    main(parser.parse_args().samples)
