"""Thousands of marches at once: for certainty, sweeps and fits of the full model."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats
from hardtack.transport import rows
from hardtack.transport.chain import Chain, Ints
from hardtack.transport.compiler import compiled
from hardtack.transport.march import (
    ATTEMPTS_PER_RUN,
    BALANCE_LIMIT,
    Watch,
    at_rest,
    audit,
    check,
    follow,
    suited,
    watched,
)  # fmt: skip
from hardtack.transport.rosenbrock import Scheme
from hardtack.transport.surroundings import Surroundings

if TYPE_CHECKING:
    from hardtack.transport.lanes import Results

Bools = NDArray[np.bool_]
Kept = Literal["moisture", "headspace", "inflow", "temperature", "activity", "water"]
KEPT: tuple[Kept, ...] = get_args(Kept)

ENOUGH = 500
"""Scenarios of a batch from which on it goes in lanes: fewer take less time than the compiling, which is done once, when first needed."""
AT_ONCE = 256
"""Scenarios laid out for the lanes at a time: what bounds the memory."""


@dataclass(frozen=True, slots=True)
class Draws:
    """What differs from scenario to scenario, each entry an array [S]; what is not named stays as in its chain.

    All but `limits` are factors, above zero. `film` is on the conductance to the outside (film or whole-pack factor),
    `headspace` on the gas space's volume. By the name of a layer: `diffusivity` (on D and the vapour path alike),
    `isotherm` (on all moistures of the isotherm), `moisture` (on the moisture at the start), `dry_mass` (on the solids,
    as in a heavier layer of the same thickness). `barriers` [S] are by number in the chain, on the permeance. `limits`
    are moistures [kg/kg] by number of the watch, instead of its own.
    """

    film: Floats | None = None
    headspace: Floats | None = None
    diffusivity: Mapping[str, Floats] = field(default_factory=dict)
    isotherm: Mapping[str, Floats] = field(default_factory=dict)
    moisture: Mapping[str, Floats] = field(default_factory=dict)
    dry_mass: Mapping[str, Floats] = field(default_factory=dict)
    barriers: Mapping[int, Floats] = field(default_factory=dict)
    limits: Mapping[int, Floats] = field(default_factory=dict)


_AXES = (("moisture", 3), ("headspace", 2), ("inflow", 2), ("temperature", 2), ("activity", 3), ("water", 3))
"""How many axes each array of what is kept has."""


@dataclass(frozen=True, slots=True)
class Many:
    """What was kept of every scenario, in the order asked for. What was not asked for is None.

    `crossings` [S, watches, s] are NaN where a watch was not met. `failed` are the scenarios that could not be followed
    to the end; their rows are NaN. Over the output times: `moisture` [S, times, layers, kg/kg] of the layers' means,
    activity of the `headspace` [S, times], `inflow` [S, times, kg], `temperature` [S, times, K], and of every cell and
    then the gas space `activity` and `water` [S, times, cells+1, kg]. After a scenario has stopped, all crossed, rows
    are NaN.
    """

    crossings: Floats
    imbalance: Floats
    steps: Ints
    attempts: Ints
    failed: Ints
    moisture: Floats | None = None
    headspace: Floats | None = None
    inflow: Floats | None = None
    temperature: Floats | None = None
    activity: Floats | None = None
    water: Floats | None = None


def march_many(
    chains: Sequence[Chain],
    airs: Sequence[Surroundings],
    times: Floats,
    *,
    chain_of: Ints | None = None,
    air_of: Ints | None = None,
    draws: Draws | None = None,
    watches: Sequence[Watch] = (),
    keep: Collection[Kept] = (),
    stop_when_all_crossed: bool = False,
    tolerance: float = 1e-4,
    scheme: Scheme | None = None,
    threads: int | None = None,
) -> Many:
    """March S scenarios over the same output times [s], each from its own start.

    Scenario s is the chain numbered `chain_of[s]`, in the air numbered `air_of[s]`, changed by the s-th of the `draws`;
    S is the length of whichever of these is given, and what is left out is number 0. All chains have layers of the same
    names, in one order. Each scenario is worked out by itself, by the arithmetic of `march`. From `ENOUGH` scenarios on
    they go in lanes of the processor's vectors, several to an instruction: then they differ from `march` by rounding, and
    by what that does to the choice of steps, far below the tolerance. A scenario's bits depend neither on the others, on
    their order or their number (as long as there are `ENOUGH`), nor on `threads` (all the machine's when None).

    Memory: per scenario 8 bytes for each number kept and each crossing, and nothing else; besides, per thread, the
    outputs of one march, and 20 kB for each cell where it goes in lanes. Raises as `march` for bad input;
    `BalanceError` when the water balance of any scenario fails.
    """
    count = _count(chain_of, air_of, draws)
    which_chain = np.zeros(count, dtype=np.int64) if chain_of is None else chain_of
    which_air = np.zeros(count, dtype=np.int64) if air_of is None else air_of
    drawn = draws or Draws()
    _check(chains, airs, times, (which_chain, which_air), drawn, watches, keep)
    many = _room(chains[0], times.size, len(watches), keep, count)
    failed = np.zeros(count, dtype=np.bool_)

    schemes = [scheme or suited(air, times) for air in airs]
    job = _Job(
        chains, airs, times, which_chain, which_air, drawn, watches, stop_when_all_crossed, tolerance, schemes
    )
    follow_all = _side_by_side if not compiled() else _in_lanes if count >= ENOUGH else _one_by_one
    workers = min(threads or os.cpu_count() or 1, max(count, 1))
    if workers == 1:
        follow_all(job, np.arange(count), many, failed)
    else:
        parts = [np.arange(count)[k::workers] for k in range(workers)]
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(lambda part: follow_all(job, part, many, failed), parts))
    if not np.all(many.imbalance[~failed] <= BALANCE_LIMIT):
        worst = float(np.max(many.imbalance[~failed]))
        raise BalanceError(f"water balance off by {worst:.2e} of the piece's water", "please report this run")
    return replace(many, failed=np.flatnonzero(failed))


@dataclass(frozen=True, slots=True)
class _Job:
    """What is asked of every scenario; see `march_many`."""

    chains: Sequence[Chain]
    airs: Sequence[Surroundings]
    times: Floats
    chain_of: Ints
    air_of: Ints
    draws: Draws
    watches: Sequence[Watch]
    stop: bool
    tolerance: float
    schemes: Sequence[Scheme]

    def scenario(self, s: int) -> tuple[Chain, Surroundings, Floats, tuple[Any, ...], float]:
        """Chain, air, first water, watches and factor on the film of scenario s."""
        cut, air = _changed(self.chains[self.chain_of[s]], self.draws, s), self.airs[self.air_of[s]]
        film = 1.0 if self.draws.film is None else float(self.draws.film[s])
        start = at_rest(cut, air, float(self.times[0]))
        return cut, air, start, _limited(watched(cut, self.watches), self.draws, s), film


def _one_by_one(job: _Job, part: Ints, many: Many, failed: Bools) -> None:
    """March the scenarios of a part with the compiled march, into `many`; `failed` takes which could not be followed."""
    scratch: dict[int, tuple[Floats, ...]] = {}
    for s in part:
        cut, air, start, watches, film = job.scenario(int(s))
        n, k = cut.dry_mass.size, job.times.size
        kept = scratch.setdefault(n, (np.zeros((k, n + 1)), np.zeros((k, n + 1)), np.zeros(k), np.zeros(k)))
        code, done, many.steps[s], many.attempts[s] = follow(
            start,
            job.times,
            cut,
            air,
            job.schemes[job.air_of[s]],
            watches,
            many.crossings[s],
            job.stop,
            job.tolerance,
            kept,
            film,
        )
        failed[s] = code != 0
        _keep(many, int(s), cut, kept, done, failed=bool(failed[s]))


def _in_lanes(job: _Job, part: Ints, many: Many, failed: Bools) -> None:
    """The same in lanes, lot by lot of one structure; what lanes do not hold goes one by one, from its start."""
    from hardtack.transport import lanes

    leaky = [bool(np.any(cut.barriers[:, 3] > 0.0)) for cut in job.chains]
    alike: dict[tuple[object, ...], list[int]] = {}
    alone: list[int] = []
    for s in part:
        k, a = job.chain_of[s], job.air_of[s]
        if leaky[k] or job.airs[a].swings:
            alone.append(s)
        else:
            alike.setdefault((lanes.likeness(job.chains[k]), job.schemes[a].name), []).append(s)
    code = np.full(failed.size, lanes.DONE)
    results = lanes.Results(
        many.crossings, many.imbalance, many.steps, many.attempts, code,
        *(getattr(many, name) if getattr(many, name) is not None else np.zeros((0,) * axes) for name, axes in _AXES),
    )  # fmt: skip
    for one in alike.values():
        for k in range(0, len(one), AT_ONCE):
            _march_lot(job, np.array(one[k : k + AT_ONCE]), results)
    given_up = [s for s in part if code[s] != lanes.DONE]
    for s in given_up:
        many.crossings[s] = np.nan
        for name in KEPT:
            if (room := getattr(many, name)) is not None:
                room[s] = np.nan
    _one_by_one(job, np.array(sorted(alone + given_up), dtype=np.int64), many, failed)


def _march_lot(job: _Job, number: Ints, results: Results) -> None:
    """Lay the scenarios with these numbers out side by side, and march them."""
    from hardtack.transport import lanes

    kinds, which = np.unique(job.chain_of[number], return_inverse=True)
    there, air_of = np.unique(job.air_of[number], return_inverse=True)
    chains, airs = [job.chains[k] for k in kinds], [job.airs[a] for a in there]
    cut = rows.changed(chains, which, job.draws, number)
    film, own = job.draws.film, watched(chains[0], job.watches)
    limits = np.tile(own[2], (number.size, 1))
    for k, drawn in job.draws.limits.items():
        limits[:, k] = drawn[number]
    layers = np.array([chains[0].names.index(watch.layer) for watch in job.watches], dtype=np.int64)
    lanes.march_lot(
        number, cut, airs, air_of, rows.at_rest(cut, airs, air_of, float(job.times[0])),
        np.ones(number.size) if film is None else film[number], limits, (layers, own[3]), job.times,
        job.schemes[job.air_of[number[0]]], results, stop=job.stop, tolerance=job.tolerance,
    )  # fmt: skip


def _side_by_side(job: _Job, part: Ints, many: Many, failed: Bools) -> None:
    """The same without the compiler: those of one structure in lockstep."""
    from hardtack.transport import twin

    schemes = [job.schemes[job.air_of[s]] for s in part]
    for numbers in twin.lots([job.chains[job.chain_of[s]] for s in part], schemes):
        at = part[numbers]
        cuts, airs, starts, watches, films = zip(*(job.scenario(int(s)) for s in at), strict=True)
        got = twin.lockstep(
            starts, job.times, cuts, airs, schemes[numbers[0]], watches, job.stop, job.tolerance, ATTEMPTS_PER_RUN, np.array(films)
        )  # fmt: skip
        many.crossings[at], many.steps[at], many.attempts[at], failed[at] = (
            got.crossed, got.steps, got.attempts, got.code != 0,
        )  # fmt: skip
        for row, s in enumerate(at):
            _keep(
                many,
                int(s),
                cuts[row],
                tuple(kept[row] for kept in got.kept),
                int(got.done[row]),
                failed=bool(failed[s]),
            )


def _arrays(draws: Draws) -> dict[str, Floats]:
    """Every array of the draws by what it is called in errors."""
    named = {name: array for name in ("film", "headspace") if (array := getattr(draws, name)) is not None}
    for name in ("diffusivity", "isotherm", "moisture", "dry_mass", "barriers", "limits"):
        named |= {f"{name} of {key}": array for key, array in getattr(draws, name).items()}
    return named


def _count(chain_of: Ints | None, air_of: Ints | None, draws: Draws | None) -> int:
    """Number of scenarios: the one length of all that is given; 1 when nothing is."""
    given = {"chain_of": chain_of, "air_of": air_of, **(_arrays(draws) if draws else {})}
    sizes = {name: np.shape(array) for name, array in given.items() if array is not None}
    if len(set(sizes.values())) > 1 or any(len(shape) != 1 for shape in sizes.values()):
        said = ", ".join(f"{name} {shape}" for name, shape in sizes.items())
        raise HardtackError(f"the scenarios are not of one number: {said}", "give arrays of one length")
    return next(iter(sizes.values()))[0] if sizes else 1


def _check(
    chains: Sequence[Chain],
    airs: Sequence[Surroundings],
    times: Floats,
    which: tuple[Ints, Ints],
    draws: Draws,
    watches: Sequence[Watch],
    keep: Collection[Kept],
) -> None:
    for what, there, number in (("chain", len(chains), which[0]), ("air", len(airs), which[1])):
        if number.size and not (0 <= number.min() <= number.max() < there):
            raise HardtackError(f"a scenario asks for {what} {number.max()} of {there}", "count them from 0")
    for k, a in {(int(k), int(a)) for k, a in zip(*which, strict=True)}:
        check(chains[k], airs[a], times)
    names = chains[0].names
    if any(cut.names != names for cut in chains):
        raise HardtackError("the chains have layers of different names", "march each kind by itself")
    if ("activity" in keep or "water" in keep) and len({cut.dry_mass.size for cut in chains}) > 1:
        raise HardtackError("the chains have different numbers of cells", "keep the layers' moisture instead")
    if unknown := [name for name in keep if name not in KEPT]:
        raise HardtackError(f"nothing called {unknown[0]!r} can be kept", f"there are: {', '.join(KEPT)}")
    _check_draws(draws, names, min(cut.barriers.shape[0] for cut in chains), len(watches))


def _check_draws(draws: Draws, names: Sequence[str], barriers: int, watches: int) -> None:
    for name in ("diffusivity", "isotherm", "moisture", "dry_mass"):
        if stray := [layer for layer in getattr(draws, name) if layer not in names]:
            raise HardtackError(f"no layer {stray[0]!r} to draw for", f"layers are {', '.join(names)}")
    for what, there, numbers in (
        ("barrier", barriers, draws.barriers),
        ("watch", watches, draws.limits),
    ):
        if stray_number := [k for k in numbers if not 0 <= k < there]:
            raise HardtackError(
                f"no {what} {stray_number[0]} to draw for", f"there are {there}, counted from 0"
            )
    for what, array in _arrays(draws).items():
        if not np.all((array > 0) & (array < np.inf)):
            raise HardtackError(f"a draw of {what} is not above zero", "draw from what cannot fall to zero")


def _room(chain: Chain, outputs: int, watches: int, keep: Collection[Kept], count: int) -> Many:
    """Arrays for what is kept, NaN until it is there."""
    shapes: dict[Kept, tuple[int, ...]] = {
        "moisture": (len(chain.names),),
        "headspace": (),
        "inflow": (),
        "temperature": (),
        "activity": (chain.dry_mass.size + 1,),
        "water": (chain.dry_mass.size + 1,),
    }
    kept: dict[Kept, Floats] = {name: np.full((count, outputs, *shapes[name]), np.nan) for name in keep}
    return Many(
        crossings=np.full((count, watches), np.nan),
        imbalance=np.full(count, np.nan),
        steps=np.zeros(count, dtype=np.int64),
        attempts=np.zeros(count, dtype=np.int64),
        failed=np.zeros(0, dtype=np.int64),
        moisture=kept.get("moisture"),
        headspace=kept.get("headspace"),
        inflow=kept.get("inflow"),
        temperature=kept.get("temperature"),
        activity=kept.get("activity"),
        water=kept.get("water"),
    )


def _changed(chain: Chain, draws: Draws, s: int) -> Chain:
    """The chain as scenario s has it."""
    one = rows.changed((chain,), np.zeros(1, dtype=np.int64), draws, np.array([s]))
    return replace(
        chain,
        constants=one.constants[0],
        dry_mass=one.dry_mass[0],
        start_moisture=one.start_moisture[0],
        barriers=one.barriers[0],
        headspace=float(one.headspace[0]),
    )


def _limited(watches: tuple[Any, ...], draws: Draws, s: int) -> tuple[Any, ...]:
    first, last, moisture, rising = watches
    for k, limits in draws.limits.items():
        moisture[k] = limits[s]
    return first, last, moisture, rising


def _keep(many: Many, s: int, chain: Chain, kept: tuple[Floats, ...], done: int, *, failed: bool) -> None:
    water, activity, inflow, temperature = (course[:done] for course in kept)
    if failed:
        many.crossings[s] = np.nan
        return
    many.imbalance[s] = audit(water, inflow)
    if many.moisture is not None:
        means = [water[:, i:j].sum(axis=1) / chain.dry_mass[i:j].sum() for i, j in chain.spans]
        many.moisture[s, :done] = np.stack(means, axis=1)
    if many.headspace is not None:
        many.headspace[s, :done] = activity[:, -1]
    for courses, room in (
        (inflow, many.inflow),
        (temperature, many.temperature),
        (activity, many.activity),
        (water, many.water),
    ):
        if room is not None:
            room[s, :done] = courses
