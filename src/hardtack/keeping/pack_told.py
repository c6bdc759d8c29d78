"""What the pack did on the way, in words: desiccant, damp films, leaks, condensation, warm packing, gas."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hardtack import reference
from hardtack.errors import BalanceError, HardtackError
from hardtack.keeping.sentences import span
from hardtack.pack.film import minds_humidity, permeance_at, permeance_between
from hardtack.pack.gas import IN_AIR, Gas, gas_course
from hardtack.pack.leaks import leak_conductance
from hardtack.pack.links import places
from hardtack.pack.stretches import exposed_area
from hardtack.pack.warm import condensate
from hardtack.product import Product
from hardtack.states import History, Journey, Leg, Pack, Piece
from hardtack.transport.march import BALANCE_LIMIT
from hardtack.units import DAY, celsius, wet_basis
from hardtack.water.air import saturation_pressure
from hardtack.water.isotherm import moisture

WET = 0.999
"""Activity of the headspace from which water lies on the film: only condensed water holds it so near one."""
NOT_AIR = 0.005
"""Share by which a gas packed must differ from air to be worth telling."""
WARM = 5.0
"""A load this much warmer than its air [K] is worth looking at for condensation; common practice, no source."""


def pack_told(
    product: Product, pieces: Sequence[Piece], pack: Pack | None, journey: Journey, history: History, end: int
) -> tuple[str, ...]:
    """Sentences for the statement's causes; none for a plain pack of dry goods."""
    if pack is None:
        return ()
    return (
        *_desiccant(pack, history, end),
        *_film(pack, history, end),
        *_leaks(pack, history),
        *_outer_airs(pack, journey, history, end),
        *_gas(pack, journey, history, end),
        *_condensed(history, end),
        *_half_eaten(journey),
        *(line for piece in pieces for line in _warm(product, piece, pack, journey, history)),
    )


def _desiccant(pack: Pack, history: History, end: int) -> tuple[str, ...]:
    if pack.desiccant is None or history.desiccant.shape[1] == 0:
        return ()
    X = history.desiccant[:, 0]
    taken = 1e3 * pack.desiccant.dry_mass * float(X[end] - X[0])
    full = float(moisture(pack.desiccant.isotherm, pack.desiccant.isotherm.activity_range[1], 298.15))
    verb = f"took up {taken:.2f} g of water" if taken >= 0 else f"gave off {-taken:.2f} g of water"
    return (
        f"The {pack.desiccant.name} {verb}: from {100 * wet_basis(float(X[0])):.1f} to "
        f"{100 * wet_basis(float(X[end])):.1f} % (wet basis), {float(X[end]) / full:.0%} of what it holds when full.",
    )


def _film(pack: Pack, history: History, end: int) -> tuple[str, ...]:
    if not minds_humidity(pack.film):
        return ()
    T, RH, a = history.temperature[: end + 1], history.humidity[: end + 1], history.headspace[: end + 1]
    rise = permeance_between(pack.film, T, np.clip(a, 0.0, 1.0), RH) / permeance_at(pack.film, T)
    if float(rise.max()) < 1.05:
        return ()
    return (
        f"The film {pack.film.name} opens in damp air: it let through {float(rise.min()):.2g} to {float(rise.max()):.2g} "
        "times what it does dry.",
    )


def _leaks(pack: Pack, history: History) -> tuple[str, ...]:
    if not pack.leaks:
        return ()
    T = float(history.temperature[0])
    holes = float(sum(leak_conductance(leak, T) for leak in pack.leaks))
    film = float(pack.area * pack.whole_pack_factor * permeance_at(pack.film, T) * saturation_pressure(T))
    return (
        f"Of the water that crosses the pack at {celsius(T):.0f} °C, {holes / (holes + film):.0%} crosses the holes told in the file.",
    )


def _outer_airs(pack: Pack, journey: Journey, history: History, end: int) -> tuple[str, ...]:
    """The air next to the packs, leg by leg, where an outer pack with board is around."""
    said = []
    for number, leg in enumerate(journey.legs):
        own = places(pack, leg)
        # the first row of a leg is the mean of the interval before it
        rows = np.flatnonzero(history.leg[: end + 1] == number)[1:]
        if not own or rows.size == 0:
            continue
        near, outside = history.humidity[rows], leg.climate.humidity[leg.climate.times <= history.times[end]]
        said.append(
            f"In the {pack.outer[own[0]].name} the air next to the packs stood at {near.min():.0%} to {near.max():.0%} on the "
            f"leg “{leg.name}” ({outside.min():.0%} to {outside.max():.0%} outside)."
        )
    return tuple(said)


