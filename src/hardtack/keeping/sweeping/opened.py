"""A sweep's folder as a labelled data set."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hardtack.errors import HardtackError, Problem
from hardtack.keeping.sweeping.store import RESULTS, finished_lines, parts_of, read_manifest

if TYPE_CHECKING:
    from xarray import Dataset

COUNTED = ("design", "place", "sample")


NEEDED = ("sweeps need xarray and zarr", "install Hardtack with its extra: pip install 'hardtack[sweep]'")


def group_of(folder: str | Path) -> tuple[dict[str, Any], Any]:
    """A folder's manifest and its arrays, a Zarr group. Raises as `open_sweep`."""
    path = Path(folder)
    manifest = read_manifest(path)
    try:
        import zarr

        return manifest, zarr.open_group(str(path / RESULTS), mode="r")
    except ImportError:
        raise HardtackError(*NEEDED) from None
    except (OSError, KeyError, ValueError):
        raise HardtackError(
            Problem("the folder's arrays are not whole", "take the folder away and begin again", str(path))
        ) from None


def progress_of(folder: str | Path, manifest: dict[str, Any]) -> dict[str, Any]:
    """How much is `finished`, a share, and what is `not_computed`, each with why."""
    _, parts = parts_of((manifest["designs"], manifest["places"], manifest["samples"]))
    lines = finished_lines(Path(folder))
    return {
        "finished": len([number for number in lines if number < len(parts)]) / len(parts),
        "not_computed": [told for line in lines.values() for told in line.get("problems", [])],
    }


def open_sweep(folder: str | Path) -> Dataset:
    """The sweep in `folder` as an xarray Dataset with names and units; it may still be running.

    Dimensions: `design`, `place`, `sample`, and `layer`, `failure`, `input` where they are kept. Every factor of the
    plan is a coordinate along `design`, in SI or as a name of the shelf, and `product` too. `days` is inf where nothing
    fails on the journey and NaN where a scenario is not computed; `first_failure` and `failing_layer` are words, empty
    in both cases. `attrs` say what it is of and how much is `finished` (a share).

    Raises `HardtackError` when the folder holds no sweep, or the extra `sweep` is not installed.
    """
    manifest, group = group_of(folder)
    try:
        import xarray as xr
    except ImportError:
        raise HardtackError(*NEEDED) from None
    raw = xr.open_zarr(group.store, consolidated=False, chunks=None)
    labels, settings = raw.attrs, raw["setting"].values
    data: Dataset = raw.drop_vars("setting").assign_coords(_coordinates(labels, settings, dict(raw.sizes)))
    data = data.assign(_words(data, labels))
    if "share_of_life" in data:
        data = data.isel(failure=data["share_of_life"].notnull().any(COUNTED).values)
    data.attrs = {
        "plan": manifest["plan"]["file"],
        "program": "; ".join(f"{name} {version}" for name, version in manifest["program"].items()),
        "seed": labels["seed"],
        **progress_of(folder, manifest),
    }
    return data


def _coordinates(labels: dict[str, Any], settings: Any, sizes: dict[Any, int]) -> dict[str, Any]:
    coordinates: dict[str, Any] = {
        "design": np.arange(1, len(settings) + 1),
        "place": labels["places"],
        "sample": np.arange(1, sizes["sample"] + 1),
        "product": ("design", np.array(labels["products"])[settings[:, 0]]),
    }
    for number, factor in enumerate(labels["factors"], 1):
        numbers = None not in factor["values"]
        values = np.array(factor["values"] if numbers else factor["written"])[settings[:, number]]
        units = {"units": factor["unit"] or "1"} if numbers else {}
        coordinates[factor["name"]] = ("design", values, units)
    for dimension, names in (("layer", "layers"), ("failure", "failures"), ("input", "inputs_drawn")):
        if dimension in sizes:
            coordinates[dimension] = labels[names]
    return coordinates


def _words(data: Dataset, labels: dict[str, Any]) -> dict[str, Any]:
    """What fails first, and its layer, as words; the last two stand for "nothing" and "not computed"."""
    found = {}
    for name, words in (("first_failure", "failures"), ("failing_layer", "layers")):
        known = np.array([*labels[words], "", ""])
        title = data[name].attrs["long_name"].partition(", a number")[0]
        found[name] = (COUNTED, known[data[name].values], {"long_name": title})
    return found
