"""Pictures of a keeping statement: they read results and compute nothing of the science."""

from hardtack.pictures.figure import keeping_picture
from hardtack.pictures.journey import journey_picture
from hardtack.pictures.ladder import ladder_picture
from hardtack.pictures.render import write_picture

__all__ = ["journey_picture", "keeping_picture", "ladder_picture", "write_picture"]
