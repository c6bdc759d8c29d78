"""A sweep told in few numbers: a row for each design at each place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from hardtack.keeping.sweeping.opened import group_of, progress_of

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True)
class Row:
    """One design at one place. `days` is the middle of the samples and `low`, `high` the days that nine in ten outlast
    and one in ten outlasts: inf where nothing fails, None where nothing is computed yet.

    `failure` fails first most often, in `share` of the samples computed; '' when nothing does. `computed` samples.
    """

    design: int
    settings: tuple[tuple[str, str], ...]
    place: str
    days: float | None
    low: float | None
    high: float | None
    failure: str
    share: float
    computed: int


@dataclass(frozen=True, slots=True)
class Summary:
    """A sweep's rows in the order of the plan, and how far it is."""

    plan: str
    designs: int
    places: tuple[str, ...]
    samples: int
    finished: float
    rows: tuple[Row, ...]
    not_computed: tuple[str, ...]


def summary_of(folder: str | Path) -> Summary:
    """The sweep in `folder`, also while it runs. Raises as `open_sweep`."""
    manifest, group = group_of(folder)
    labels = group.attrs
    factors, products, places = labels["factors"], labels["products"], tuple(labels["places"])
    settings, days = np.asarray(group["setting"]), np.asarray(group["days"])
    failures = np.array([*labels["failures"], "", ""])[np.asarray(group["first_failure"])]
    progress = progress_of(folder, manifest)
    rows = []
    for d in range(days.shape[0]):
        said = tuple(
            (factor["name"], factor["written"][settings[d, k]]) for k, factor in enumerate(factors, 1)
        )
        if len(products) > 1:
            said = (("product", products[settings[d, 0]]), *said)
        rows += [_row(d + 1, said, place, days[d, p], failures[d, p]) for p, place in enumerate(places)]
    return Summary(
        manifest["plan"]["file"],
        days.shape[0],
        places,
        days.shape[2],
        progress["finished"],
        tuple(rows),
        tuple(progress["not_computed"]),
    )


def _row(
    design: int, settings: tuple[tuple[str, str], ...], place: str, days: np.ndarray, failures: np.ndarray
) -> Row:
    computed = ~np.isnan(days)
    known = days[computed]
    if known.size == 0:
        return Row(design, settings, place, None, None, None, "", 0.0, 0)
    # an order statistic, never a mean of two: between a day and never there is none
    low, middle, high = (float(q) for q in np.quantile(known, (0.1, 0.5, 0.9), method="inverted_cdf"))
    names, counts = np.unique(failures[computed], return_counts=True)
    most = int(np.argmax(counts))
    return Row(
        design,
        settings,
        place,
        middle,
        low,
        high,
        str(names[most]),
        float(counts[most] / known.size),
        known.size,
    )


def sweep_json(summary: Summary) -> dict[str, Any]:
    """The summary as JSON with a stable schema (docs/json.md); null days: nothing fails on the journey, or, with no
    sample computed, not known."""
    return {
        "schema": f"hardtack sweep {SCHEMA_VERSION}",
        "plan": summary.plan,
        "designs": summary.designs,
        "places": list(summary.places),
        "samples": summary.samples,
        "finished": summary.finished,
        "rows": [
            {
                "design": row.design,
                "settings": dict(row.settings),
                "place": row.place,
                "days": _finite(row.days),
                "days_nine_in_ten_outlast": _finite(row.low),
                "days_one_in_ten_outlasts": _finite(row.high),
                "fails_first": row.failure or None,
                "share": row.share,
                "samples_computed": row.computed,
            }
            for row in summary.rows
        ],
        "not_computed": list(summary.not_computed),
    }


def _finite(days: float | None) -> float | None:
    return days if days is not None and math.isfinite(days) else None
