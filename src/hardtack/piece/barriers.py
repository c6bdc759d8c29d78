"""Barriers as the product file gives them, else from the reference shelf: passage, openings, and what changes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import prod

from hardtack import reference
from hardtack.piece.materials import ROOM, assumed
from hardtack.product.schema import BarrierProperties, BarrierSpec, PassageEffect
from hardtack.sourced import Used
from hardtack.states import Barrier, Openings

HOLE_WIDTH = 1e-3
CRACK_WIDTH = 1e-4
"""Widths [m] of a hole in a film and of a crack in a coat when the file does not say; common practice, no source."""


def barrier_of(spec: BarrierSpec) -> tuple[Barrier, list[Used]]:
    """The barrier, and the numbers it leans on."""
    barrier, used = _whole(spec)
    openings, of_openings = _openings(spec.name, spec.barrier)
    factor, of_effects = passage_of(spec.name, spec.barrier.effects)
    barrier = replace(barrier, permeance=barrier.permeance * factor, openings=openings)
    return barrier, [*used, *of_openings, *of_effects]


def passage_of(name: str, effects: Sequence[PassageEffect]) -> tuple[float, list[Used]]:
    """What all effects together multiply passage with: above zero, so that they change how fast, never which way."""
    used = [
        Used(f"effect of {effect.ingredient} on passage through {name}", effect.factor, True)
        for effect in effects
    ]
    return prod(effect.factor.value for effect in effects), used


def _whole(spec: BarrierSpec) -> tuple[Barrier, list[Used]]:
    given = spec.barrier
    thickness = given.thickness.value if given.thickness else 0.0
    T = given.at.value if given.at else ROOM
    E = given.activation_energy.value if given.activation_energy else 0.0
    used = [Used(f"thickness of {spec.name}", given.thickness, True)] if given.thickness else []
    if given.material is not None:
        row = reference.lookup("barriers", given.material)
        used.append(Used(f"permeability of {spec.name} ({row.name})", row.values["permeability"], True))
        shelf = reference.barrier(given.material, thickness)
        return Barrier(spec.name, thickness, shelf.permeance, shelf.T_ref, shelf.E), used
    if given.permeance is not None:
        used.append(Used(f"permeance of {spec.name}", given.permeance, True))
        return Barrier(spec.name, thickness, given.permeance.value, T, E), used
    assert given.permeability is not None  # the product file has one of the three
    used.append(Used(f"permeability of {spec.name}", given.permeability, True))
    return Barrier(spec.name, thickness, given.permeability.value / thickness, T, E), used


def _openings(name: str, given: BarrierProperties) -> tuple[Openings | None, list[Used]]:
    if given.coverage is not None:
        what, said, width = "hole", Used(f"coverage of {name}", given.coverage, True), given.hole_width
        openings = Openings("holes", 1.0 - given.coverage.value, width.value if width else HOLE_WIDTH)
    elif given.cracks is not None:
        what, said, width = "crack", Used(f"cracks in {name}", given.cracks, True), given.crack_width
        openings = Openings("cracks", given.cracks.value, width.value if width else CRACK_WIDTH)
    else:
        return None, []
    number = width or assumed(openings.width, "m", f"{openings.width * 1e3:g} mm", "not stated")
    return openings, [said, Used(f"width of a {what} in {name}", number, width is not None)]
