"""Crust or shell lost: the dry outside of a moist piece drinks from its inside until it is leathery."""

from __future__ import annotations

from hardtack.failures.names import CRUST
from hardtack.failures.texture import TextureLimit, Words, texture_course
from hardtack.states import FailureCourse, History, Isotherm

NAME = CRUST


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh to the limit of the crust, shell or rim layer.

    Bread crust is not crisp above about activity 0.6 (van Nieuwenhuijzen et al. 2007, J. Agric. Food Chem.
    55:2611); the shelf's crispness limits hold it. The limit is one of moisture, at its own temperature.
    """
    words = Words(
        name=NAME,
        meaning=f"the {limit.layer} has drunk from the inside and is leathery, no longer crisp",
        valid=(
            f"when the {limit.layer} is its own layer in the piece, as thick and as dry as it leaves the "
            "oven; it is "
            "neither firming nor drying out of the crumb"
        ),
        sharpen=(
            f"moisture of the {limit.layer} alone (2 mm shaved off) by the hour over the first day, with "
            "force and sound of "
            "the break"
        ),
    )
    return texture_course(history, limit, isotherm, words)
