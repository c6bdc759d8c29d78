"""A logger's file of the core temperature in the oven, put to the readings that the oven is fitted to."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hardtack.errors import HardtackError
from hardtack.measurements.answers import NONE, Answers
from hardtack.measurements.reading import read_table
from hardtack.measurements.table import Table
from hardtack.oven.baking import oven_of
from hardtack.product import Product
from hardtack.product.oven_spec import CorePoint, MeasuredBake
from hardtack.sourced import Sourced

MOST = 12
"""Readings taken from a log, evenly over the bake: a logger's neighbouring readings share their error, and more of them
would claim more than the probe knows."""


def with_core_log(product: Product, data: str | Path, said: Answers = NONE) -> tuple[Product, Table]:
    """The product with the log's readings as its measured core, in place of any in the file, and the log as understood.

    Times are since entering the oven; readings after its end are left out. Raises `HardtackError` when the product has no
    oven, and when the file leaves something open or has no reading in the oven's time.
    """
    oven = oven_of(product)
    table = read_table(data, said)
    t, T = table.take("time", "temperature").columns
    inside = (t > 0) & (t <= sum(zone.lasts.value for zone in oven.zones))
    if not inside.any():
        raise HardtackError(
            f"{table.file} has no reading within the oven's time",
            "give times since the piece entered the oven",
        )
    order = np.argsort(t[inside])
    t, T = t[inside][order], T[inside][order]
    picked = np.unique(np.linspace(0, t.size - 1, min(MOST, t.size)).round().astype(int))
    points = tuple(
        CorePoint.model_construct(
            at=Sourced(float(t[k]), "s", "measured here", table.file),
            temperature=Sourced(float(T[k]), "K", "measured here", table.file),
        )
        for k in picked
    )
    measured = (oven.measured or MeasuredBake.model_construct()).model_copy(update={"core": points})
    return product.model_copy(update={"oven": oven.model_copy(update={"measured": measured})}), table
