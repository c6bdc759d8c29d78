"""The oven: heat and water, lift against setting, crust and crumb, cooling."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hardtack.oven.baking import Baked as Baked
    from hardtack.oven.baking import bake as bake
    from hardtack.oven.calibration import calibrate as calibrate
    from hardtack.oven.handover import layers_of as layers_of
    from hardtack.oven.properties import Factors as Factors
    from hardtack.oven.solving import across_the_band as across_the_band
    from hardtack.oven.solving import to_moisture as to_moisture
    from hardtack.oven.storage import baked_piece as baked_piece
    from hardtack.oven.storage import settled as settled

# Opened when first asked for: a product that is not baked here needs none of it.
_ROOMS = {
    "Baked": "baking",
    "Factors": "properties",
    "across_the_band": "solving",
    "bake": "baking",
    "baked_piece": "storage",
    "calibrate": "calibration",
    "layers_of": "handover",
    "settled": "storage",
    "to_moisture": "solving",
}
__all__ = list(_ROOMS)


def __getattr__(name: str) -> object:
    if name not in _ROOMS:
        raise AttributeError(f"module 'hardtack.oven' has no {name!r}; it has: {', '.join(__all__)}")
    return getattr(import_module(f"hardtack.oven.{_ROOMS[name]}"), name)
