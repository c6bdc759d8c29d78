"""Lanes against the scalar march and its numpy twin: steps replayed, batches, random packs, what lanes hand over."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from hardtack.errors import BalanceError
from hardtack.states import Floats, Openings
from hardtack.transport import lanes, lanes_flux, rows, vector
from hardtack.transport import many as module
from hardtack.transport.chain import Chain, chain
from hardtack.transport.many import KEPT, Draws, Many, march_many
from hardtack.transport.march import Watch, at_rest, audit, watched
from hardtack.transport.rosenbrock import RODAS3, RODAS4, RODAS4_CONTINUOUS, Scheme
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from tests.transport.chains import DAY, T25, sandwich
from tests.transport.test_balance import random_pack
from tests.transport.test_lockstep import alone, leaky, recorded, wet
from tests.transport.test_many import TIMES, WATCHES, everything, some

IN_LANES = (0, 1, 5, 7, 9, 11, 13, 15)


def room(count: int, cut: Chain, outputs: int, watches: int = 0) -> lanes.Results:
    """Rows for everything of so many scenarios."""
    n, layers = cut.dry_mass.size, len(cut.names)
    nan = lambda *shape: np.full(shape, np.nan)  # noqa: E731
    return lanes.Results(
        nan(count, watches), nan(count), np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64), np.full(count, -1),
        nan(count, outputs, layers), nan(count, outputs), nan(count, outputs), nan(count, outputs),
        nan(count, outputs, n + 1), nan(count, outputs, n + 1),
    )  # fmt: skip


def alike(
    cut: Chain, air: Surroundings, times: Floats, scheme: Scheme, count: int, given: Floats
) -> lanes.Results:
    """The same scenario `count` times in lanes, over given steps."""
    got, nothing = room(count, cut, times.size), watched(cut, [])
    one = rows.changed([cut], np.zeros(count, dtype=np.int64), Draws(), np.arange(count))
    lanes.march_lot(
        np.arange(count), one, [air], np.zeros(count, dtype=np.int64), np.tile(at_rest(cut, air, float(times[0])), (count, 1)),
        np.ones(count), np.zeros((count, 0)), (nothing[0], nothing[3]), times, scheme, got,
        stop=False, tolerance=1e-4, given=np.tile(given, (count, 1)),
    )  # fmt: skip
    return got


def warm() -> tuple[Chain, Surroundings, Floats]:
    """As `leaky`, but whole: no holes."""
    cut, air, times = leaky()
    cut.barriers[:, 3] = 0.0
    return cut, air, times


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4, RODAS4_CONTINUOUS], ids=lambda scheme: scheme.name)
@pytest.mark.parametrize("pack", [None, *IN_LANES])
def test_replayed_steps_give_the_same_water_in_scalar_lanes_and_twin(
    pack: int | None, scheme: Scheme
) -> None:
    """Temperature swinging within the steps, a rim, vapour paths, D(X), barriers; then invented packs."""
    cut, air, times = warm() if pack is None else random_pack(pack)
    kept, steps = recorded(cut, air, times, scheme)
    assert np.all(steps > 0.0)
    # more than there are lanes: the last take over from the first
    got = alike(cut, air, times, scheme, vector.WIDTH + 3, steps)
    twin = alone(cut, air, times, scheme, steps)
    water = float(kept[0][0].sum())
    assert got.code.tolist() == [0] * (vector.WIDTH + 3)
    for lane in (0, vector.WIDTH + 2):
        assert np.abs(got.water[lane] - kept[0]).max() / water <= 1e-12
        assert np.abs(got.water[lane] - twin.kept[0][0]).max() / water <= 1e-12
        assert np.abs(got.activity[lane] - kept[1]).max() <= 1e-9
        assert got.inflow[lane] == pytest.approx(kept[2], rel=1e-9, abs=1e-12 * water)
        assert got.temperature[lane] == pytest.approx(kept[3], abs=1e-9)
        assert audit(got.water[lane], got.inflow[lane]) <= 1e-12


def together(monkeypatch: pytest.MonkeyPatch, *arguments: Any, enough: int = 1, **keywords: Any) -> Many:
    """A batch that goes in lanes whatever its size, or never."""
    monkeypatch.setattr(module, "ENOUGH", enough)
    return march_many(*arguments, **keywords)


@pytest.mark.parametrize("stop", [False, True])
def test_left_to_themselves_they_agree_with_the_scalar_march(
    stop: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Own films, moistures, airs, limits; crossings; outputs inside steps; scenarios that stop early."""
    chains, airs, draws, which = some(70)
    asked = {"draws": draws, "watches": WATCHES, "keep": KEPT, "stop_when_all_crossed": stop, **which}
    mine = together(monkeypatch, chains, airs, TIMES, **asked)
    scalar = together(monkeypatch, chains, airs, TIMES, enough=1000, **asked)
    assert np.array_equal(mine.steps, scalar.steps)
    assert np.array_equal(mine.attempts, scalar.attempts)
    assert mine.failed.size == 0
    assert np.isfinite(mine.crossings).any()
    assert np.isnan(mine.crossings).any()
    assert not stop or np.isnan(scalar.inflow).any()  # type: ignore[arg-type]
    for a, b in zip(everything(mine), everything(scalar), strict=True):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-15, nan_ok=True)


