"""Pictures of a keeping statement: they read results and compute nothing of the science."""

from hardtack.pictures.figure import keeping_picture
from hardtack.pictures.journey import journey_picture
from hardtack.pictures.kinds import KINDS
from hardtack.pictures.ladder import ladder_picture
from hardtack.pictures.profile import profile_picture
from hardtack.pictures.render import write_picture
from hardtack.pictures.shares import shares_picture
from hardtack.pictures.stales import stales_picture

__all__ = [
    "KINDS",
    "journey_picture",
    "keeping_picture",
    "ladder_picture",
    "profile_picture",
    "shares_picture",
    "stales_picture",
    "write_picture",
]
