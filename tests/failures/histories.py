"""Histories made by hand for the tests of the failures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from hardtack.states import Crossing, History
from hardtack.units import DAY, ZERO_CELSIUS


def history(
    days: ArrayLike,
    degC: ArrayLike,
    activity: ArrayLike = 0.5,
    *,
    moisture: ArrayLike = 0.1,
    layers: Sequence[str] = ("crumb",),
    crossings: tuple[Crossing, ...] = (),
    headspace: ArrayLike = 0.0,
    profile: np.ndarray | None = None,  # type: ignore[type-arg]
    positions: np.ndarray | None = None,  # type: ignore[type-arg]
    in_layer: Sequence[int] | None = None,
) -> History:
    """A history at `days`; temperature of a row is the mean over the interval that closes there."""
    times = np.asarray(days, dtype=float) * DAY
    n, k = times.size, len(layers)

    def table(values: ArrayLike) -> np.ndarray:  # type: ignore[type-arg]
        given = np.asarray(values, dtype=float)
        return np.broadcast_to(given[:, None] if given.ndim == 1 else given, (n, k)).copy()

    return History(
        layers=tuple(layers),
        times=times,
        moisture=table(moisture),
        activity=table(activity),
        headspace=np.broadcast_to(np.asarray(headspace, dtype=float), (n,)).copy(),
        temperature=np.broadcast_to(np.asarray(degC, dtype=float), (n,)) + ZERO_CELSIUS,
        humidity=np.full(n, 0.5),
        leg=np.zeros(n, dtype=np.int64),
        crossings=crossings,
        method="lumped",
        resistance_ratio=100.0,
        imbalance=0.0,
        water_gained=np.zeros(n),
        profile_positions=np.zeros(0) if positions is None else positions,
        profile=np.zeros((n, 0)) if profile is None else profile,
        profile_layer=np.zeros(0 if profile is None else profile.shape[1], dtype=np.int64)
        if in_layer is None
        else np.asarray(in_layer),
    )
