"""Follow one piece through the journey, looking out for the limits it is judged by."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.failures import crispness, drying_out
from hardtack.failures.texture import TextureLimit, limit_moisture
from hardtack.keeping.history import history_of
from hardtack.keeping.limits import crispness_limit, drying_limit
from hardtack.pack import stretches_of
from hardtack.product import Product
from hardtack.sourced import Used
from hardtack.states import History, Journey, Pack, Piece
from hardtack.transport.surroundings import Stretch


@dataclass(frozen=True, slots=True)
class Followed:
    """What happened to one piece: `limits` by the failure's name, `first_time` [s] of the first one met."""

    history: History
    stretches: tuple[Stretch, ...]
    limits: tuple[tuple[str, TextureLimit], ...]
    used: tuple[Used, ...]

    @property
    def first_time(self) -> float | None:
        """Moment of the first failure [s], None when none comes within the journey."""
        return min((c.time for c in self.history.crossings if c.time is not None), default=None)


def follow(product: Product, piece: Piece, pack: Pack | None, journey: Journey) -> Followed:
    """The piece's history over the journey. Raises as `keep`."""
    crisp, crisp_used = crispness_limit(product, piece)
    dry, dry_used = drying_limit(product)
    limits = tuple(
        (name, limit) for name, limit in ((crispness.NAME, crisp), (drying_out.NAME, dry)) if limit
    )
    isotherms = {layer.name: layer.isotherm for layer in piece.layers}
    watches = [
        (limit.layer, limit_moisture(limit, isotherms[limit.layer]), name == crispness.NAME)
        for name, limit in limits
    ]
    stretches = stretches_of(journey, pack, piece)
    history = history_of(piece, pack, journey, stretches, watches)
    return Followed(history, tuple(stretches), limits, (*crisp_used, *dry_used))