def _gas(pack: Pack, journey: Journey, history: History, end: int) -> tuple[str, ...]:
    """What became of a gas that was packed and is not air's, by what crosses the pack alone."""
    last = max(float(history.times[end]), 60.0)
    said: list[str] = []
    gases: tuple[Gas, ...] = ("oxygen", "carbon dioxide")
    for gas in gases:
        packed = pack.oxygen if gas == "oxygen" else pack.carbon_dioxide
        if abs(packed - IN_AIR[gas]) < NOT_AIR:
            continue
        try:
            course = gas_course(pack, journey, gas, np.linspace(0.0, last, 31))
        except HardtackError as error:
            said.append(f"What becomes of the {gas} packed is not known: {error.problems[0].what}.")
            continue
        said.append(
            f"The headspace was packed with {100 * packed:.3g} % {gas}; after {span(last)} it holds "
            f"{100 * float(course.share[-1]):.3g} %, by what crosses the pack (air: {100 * IN_AIR[gas]:.3g} %)."
        )
    return tuple(said)


def _condensed(history: History, end: int) -> tuple[str, ...]:
    wet = history.headspace[: end + 1] > WET
    if not wet.any():
        return ()
    first, last = (float(t) / DAY for t in history.times[: end + 1][wet][[0, -1]])
    return (
        f"Water lies on the inside of the film from day {first:.1f} to day {last:.1f}: a wet film is where mould starts.",
    )


def _half_eaten(journey: Journey) -> tuple[str, ...]:
    """That amounts of water are for a full pack, where fewer pieces are left in some leg."""
    if not any(leg.opened is not None and leg.opened.left < 1.0 for leg in journey.legs):
        return ()
    return ("Amounts of water are for as many pieces as were packed, each of which fares like those left.",)


def _warm(product: Product, piece: Piece, pack: Pack, journey: Journey, history: History) -> tuple[str, ...]:
    """Legs whose load begins warmer than its air: what condenses, and when it is taken back."""
    said = []
    for leg, spec in zip(journey.legs, product.journey, strict=True):
        if spec.load_starts_at is None or spec.load_lag is None or leg.film_coefficient is not None:
            continue
        T = leg.climate.temperature
        air_now = float(T[-1])
        if float(T[0]) - air_now < WARM:
            continue
        said.append(_cooled(leg, spec.load_lag.value, air_now, piece, pack, history))
    return tuple(said)


def _cooled(leg: Leg, lag: float, air: float, piece: Piece, pack: Pack, history: History) -> str:
    """What one leg does to the film of a load that cools to `air` [K]."""
    stop = min(leg.end, leg.start + 8 * lag)
    times = leg.climate.times[leg.climate.times <= stop]
    T = leg.climate.temperature[: times.size]
    layer = piece.layers[-1] if piece.open_ends[1] else piece.layers[0]
    X = history.moisture[:, history.layers.index(layer.name)]
    # only the share of a layer that evens out while the load cools takes part: its whole, at most
    followed = condensate(
        layer.isotherm,
        layer.dry_mass * piece.count,
        float(np.interp(leg.start, history.times, X)),
        exposed_area(piece),
        pack.area,
        reference.film_coefficient("still air").value,
        times,
        T,
        np.full(times.size, air),
    )
    if not followed.imbalance <= BALANCE_LIMIT:
        raise BalanceError(
            f"water on the film and in the pieces off by {followed.imbalance:.2e} of the pieces' water",
            "please report this run",
        )
    k = followed.wettest
    packed = f"Packed at {celsius(float(T[0])):.0f} °C (“{leg.name}”)"
    if followed.most < 1e-6:
        return (
            f"{packed}, no water condenses on the film: it is at {celsius(float(followed.T_film[0])):.0f} °C at first, and the "
            f"{layer.name} too dry for that."
        )
    wet = followed.wet_until
    until = (
        "it is not taken back while the load cools"
        if wet is None
        else f"it is taken back after {(wet - leg.start) / 3600:.1f} hours"
    )
    return (
        f"{packed}, up to {1e3 * followed.most:.2g} g of water condense on the film: most after "
        f"{(float(followed.times[k]) - leg.start) / 3600:.1f} hours, when the {layer.name} is at "
        f"{celsius(float(followed.T_pieces[k])):.0f} °C and the film at {celsius(float(followed.T_film[k])):.0f} °C; {until}. "
        "Until then pieces that touch it are wet."
    )
