"""The folder a sweep is kept in: arrays in Zarr, a manifest of what they are of, and a list of what is finished.

    sweep.json        plan, hashes of all files it leans on, program; written last when a sweep begins
    results.zarr      the labelled arrays, one chunk a portion
    finished.jsonl    a line for each portion once its chunks are there, with a digest of its numbers
    lock              held by the one process that writes

A chunk is written beside its place and moved there; a portion counts only with its line, and its line only with chunks
that give its digest. So a process may end at any moment, and what it had finished is not worked out again.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import product as every
from pathlib import Path
from typing import IO, Any

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.keeping.sweeping.plan import SweepPlan
from hardtack.keeping.sweeping.work import FAILURES, NOT_COMPUTED, Part, Worked, empty, program
from hardtack.states import Floats

SCHEMA = "hardtack sweep folder 1"
MANIFEST, RESULTS, FINISHED, LOCK = "sweep.json", "results.zarr", "finished.jsonl", "lock"
KEPT_AS = {
    "days": ("days",),
    "first failure": ("first_failure", "failing_layer"),
    "activities at the end": ("activity_at_the_end",),
    "moistures at the end": ("moisture_at_the_end",),
    "shares of life at the end": ("share_of_life",),
}
"""What a plan keeps, and the arrays that hold it."""
ARRAYS: Mapping[str, tuple[tuple[str, ...], dict[str, Any]]] = {
    "days": (
        (),
        {"units": "day", "long_name": "days from packing to the first failure; inf: none on the way"},
    ),
    "first_failure": ((), {"units": "1", "long_name": "what fails first, a number of `failures` from 0"}),
    "failing_layer": (
        (),
        {"units": "1", "long_name": "the layer that fails first, a number of `layers` from 0"},
    ),
    "activity_at_the_end": (
        ("layer",),
        {"units": "1", "long_name": "water activity of the layer at the end"},
    ),
    "moisture_at_the_end": (
        ("layer",),
        {"units": "kg/kg", "long_name": "moisture of the layer at the end, on dry solids"},
    ),
    "share_of_life": (("failure",), {"units": "1", "long_name": "share of life used at the end"}),
}
"""Dimensions of each array beside design, place and sample, and what it is. The end is the first failure, or the end of
the journey where nothing fails."""
LEAST, MOST, ABOUT = 32, 1024, 1000
"""Scenarios of a portion, and how many portions are aimed at between."""


@dataclass(slots=True)
class Store:
    """A sweep's folder, open for writing: `finished` are the numbers of the portions that are there."""

    path: Path
    parts: tuple[Part, ...]
    arrays: Mapping[str, Any]
    finished: set[int] = field(default_factory=set)
    redone: int = 0

    def write(self, worked: Worked) -> None:
        """Put a portion's chunks in their places, then its line on the list. Raises `HardtackError` on a full disk."""
        line = {
            "portion": worked.number,
            "digest": _digest({name: worked.arrays[name] for name in self.arrays}),
            "problems": list(worked.problems),
        }
        try:
            for name, array in self.arrays.items():
                array[worked.part] = worked.arrays[name]
            with (self.path / FINISHED).open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(line, ensure_ascii=False) + "\n")
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            raise _not_written(self.path, error) from None
        self.finished.add(worked.number)


