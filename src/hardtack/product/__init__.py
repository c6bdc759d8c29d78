"""The product file: read, checked, with file and line for every problem.

from hardtack.product import load
product = load("cracker.yaml")
"""

from hardtack.product.failures_spec import FailuresSpec
from hardtack.product.formula_spec import CompositionSpec, FormulaSpec, IngredientSpec
from hardtack.product.isotherm_spec import IsothermSpec
from hardtack.product.journey_spec import (
    UNTIL_IT_FAILS,
    HumidityCourse,
    LegSpec,
    TemperatureCourse,
)
from hardtack.product.json_schema import json_schema
from hardtack.product.load import load, loads
from hardtack.product.logger import LoggerRecord, read_logger
from hardtack.product.pack_spec import FilmSpec, PackSpec
from hardtack.product.schema import (
    BarrierSpec,
    CrispnessLimit,
    DiffusivitySpec,
    LayerSpec,
    LimitsSpec,
    PieceSpec,
    Product,
    WaterLimit,
)
from hardtack.product.starters import kinds, starter
from hardtack.product.weather import WeatherRecord, read_weather

__all__ = [
    "UNTIL_IT_FAILS",
    "BarrierSpec",
    "CompositionSpec",
    "CrispnessLimit",
    "DiffusivitySpec",
    "FailuresSpec",
    "FilmSpec",
    "FormulaSpec",
    "HumidityCourse",
    "IngredientSpec",
    "IsothermSpec",
    "LayerSpec",
    "LegSpec",
    "LimitsSpec",
    "LoggerRecord",
    "PackSpec",
    "PieceSpec",
    "Product",
    "TemperatureCourse",
    "WaterLimit",
    "WeatherRecord",
    "json_schema",
    "kinds",
    "load",
    "loads",
    "read_logger",
    "read_weather",
    "starter",
]
