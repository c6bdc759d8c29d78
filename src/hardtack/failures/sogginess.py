"""Sogginess: a layer under or round a moist filling takes up water until it is wet to the bite."""

from __future__ import annotations

from hardtack.errors import HardtackError
from hardtack.failures.names import SOGGINESS
from hardtack.failures.texture import TextureLimit, Words, limit_moisture, texture_course
from hardtack.states import FailureCourse, History, Isotherm
from hardtack.units import wet_basis

NAME = SOGGINESS


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh up to the limit of the layer.

    There is no published limit of sogginess to fall back on: the limit is the product's own. Raises
    `HardtackError` when the layer starts above it, or the limit is a sigmoid of crispness.
    """
    if limit.softening is not None:
        raise HardtackError(
            f"a sigmoid of crispness for sogginess of {limit.layer}",
            "give a moisture, or use the crispness limit",
        )
    fresh = float(history.moisture[0, history.layers.index(limit.layer)])
    if fresh >= limit_moisture(limit, isotherm):
        raise HardtackError(
            f"{limit.layer} starts at {100 * wet_basis(fresh):.1f} % moisture (wet basis), above its limit "
            "for sogginess",
            "a soggy limit lies above the fresh moisture: measure a piece a panel calls soggy",
        )
    words = Words(
        name=NAME,
        meaning=f"the {limit.layer} has taken up water until it is soggy",
        valid="on the mean of the layer; the face towards the filling is wetter and gets there first",
        sharpen=(
            f"moisture of the {limit.layer} against a panel's word for soggy, five levels; the barrier's "
            "coverage"
        ),
    )
    return texture_course(history, limit, isotherm, words)