def parts_of(shape: tuple[int, int, int]) -> tuple[tuple[int, int, int], tuple[Part, ...]]:
    """Size of a chunk over designs, places and samples, and the part of the array each portion fills.

    A portion takes samples first, then places, then designs, so that it has next to nothing to build anew.
    """
    total = shape[0] * shape[1] * shape[2]
    size = min(MOST, max(LEAST, total // ABOUT))
    samples = min(shape[2], size)
    places = min(shape[1], max(1, size // samples))
    designs = min(shape[0], max(1, size // (samples * places)))
    chunk = (designs, places, samples)
    steps = [range(0, whole, step) for whole, step in zip(shape, chunk, strict=True)]
    parts = tuple(
        (
            slice(d, min(d + designs, shape[0])),
            slice(p, min(p + places, shape[1])),
            slice(s, min(s + samples, shape[2])),
        )
        for d, p, s in every(*steps)
    )
    return chunk, parts


@contextmanager
def store_of(
    plan: SweepPlan, folder: Path, inputs: tuple[str, ...], quantiles: Floats, layers: tuple[str, ...]
) -> Iterator[Store]:
    """The folder of this plan's sweep, made where it is not there, with what is already finished in it.

    Raises `HardtackError` when the folder holds another sweep or other things, is being written by another process, or
    cannot be written.
    """
    manifest = _manifest(plan)
    with ExitStack() as stack:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            stack.enter_context(_held(folder))
            if (folder / MANIFEST).exists():
                _refuse_another(read_manifest(folder), manifest, folder)
            else:
                _begin(plan, folder, manifest, inputs, quantiles, layers)
            store = _opened(plan, folder)
        except OSError as error:
            raise _not_written(folder, error) from None
        yield store


def _not_written(folder: Path, error: OSError) -> HardtackError:
    return HardtackError(
        Problem(
            f"cannot be written ({error.strerror or error})",
            "mend that, or name another folder with -o; what is finished stays",
            str(folder),
        )
    )


def read_manifest(folder: Path) -> dict[str, Any]:
    """What the folder's sweep is of. Raises `HardtackError` when it holds none."""
    try:
        manifest: dict[str, Any] = json.loads((folder / MANIFEST).read_text("utf-8"))
        if manifest["schema"] == SCHEMA:
            return manifest
    except (OSError, ValueError, KeyError, TypeError):
        pass
    raise HardtackError(
        Problem("this folder holds no sweep", "make one: hardtack sweep PLAN.yaml -o FOLDER", str(folder))
    )


def finished_lines(folder: Path) -> dict[int, dict[str, Any]]:
    """The list of finished portions by number; a line cut short by a crash does not count."""
    found: dict[int, dict[str, Any]] = {}
    try:
        text = (folder / FINISHED).read_text("utf-8", errors="replace")
    except FileNotFoundError:
        return found
    for line in text.splitlines():
        try:
            entry = json.loads(line)
            found[int(entry["portion"])] = entry
        except (ValueError, KeyError, TypeError):
            continue
    return found


def _manifest(plan: SweepPlan) -> dict[str, Any]:
    designs, places, samples = plan.shape
    files = {}
    for file, product in zip(plan.files, plan.products, strict=True):
        files[file.name] = _sha(file.read_bytes())
        for leg in product.journey:
            for name in (leg.logger, leg.weather):
                if name is not None:
                    files[name] = _sha((file.parent / name).read_bytes())
    return {
        "schema": SCHEMA,
        "plan": {"file": plan.file.name, "sha256": _sha(plan.text.encode()), "text": plan.text},
        "files": files,
        "program": dict(program()),
        "designs": designs,
        "places": places,
        "samples": samples,
    }


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _refuse_another(there: Mapping[str, Any], now: Mapping[str, Any], folder: Path) -> None:
    differ = []
    if there["plan"]["sha256"] != now["plan"]["sha256"]:
        differ.append("another plan, or the plan as it was before it was changed")
    if there["files"] != now["files"]:
        names = sorted(
            name
            for name in {*there["files"], *now["files"]}
            if there["files"].get(name) != now["files"].get(name)
        )
        differ.append(f"other contents of {', '.join(names)}")
    program_names = [
        f"{name} {there['program'].get(name)}"
        for name in now["program"]
        if there["program"].get(name) != now["program"][name]
    ]
    if program_names:
        differ.append(f"another program: {', '.join(program_names)}")
    if differ:
        raise HardtackError(
            Problem(
                f"the folder holds a sweep of {'; '.join(differ)}",
                "name another folder with -o, or take this one away; results are not mixed",
                str(folder),
            )
        )


def _begin(
    plan: SweepPlan,
    folder: Path,
    manifest: Mapping[str, Any],
    inputs: tuple[str, ...],
    quantiles: Floats,
    layers: tuple[str, ...],
) -> None:
    """An empty sweep. Without a manifest, what a crash at this very point has left may be taken away."""
    own = {RESULTS, FINISHED, LOCK, f"{MANIFEST}.new"}
    if others := sorted(entry.name for entry in folder.iterdir() if entry.name not in own):
        raise HardtackError(
            Problem(
                f"the folder holds other things, such as {others[0]}",
                "name a new folder with -o",
                str(folder),
            )
        )
    shutil.rmtree(folder / RESULTS, ignore_errors=True)
    (folder / FINISHED).unlink(missing_ok=True)
    import zarr

    group = zarr.create_group(
        store=str(folder / RESULTS), zarr_format=3, attributes=_labels(plan, inputs, layers)
    )
    chunk, _ = parts_of(plan.shape)
    sizes = {"layer": len(layers), "failure": len(FAILURES)}
    like = empty((1, 1, 1), len(layers))
    for name in _kept(plan):
        more, attributes = ARRAYS[name]
        tail = tuple(sizes[dimension] for dimension in more)
        group.create_array(
            name,
            shape=(*plan.shape, *tail),
            chunks=(*chunk, *tail),
            dtype=like[name].dtype,
            fill_value=NOT_COMPUTED if like[name].dtype.kind == "i" else np.nan,
            dimension_names=("design", "place", "sample", *more),
            attributes=attributes,
        )
    settings = np.array([[design.product, *design.choices] for design in plan.designs], dtype=np.int32)
    group.create_array("setting", data=settings, dimension_names=("design", "factor"))
    if inputs:
        group.create_array("quantile", data=quantiles, dimension_names=("sample", "input"))
    _write_whole(folder / MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False))


def _kept(plan: SweepPlan) -> list[str]:
    return [name for kept in plan.keep for name in KEPT_AS[kept]]


def _labels(plan: SweepPlan, inputs: tuple[str, ...], layers: tuple[str, ...]) -> dict[str, Any]:
    """Names of everything the arrays number. `setting` [designs, 1 + factors] holds the number of each design's product
    and then of its choices."""
    return {
        "products": [product.name for product in plan.products],
        "factors": [
            {
                "name": factor.name,
                "unit": factor.unit,
                "written": [choice.written for choice in factor.choices],
                "values": [choice.amount.value if choice.amount else None for choice in factor.choices],
            }
            for factor in plan.factors
        ],
        "places": list(plan.places) or ["as the file states it"],
        "layers": list(layers),
        "failures": list(FAILURES),
        "inputs_drawn": list(inputs),
        "seed": plan.seed,
    }


def _opened(plan: SweepPlan, folder: Path) -> Store:
    """The folder's arrays; portions on the list whose chunks do not give their digest are left to be done again."""
    import zarr

    try:
        group = zarr.open_group(str(folder / RESULTS), mode="r+")
        arrays = {name: group[name] for name in _kept(plan)}
    except (KeyError, ValueError, FileNotFoundError):
        raise HardtackError(
            Problem("the folder's arrays are not whole", "take the folder away and begin again", str(folder))
        ) from None
    _, parts = parts_of(plan.shape)
    store = Store(folder, parts, arrays)
    for number, line in finished_lines(folder).items():
        if number < len(parts) and line.get("digest") == _digest_there(arrays, parts[number]):
            store.finished.add(number)
        else:
            store.redone += 1
    _end_line(folder / FINISHED)
    return store


def _digest_there(arrays: Mapping[str, Any], part: Part) -> str:
    try:
        return _digest({name: array[part] for name, array in arrays.items()})
    except (OSError, ValueError, RuntimeError):
        return ""  # a chunk that cannot be read is one that is not there


def _digest(arrays: Mapping[str, np.ndarray]) -> str:
    digest = hashlib.sha256()
    for name in sorted(arrays):
        digest.update(np.ascontiguousarray(arrays[name]).tobytes())
    return digest.hexdigest()[:32]


def _end_line(path: Path) -> None:
    """End a line that a crash has cut short, so that the next one begins anew."""
    if path.exists() and (data := path.read_bytes()) and not data.endswith(b"\n"):
        with path.open("ab") as stream:
            stream.write(b"\n")


def _write_whole(path: Path, text: str) -> None:
    beside = path.with_name(f"{path.name}.new")
    with beside.open("w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    os.replace(beside, path)


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """The folder's lock, let go by the system when the process ends, however it ends."""
    with (folder / LOCK).open("a+b") as stream:
        try:
            _lock(stream)
        except OSError:
            raise HardtackError(
                Problem(
                    "another sweep is writing to this folder",
                    "wait for it, or name another folder",
                    str(folder),
                )
            ) from None
        yield


def _lock(stream: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        stream.seek(0)
        msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
