"""One pass between the march of the pieces and the airs of the outer packs, over all legs of the journey."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.pack.outer import Around, Inner, booked, corrected
from hardtack.states import Floats, Journey, Pack, Piece
from hardtack.transport.surroundings import Stretch


@dataclass(frozen=True, slots=True)
class Pass:
    """The outer airs a march was given (`around`, None for a leg without), the stretches they made, and what it gave."""

    journey: Journey
    pack: Pack | None
    pieces: tuple[Piece, ...]
    around: tuple[Around | None, ...]
    stretches: tuple[Stretch, ...]
    inner: Inner
    outer: Floats
    """Water of the outer packs [kg] as the first leg begins; none where the pack is closed then."""

    def corrected(self) -> tuple[Around | None, ...]:
        """The outer airs with what the march took up in those it was given."""
        found: list[Around | None] = []
        before = self.outer
        for leg, at, stretch in zip(self.journey.legs, self.around, self.stretches, strict=True):
            if at is None or self.pack is None:
                found.append(None)
                before = np.zeros(0)
                continue
            better, before = corrected(leg, self.pack, self.pieces, at, stretch, self.inner, before)
            found.append(better)
        return tuple(found)

    def booked(self) -> tuple[float, float, Floats]:
        """How far airs that hand on just what the march let in are from those it was given, the error of the account of all
        water over all legs, and the water of the outer packs at the end [kg]."""
        apart, imbalance, before = 0.0, 0.0, self.outer
        for leg, at, stretch in zip(self.journey.legs, self.around, self.stretches, strict=True):
            if at is None or self.pack is None:
                before = np.zeros(0)
                continue
            books = booked(leg, self.pack, self.pieces, at, stretch, self.inner, before)
            before = books.held
            apart = max(
                apart, float(np.max(np.abs(np.clip(books.airs, 0.0, 1.0) - np.clip(at.airs, 0.0, 1.0))))
            )
            imbalance = max(imbalance, books.imbalance)
        return apart, imbalance, before
