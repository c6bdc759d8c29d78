"""One portion of a sweep worked out: the same on this machine's processes and on a cluster's."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import metadata, resources

import numpy as np

from hardtack.errors import HardtackError
from hardtack.failures import names
from hardtack.keeping.cases import case_of, follow_case
from hardtack.keeping.follow import Followed
from hardtack.keeping.history import with_moment
from hardtack.keeping.sweeping.designs import Recipe, design_product, drawn_product
from hardtack.keeping.where import followed_at
from hardtack.states import Floats
from hardtack.units import DAY
from hardtack.version import VERSION

FAILURES: tuple[str, ...] = (
    names.CRISPNESS,
    names.CRUST,
    names.SOGGINESS,
    names.DRYING_OUT,
    names.FIRMING,
    names.MOULD,
    names.FERMENTATION,
    names.SUGAR,
    names.CHECKING,
    names.RANCIDITY,
    names.COLOUR,
    names.ACCEPTANCE,
    names.MARKER,
)
"""Every way of failing that may come first."""
NOTHING, NOT_COMPUTED = -1, -2
"""In the place of a failure's number: nothing fails; the scenario has not been computed or could not be."""

Part = tuple[slice, slice, slice]
"""Designs, places and samples of one portion."""
Arrays = Mapping[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class Portion:
    """Some scenarios of a sweep and all that is needed for them; `quantiles` [samples, inputs] are its samples' own."""

    number: int
    part: Part
    recipe: Recipe
    quantiles: Floats
    layers: tuple[str, ...]
    program: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Worked:
    """A portion's results [designs, places, samples, ...] and what could not be computed, each with why."""

    number: int
    part: Part
    arrays: Arrays
    problems: tuple[str, ...]


@cache
def program() -> Mapping[str, str]:
    """What the numbers' last bits depend on: versions, the shelf, the kind of processor."""
    shelf = hashlib.sha256()
    for entry in sorted(
        resources.files("hardtack.reference").joinpath("data").iterdir(), key=lambda e: e.name
    ):
        if entry.name.endswith(".toml"):
            shelf.update(entry.read_bytes())
    libraries = {name: metadata.version(name) for name in ("numpy", "scipy", "numba")}
    return {
        "hardtack": VERSION,
        **libraries,
        "reference shelf": shelf.hexdigest()[:16],
        "processor": platform.machine(),
    }


def work(portion: Portion) -> Worked:
    """Follow every scenario of the portion.

    Raises `HardtackError` when this process runs another program than the one that asks. A scenario that cannot be
    computed stays NaN and is told among the problems.
    """
    if dict(program()) != dict(portion.program):
        other = ", ".join(
            f"{name} {here} instead of {portion.program.get(name)}"
            for name, here in program().items()
            if portion.program.get(name) != here
        )
        raise HardtackError(
            f"a worker of the cluster has {other}",
            "give all workers the program and libraries of this machine",
        )
    sizes = tuple(part.stop - part.start for part in portion.part)
    arrays = empty(sizes, len(portion.layers))
    problems: list[str] = []
    begin = [part.start for part in portion.part]
    for at in np.ndindex(*sizes):
        design, place = begin[0] + at[0], begin[1] + at[1]
        try:
            followed = _followed(portion, design, place, at[2])
        except HardtackError as error:
            there = f" at {portion.recipe.places[place]}" if portion.recipe.places else ""
            told = f"design {design + 1}{there}, sample {begin[2] + at[2] + 1}: {error.problems[0].what}"
            problems.append(told)
            continue
        _keep(arrays, at, followed, portion.layers)
    return Worked(portion.number, portion.part, arrays, tuple(problems))


def empty(sizes: tuple[int, ...], layers: int) -> dict[str, np.ndarray]:
    """Arrays of everything that can be kept of so many scenarios, as of none computed."""
    return {
        "days": np.full(sizes, np.nan),
        "first_failure": np.full(sizes, NOT_COMPUTED, dtype=np.int8),
        "failing_layer": np.full(sizes, NOT_COMPUTED, dtype=np.int16),
        "activity_at_the_end": np.full((*sizes, layers), np.nan),
        "moisture_at_the_end": np.full((*sizes, layers), np.nan),
        "share_of_life": np.full((*sizes, len(FAILURES)), np.nan),
    }


def _followed(portion: Portion, design: int, place: int, sample: int) -> Followed:
    recipe = portion.recipe
    product = design_product(recipe, design)
    case = case_of(drawn_product(recipe, design, product, portion.quantiles[sample]))
    if not recipe.places:
        return follow_case(case)
    return followed_at(case, recipe.places[place])[0]


def _keep(arrays: Arrays, at: tuple[int, ...], followed: Followed, layers: tuple[str, ...]) -> None:
    """Put one scenario's results in. The end is the first failure, or the end of the journey when nothing fails."""
    time = followed.first_time
    history = followed.history if time is None else with_moment(followed.history, time)
    end = float(history.times[-1]) if time is None else time
    row = int(np.searchsorted(history.times, end))
    first = followed.judged[0][0]
    arrays["days"][at] = np.inf if time is None else time / DAY
    arrays["first_failure"][at] = NOTHING if time is None else FAILURES.index(first.name)
    arrays["failing_layer"][at] = (
        NOTHING if time is None or first.layer not in layers else layers.index(first.layer)
    )
    for k, layer in enumerate(history.layers):
        where = (*at, layers.index(layer))
        arrays["activity_at_the_end"][where] = history.activity[row, k]
        arrays["moisture_at_the_end"][where] = history.moisture[row, k]
    for judged, course in followed.judged:
        where = (*at, FAILURES.index(judged.name))
        share = (
            1.0
            if time is not None and course.time == time
            else float(np.interp(end, followed.history.times, course.share))
        )
        arrays["share_of_life"][where] = np.fmax(arrays["share_of_life"][where], share)
