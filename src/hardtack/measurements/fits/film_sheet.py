"""A supplier's sheet of films: rates in whatever units and climates, made comparable, one of them into a product file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.film import TestClimate
from hardtack.measurements.fit_answer import Drawing, FitAnswer, Points
from hardtack.measurements.into import Entry, amount_text
from hardtack.measurements.table import Bound, Row, SetAside, Table
from hardtack.product import Product
from hardtack.units import DAY, ZERO_CELSIUS, celsius

RATE = DAY * 1e3
"""From kg/m2/s to g/m2/day."""
PERMEANCE = DAY * 1e6
"""From kg/m2/s/Pa to g/m2/day/kPa."""
OXYGEN = DAY * 1e6 * 101325.0
"""From m3/m2/s/Pa to cm3/m2/day/atm."""
_DEGREES = re.compile(r"(-?[0-9]+(?:[.,][0-9]+)?)\s*(?:°|deg)?\s*([CF])\b", re.IGNORECASE)
_PERCENT = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*%")
_OF_ONE_FILM = ("transmission", "permeance", "oxygen", "carbon dioxide", "activation energy", "humidity law")
_KINDS = ("transmission rate", "permeance")


@dataclass(frozen=True, slots=True)
class SheetFilm:
    """One film of the sheet: `permeance` [kg/m2/s/Pa], `rate` [kg/m2/s] where that was stated, the test's climate or
    only its temperature [K], `oxygen` [m3/m2/s/Pa]; `row` is its row in the file."""

    name: str
    row: int
    permeance: float
    rate: float | None
    climate: TestClimate | None
    temperature: float | None
    oxygen: float | None


def is_sheet(table: Table) -> bool:
    """Whether a table states rates of films instead of weighings."""
    return any(table.keys(kind) for kind in _KINDS) and not table.keys("mass")


def sheet_answer(table: Table, given: TestClimate | None, film: str, source: str) -> FitAnswer:
    """All films of the sheet by their permeance; `film` names the one for a product file, `given` the climate of the
    tests where the sheet is silent. Raises `HardtackError` when no row says enough, or there is no such film."""
    films, aside = _films(table, given)
    if not films:
        raise HardtackError(
            f"{table.file}: no film states a rate with temperature and both humidities of its test",
            "add columns 'temperature' and 'RH outside' (or 'conditions', as '38 °C, 90 %'), or say --temperature, --outside "
            "and --inside for all rows",
        )
    chosen = _chosen(films, film, table.file)
    at = np.arange(1.0, len(films) + 1)
    return FitAnswer(
        kind="film",
        sentence=_sentence(films, chosen),
        told=(
            *(_line(each) for each in films),
            "As the supplier's sheet states them: without errors, and for the flat film, not for a pack with its seals.",
        ),
        estimates=(),
        drawing=Drawing(
            "row of the sheet", "permeance, g/m²/day/kPa",
            tuple(
                Points(each.name, at[k : k + 1], np.array([each.permeance * PERMEANCE])) for k, each in enumerate(films)
            ), (),
        ),
        tables=(table,),
        aside=aside,
        facts={
            "films": [
                {
                    "name": each.name, "permeance_g_per_m2_day_kPa": each.permeance * PERMEANCE,
                    "rate_g_per_m2_day": None if each.rate is None else each.rate * RATE,
                    "tested_at": None if each.climate is None else str(each.climate),
                    "oxygen_cm3_per_m2_day_atm": None if each.oxygen is None else each.oxygen * OXYGEN,
                }
                for each in films
            ]
        },
        places=lambda product, _: _entries(product, chosen, films, source),
    )  # fmt: skip


def _films(table: Table, given: TestClimate | None) -> tuple[list[SheetFilm], tuple[SetAside, ...]]:
    films, aside = [], []
    for row in table.rows:
        found = _film(row, given)
        if isinstance(found, SheetFilm):
            films.append(found)
        else:
            aside.append(SetAside(table.file, row.number, "", str(row.values.get("sample", "")), found))
    return films, tuple(aside)


def _film(row: Row, given: TestClimate | None) -> SheetFilm | str:
    """One row's film, or in words why there is none."""
    name = str(row.values.get("sample", f"row {row.number}"))
    rate, permeance = (row.values.get(kind) for kind in _KINDS)
    if isinstance(rate, Bound) or isinstance(permeance, Bound):
        return "only a limit"
    T, climate = _climate(row, given)
    oxygen = row.values.get("oxygen permeance")
    oxygen = oxygen if isinstance(oxygen, float) else None
    if isinstance(permeance, float):
        return SheetFilm(name, row.number, permeance, None, climate, T, oxygen)
    if not isinstance(rate, float):
        return "no rate of water vapour"
    if climate is None:
        return "a rate says nothing without temperature and humidities of its test"
    if not climate.pressure_difference > 0:
        return "both sides of its test are equally humid"
    return SheetFilm(name, row.number, rate / climate.pressure_difference, rate, climate, T, oxygen)


