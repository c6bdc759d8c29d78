"""Crispness lost: a layer drinks past the moisture at which it is no longer crisp."""

from __future__ import annotations

from hardtack.failures.names import CRISPNESS
from hardtack.failures.texture import TextureLimit, Words, crispness_left, texture_course
from hardtack.states import FailureCourse, History, Isotherm

__all__ = ["NAME", "course", "crispness_left"]

NAME = CRISPNESS


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh to the limit, or of the allowed loss when the
    limit is a sigmoid. Failure time is the located crossing of the layer's mean moisture."""
    words = Words(
        name=NAME,
        meaning=f"the {limit.layer} has taken up water until it no longer snaps",
        valid=(
            "while the limit was found on a like product; texture follows moisture, so the limit is one of "
            "moisture"
        ),
        sharpen=(
            "crispness against water activity of this product: jars over salts from 0.2 to 0.6, "
            "10 pieces each, by panel or by force and sound"
        ),
    )
    return texture_course(history, limit, isotherm, words)
