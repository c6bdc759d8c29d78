"""The oven: heat and water, lift against setting, crust and crumb, cooling."""

from hardtack.oven.baking import Baked, bake
from hardtack.oven.calibration import calibrate
from hardtack.oven.handover import layers_of
from hardtack.oven.properties import Factors
from hardtack.oven.solving import across_the_band, to_moisture
from hardtack.oven.storage import baked_piece, settled

__all__ = [
    "Baked",
    "Factors",
    "across_the_band",
    "bake",
    "baked_piece",
    "calibrate",
    "layers_of",
    "settled",
    "to_moisture",
]
