"""Thousands of marches at once: for certainty, sweeps and fits of the full model."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Floats
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

Bools = NDArray[np.bool_]
Kept = Literal["moisture", "headspace", "inflow", "temperature", "activity", "water"]
KEPT: tuple[Kept, ...] = get_args(Kept)


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
    names, in one order. Each scenario is worked out by itself, by the same arithmetic as `march`: so its bits do not
    depend on the others, on their order, or on `threads` (all the machine's when None).

    Memory: per scenario 8 bytes for each number kept and each crossing, and nothing else; besides, per thread, the
    outputs of one march. Raises as `march` for bad input; `BalanceError` when the water balance of any scenario fails.
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
    follow_all = _one_by_one if compiled() else _side_by_side
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
    """The chain as scenario s has it. An isotherm times f is the same curve over X / (X + f X_half)."""
    constants, dry, start = chain.constants.copy(), chain.dry_mass.copy(), chain.start_moisture.copy()
    for k, (name, (first, last)) in enumerate(zip(chain.names, chain.spans, strict=True)):
        if name in draws.diffusivity:
            f = draws.diffusivity[name][s]
            constants[k, [1, 6]] *= f
            constants[k, 9] -= np.log(f)
        if name in draws.isotherm:
            constants[k, 7] *= draws.isotherm[name][s]
        if name in draws.moisture:
            start[first:last] *= draws.moisture[name][s]
        if name in draws.dry_mass:
            constants[k, 0] *= draws.dry_mass[name][s]
            dry[first:last] *= draws.dry_mass[name][s]
    barriers = chain.barriers.copy()
    for b, factors in draws.barriers.items():
        barriers[b, 0] /= factors[s]
    volume = chain.headspace if draws.headspace is None else chain.headspace * float(draws.headspace[s])
    return replace(
        chain, constants=constants, dry_mass=dry, start_moisture=start, barriers=barriers, headspace=volume
    )


def _limited(watches: tuple[Any, ...], draws: Draws, s: int) -> tuple[Any, ...]:
    first, last, moisture, rising = watches
    for k, limits in draws.limits.items():
        moisture[k] = limits[s]
    return first, last, moisture, rising


def _keep(many: Many, s: int, chain: Chain, kept: tuple[Floats, ...], done: int, *, failed: bool) -> None:
    water, activity, inflow, temperature = (rows[:done] for rows in kept)
    if failed:
        many.crossings[s] = np.nan
        return
    many.imbalance[s] = audit(water, inflow)
    if many.moisture is not None:
        means = [water[:, i:j].sum(axis=1) / chain.dry_mass[i:j].sum() for i, j in chain.spans]
        many.moisture[s, :done] = np.stack(means, axis=1)
    if many.headspace is not None:
        many.headspace[s, :done] = activity[:, -1]
    for rows, room in (
        (inflow, many.inflow),
        (temperature, many.temperature),
        (activity, many.activity),
        (water, many.water),
    ):
        if room is not None:
            room[s, :done] = rows
