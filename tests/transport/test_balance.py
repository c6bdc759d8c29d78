"""Water balance and bounds over hundreds of invented packs; nothing is outside the code here but conservation itself.

`march` audits itself and raises above 1e-12 of the piece's water, so that every march of every test is held to it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from hardtack.errors import BalanceError
from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Isotherm, Layer, Piece
from hardtack.transport import kernel
from hardtack.transport.chain import Chain, chain
from hardtack.transport.march import BALANCE_LIMIT, march
from hardtack.transport.rosenbrock import RODAS3, RODAS4, Scheme
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.water.air import saturation_pressure, vapour_density
from hardtack.water.isotherm import activity, moisture
from tests.transport.chains import DAY, gab, linear, plain_python

Rng = np.random.Generator


def between(rng: Rng, low: float, high: float) -> float:
    """Even in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def isotherm(rng: Rng, heat: IsostericHeat | None) -> Isotherm:
    kind = rng.integers(5)
    if kind == 0:
        return linear(float(rng.uniform(0.05, 0.3)))
    if kind == 1:
        return Isotherm(
            "oswin", "oswin", {"A": rng.uniform(0.05, 0.15), "B": rng.uniform(0.2, 0.6)}, heat=heat
        )
    return gab("gab", rng.uniform(0.02, 0.1), between(rng, 1.5, 60.0), rng.uniform(0.7, 1.02), heat)


def piece(rng: Rng, heat: IsostericHeat | None, T: float) -> Piece:
    shape = ("slab", "cylinder", "sphere")[rng.integers(3)]
    parts: list[Layer | Barrier] = []
    area = between(rng, 1e-3, 1e-1)
    for k in range(rng.integers(1, 5)):
        if rng.random() < 0.4:
            parts.append(Barrier(f"b{k}", 1e-4, between(rng, 1e-12, 1e-7), 298.15, rng.uniform(0, 60e3)))
        iso, thickness = isotherm(rng, heat), between(rng, 2e-4, 2e-2)
        D = Diffusivity(
            between(rng, 1e-14, 1e-8),
            rng.choice([0.0, rng.uniform(-5, 25)]),
            0.1,
            298.15,
            rng.uniform(0, 60e3),
        )
        parts.append(
            Layer(
                f"layer {k}",
                thickness,
                area * thickness * rng.uniform(150, 900),
                float(moisture(iso, rng.uniform(0.05, 0.9), T)),
                iso,
                D,
                vapour_permeability=float(rng.choice([0.0, between(rng, 1e-13, 1e-10)])),
            )
        )
    if rng.random() < 0.3:
        parts.append(Barrier("outer", 1e-4, between(rng, 1e-12, 1e-7), 298.15, rng.uniform(0, 60e3)))
    ends = (bool(rng.integers(2)) and shape == "slab", bool(rng.random() < 0.9))
    return Piece(shape, tuple(parts), area, ends, int(rng.integers(1, 30)))


@pytest.mark.parametrize("seed", range(6))
def test_random_packs(seed: int) -> None:
    """60 packs each: balance, bounds, and for the isothermal ones the maximum principle layer by layer."""
    rng = np.random.default_rng(seed)
    attempts, imbalance, changed = [], [], 0
    for number in range(60):
        pieces, stretches, isothermal, cut = invented(rng, number)
        scheme = RODAS4 if number % 3 == 0 else RODAS3
        times = np.linspace(0.0, stretches[-1].times[-1], 12)
        run = march(cut, surroundings(stretches), times, scheme=scheme)
        attempts.append(run.attempts)
        imbalance.append(run.imbalance)
        cells = run.activity[:, :-1]
        assert np.all(np.isfinite(run.water)), number
        assert cells.min() >= 0.0, number
        assert cells.max() <= 1.0, (number, cells.max())
        if isothermal:
            changed += _between_extremes(pieces, run.layer_moisture(cut), cells, stretches, number)
    assert max(imbalance) <= 1e-12
    assert np.median(imbalance) <= 1e-15
    assert max(attempts) < 3000, sorted(attempts)[-5:]
    assert changed > 20


