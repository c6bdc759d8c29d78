"""Steps over a swinging temperature, each flux its mean over spells of like temperature, against every hour resolved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Layer, Piece
from hardtack.transport.chain import Chain, chain
from hardtack.transport.march import March, Watch, march
from hardtack.transport.rosenbrock import RODAS4
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.water.air import GAS_CONSTANT, saturation_pressure
from hardtack.water.isotherm import activity
from tests.transport.chains import DAY, T25, gab, radau, reference, sandwich
from tests.transport.test_balance import between
from tests.transport.test_balance import piece as random_piece

HEAT = IsostericHeat(6000.0, 0.1)
CRACKER = Layer("cracker", 3e-3, 5e-3, 0.03, gab("cracker", 0.06, 10.0, 0.95, HEAT), Diffusivity(2e-11, 6.0, 0.05, T25, 30e3))  # fmt: skip
FILLING = Layer("filling", 5e-3, 8e-3, 0.12, gab("filling", 0.07, 9.0, 0.97, HEAT), Diffusivity(6e-11, 5.0, 0.1, T25, 30e3))  # fmt: skip
OTHER = replace(CRACKER, isotherm=gab("other", 0.06, 10.0, 0.95, IsostericHeat(12e3, 0.06)), diffusivity=Diffusivity(2e-11, 6.0, 0.05, T25, 45e3))  # fmt: skip
GEL = Layer("gel", 2e-3, 5e-3, 0.02, gab("gel", 0.2, 8.0, 0.75, IsostericHeat(10e3, 0.1)), Diffusivity(1e-10, 0.0, 0.0, T25, 20e3))  # fmt: skip
FAT = Barrier("fat", 3e-4, 3e-10, T25, 40e3)


def slab(*parts: Layer | Barrier, count: int = 6, to_rim: float = 0.0) -> Piece:
    return Piece("slab", parts, 2.5e-3, (False, True), count, to_rim=to_rim)


CASES: dict[str, list[Piece]] = {
    "cracker": [Piece("slab", (CRACKER,), 3e-3, (True, True), 26)],
    "fat between": [slab(FILLING, FAT, CRACKER)],
    "open rim": [slab(replace(FILLING, rim=0.5), FAT, CRACKER, to_rim=0.05**2 / 48)],
    "touching": [slab(FILLING, CRACKER)],
    "touching, other laws": [slab(FILLING, OTHER)],
    "three layers": [sandwich(heat=HEAT)],
    "with desiccant": [slab(CRACKER), slab(GEL, count=1)],
}


def hours(days: int) -> Floats:
    return np.arange(days * 24 + 1) * 3600.0


def weather(name: str, days: int) -> tuple[Floats, Floats]:
    """T [K] and humidity, hour by hour; all invented, the last like a weather station's record."""
    t = hours(days)
    wave = np.cos(2 * np.pi * (t - 14 * 3600) / DAY)
    if name == "20 to 30":
        return 298.15 + 5.0 * wave, 0.6 - 0.1 * wave
    if name == "15 to 45":
        return 303.15 + 15.0 * wave, 0.5 - 0.2 * wave
    rng = np.random.default_rng(5)
    fronts = np.interp(t, np.arange(0, days + 3, 3) * DAY, rng.standard_normal(1 + (days + 2) // 3))
    T = 297.15 + 5.0 * wave * (1 + 0.3 * fronts) + 3.0 * fronts + 0.2 * rng.standard_normal(t.size)
    return T, np.clip(0.65 - 0.12 * wave + 0.1 * fronts + 0.02 * rng.standard_normal(t.size), 0.05, 0.95)


def film(g25: float, T: Floats) -> Floats:
    p = saturation_pressure(T)
    laws: Floats = (
        g25 / float(saturation_pressure(T25)) * p * np.exp(-30e3 / GAS_CONSTANT * (1 / T - 1 / T25))
    )
    return laws


def air(T: Floats, RH: Floats, g: Floats, limit: float) -> Surroundings:
    return surroundings([Stretch(np.arange(T.size) * 3600.0, g, RH, T, limit)])


def cut_for(pieces: list[Piece], T: Floats, room: float = 1e-4, cells: int = 20) -> Chain:
    return chain(pieces, room, (float(T.min()), float(T.max())), cells_per_layer=cells)


def means(pieces: list[Piece], cut: Chain, run: March, T: float) -> Floats:
    layers = [layer for piece in pieces for layer in piece.layers]
    X = run.layer_moisture(cut)
    return np.stack([np.asarray(activity(x.isotherm, X[:, k], T)) for k, x in enumerate(layers)], axis=1)


@pytest.mark.parametrize("place", ["20 to 30", "15 to 45", "fronts"])
@pytest.mark.parametrize("case", CASES)
def test_against_every_hour_resolved(case: str, place: str) -> None:
    """Layers' means within 2e-4 in activity, 4e-4 where it swings by 30 K; never more work."""
    pieces, days = CASES[case], 60
    T, RH = weather(place, days)
    cut, times = cut_for(pieces, T), np.arange(days + 1) * DAY
    g = film(6e-9, T)
    exact_run = march(cut, air(T, RH, g, 0.0), times, tolerance=1e-6, scheme=RODAS4)
    exact = means(pieces, cut, exact_run, T25)
    assert np.ptp(exact, axis=0).max() > 0.03
    resolved = march(cut, air(T, RH, g, 0.0), times)
    run = march(cut, air(T, RH, g, DAY / 3), times)
    assert np.abs(means(pieces, cut, run, T25) - exact).max() <= (4e-4 if place == "15 to 45" else 2e-4)
    assert np.abs(run.activity[1:, -1] - exact_run.activity[1:, -1]).max() <= 3e-3
    assert run.imbalance <= 1e-14
    assert run.attempts < (1.1 if place == "15 to 45" else 0.6) * resolved.attempts


@pytest.mark.parametrize("case", ["cracker", "fat between"])
def test_dates(case: str) -> None:
    """The day the cracker has taken up what makes it soft, and that of the filling gone dry, within 0.2 %."""
    pieces, days = CASES[case], 200
    T, RH = weather("fronts", days)
    cut, times = cut_for(pieces, T), np.arange(days + 1) * DAY
    watches = [Watch("cracker", 0.055, True)]
    if case == "fat between":
        watches.append(Watch("filling", 0.11, False))
    found = [
        march(cut, air(T, RH, film(6e-9, T), limit), times, watches=watches).crossings
        for limit in (0.0, DAY / 3)
    ]
    assert np.all(np.isfinite(found[0]))
    assert found[1] == pytest.approx(found[0], rel=2e-3)


def test_against_an_independent_solution() -> None:
    """Radau on the equations written a second time in numpy, four days of swinging air."""
    piece, days, cells, room = sandwich(heat=HEAT), 4, 5, 1e-4
    T, RH = weather("20 to 30", days)
    g, t = film(3e-8, T), hours(days)
    cut = cut_for([piece], T, room, cells)
    times = np.arange(days + 1) * DAY
    run = march(cut, air(T, RH, g, DAY / 3), times)

    def between_hours(at: float) -> tuple[float, float, float]:
        g_t = np.interp(at, t, g)
        return g_t, np.interp(at, t, g * RH) / g_t, np.interp(at, t, T)

    first = np.append(run.water[0, :-1] / cut.dry_mass, run.water[0, -1])
    states = radau(reference(piece, cells, room, between_hours), first, t, rtol=1e-6)[::24]
    held = states[:, :-1] * cut.dry_mass
    X = np.stack([held[:, i:j].sum(axis=1) / cut.dry_mass[i:j].sum() for i, j in cut.spans], axis=1)
    exact = np.stack(
        [np.asarray(activity(x.isotherm, X[:, k], T25)) for k, x in enumerate(piece.layers)], axis=1
    )
    assert np.ptp(exact, axis=0).min() > 0.01
    assert np.abs(means([piece], cut, run, T25) - exact).max() <= 2e-4


def test_water_on_the_film_and_a_slow_room_are_resolved() -> None:
    """Where the mean over spells does not hold, the march is that of every hour resolved, to the last bits."""
    days = 12
    times = np.arange(days + 1) * DAY
    t = hours(days)
    wave = np.cos(2 * np.pi * t / DAY)
    wet = slab(replace(FILLING, moisture=0.6))
    cold = 288.15 + 12.0 * wave
    tight = film(1e-12, cold)
    # dew every night: from day two on hours only, so what differs stems from the first hours
    drops = [march(cut_for([wet], cold), air(cold, np.full(t.size, 0.5), tight, x), times) for x in (0.0, DAY / 3)]  # fmt: skip
    assert drops[0].activity[:, -1].max() <= 1.001
    assert means([wet], cut_for([wet], cold), drops[1], T25) == pytest.approx(
        means([wet], cut_for([wet], cold), drops[0], T25), abs=1e-5
    )
    # a room of a cubic metre about one coated cracker follows it over hours
    coated = slab(CRACKER, Barrier("coating", 1e-4, 1e-11, T25, 30e3), count=1)
    slow = [march(cut_for([coated], cold, 1.0), air(cold, np.full(t.size, 0.5), tight, x), times) for x in (0.0, DAY / 3)]  # fmt: skip
    assert slow[1].water == pytest.approx(slow[0].water, rel=1e-9)


def test_output_where_legs_meet() -> None:
    """At the end of a leg the gas space stands at that leg's temperature, not at the next one's."""
    T, RH = weather("20 to 30", 3)
    t, pieces = hours(3), CASES["cracker"]
    end = np.array([3.0, 5.0]) * DAY

    def legs(limit: float) -> Surroundings:
        return surroundings(
            [
                Stretch(t, film(6e-9, T), RH, T, limit),
                Stretch(end, film(6e-9, np.full(2, 310.0)), np.full(2, 0.5), np.full(2, 310.0)),
            ]
        )

    cut = chain(pieces, 1e-4, (float(T.min()), 310.0))
    times = np.array([0.0, 1.0, 3.0, 5.0]) * DAY
    resolved, run = (march(cut, legs(limit), times) for limit in (0.0, DAY / 3))
    assert run.temperature == pytest.approx(resolved.temperature, abs=1e-9)
    assert run.activity[:, -1] == pytest.approx(resolved.activity[:, -1], abs=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_random_packs(seed: int) -> None:
    """25 packs each, many of them extreme: all finish, the balance closes, half are within 1e-4 and all within 3e-3."""
    rng = np.random.default_rng(300 + seed)
    wrong, imbalance = [], []
    for _ in range(25):
        mean, swing, days = rng.uniform(280, 305), rng.uniform(0.5, 15), int(rng.integers(3, 30))
        pieces = [random_piece(rng, IsostericHeat(rng.uniform(0, 12e3), 0.1), mean) for _ in range(rng.integers(1, 3))]  # fmt: skip
        t = hours(days)
        T = mean + swing * np.sin(2 * np.pi * t / DAY + rng.uniform(0, 6))
        RH = np.clip(rng.uniform(0, 1) + rng.uniform(-0.2, 0.2) * np.sin(2 * np.pi * t / DAY), 0, 1)
        area = sum(p.area * p.count for p in pieces)
        g = area * between(rng, 1e-13, 1e-10) * saturation_pressure(T) * rng.choice([1.0, 1000.0])
        cut = cut_for(pieces, T, between(rng, 1e-6, 1e-1), int(rng.choice([4, 10, 20])))
        times = np.arange(days + 1) * DAY
        resolved, run = (march(cut, air(T, RH, g, limit), times) for limit in (0.0, DAY / 3))
        assert np.all(np.isfinite(run.water))
        wrong.append(np.abs(means(pieces, cut, run, mean) - means(pieces, cut, resolved, mean)).max())
        imbalance.append(run.imbalance)
        assert run.attempts < 2 * resolved.attempts + 200
    assert max(imbalance) <= 1e-12
    assert np.median(wrong) <= 1e-4
    assert max(wrong) <= 3e-3
