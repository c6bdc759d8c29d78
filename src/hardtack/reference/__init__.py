"""Reference data: constants of products, films, climates, salts and microbes, each row with its source."""

from hardtack.reference.builders import (
    barrier,
    climate,
    crispness_limit,
    diffusivity,
    film,
    film_coefficient,
    film_humidity_law,
    growth_limits,
    isosteric_heat,
    isotherm,
    place,
    reclosing,
    whole_pack_factor,
)
from hardtack.reference.shelf import Row, Source, Symbol, Topic, find, lookup, rows, sources, topic, topics

__all__ = [
    "Row",
    "Source",
    "Symbol",
    "Topic",
    "barrier",
    "climate",
    "crispness_limit",
    "diffusivity",
    "film",
    "film_coefficient",
    "film_humidity_law",
    "find",
    "growth_limits",
    "isosteric_heat",
    "isotherm",
    "lookup",
    "place",
    "reclosing",
    "rows",
    "sources",
    "topic",
    "topics",
    "whole_pack_factor",
]