def invented(rng: Rng, number: int) -> tuple[list[Piece], list[Stretch], bool, Chain]:
    """One pack: its pieces, its journey, whether that is isothermal (every other), and the chain."""
    isothermal = bool(number % 2)
    heat = None if isothermal else IsostericHeat(rng.uniform(0, 12e3), rng.uniform(0.03, 0.2))
    legs = int(rng.integers(1, 4))
    Ts = np.repeat(rng.uniform(283, 308), legs) if isothermal else rng.uniform(268, 313, legs)
    pieces = [piece(rng, heat, float(Ts[0])) for _ in range(rng.integers(1, 3))]
    stretches = journey(rng, Ts, sum(p.area * p.count for p in pieces), isothermal)
    low, high = min(s.T.min() for s in stretches), max(s.T.max() for s in stretches)
    headspace = between(rng, 1e-6, 1e-1)
    cut = chain(pieces, headspace, (float(low), float(high)), cells_per_layer=int(rng.choice([4, 10, 20])))
    return pieces, stretches, isothermal, cut


def random_pack(number: int) -> tuple[Chain, Surroundings, Floats]:
    """The pack of that number, its air, and times to give its state at."""
    _, stretches, _, cut = invented(np.random.default_rng([2026, number]), number)
    return cut, surroundings(stretches), np.linspace(0.0, stretches[-1].times[-1], 12)


def journey(rng: Rng, temperatures: np.ndarray, area: float, isothermal: bool) -> list[Stretch]:  # type: ignore[type-arg]
    """Legs of constant or wildly varying air, in a film or, a thousand times more, lying unpacked."""
    stretches, t = [], 0.0
    for T in temperatures:
        span = between(rng, 0.2, 200.0) * DAY
        points = int(rng.choice([2, 40]))
        times = t + np.linspace(0.0, span, points)
        RH = np.full(points, rng.uniform(0, 1)) if points == 2 else rng.uniform(0, 1, points)
        kelvin = np.full(points, T)
        if not isothermal and points > 2:
            kelvin = np.clip(T + 6 * np.sin(np.linspace(0, 20, points)), 268, 313)
        g = area * between(rng, 1e-13, 1e-10) * saturation_pressure(kelvin) * rng.choice([1.0, 1000.0])
        limit = float(rng.choice([0.0, DAY, np.inf])) if isothermal else 0.0
        stretches.append(Stretch(times, g, RH, kelvin, limit))
        t += span
    return stretches


def _between_extremes(
    pieces: list[Piece], means: np.ndarray, cells: np.ndarray, stretches: list[Stretch], number: int
) -> int:  # type: ignore[type-arg]
    """No cell goes beyond the extremes of starts and air, but for 10 tolerances. Returns how many layers have moved."""
    T = float(stretches[0].T[0])
    layers = [layer for p in pieces for layer in p.layers]
    starts = [float(activity(layer.isotherm, layer.moisture, T)) for layer in layers]
    RH = np.concatenate([s.a_out for s in stretches])
    assert cells.min() >= min(*starts, RH.min()) - 1e-3, number
    assert cells.max() <= max(*starts, RH.max()) + 1e-3, number
    a = np.array([float(activity(layer.isotherm, X, T)) for layer, X in zip(layers, means[-1], strict=True)])
    return int(np.sum(np.abs(a - starts) > 0.01))


def test_air_without_any_water_and_a_perfect_film() -> None:
    iso = gab("g", 0.06, 8.0, 0.95)
    parts = (Layer("one", 3e-3, 6e-3, 0.05, iso, Diffusivity(1e-10)), Barrier("b", 1e-4, 1e-8))
    one = Piece("cylinder", parts, 3e-3, (False, True), 4)
    cut = chain([one], 1e-3, (298.15, 298.15))
    times = np.array([0.0, 3000.0]) * DAY
    for g, RH in ((1e-7, 0.0), (0.0, 0.5), (1e-7, 1.0)):
        air = surroundings([Stretch(times, np.full(2, g), np.full(2, RH), np.full(2, 298.15), np.inf)])
        run = march(cut, air, times)
        assert run.attempts < 300  # water below the rounding of what there was counts as none
        if g == 0.0:
            assert run.inflow[-1] == 0.0
            assert run.water[-1].sum() == pytest.approx(run.water[0].sum(), rel=1e-14)
        else:
            assert np.abs(run.activity[-1] - RH).max() < 0.01


