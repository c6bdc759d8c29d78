"""`hardtack fit film`: cups or pouches to the permeance of a film."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.film import FilmResult, TestClimate, film_permeance, weighings
from hardtack.measurements.fit_answer import Curve, Drawing, FitAnswer, Mark, Points
from hardtack.measurements.fits.film_sheet import PERMEANCE, RATE, is_sheet, sheet_answer
from hardtack.measurements.fitting import Estimate
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.reading import read_table
from hardtack.product import Product
from hardtack.product.pack_spec import FilmSpec
from hardtack.units import DAY, celsius


def fit_film(
    data: str | Path,
    *,
    area: float | None = None,
    climate: TestClimate | None = None,
    pouch: bool = False,
    film: str = "",
    said: Answers = NONE,
) -> FitAnswer:
    """Find the steady part of every weighing series in the file and the permeance it means.

    `area` [m2] is that of one cup's mouth, or all the film of one pouch; with `pouch` the result holds seals and
    folds. Weighings need both `area` and `climate`. A supplier's sheet of rates is read as it stands: `film` names the
    one for a product file, `climate` is that of rows which state none. Raises `HardtackError` when the file leaves
    something open or nothing is steady.
    """
    table = read_table(data, said)
    if is_sheet(table):
        return sheet_answer(table, climate, film, Path(data).name)
    table.need("mass")
    if area is None or climate is None:
        raise HardtackError(
            "weighings need the area and the climate of the test",
            "say --area '50 cm2' --temperature '38 degC' --outside '90 %' --inside '0 %'",
        )
    series, aside = weighings(table)
    result = film_permeance(series, area, climate)
    scale = RATE * climate.pressure_difference
    what = "The pouch with its seals and folds" if pouch else "The film"
    sentence = (
        f"{what} lets through {result.rate * RATE:.3g} ± {result.sd * scale:.1g} g/m²/day at {climate} "
        f"(90 %: {result.low * scale:.3g} to {result.high * scale:.3g})."
    )
    estimates = (
        Estimate("transmission", result.rate * RATE, result.sd * scale, result.low * scale, result.high * scale,
                 "g/m2/day", f"transmission rate at {climate}"),
        Estimate("permeance", result.permeance * PERMEANCE, result.sd * PERMEANCE, result.low * PERMEANCE,
                 result.high * PERMEANCE, "g/m2/day/kPa", f"permeance at {celsius(climate.temperature):.1f} °C"),
    )  # fmt: skip
    return FitAnswer(
        kind="film",
        sentence=sentence,
        told=result.told,
        estimates=estimates,
        drawing=_drawing(series, result),
        tables=(table,),
        aside=aside,
        facts={
            "series": {
                name: {
                    "steady_from_day": float(series[name][0][steady.first]) / DAY,
                    "steady_to_day": float(series[name][0][steady.last]) / DAY,
                    "rate_g_per_day": steady.rate * RATE,
                    "sd_g_per_day": steady.rate_sd * RATE,
                    "stands_apart": name in result.odd,
                }
                for name, steady in result.series.items()
            },
            "left_out": [name for name in series if name not in result.series],
            "pouch": pouch,
        },
        places=lambda product, _: _entries(product, result, pouch, Path(data).name),
    )


def _drawing(series: dict[str, tuple[np.ndarray, np.ndarray]], result: FilmResult) -> Drawing:
    points, curves, marks = [], [], []
    for name, (t, m) in series.items():
        if name not in result.series:
            if t.size:
                points.append(Points(name, t / DAY, (m - m[0]) * 1e3))
            continue
        steady = result.series[name]
        line = steady.start + steady.rate * t
        outside = tuple(k for k in range(t.size) if not steady.first <= k <= steady.last)
        points.append(Points(name, t / DAY, (m - m[0]) * 1e3, outside, (line - m[0]) * 1e3))
        at = np.linspace(float(t[steady.first]), float(t[steady.last]), 41)
        middle = float(t[steady.first : steady.last + 1].mean())
        spread = np.abs(at - middle) * steady.rate_sd * 1e3
        y = (steady.start + steady.rate * at - m[0]) * 1e3
        curves.append(Curve(name, at / DAY, y, y - spread, y + spread))
        if len(series) == 1:
            marks = [Mark(float(t[k]) / DAY, word) for k, word in ((steady.first, "steady from here"),)]
    return Drawing("days", "change of mass, g", tuple(points), tuple(curves), tuple(marks), "g")


def _entries(product: Product, result: FilmResult, pouch: bool, source: str) -> tuple[Entry, ...]:
    scale = RATE * result.climate.pressure_difference
    now = product.pack.film if product.pack is not None else None
    name = (now.name or "film") if isinstance(now, FilmSpec) else now or ""
    film: dict[str, str | Mapping[str, str]] = {
        **({"name": name} if name else {}),
        "transmission": amount_text(result.rate * RATE, result.sd * scale, "g/m2/day", source=source),
        "tested at": {
            "temperature": f"{celsius(result.climate.temperature):.4g} degC",
            "humidity outside": f"{100 * result.climate.outside:.4g} %",
            "humidity inside": f"{100 * result.climate.inside:.4g} %",
        },
    }
    entries = [Entry("pack / film", film, ("permeance",))]
    if product.pack is not None and product.pack.laminate:
        # the plies were measured as one film, and a pack is made of one or the other
        entries.append(Entry("pack / laminate", None))
    if pouch:
        whole = amount_text(1.0, None, "", source=f"{source}, whole pouches weighed")
        entries.append(Entry("pack / whole-pack factor", whole))
    return tuple(entries)
