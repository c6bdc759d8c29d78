"""The reference shelf: every constant of the program, each with unit, conditions, source and provenance.

One file of `data/` is one topic. Its head says what the file holds and, under `[values]`, the kind of each
symbol (a key of `hardtack.units.KINDS`) with its meaning; its rows all have one schema:

    name, also, form, see, values, conditions, source, provenance, note

`source` is a key of `data/sources.toml`. `see` names a row of the topic given as `see_topic` in the head
(a film's temperature law, a product's isotherm). A value may carry its own provenance in brackets
(``38 degC [assumed]``); otherwise the row's holds. Files are read when first asked for.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.sourced import PROVENANCES, Provenance, Sourced
from hardtack.units import KINDS, parse_quantity

_DATA = resources.files("hardtack.reference") / "data"
_ROW_KEYS = frozenset(("name", "also", "form", "see", "values", "conditions", "source", "provenance", "note"))


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number comes from: `citation`, the `address` where it was read, and how much was `seen`."""

    key: str
    citation: str
    address: str
    seen: str


@dataclass(frozen=True, slots=True)
class Symbol:
    """What a value of a topic is: its `kind` (a key of `hardtack.units.KINDS`) and its `meaning`."""

    kind: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the shelf. `values` maps the topic's symbols to SI values that know their origin."""

    topic: str
    name: str
    also: tuple[str, ...]
    form: str
    see: str
    values: Mapping[str, Sourced]
    conditions: str
    source: Source
    provenance: Provenance
    note: str

    def __getitem__(self, symbol: str) -> float:
        """The SI value of one symbol; raises `NotOnShelf` when this row does not give it."""
        if symbol not in self.values:
            raise NotOnShelf(
                f"{self.name} ({self.topic}) gives no {symbol}", f"it gives: {', '.join(self.values)}"
            )
        return self.values[symbol].value


@dataclass(frozen=True, slots=True)
class Topic:
    """One file: what it is about, the meaning of its symbols, the topic its rows point to, its rows."""

    name: str
    about: str
    symbols: Mapping[str, Symbol]
    see_topic: str
    rows: tuple[Row, ...]


@cache
def topics() -> tuple[str, ...]:
    """The names of all topics, in alphabetical order."""
    stems = (entry.name.removesuffix(".toml") for entry in _DATA.iterdir() if entry.name.endswith(".toml"))
    return tuple(sorted(stem.replace("_", " ") for stem in stems if stem != "sources"))


@cache
def sources() -> Mapping[str, Source]:
    """Every source by its key."""
    return MappingProxyType({key: Source(key=key, **entry) for key, entry in _toml("sources").items()})


@cache
def topic(name: str) -> Topic:
    """One topic with all its rows. Raises `NotOnShelf` when there is none of that name."""
    if name not in topics():
        raise NotOnShelf(_missing(f"the shelf has no topic {name!r}", name, topics()))
    raw = _toml(name.replace(" ", "_"))
    symbols = {key: Symbol(**entry) for key, entry in raw["values"].items()}
    for key, symbol in symbols.items():
        if symbol.kind not in KINDS:
            raise HardtackError(f"{name}: {key} is of an unknown kind {symbol.kind!r}")
    rows = tuple(_row(name, entry, symbols) for entry in raw["row"])
    return Topic(name, raw["about"], MappingProxyType(symbols), raw.get("see_topic", ""), rows)


def rows(topic_name: str) -> tuple[Row, ...]:
    """All rows of a topic. Raises `NotOnShelf` when there is no such topic."""
    return topic(topic_name).rows


def lookup(topic_name: str, name: str) -> Row:
    """The row of that name, or the one that lists it under `also`; case does not matter.

    Raises `NotOnShelf` with the near spellings and all that is there.
    """
    row = on_shelf(topic_name, name)
    if row is None:
        held = tuple(row.name for row in rows(topic_name))
        spellings = tuple(_index(topic_name))
        raise NotOnShelf(_missing(f"{topic_name}: nothing by the name {name!r}", name, held, spellings))
    return row


def on_shelf(topic_name: str, name: str) -> Row | None:
    """The row `lookup` would give, or None; unlike there, no time goes into looking for near spellings."""
    return _index(topic_name).get(_plain(name))


def find(word: str) -> tuple[Row, ...]:
    """All rows, over all topics, that hold `word` in topic, name, other names, form, conditions or note."""
    wanted = _plain(word)
    if not wanted:
        return ()
    found = []
    for name in topics():
        for row in rows(name):
            text = " | ".join((row.topic, row.name, *row.also, row.form, row.conditions, row.note))
            if wanted in _plain(text):
                found.append(row)
    return tuple(found)


@cache
def _index(topic_name: str) -> Mapping[str, Row]:
    index: dict[str, Row] = {}
    for row in rows(topic_name):
        for name in (row.name, *row.also):
            if _plain(name) in index:
                raise HardtackError(f"{topic_name}: the name {name!r} stands twice")
            index[_plain(name)] = row
    return MappingProxyType(index)


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("µ", "u").replace("μ", "u").split())


def _missing(what: str, wanted: str, held: tuple[str, ...], spellings: tuple[str, ...] = ()) -> Problem:
    by_plain = {_plain(name): name for name in (*spellings, *held)}
    near = [by_plain[key] for key in difflib.get_close_matches(_plain(wanted), by_plain, n=3, cutoff=0.6)]
    guess = f"perhaps {' or '.join(repr(name) for name in near)}; " if near else ""
    return Problem(what, f"{guess}there are: {'; '.join(held)}")


def _row(topic_name: str, raw: Mapping[str, Any], symbols: Mapping[str, Symbol]) -> Row:
    name = raw.get("name", "")
    place = f"{topic_name}: {name or 'a row without a name'}"
    unknown = set(raw) - _ROW_KEYS
    lacking = {"name", "values", "conditions", "source", "provenance"} - {key for key in raw if raw[key]}
    if unknown or lacking:
        raise HardtackError(f"{place}: unknown {sorted(unknown)}, lacking {sorted(lacking)}")
    if raw["provenance"] not in PROVENANCES:
        raise HardtackError(f"{place}: provenance {raw['provenance']!r} is not on the list")
    if raw["source"] not in sources():
        raise HardtackError(f"{place}: source {raw['source']!r} is not in sources.toml")
    source = sources()[raw["source"]]
    values = {}
    for symbol, text in raw["values"].items():
        if symbol not in symbols:
            raise HardtackError(f"{place}: the head of the file does not explain {symbol!r}")
        try:
            values[symbol] = parse_quantity(
                text, symbols[symbol].kind, provenance=raw["provenance"], source=source.citation
            )
        except HardtackError as error:
            raise HardtackError(f"{place}: {symbol}: {error}") from error
    return Row(
        topic_name,
        name,
        tuple(raw.get("also", ())),
        raw.get("form", ""),
        raw.get("see", ""),
        MappingProxyType(values),
        raw["conditions"],
        source,
        raw["provenance"],
        raw.get("note", ""),
    )


def _toml(stem: str) -> dict[str, Any]:
    return tomllib.loads((_DATA / f"{stem}.toml").read_text(encoding="utf-8"))
