"""The gas of a dough from mixer to oven: what has been given by when, and how much room it takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hardtack.dough.fermentation import Fermented
from hardtack.dough.gas import air_moles, cells_and_water, gas_volume, steam_share
from hardtack.dough.leaveners import Leaveners
from hardtack.dough.leavening import balance
from hardtack.dough.release import Release, release
from hardtack.dough.soda import OPEN_CRUMB, decomposition
from hardtack.product.dough_spec import LeaveningSpec
from hardtack.reference import lookup
from hardtack.sourced import Sourced, Used
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import GAS_CONSTANT, STANDARD_PRESSURE

ROOM = ZERO_CELSIUS + 25.0
POINTS = 121
DEFAULTS = "dough defaults"


@dataclass(frozen=True, slots=True)
class Rise:
    """Gas per kg of dough over the course of its temperature.

    `times` [s] run from mixing; the oven begins at `oven_at`. Moles of carbon dioxide given so far by acid, by heat,
    by ammonium bicarbonate, and by yeast (only what is still there at the end of proof); `ammonia` [mol]. `cells`
    [m3 per kg] is their volume with mixed-in air and steam, NaN above the end of expansion. `lost` [mol] of the leaveners'
    carbon dioxide has left the dough before the oven: it counts as given and is not in the cells. `outside` and `law` tell
    how far the split of soda by heat is covered by its measurements; `by_heat_open` [mol] is what it gives at the end by
    the quickest law for an open crumb that dries, of `open_law`.
    """

    times: Floats
    T: Floats
    oven_at: float
    by_acid: Floats
    by_heat: Floats
    by_ammonium: Floats
    by_yeast: float
    lost: float
    by_heat_open: float
    open_law: str
    ammonia: Floats
    cells: Floats
    air: float
    steam: Floats
    law: str
    valid: str
    outside: float
    used: tuple[Used, ...]

    @property
    def carbon_dioxide(self) -> Floats:
        """Carbon dioxide of the leaveners given so far [mol per kg of dough], without the yeast's."""
        return self.by_acid + self.by_heat + self.by_ammonium


def litres(moles: float, T: float = ROOM) -> float:
    """Volume [L] of dry gas at T [K] and 1 atm."""
    return 1e3 * moles * GAS_CONSTANT * T / STANDARD_PRESSURE


def rise(
    spec: LeaveningSpec | None,
    leaveners: Leaveners,
    proved: Fermented | None,
    dough: tuple[float, float],
) -> Rise:
    """Follow the gas over bench and oven. `dough` is its water [kg per kg] and its activity.

    Raises `HardtackError` for temperatures outside the tables of solubility and saturation.
    """
    water, a = dough
    wait, start, bench_told = _given(spec, "bench")
    climb, end, oven_told = _given(spec, "oven")
    air, air_used = _air(spec, start.value, a)
    hot = max(end.value, start.value + 1.0)
    times = np.concatenate(([0.0], wait.value + np.linspace(0.0, climb.value, POINTS)))
    T = np.concatenate(([start.value], np.linspace(start.value, hot, POINTS)))
    given_so_far = release(1.0, leaveners.bases, times, T, leaveners.acids, leaveners.sour)
    yeast = proved.in_cells + proved.dissolved if proved else 0.0
    kept, kept_used = kept_on_bench(spec)
    lost = float(given_so_far.carbon_dioxide[1]) * (1.0 - kept)
    cells, steam = _cells(given_so_far, yeast, np.where(times < wait.value, 0.0, lost), air, T, water, a)
    opened, open_law = _open(leaveners, times, T)
    used = (
        Used("time from mixer to oven", wait, bench_told),
        Used("temperature of the dough on the bench", start, bench_told),
        Used("time of the climb in the oven", climb, oven_told),
        Used("temperature of the dough at its end", end, oven_told),
        Used(
            "temperature at which expansion ends",
            lookup(DEFAULTS, "end of expansion").values["temperature"],
            False,
        ),
        *air_used,
    )
    if lost > 0:
        used += kept_used
    soda = given_so_far.soda
    if float(given_so_far.by_heat[-1]) > 0:
        law = lookup("soda decomposition", soda.law)
        used += (Used(f"split of soda by heat, activation energy ({law.name})", law.values["E"], False),)
    return Rise(
        times, T, wait.value, given_so_far.by_acid, given_so_far.by_heat, given_so_far.by_ammonium, yeast, lost,
        opened, open_law, given_so_far.ammonia, cells, air, steam, soda.law, soda.valid, soda.outside, used,
    )  # fmt: skip