def damp(count: int) -> tuple[list[Chain], list[Surroundings], dict[str, Any]]:
    """Swinging humidity on steps of a day and hour by hour, and temperature swinging hour by hour; then what lanes hand over."""
    hours = np.linspace(0.0, 60.0, 481) * DAY
    wave, T = 0.55 + 0.25 * np.sin(hours / DAY * 2.1), T25 + 5.0 * np.sin(2 * np.pi * hours / DAY)
    g = 3e-9 * np.exp(wave)
    steady = np.full(hours.size, T25)
    airs = [
        surroundings([Stretch(hours, g, wave, steady, DAY)]),
        surroundings([Stretch(hours, g, wave, steady, 0.0)]),
        surroundings([Stretch(hours, g, wave, T, 0.0)]),
        surroundings([Stretch(hours, g, wave, T, DAY / 3)]),
    ]
    whole = sandwich()
    holes = replace(whole.parts[2], openings=Openings("holes", 0.05, 1e-3))
    pieces = [whole, replace(whole, parts=(*whole.parts[:2], holes, *whole.parts[3:]))]
    chains = [
        chain([piece], 1e-4, (T25 - 6.0, T25 + 6.0), cells_per_layer=cells)
        for piece, cells in ((pieces[0], 6), (pieces[0], 5), (pieces[1], 6))
    ]
    rng = np.random.default_rng(11)
    draws = Draws(
        film=np.exp(rng.normal(0, 0.2, count)), diffusivity={"crumb": np.exp(rng.normal(0, 0.2, count))}
    )
    which = {"chain_of": rng.integers(0, 3, count), "air_of": rng.integers(0, 4, count)}
    kept = ("moisture", "headspace", "inflow", "temperature")
    return chains, airs, {"draws": draws, "watches": WATCHES, "keep": kept, **which}


def of(asked: dict[str, Any], picked: np.ndarray) -> dict[str, Any]:  # type: ignore[type-arg]
    draws = asked["draws"]
    some_of = Draws(film=draws.film[picked], diffusivity={"crumb": draws.diffusivity["crumb"][picked]})
    return {**asked, "draws": some_of, **{key: asked[key][picked] for key in ("chain_of", "air_of")}}


