"""Variants of one product, built and followed: for what is unsure, what could be changed, and where it may go."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from hardtack.keeping.begun import Begun
from hardtack.keeping.follow import Followed, follow
from hardtack.oven.storage import settled
from hardtack.pack import journey_of, pack_of
from hardtack.piece import pieces_of
from hardtack.product import Product
from hardtack.states import Journey, Pack, Piece


@dataclass(frozen=True, slots=True)
class Case:
    """One variant of a product, built: what `follow` takes. With `begun` only the last leg is followed anew."""

    product: Product
    pieces: tuple[Piece, ...]
    pack: Pack | None
    journey: Journey
    begun: Begun | None = None


def case_of(product: Product) -> Case:
    """Build the product, through its bake where the file leaves its moisture to it. Raises as `keep`."""
    product, _, _ = settled(product)
    return Case(product, pieces_of(product)[0], pack_of(product)[0], journey_of(product)[0])


def follow_case(case: Case) -> Followed:
    """The case's history and courses. Raises as `follow`."""
    return follow(case.product, case.pieces, case.pack, case.journey, case.begun)


def follow_many(
    cases: Sequence[Case], done: Callable[[int], None] | None = None, threads: int | None = None
) -> list[Followed]:
    """Every case followed, in order, each exactly as `follow_case` does it, on several threads.

    The march lets the other threads run. `done` is told how many are ready, after each. The first case that fails
    raises, as `follow` does.
    """
    workers = min(threads or os.cpu_count() or 1, max(len(cases), 1))
    found: list[Followed] = []
    with ThreadPoolExecutor(workers) as pool:
        for number, followed in enumerate(pool.map(follow_case, cases), 1):
            found.append(followed)
            if done is not None:
                done(number)
    return found
