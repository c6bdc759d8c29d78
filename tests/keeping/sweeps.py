"""Invented plans and product files for the tests of sweeps, and a Dask cluster of real processes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from xarray import Dataset

BISCUIT = """
hardtack: 1
name: test biscuit
kind: hard-dough biscuit
origin: invented
packed on: 2026-06-01
piece: {shape: slab, thickness: 6.5 mm, diameter: 62 mm, mass: 8.0 g, count: 25,
  layers: [{name: biscuit, moisture: 2.2 ± 0.2 %wb, isotherm: hard-dough biscuit}]}
pack: {film: OPP 30 um, area: {low: 0.055 m2, high: 0.065 m2}, headspace: 180 mL}
journey:
  - {leg: van, lasts: 2 days, temperature: 25 degC, humidity: 50 %}
  - {leg: store, lasts: until it fails, temperature: 30 degC, humidity: 70 %}
"""
PLAN = """
hardtack sweep: 1
products: [biscuit.yaml]
designs:
  crossed:
    film: [OPP 30 um, OPP 20 um]
    "pack: headspace": {from: 200 mL, to: 300 mL, steps: 3}
samples: 32
seed: 5
keep: [days, first failure, activities at the end, moistures at the end, shares of life at the end]
"""


def written(folder: Path, plan: str = PLAN, biscuit: str = BISCUIT) -> Path:
    """The plan's file, its product file beside it."""
    (folder / "biscuit.yaml").write_text(biscuit, encoding="utf-8")
    path = folder / "plan.yaml"
    path.write_text(plan, encoding="utf-8")
    return path


def same_bits(one: Dataset, other: Dataset) -> None:
    """Every number and every word of two sweeps is the same."""
    assert set(one.variables) == set(other.variables)
    for name in one.variables:
        a, b = one[name].values, other[name].values
        assert a.dtype == b.dtype
        assert a.tobytes() == b.tobytes(), name
    assert np.isfinite(one["days"].values).all()


@contextmanager
def dask_cluster(workers: int) -> Iterator[tuple[str, list[subprocess.Popen[str]]]]:
    """A scheduler and workers, each a process of its own on the loopback: the address, and the workers. No nanny brings
    a killed worker back."""
    environment = {**os.environ, "DASK_DISTRIBUTED__ADMIN__SYSTEM_MONITOR__DISK": "false"}
    command = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0"]
    running = [
        subprocess.Popen(
            [*command, "--no-dashboard"], stderr=subprocess.PIPE, text=True, encoding="utf-8", env=environment
        )
    ]
    try:
        address = _address(running[0])
        for _ in range(workers):
            command = [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-nanny"]
            more = ["--nthreads", "1", "--host", "127.0.0.1", "--no-dashboard"]
            running.append(
                subprocess.Popen(
                    [*command, *more], stderr=subprocess.DEVNULL, text=True, encoding="utf-8", env=environment
                )
            )
        yield address, running[1:]
    finally:
        for process in reversed(running):
            process.kill()
            process.wait()
            if process.stderr is not None:
                process.stderr.close()


def _address(scheduler: subprocess.Popen[str]) -> str:
    assert scheduler.stderr is not None
    for line in scheduler.stderr:
        if found := re.search(r"Scheduler at:\s*(tcp://127\.0\.0\.1:\d+)", line):
            return found[1]
    raise AssertionError("the scheduler did not start")
