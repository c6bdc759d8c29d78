"""Sweeps: designs at places, each in many draws of what is not known, into a labelled array on disk.

import hardtack
data = hardtack.sweep("plan.yaml")
print(data.days.median("sample"))
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hardtack.keeping.sweeping.opened import open_sweep
from hardtack.keeping.sweeping.plan import SweepPlan, read_plan
from hardtack.keeping.sweeping.run import Progress, run_sweep
from hardtack.keeping.sweeping.summary import Summary, summary_of, sweep_json

if TYPE_CHECKING:
    from xarray import Dataset

__all__ = [
    "Progress",
    "Summary",
    "SweepPlan",
    "folder_of",
    "open_sweep",
    "read_plan",
    "run_sweep",
    "summary_of",
    "sweep",
    "sweep_json",
]


def folder_of(plan: str | Path) -> Path:
    """Where a plan's sweep is kept unless said: ``films.yaml`` in the folder ``films-sweep`` beside it."""
    path = Path(plan)
    return path.with_name(f"{path.stem}-sweep")


def sweep(
    plan: str | Path, folder: str | Path | None = None, *, workers: int = 1, cluster: str = ""
) -> Dataset:
    """Carry out the plan, or what is left of it, and open the result as `open_sweep` does.

    With more than one of `workers`, a script must begin its own work under ``if __name__ == "__main__":``, as Python's
    processes ask for. Raises as `read_plan` and `run_sweep`.
    """
    target = folder_of(plan) if folder is None else Path(folder)
    run_sweep(read_plan(plan), target, workers=workers, cluster=cluster)
    return open_sweep(target)