def test_order_company_lane_and_threads_change_no_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any selection of at least `ENOUGH`, in any order, on any number of threads."""
    monkeypatch.setattr(module, "ENOUGH", 64)
    chains, airs, asked = damp(220)
    first = march_many(chains, airs, TIMES, threads=1, **asked)
    rng = np.random.default_rng(5)
    for threads in (1, 2, 3):
        picked = rng.permutation(220)[: rng.integers(module.ENOUGH, 220)]
        got = march_many(chains, airs, TIMES, threads=threads, **of(asked, picked))
        for name in ("crossings", "steps", "attempts", "imbalance", *asked["keep"]):
            assert np.array_equal(getattr(first, name)[picked], getattr(got, name), equal_nan=True), name


def test_what_lanes_do_not_hold_is_the_scalar_march_to_the_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Barriers with holes, and temperatures swinging within a step; all others agree within the tolerance."""
    chains, airs, asked = damp(70)
    mine, scalar = (
        together(monkeypatch, chains, airs, TIMES, **asked),
        together(monkeypatch, chains, airs, TIMES, enough=1000, **asked),
    )
    outside = (asked["chain_of"] == 2) | (asked["air_of"] == 3)
    assert 10 < outside.sum() < 60
    for name in ("crossings", "steps", "attempts", "imbalance", *asked["keep"]):
        a, b = getattr(mine, name), getattr(scalar, name)
        assert np.array_equal(a[outside], b[outside], equal_nan=True), name
        assert name == "imbalance" or a == pytest.approx(b, rel=1e-6, nan_ok=True), name
    assert mine.failed.size == 0
    assert np.nanmax(mine.imbalance) <= 1e-15


def test_water_on_the_film_is_handed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """Air chilled below its dew point: found on the way, and followed from the start by the scalar march."""
    cut, air, times = wet()
    draws = Draws(film=np.linspace(0.5, 2.0, 5))
    asked: dict[str, Any] = {
        "draws": draws,
        "keep": KEPT,
        "watches": [Watch("one", 0.06, True)],
        "scheme": RODAS3,
    }
    mine = together(monkeypatch, [cut], [air], times, **asked)
    scalar = together(monkeypatch, [cut], [air], times, enough=1000, **asked)
    for a, b in zip(everything(mine), everything(scalar), strict=True):
        assert np.array_equal(a, b, equal_nan=True)
    assert np.nanmax(mine.headspace) > 1.0  # type: ignore[arg-type]


@pytest.mark.parametrize("first", [0, 12, 24, 36])
def test_random_packs(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """All finish and balance; those whose air no step spans agree with the scalar march far within the tolerance."""
    compared = 0
    for number in range(first, first + 12):
        cut, air, times = random_pack(number)
        asked: dict[str, Any] = {
            "draws": Draws(film=np.array([0.8, 1.0, 1.3])),
            "keep": ["water", "inflow", "activity"],
        }
        got = together(monkeypatch, [cut], [air], times, **asked)
        scalar = together(monkeypatch, [cut], [air], times, enough=1000, **asked)
        assert got.failed.size == 0, number
        for s in range(3):
            assert audit(got.water[s], got.inflow[s]) <= 1e-12, number  # type: ignore[index]
            assert audit(got.water[s], got.inflow[s]) == pytest.approx(got.imbalance[s], abs=1e-15)  # type: ignore[index]
        assert got.attempts.max() < 3000
        difference = float(np.abs(got.activity - scalar.activity)[..., :-1].max())  # type: ignore[operator]
        assert difference <= 1e-4, number
        compared += difference > 0.0
    assert compared >= 6


def test_the_balance_of_each_lane_is_audited(monkeypatch: pytest.MonkeyPatch) -> None:
    real = lanes.march_lot

    def spoilt(number: Any, *arguments: Any, **keywords: Any) -> None:
        real(number, *arguments, **keywords)
        arguments[-1].imbalance[number[-1]] += 1e-11

    monkeypatch.setattr(lanes, "march_lot", spoilt)
    with pytest.raises(BalanceError, match=r"1\.00e-11"):
        together(
            monkeypatch,
            [chain([sandwich()], 1e-4, (T25, T25))],
            [damp(1)[1][0]],
            TIMES,
            air_of=np.zeros(2, dtype=np.int64),
        )


def test_the_exponential_is_that_of_numpy() -> None:
    """Against numpy's, over all that D(X) may ask for."""
    from numba import njit

    @njit(error_model="numpy")
    def exponentials(x, out):  # type: ignore[no-untyped-def]
        for k in range(x.shape[0]):
            vector.store(out, k, 0, lanes_flux.exponential(vector.load(x, k, 0)))

    x = np.linspace(-700.0, 300.0, 40 * vector.WIDTH).reshape(40, vector.WIDTH)
    got = np.zeros_like(x)
    exponentials(x, got)
    assert got == pytest.approx(np.exp(x), rel=4e-16)
