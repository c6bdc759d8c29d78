"""Shares of a number's variance by what it depends on: first (alone) and total (with all it acts together with)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hardtack.states import Floats


@dataclass(frozen=True, slots=True)
class VarianceShare:
    """`first` and `total` share of the variance, each with the half width of its 95 % bootstrap interval."""

    first: float
    total: float
    first_error: float
    total_error: float


def variance_shares(
    function: Callable[[Floats], Floats],
    groups: Sequence[Sequence[int]],
    dimensions: int,
    points: int,
    seed: int,
) -> tuple[VarianceShare, ...]:
    """First and total shares of the variance of `function` over the unit cube, for groups of its columns.

    `function` takes points [n, dimensions] and gives [n] numbers. `points`, a power of two, is the size of each of the
    two base samples (scrambled Sobol'); the function is asked for (groups + 2) times as many. Estimators: Saltelli et
    al. 2010, Comput. Phys. Commun. 181:259, by SciPy, with its bootstrap. A function that does not vary has shares of 0.
    """
    from scipy.stats import qmc, sobol_indices

    both = qmc.Sobol(2 * dimensions, rng=seed).random(points)
    A, B = both[:, :dimensions], both[:, dimensions:]
    mixed = []
    for group in groups:
        AB = A.copy()
        AB[:, list(group)] = B[:, list(group)]
        mixed.append(AB)
    y = function(np.concatenate([A, B, *mixed])).reshape(len(groups) + 2, points)
    if float(np.ptp(y[:2])) == 0.0:
        return tuple(VarianceShare(0.0, 0.0, 0.0, 0.0) for _ in groups)
    y = y - y[:2].mean()
    found = sobol_indices(func={"f_A": y[:1], "f_B": y[1:2], "f_AB": y[2:, None, :]}, n=points)
    spread = found.bootstrap(confidence_level=0.95, n_resamples=400)
    first, total = (np.reshape(values, -1) for values in (found.first_order, found.total_order))
    widths = [
        np.reshape((ends.confidence_interval.high - ends.confidence_interval.low) / 2, -1)
        for ends in (spread.first_order, spread.total_order)
    ]
    return tuple(
        VarianceShare(float(first[k]), float(total[k]), float(widths[0][k]), float(widths[1][k]))
        for k in range(len(groups))
    )