def _given(spec: LeaveningSpec | None, name: str) -> tuple[Sourced, Sourced, bool]:
    row = lookup(DEFAULTS, name)
    if name == "bench" and spec is not None and spec.bench is not None:
        return spec.bench.lasts, spec.bench.temperature, True
    if name == "oven" and spec is not None and spec.oven is not None:
        return spec.oven.lasts, spec.oven.to, True
    return row.values["time"], row.values["temperature"], False


def kept_on_bench(spec: LeaveningSpec | None) -> tuple[float, tuple[Used, ...]]:
    """Share of the gas of the bench still there when the oven begins: the file's own, else 0.5^(wait / half-life).

    All of it is taken to come at the mixer, so a dough whose gas comes late on the bench loses less. Assumed.
    """
    own = spec.bench.kept if spec and spec.bench else None
    if own is not None:
        return own.value, (Used("share of the bench's gas kept until the oven", own, True),)
    wait = _given(spec, "bench")[0]
    half = lookup(DEFAULTS, "gas of the bench").values["time"]
    return 0.5 ** (wait.value / half.value), (Used("half-life of the bench's gas in the dough", half, False),)


def _open(leaveners: Leaveners, times: Floats, T: Floats) -> tuple[float, str]:
    """Carbon dioxide [mol] of soda without acid at the end by the quickest law of `OPEN_CRUMB`, and that law."""
    left = balance(1.0, leaveners.bases, leaveners.acids, leaveners.sour).by_heat
    extents = {law: float(decomposition(law, times, T).extent[-1]) for law in OPEN_CRUMB}
    quickest = max(extents, key=lambda law: extents[law])
    return left * extents[quickest], quickest


def _air(spec: LeaveningSpec | None, T: float, a: float) -> tuple[float, tuple[Used, ...]]:
    """Mixed-in air [mol per kg of dough]."""
    own = spec.mixed_in_air if spec else None
    void = own or lookup(DEFAULTS, "mixed-in air").values["share"]
    density = lookup(DEFAULTS, "dough without gas").values["density"]
    used = (
        Used("air mixed in, share of the dough's volume", void, own is not None),
        Used("density of the dough without gas", density, False),
    )
    return air_moles(void.value, density.value, T, a), used


def _cells(
    given: Release, yeast: float, lost: Floats, air: float, T: Floats, water: float, a: float
) -> tuple[Floats, Floats]:
    """Volume of the cells [m3 per kg of dough], NaN above the end of expansion, and the share of steam in them."""
    closed = lookup(DEFAULTS, "end of expansion")["temperature"]
    cells, steam = np.full_like(T, np.nan), np.full_like(T, np.nan)
    for k, now in enumerate(T.tolist()):
        if now > closed:
            continue
        share = steam_share(a, now)
        moles = float(given.carbon_dioxide[k] - lost[k]) + yeast
        in_cells, _ = cells_and_water(moles, air, water, now, a)
        cells[k] = gas_volume(in_cells + air + float(given.ammonia[k]), now, a)
        steam[k] = share
    return cells, steam


def bench_share(rise_: Rise) -> float:
    """Share of the leaveners' gas that has come before the oven, 0 without any."""
    whole = float(rise_.carbon_dioxide[-1])
    return float(rise_.carbon_dioxide[1]) / whole if whole > 0 else 0.0