def _climate(row: Row, given: TestClimate | None) -> tuple[float | None, TestClimate | None]:
    """Temperature [K] and climate of one row's test: by columns, by words under 'conditions', or as given for all."""
    T = _number(row, "temperature")
    outside = _number(row, "humidity outside")
    outside = _number(row, "humidity") if outside is None else outside
    inside = _number(row, "humidity inside")
    words = row.values.get("conditions")
    if isinstance(words, str):
        if T is None and (degrees := _DEGREES.search(words)):
            value = float(degrees[1].replace(",", "."))
            T = (value - 32) / 1.8 + ZERO_CELSIUS if degrees[2] in "fF" else value + ZERO_CELSIUS
        percents = [float(text.replace(",", ".")) / 100 for text in _PERCENT.findall(words)]
        if outside is None and percents:
            outside = percents[0]
            inside = percents[1] if inside is None and len(percents) > 1 else inside
    if given is not None:
        T = given.temperature if T is None else T
        outside = given.outside if outside is None else outside
        inside = given.inside if inside is None else inside
    if T is None or outside is None:
        return T, None
    # a rate "at 90 %" is one against dry air: common practice, no source
    return T, TestClimate(T, outside, 0.0 if inside is None else inside)


def _number(row: Row, key: str) -> float | None:
    value = row.values.get(key)
    return value if isinstance(value, float) else None


def _chosen(films: list[SheetFilm], film: str, file: str) -> SheetFilm | None:
    if not film:
        return films[0] if len(films) == 1 else None
    found = [each for each in films if each.name.lower() == film.strip().lower()]
    if len(found) != 1:
        names = ", ".join(each.name for each in films)
        raise HardtackError(f"{file}: no one film is called {film[:60]!r}", f"the films are: {names}")
    return found[0]


def _sentence(films: list[SheetFilm], chosen: SheetFilm | None) -> str:
    if chosen is not None:
        return _line(chosen)
    ordered = sorted(films, key=lambda each: each.permeance)
    least, most = ordered[0], ordered[-1]
    return (
        f"Of {len(films)} films {least.name} lets least through, {least.permeance * PERMEANCE:.3g} g/m²/day/kPa, and "
        f"{most.name} most, {most.permeance * PERMEANCE:.3g}."
    )


def _line(film: SheetFilm) -> str:
    at = (
        f" at {film.climate}" if film.climate is not None
        else "" if film.temperature is None else f" at {celsius(film.temperature):.1f} °C"
    )  # fmt: skip
    rate = "" if film.rate is None else f"{film.rate * RATE:.3g} g/m²/day{at}: "
    oxygen = "" if film.oxygen is None else f"; oxygen {film.oxygen * OXYGEN:.4g} cm³/m²/day/atm"
    where = at if film.rate is None else ""
    return f"{film.name}: {rate}{film.permeance * PERMEANCE:.3g} g/m²/day/kPa{where}{oxygen}."


def _entries(
    product: Product, chosen: SheetFilm | None, films: list[SheetFilm], source: str
) -> tuple[Entry, ...]:
    """The film of the sheet over the pack's own. Raises `HardtackError` where it is not said which, or at what climate."""
    if chosen is None:
        raise HardtackError(
            "which film of the sheet?", f"name one with --film: {', '.join(each.name for each in films)}"
        )
    if chosen.temperature is None:
        raise HardtackError(
            f"{chosen.name}: at which temperature was the permeance measured?",
            "add a column 'temperature', or say --temperature, --outside and --inside",
        )
    tested = {"temperature": f"{celsius(chosen.temperature):.4g} degC"}
    if chosen.rate is not None and chosen.climate is not None:
        water = ("transmission", amount_text(chosen.rate * RATE, None, "g/m2/day", "seen", source))
        tested |= {
            "humidity outside": f"{100 * chosen.climate.outside:.4g} %",
            "humidity inside": f"{100 * chosen.climate.inside:.4g} %",
        }
    else:
        water = ("permeance", amount_text(chosen.permeance * PERMEANCE, None, "g/m2/day/kPa", "seen", source))
    film: dict[str, str | Mapping[str, str]] = {"name": chosen.name, water[0]: water[1], "tested at": tested}
    if chosen.oxygen is not None:
        film["oxygen"] = amount_text(chosen.oxygen * OXYGEN, None, "cm3/m2/day/atm", "seen", source)
    drops = [key for key in _OF_ONE_FILM if key not in film]
    entries = [Entry("pack / film", film, tuple(drops))]
    if product.pack is not None and product.pack.laminate:
        entries.append(Entry("pack / laminate", None))
    return tuple(entries)
