"""NIST's certified nonlinear regression problems: models and data."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from hardtack.states import Floats

Model = Callable[[Floats, Mapping[str, float]], Floats]

PROBLEMS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("nist_strd.toml").read_text("utf-8"))


def _ratio(top: int, bottom: int) -> Model:
    def model(x: Floats, b: Mapping[str, float]) -> Floats:
        above = sum(b[f"b{i + 1}"] * x**i for i in range(top + 1))
        below = 1 + sum(b[f"b{top + 1 + i}"] * x**i for i in range(1, bottom + 1))
        return np.asarray(above / below)

    return model


MODELS: dict[str, Model] = {
    "Misra1a": lambda x, b: b["b1"] * (1 - np.exp(-b["b2"] * x)),
    "Misra1b": lambda x, b: b["b1"] * (1 - (1 + b["b2"] * x / 2) ** -2),
    "Misra1c": lambda x, b: b["b1"] * (1 - (1 + 2 * b["b2"] * x) ** -0.5),
    "Misra1d": lambda x, b: b["b1"] * b["b2"] * x / (1 + b["b2"] * x),
    "Chwirut2": lambda x, b: np.exp(-b["b1"] * x) / (b["b2"] + b["b3"] * x),
    "DanWood": lambda x, b: b["b1"] * x ** b["b2"],
    "Kirby2": _ratio(2, 2),
    "Hahn1": _ratio(3, 3),
    "Thurber": _ratio(3, 3),
    "MGH09": lambda x, b: b["b1"] * (x**2 + x * b["b2"]) / (x**2 + x * b["b3"] + b["b4"]),
    "MGH10": lambda x, b: b["b1"] * np.exp(b["b2"] / (x + b["b3"])),
    "MGH17": lambda x, b: b["b1"] + b["b2"] * np.exp(-x * b["b4"]) + b["b3"] * np.exp(-x * b["b5"]),
    "BoxBOD": lambda x, b: b["b1"] * (1 - np.exp(-b["b2"] * x)),
    "Rat42": lambda x, b: b["b1"] / (1 + np.exp(b["b2"] - b["b3"] * x)),
    "Rat43": lambda x, b: b["b1"] / (1 + np.exp(b["b2"] - b["b3"] * x)) ** (1 / b["b4"]),
    "Eckerle4": lambda x, b: b["b1"] / b["b2"] * np.exp(-0.5 * ((x - b["b3"]) / b["b2"]) ** 2),
    "Bennett5": lambda x, b: b["b1"] * (b["b2"] + x) ** (-1 / b["b3"]),
    "Roszman1": lambda x, b: b["b1"] - b["b2"] * x - np.arctan(b["b3"] / (x - b["b4"])) / np.pi,
}


def digits(found: float, certified: float) -> float:
    """Matching digits, -log10 |relative error|, 11 (all that are certified) at most."""
    error = abs(found - certified) / abs(certified)
    return 11.0 if error == 0 else min(11.0, -float(np.log10(error)))
