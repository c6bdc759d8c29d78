"""A sweep carried out: portions handed to workers, here or on a cluster, and written as they come back."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.keeping.cases import case_of
from hardtack.keeping.draws import quantiles
from hardtack.keeping.follow import verdicts
from hardtack.keeping.sweeping.designs import Recipe, design_product, design_words, recipe_of
from hardtack.keeping.sweeping.plan import SweepPlan
from hardtack.keeping.sweeping.store import Store, parts_of, store_of
from hardtack.keeping.sweeping.work import Portion, Worked, program, work

PATIENCE = "10s"
"""How long a cluster may take to answer."""
AHEAD = 3
"""Portions handed out for each worker, so that none waits."""
ON_A_CLUSTER = 64
"""Portions handed to a cluster at once, at least."""
TRIES = 3
"""How often a portion is given out again when its worker is lost."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a sweep is: scenarios done and in all, and about how long it still takes [s], None while unknown."""

    done: int
    total: int
    left: float | None


Told = Callable[[Progress], None]


def run_sweep(
    plan: SweepPlan, folder: str | Path, *, workers: int = 1, cluster: str = "", told: Told | None = None
) -> None:
    """Carry out the plan into `folder`, going on where an earlier run stopped.

    With `workers` 1 in this process, else in so many processes; with `cluster`, an address such as
    tcp://127.0.0.1:8786, on a Dask cluster. The numbers are the same, bit for bit, on workers of one program and one
    kind of processor.

    Raises `HardtackError` when a design cannot be built, the folder is not this plan's, or the workers are lost; what
    was finished stays.
    """
    _needs_extra()
    if workers < 1:
        raise HardtackError(f"{workers} workers cannot work", "give one or more")
    recipe, inputs = recipe_of(plan)
    _check_designs(plan, recipe)
    drawn = (
        quantiles(len(inputs), plan.samples, plan.seed) if plan.samples > 1 else np.zeros((1, len(inputs)))
    )
    layers = tuple(dict.fromkeys(layer.name for product in plan.products for layer in product.layers))
    with store_of(plan, Path(folder), inputs, drawn, layers) as store:
        portions = (
            Portion(number, part, recipe, drawn[part[2]], layers, program())
            for number, part in enumerate(store.parts)
            if number not in store.finished
        )
        if len(store.finished) == len(store.parts):
            _tell(store, plan, told, None)
            return
        with _executor(workers, cluster) as (executor, ahead):
            _stream(executor, portions, ahead, store, plan, told)


def _needs_extra() -> None:
    from importlib.util import find_spec

    if missing := [name for name in ("zarr", "xarray") if find_spec(name) is None]:
        raise HardtackError(
            f"sweeps need {' and '.join(missing)}",
            "install Hardtack with its extra: pip install 'hardtack[sweep]'",
        )


def _check_designs(plan: SweepPlan, recipe: Recipe) -> None:
    """Build the first design of each product and each choice on its own, so that a slip shows before the night."""
    seen: set[tuple[int, int, int]] = set()
    problems: list[Problem] = []
    for number, design in enumerate(plan.designs):
        chosen = [(design.product, k, choice) for k, choice in enumerate(design.choices)] or [
            (design.product, -1, 0)
        ]
        new = [one for one in chosen if one not in seen]
        if not new:
            continue
        seen.update(new)
        try:
            case = case_of(design_product(recipe, number))
            verdicts(case.product, case.pieces, case.pack, case.journey)
        except HardtackError as error:
            told, (_, k, choice) = error.problems[0], new[-1]
            words = design_words(plan.factors, design) or plan.products[design.product].name
            line = plan.factors[k].choices[choice].line if k >= 0 else None
            problems.append(
                Problem(f"design {number + 1} ({words}): {told.what}", told.mend, str(plan.file), line)
            )
    if problems:
        raise HardtackError(problems)


def _stream(
    executor: Executor,
    portions: Iterator[Portion],
    ahead: int,
    store: Store,
    plan: SweepPlan,
    told: Told | None,
) -> None:
    """Hand out portions, a few ahead, and write each as it comes back, in whatever order."""
    began, before = time.monotonic(), _scenarios(store)
    waiting: set[Future[Worked]] = set()
    more = True
    _tell(store, plan, told, None)
    try:
        while waiting or more:
            while more and len(waiting) < ahead:
                portion = next(portions, None)
                if portion is None:
                    more = False
                else:
                    waiting.add(executor.submit(work, portion))
            if not waiting:
                break
            ready, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in ready:
                store.write(future.result())
            _tell(store, plan, told, (began, before))
    except BaseException:
        for future in waiting:
            future.cancel()
        raise


def _scenarios(store: Store) -> int:
    """Scenarios finished."""
    return sum(
        int(np.prod([part.stop - part.start for part in store.parts[number]])) for number in store.finished
    )


def _tell(store: Store, plan: SweepPlan, told: Told | None, since: tuple[float, int] | None) -> None:
    if told is None:
        return
    done, total = _scenarios(store), int(np.prod(plan.shape))
    left = None
    if since is not None and done > since[1]:
        left = (time.monotonic() - since[0]) / (done - since[1]) * (total - done)
    told(Progress(done, total, left))


@contextmanager
def _executor(workers: int, cluster: str) -> Iterator[tuple[Executor, int]]:
    """Workers by one shape, with how many portions to hand out ahead."""
    if cluster:
        with _on_cluster(cluster) as found:
            yield found
    elif workers == 1:
        with ThreadPoolExecutor(1) as executor:
            yield executor, 1
    else:
        import multiprocessing

        fresh = multiprocessing.get_context("spawn")
        try:
            with ProcessPoolExecutor(workers, mp_context=fresh, initializer=_as_worker) as pool:
                yield pool, AHEAD * workers
        except BrokenProcessPool:
            raise HardtackError(
                "a worker was ended from outside, or for want of memory",
                "run the same command again, with fewer --workers: what is finished stays",
            ) from None


@contextmanager
def _on_cluster(address: str) -> Iterator[tuple[Executor, int]]:
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise HardtackError(
            "a cluster needs dask.distributed",
            "install Hardtack with its extra: pip install 'hardtack[sweep]'",
        ) from None
    try:
        client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError):
        raise HardtackError(
            f"no Dask cluster answers at {address}",
            "give its scheduler's address, such as tcp://127.0.0.1:8786",
        ) from None
    with client:
        try:
            ahead = max(ON_A_CLUSTER, AHEAD * sum(client.nthreads().values()))
            yield client.get_executor(pure=False, retries=TRIES), ahead
        except CancelledError:
            raise HardtackError(
                "the cluster went away", "start it and run the same command again: what is finished stays"
            ) from None
        except distributed.KilledWorker:
            raise HardtackError(
                "a portion's worker was lost again and again",
                "look at the workers' memory; run the same command again: what is finished stays",
            ) from None


def _as_worker() -> None:
    """A worker leaves Ctrl-C to the process that hands out, and ends when that one is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    import multiprocessing

    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def scenarios_of(plan: SweepPlan) -> tuple[int, int]:
    """Scenarios of the plan and portions they are worked out in."""
    return int(np.prod(plan.shape)), len(parts_of(plan.shape)[1])