def test_a_piece_wetter_than_its_isotherm_dries_into_it() -> None:
    """Moisture beyond the curve's end is free water; activity must stay at 1 until it has gone."""
    iso = gab("wet", 0.07, 10.0, 0.95)
    X = 3.0 * float(moisture(iso, 0.999, 298.15))
    one = Piece("slab", (Layer("wet", 5e-3, 10e-3, X, iso, Diffusivity(1e-10)),), 2e-3, (False, True))
    cut = chain([one], 1e-4, (298.15, 298.15))
    times = np.linspace(0, 400, 41) * DAY
    air = surroundings([Stretch(times, np.full(41, 2e-9), np.full(41, 0.3), np.full(41, 298.15))])
    run = march(cut, air, times)
    assert run.activity[0, 0] <= 1.0 + 1e-12
    assert np.all(np.diff(run.layer_moisture(cut)[:, 0]) < 0)


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4], ids=["RODAS3", "RODAS4"])
@pytest.mark.parametrize("share", [0.9, 0.98, 1.1])
@pytest.mark.parametrize("slope", [0.0, 8.0])
def test_free_water_at_one_temperature_not_yet_at_another(scheme: Scheme, share: float, slope: float) -> None:
    """Constants that move with temperature put the curve's wet end elsewhere when warm: a plateau in the cold.

    There activity does not rise with moisture at all, and conductances between cells are without bound.
    """
    parameters, enthalpies = {"Xm": 0.07, "C": 9.0, "K": 0.98}, {"Xm": 6000.0, "K": -500.0}
    iso = Isotherm("moving", "gab", parameters, enthalpies=enthalpies)
    ends = [float(moisture(iso, 0.999, T)) for T in (275.0, 310.0)]
    assert abs(ends[0] / ends[1] - 1) > 0.2
    D = Diffusivity(1e-10, slope, 0.1)
    one = Piece("slab", (Layer("wet", 5e-3, 10e-3, share * max(ends), iso, D),), 2e-3, (False, True))
    cut = chain([one], 1e-4, (275.0, 310.0))
    times = np.linspace(0, 30, 30 * 8 + 1) * DAY
    T = 292.5 + 17.5 * np.sin(2 * np.pi * times / DAY)
    run = march(
        cut,
        surroundings([Stretch(times, np.full(times.size, 3e-8), np.full(times.size, 0.9), T, 0.0)]),
        times,
        scheme=scheme,
    )
    assert run.activity[:, :-1].max() <= 1.0 + 1e-4  # curves of two temperatures, one flat, meet in between
    assert run.attempts < 3 * times.size  # every output is a stop; it must not stall at the join
    assert run.imbalance <= 1e-14


def test_a_chilled_pack_gets_wet_inside_and_dries_again() -> None:
    """Air that the cold leaves above saturation puts its water on the film, at an activity of 1, and takes it back."""
    iso = gab("g", 0.06, 8.0, 0.95)
    crumb = Layer("crumb", 5e-3, 0.1, float(moisture(iso, 0.9, 308.15)), iso, Diffusivity(1e-11))
    cut = chain([Piece("slab", (crumb,), 5e-2, (False, True))], 1e-2, (278.15, 308.15))
    legs = [(0.0, 1.0, 308.15), (1.0, 40.0, 278.15)]
    air = surroundings(
        [Stretch(np.array(t) * DAY, np.zeros(2), np.full(2, 0.5), np.full(2, T)) for *t, T in legs]
    )
    run = march(cut, air, np.r_[0.0, 1.0, 1.0 + np.geomspace(1e-4, 39.0, 40)] * DAY)
    room = run.water[:, -1] / (1e-2 * vapour_density(saturation_pressure(run.temperature), run.temperature))
    assert room[2] > 3.0  # the film is wet ...
    assert run.activity[2, -1] == pytest.approx(1.0, abs=1e-3)
    assert room[-1] < 0.95  # ... and at last dry
    assert run.activity[-1, -1] == pytest.approx(room[-1], rel=1e-12)
    assert run.activity[:, -1].max() <= 1.0 + 1e-3
    assert run.attempts < 500
    assert run.imbalance <= 1e-14


