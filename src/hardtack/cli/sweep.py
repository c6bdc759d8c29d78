"""`hardtack sweep`: designs at places in many draws, into a folder; and what a folder holds."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from hardtack.errors import HardtackError

if TYPE_CHECKING:
    from hardtack.keeping.sweeping import Progress, Summary

EVERY = 30.0
"""Seconds between lines of progress when nobody watches."""
SMALL = 200
"""Scenarios for which another process is not worth its start."""


def sweep(
    plan: Path | None = None,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=("--output", "-o"))] = None,
    workers: int = 0,
    cluster: str = "",
    show: Path | None = None,
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False,
    picture: Path | None = None,
) -> None:
    """Carry out a plan of designs, places and samples into a folder; stopped, the same command goes on.

    Example: hardtack sweep films.yaml -o films-sweep, then hardtack sweep --show films-sweep --picture films.svg

    Parameters
    ----------
    plan
        The plan (docs/sweeps.md).
    output
        The folder for the results; beside the plan and named after it unless said. An unfinished one is gone on with.
    workers
        Processes to share the work; 0: one for each core, fewer where starting them would take longer than the work.
    cluster
        Address of a Dask cluster's scheduler, such as tcp://127.0.0.1:8786, to work there instead. A cluster runs
        whatever it is sent: use one on this machine, or in a network you trust.
    show
        Show what a folder holds, also while the sweep runs, without working on it.
    as_json
        Print the summary as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the days of each design and place to this file; .svg or .png.
    """
    from hardtack.keeping.sweeping import folder_of, read_plan, run_sweep, summary_of, sweep_json

    if (plan is None) == (show is None):
        raise HardtackError(
            "name a plan to carry out, or a folder to show",
            "write: hardtack sweep PLAN.yaml -o FOLDER, or: hardtack sweep --show FOLDER",
        )
    if plan is not None:
        folder = output or folder_of(plan)
        read = read_plan(plan)
        with _progress(plan.name) as told:
            try:
                run_sweep(read, folder, workers=workers or _worth_it(read.shape), cluster=cluster, told=told)
            except KeyboardInterrupt:
                print(
                    f"What is finished stays in {folder}; the same command goes on from there.",
                    file=sys.stderr,
                )
                raise
    else:
        assert show is not None
        folder = show
    summary = summary_of(folder)
    if picture is not None:
        from hardtack.pictures.render import write_picture
        from hardtack.pictures.sweep import sweep_picture

        write_picture(sweep_picture(summary), picture)
    if as_json:
        from hardtack.cli.commands import print_json

        print_json(sweep_json(summary))
        return
    show_summary(summary, folder)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def _worth_it(shape: tuple[int, int, int]) -> int:
    """Workers for so many designs, places and samples: a process takes seconds to start, a scenario some 20 ms."""
    return max(1, min(os.cpu_count() or 1, shape[0] * shape[1] * shape[2] // SMALL))


@contextmanager
def _progress(what: str) -> Iterator[Callable[[Progress], None]]:
    """Progress with the time left: a bar where somebody watches, else a line now and then."""
    if not sys.stderr.isatty():
        last = [time.monotonic()]

        def line(progress: Progress) -> None:
            if progress.left is not None and (
                progress.done == progress.total or time.monotonic() - last[0] >= EVERY
            ):
                last[0] = time.monotonic()
                print(f"{what}: {progress_words(progress)}", file=sys.stderr, flush=True)

        yield line
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar

    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[said]}"))
    with Bar(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0, said="")

        def move(progress: Progress) -> None:
            bar.update(task, completed=progress.done / progress.total, said=progress_words(progress))

        yield move


def progress_words(progress: Progress) -> str:
    """How far it is: ``1 200 of 9 600 scenarios (12 %), about 14 min left``."""
    said = f"{progress.done:,} of {progress.total:,} scenarios".replace(",", " ")
    said += f" ({100 * progress.done // progress.total} %)"
    if progress.left is None or progress.done == progress.total:
        return said
    left = progress.left
    if left < 90:
        words = f"{left:.0f} s"
    elif left < 5400:
        words = f"{left / 60:.0f} min"
    else:
        words = f"{left / 3600:.1f} h"
    return f"{said}, about {words} left"


def show_summary(summary: Summary, folder: Path) -> None:
    """A row for each design and place, the shortest first."""
    from rich.text import Text

    from hardtack.cli.show import console, show_sections
    from hardtack.keeping.sweeping.told import sweep_sections, sweep_sentence

    out = console()
    out.print(Text(sweep_sentence(summary), style="bold"))
    show_sections(out, sweep_sections(summary))
    out.print(Text(f"\nKept in {folder}."))
