"""Films, packs, climates and the journey."""

from hardtack.pack.build import pack_of
from hardtack.pack.journey import journey_of
from hardtack.pack.stretches import stretches_of

__all__ = ["journey_of", "pack_of", "stretches_of"]