def dry_biscuit() -> tuple[Chain, Surroundings, Floats]:
    times = np.linspace(0.0, 50.0, 6) * DAY
    air = Stretch(times, np.full(6, 3e-9), np.full(6, 0.7), np.full(6, 298.15))
    one = Piece(
        "slab",
        (Layer("one", 3e-3, 6e-3, 0.05, gab("g", 0.06, 8, 0.95), Diffusivity(1e-11)),),
        3e-3,
        (False, True),
    )
    return chain([one], 1e-4, (298.15, 298.15)), surroundings([air]), times


def lose_from_a_cell(water: Floats, inflow: Floats) -> None:
    water[3, 4] -= 2e-12 * water[0, :-1].sum()


def gain_in_the_gas_space(water: Floats, inflow: Floats) -> None:
    water[-1, -1] += 2e-12 * water[0, :-1].sum()


def miscount_the_film(water: Floats, inflow: Floats) -> None:
    inflow[2:] *= 1.0 + 1e-9


def no_number(water: Floats, inflow: Floats) -> None:
    water[2, 0] = np.nan


@pytest.mark.parametrize("plant", [lose_from_a_cell, gain_in_the_gas_space, miscount_the_film, no_number])
def test_the_audit_sees_a_planted_error(
    plant: Callable[[Floats, Floats], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    cut, air, times = dry_biscuit()
    assert march(cut, air, times).imbalance <= 1e-15
    assert BALANCE_LIMIT == 1e-12
    real = kernel.march_kernel

    def spoilt(*arguments: Any) -> Any:
        result = real(*arguments)
        water, _, inflow, _ = arguments[-1]
        plant(water, inflow)
        return result

    monkeypatch.setattr(kernel, "march_kernel", spoilt)
    with pytest.raises(BalanceError, match="water balance off by"):
        march(cut, air, times)


LEAKS = {
    "none": "",
    # a flux that leaves one cell and does not enter the next: 1e-9 of every stage's gain of one cell goes astray
    "stage": """
real = kernel._stage
def leaky(cells, g, gamma_h, film, inflow, rounding, u):
    real(cells, g, gamma_h, film, inflow, rounding, u)
    u[3] *= 1 + 1e-9
kernel._stage = leaky
""",
    # a cell that holds on to a little less than it was given
    "cell": """
real = kernel._close
def wrong(start, U, m, e, cells, spans, rounding, end):
    result = real(start, U, m, e, cells, spans, rounding, end)
    end[0][5] *= 1 - 1e-11
    return result
kernel._close = wrong
""",
    # what leaves a cell for the gas space is more than what arrives
    "joint": """
real = kernel._factor
def wrong(cells, g):
    real(cells, g)
    cells[kernel.GOES_OUT] *= 1 + 1e-9
kernel._factor = wrong
""",
}


@pytest.mark.parametrize("leak", LEAKS)
def test_the_audit_sees_a_leak_inside_the_step(leak: str) -> None:
    """The kernel as plain Python, spoilt on purpose: the audit at the end must fail, and only then."""
    code = f"""
import sys
from tests.transport.test_balance import *
{LEAKS[leak]}
try:
    march(*dry_biscuit())
except BalanceError as error:
    sys.exit(str(error))
"""
    done = plain_python(code)
    if leak == "none":
        assert done.returncode == 0, done.stderr
    else:
        assert done.returncode == 1
        assert "water balance off by" in done.stderr, done.stderr
