"""A product made ready to be followed many thousand times with its unsure numbers varied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hardtack.keeping.cases import Case, case_of, follow_case
from hardtack.keeping.doubt import Doubt
from hardtack.keeping.follow import Followed
from hardtack.keeping.history import headspace_of
from hardtack.keeping.judged import Judged
from hardtack.keeping.moved_isotherms import LEVELS, MovedIsotherms, moved_isotherms, scales
from hardtack.keeping.settle import cut_leg
from hardtack.keeping.unsure import doubt_of
from hardtack.pack.desiccant import desiccant_piece
from hardtack.pack.stretches import leans_on_inside
from hardtack.product import LayerSpec, Product
from hardtack.states import Barrier, Film, Isotherm, Journey, Layer, Leg, Pack, Piece
from hardtack.transport.chain import Chain, chain
from hardtack.units import DAY

FURTHER = 4.0
"""Samples are followed first to so many times the plain date; those that have not failed by then, to the end."""


@dataclass(frozen=True, slots=True)
class Study:
    """What all samples share: the product built and followed as the file has it, what is unsure, the chains.

    `levels` are chains with all `curves` at each of their levels. `numbers` are places of what is unsure that acts on a
    plain number of the file, so that the product is built anew for every sample. `own_air` says that every sample has
    an air of its own, `inside` that it takes passes, for the pack depends on the air in it.
    """

    product: Product
    case: Case
    followed: Followed
    doubt: Doubt
    base: Chain
    levels: tuple[Chain, ...]
    curves: tuple[MovedIsotherms, ...]
    scaled: tuple[int, ...]
    numbers: tuple[int, ...]
    temperatures: tuple[float, float]
    own_air: bool
    inside: bool

    @property
    def judged(self) -> tuple[Judged, ...]:
        """The failures looked out for, the first of the plain answer first."""
        return tuple(one for one, _ in self.followed.judged)

    @property
    def layers(self) -> dict[str, Layer]:
        """The layers by name, as the file has them."""
        return {layer.name: layer for piece in self.case.pieces for layer in piece.layers}

    @property
    def specs(self) -> dict[str, LayerSpec]:
        """The file's layers by name."""
        return {spec.name: spec for spec in self.case.product.layers}

    @property
    def end(self) -> float:
        """End of the journey [s]."""
        return self.case.journey.legs[-1].end

    @property
    def first_horizon(self) -> float:
        """How far samples are followed first [s]."""
        plain = self.followed.first_time
        return self.end if plain is None else min(self.end, max(FURTHER * plain, plain + 2 * DAY))


def study_of(product: Product) -> Study:
    """Build and follow the product, and gather what is unsure. Raises as `keep`."""
    case = case_of(product)
    followed = follow_case(case)
    doubt = doubt_of(product, case, followed)
    layers = {layer.name: layer for piece in case.pieces for layer in piece.layers}
    specs = {spec.name: spec for spec in case.product.layers}
    curves, scaled = [], []
    for place, one in enumerate(doubt.listed):
        if one.acts == "isotherm":
            if scales(one, specs, layers):
                scaled.append(place)
            else:
                curves.append(moved_isotherms(place, one, specs, layers))
    temperatures = _extremes(case, doubt)
    inside = leans_on_inside(case.pack, case.journey)
    varied = {one.acts for one in doubt.listed}
    unpacked = any(leg.film_coefficient is not None or leg.opened is not None for leg in case.journey.legs)
    leaks = case.pack is not None and bool(case.pack.leaks)
    own_air = bool(varied & {"energy", "temperature", "humidity"}) or unpacked or leaks or inside
    return Study(
        product=product,
        case=case,
        followed=followed,
        doubt=doubt,
        base=chain_of(case.pieces, case.pack, temperatures),
        levels=_levels(case, curves, temperatures),
        curves=tuple(curves),
        scaled=tuple(scaled),
        numbers=tuple(k for k, one in enumerate(doubt.listed) if one.acts == "number"),
        temperatures=temperatures,
        own_air=own_air,
        inside=inside,
    )


def _extremes(case: Case, doubt: Doubt) -> tuple[float, float]:
    """The temperatures [K] samples may meet."""
    T = np.concatenate([leg.climate.temperature for leg in case.journey.legs])
    reach = [
        float(np.max(np.abs(one.law.at(np.array([-4.5, 4.5])))))
        for one in doubt.listed
        if one.acts == "temperature"
    ]
    wide = max(reach, default=0.0)
    return float(T.min()) - wide, float(T.max()) + wide


def chain_of(pieces: Sequence[Piece], pack: Pack | None, temperatures: tuple[float, float]) -> Chain:
    """The chain of the pieces, with the pack's desiccant as the last of them."""
    within = list(pieces)
    if pack is not None and pack.desiccant is not None:
        within.append(desiccant_piece(pack.desiccant))
    return chain(within, headspace_of(pieces, pack), temperatures)


def _levels(
    case: Case, curves: Sequence[MovedIsotherms], temperatures: tuple[float, float]
) -> tuple[Chain, ...]:
    if not curves:
        return ()
    found = []
    for n in range(LEVELS.size):
        isotherms = {
            name: iso for moved in curves for name, iso in zip(moved.layers, moved.levels[n], strict=True)
        }
        found.append(
            chain_of([with_isotherms(piece, isotherms) for piece in case.pieces], case.pack, temperatures)
        )
    return tuple(found)


def with_isotherms(piece: Piece, isotherms: dict[str, Isotherm]) -> Piece:
    """The piece with some layers' isotherms replaced, by name."""
    parts = tuple(
        part
        if isinstance(part, Barrier) or part.name not in isotherms
        else replace(part, isotherm=isotherms[part.name])
        for part in piece.parts
    )
    return replace(piece, parts=parts)


def until(journey: Journey, end: float) -> Journey:
    """The journey as far as `end` [s]."""
    legs: list[Leg] = []
    for leg in journey.legs:
        if leg.start >= end and legs:
            break
        legs.append(leg if leg.end <= end else cut_leg(leg, end))
    return replace(journey, legs=tuple(legs))


def film_moved(film: Film, by: float) -> Film:
    """The film with the activation energy of its permeance moved by `by` [J/mol], that of every ply alike."""
    return replace(film, E=film.E + by, plies=tuple(film_moved(ply, by) for ply in film.plies))
