"""Drying out: a soft layer loses water until it is dry and hard to eat."""

from __future__ import annotations

from hardtack.failures.names import DRYING_OUT
from hardtack.failures.texture import TextureLimit, Words, texture_course
from hardtack.states import FailureCourse, History, Isotherm

NAME = DRYING_OUT


def course(history: History, limit: TextureLimit, isotherm: Isotherm) -> FailureCourse:
    """Share of life used: of the way in moisture from fresh down to the limit."""
    words = Words(
        name=NAME,
        meaning=f"the {limit.layer} has lost water until it eats dry",
        valid="while water leaves as vapour; firming of starch is another matter and not counted here",
        sharpen=f"moisture of the {limit.layer} against a panel's word for dry, five levels",
    )
    return texture_course(history, limit, isotherm, words)
