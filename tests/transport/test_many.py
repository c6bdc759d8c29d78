"""Many marches are the single ones: to the bit, in any order, on any number of threads; draws are changed pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hardtack.errors import BalanceError, HardtackError
from hardtack.states import Diffusivity, Floats, Layer, Piece
from hardtack.transport import many as module
from hardtack.transport.chain import Chain, chain
from hardtack.transport.many import KEPT, Draws, Many, march_many
from hardtack.transport.march import Watch, march
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from tests.transport.chains import DAY, T25, sandwich

TIMES = np.linspace(0.0, 60.0, 7) * DAY
WATCHES = [Watch("shell", 0.04, True), Watch("crumb", 0.105, False)]


def air(RH: float, g: float = 3e-9) -> Surroundings:
    return surroundings([Stretch(TIMES[[0, -1]], np.full(2, g), np.full(2, RH), np.full(2, T25))])


def cut(piece: Piece | None = None, room: float = 1e-4) -> Chain:
    return chain([piece or sandwich()], room, (T25, T25), cells_per_layer=6)


def some(count: int) -> tuple[list[Chain], list[Surroundings], Draws, dict[str, np.ndarray]]:  # type: ignore[type-arg]
    rng = np.random.default_rng(3)
    spread = lambda: np.exp(rng.normal(0.0, 0.2, count))  # noqa: E731
    draws = Draws(
        film=spread(),
        headspace=spread(),
        diffusivity={"cream": spread(), "shell": spread()},
        isotherm={"shell": spread()},
        moisture={"crumb": 1.0 + rng.uniform(-0.1, 0.1, count)},
        dry_mass={"cream": spread()},
        barriers={1: spread()},
        limits={0: rng.uniform(0.035, 0.05, count)},
    )
    which = {"chain_of": rng.integers(0, 2, count), "air_of": rng.integers(0, 3, count)}
    return [cut(), cut(room=1e-3)], [air(RH) for RH in (0.3, 0.6, 0.8)], draws, which


def everything(many: Many) -> list[Floats]:
    return [many.crossings, many.steps, many.imbalance, *(getattr(many, name) for name in KEPT)]


def test_each_is_the_march_of_its_changed_chain_to_the_bit() -> None:
    chains, airs, draws, which = some(9)
    many = march_many(chains, airs, TIMES, draws=draws, watches=WATCHES, keep=KEPT, threads=1, **which)
    assert many.failed.size == 0
    for s in range(9):
        own = module._changed(chains[which["chain_of"][s]], draws, s)
        assert draws.film is not None
        RH = (0.3, 0.6, 0.8)[which["air_of"][s]]
        watches = [replace(WATCHES[0], moisture=float(draws.limits[0][s])), WATCHES[1]]
        one = march(own, airs[which["air_of"][s]], TIMES, watches=watches)
        scaled = march(own, air(RH, 3e-9 * float(draws.film[s])), TIMES, watches=watches)
        assert many.water is not None
        assert many.water[s] == pytest.approx(scaled.water, rel=1e-9)
        if s == 0:
            plain = march_many(
                [own],
                [airs[which["air_of"][s]]],
                TIMES,
                watches=watches,
                keep=("water", "activity", "inflow"),
            )
            assert plain.water is not None
            assert plain.activity is not None
            assert plain.inflow is not None
            assert np.array_equal(plain.water[0], one.water)
            assert np.array_equal(plain.activity[0], one.activity)
            assert np.array_equal(plain.inflow[0], one.inflow)
            assert np.array_equal(plain.crossings[0], one.crossings, equal_nan=True)
            assert plain.moisture is None


def test_order_company_and_threads_change_no_bit() -> None:
    chains, airs, draws, which = some(24)
    first = march_many(chains, airs, TIMES, draws=draws, watches=WATCHES, keep=KEPT, threads=1, **which)
    more = march_many(chains, airs, TIMES, draws=draws, watches=WATCHES, keep=KEPT, threads=3, **which)
    for a, b in zip(everything(first), everything(more), strict=True):
        assert np.array_equal(a, b, equal_nan=True)
    turned = np.random.default_rng(0).permutation(24)[:11]
    pick = lambda arrays: {key: array[turned] for key, array in arrays.items()}  # noqa: E731
    assert draws.film is not None
    assert draws.headspace is not None
    other = Draws(
        draws.film[turned],
        draws.headspace[turned],
        *(pick(getattr(draws, name)) for name in ("diffusivity", "isotherm", "moisture", "dry_mass", "barriers", "limits")),
    )  # fmt: skip
    some_of = march_many(chains, airs, TIMES, draws=other, watches=WATCHES, keep=KEPT, **pick(which))
    for a, b in zip(everything(first), everything(some_of), strict=True):
        assert np.array_equal(a[turned], b, equal_nan=True)
    assert 0 < np.isfinite(first.crossings).sum() < first.crossings.size
    assert np.ptp(first.crossings[np.isfinite(first.crossings[:, 0]), 0]) > DAY


def test_draws_are_what_the_piece_itself_would_be() -> None:
    """Each factor against a chain cut anew from the changed piece."""
    base = sandwich()
    crumb = base.layers[0]
    changed = {
        "diffusivity": replace(
            crumb, diffusivity=replace(crumb.diffusivity, D_ref=crumb.diffusivity.D_ref * 1.5)
        ),
        "isotherm": replace(crumb, isotherm=replace(crumb.isotherm, scale=1.5)),
        "moisture": replace(crumb, moisture=crumb.moisture * 1.5),
        "dry_mass": replace(crumb, dry_mass=crumb.dry_mass * 1.5),
    }
    for name, layer in changed.items():
        draws = Draws(**{name: {"crumb": np.array([1.5])}})  # type: ignore[arg-type]
        got = march_many([cut()], [air(0.5)], TIMES, draws=draws, keep=("water", "headspace", "moisture"))
        anew = cut(replace(base, parts=tuple(layer if part is crumb else part for part in base.parts)))
        one = march(anew, air(0.5), TIMES)
        assert got.water is not None
        assert got.headspace is not None
        assert got.moisture is not None
        # the table of a scaled isotherm has its nodes elsewhere, by 1e-7 in activity
        assert got.water[0] == pytest.approx(one.water, rel=1e-5 if name == "isotherm" else 1e-9), name
        assert got.headspace[0] == pytest.approx(one.activity[:, -1], rel=1e-5), name
        assert got.moisture[0] == pytest.approx(one.layer_moisture(anew), rel=1e-5), name
    barrier = base.parts[2]
    thin = replace(
        base, parts=(*base.parts[:2], replace(barrier, permeance=barrier.permeance * 4), *base.parts[3:])
    )  # type: ignore[call-arg, union-attr]
    number = int(np.flatnonzero(cut().barriers[:, 1] == 293.15)[0])
    got = march_many(
        [cut()], [air(0.5)], TIMES, draws=Draws(barriers={number: np.array([4.0])}), keep=["water"]
    )
    assert got.water is not None
    assert got.water[0] == pytest.approx(march(cut(thin), air(0.5), TIMES).water, rel=1e-9)


def test_a_stop_when_all_have_crossed_leaves_the_rest_empty() -> None:
    got = march_many(
        [cut()], [air(0.8)], TIMES, watches=WATCHES[:1], keep=["inflow"], stop_when_all_crossed=True
    )
    assert got.inflow is not None
    assert np.isfinite(got.crossings[0, 0])
    after = got.crossings[0, 0] <= np.r_[-1.0, TIMES[:-1]]
    assert np.array_equal(np.isnan(got.inflow[0]), after)


def test_one_that_cannot_be_followed_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    real = module.follow

    def once(*arguments):  # type: ignore[no-untyped-def]
        code, *rest = real(*arguments)
        return (2 if arguments[-1] == 2.0 else code, *rest)

    monkeypatch.setattr(module, "follow", once)
    draws = Draws(film=np.array([1.0, 2.0, 3.0]))
    got = march_many([cut()], [air(0.8)], TIMES, draws=draws, watches=WATCHES, keep=["moisture"])
    assert got.failed.tolist() == [1]
    assert got.moisture is not None
    assert np.isnan(got.moisture[1]).all()
    assert np.isnan(got.crossings[1]).all()
    assert np.isfinite(got.moisture[[0, 2]]).all()


def test_the_balance_of_each_is_audited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "audit", lambda water, inflow: 1e-11)
    with pytest.raises(BalanceError, match=r"1\.00e-11"):
        march_many([cut()], [air(0.8)], TIMES, air_of=np.zeros(2, dtype=np.int64))


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"draws": Draws(film=np.array([1.0, 0.0]))}, "draw of film is not above zero"),
        ({"draws": Draws(film=np.ones(2), moisture={"crumb": np.ones(3)})}, "not of one number"),
        ({"draws": Draws(moisture={"crust": np.ones(2)})}, "no layer 'crust'"),
        ({"draws": Draws(barriers={9: np.ones(2)})}, "no barrier 9"),
        ({"draws": Draws(limits={0: np.ones(2)})}, "no watch 0"),
        ({"air_of": np.array([0, 1])}, "air 1 of 1"),
        ({"chain_of": np.array([-1, 0])}, "chain"),
        ({"keep": ["everything"]}, "nothing called 'everything'"),
        ({"watches": [Watch("crust", 0.1, True)]}, "no layer 'crust' to watch"),
    ],
)
def test_bad_input(change: dict[str, object], match: str) -> None:
    with pytest.raises(HardtackError, match=match):
        march_many([cut()], [air(0.5)], TIMES, **change)  # type: ignore[arg-type]


def test_chains_that_do_not_go_together() -> None:
    layer = sandwich().layers[0]
    other = Piece(
        "slab", (replace(layer, name="other", diffusivity=Diffusivity(1e-10)),), 1e-3, (False, True)
    )
    assert isinstance(other.parts[0], Layer)
    with pytest.raises(HardtackError, match="different names"):
        march_many([cut(), cut(other)], [air(0.5)], TIMES)
    finer = chain([sandwich()], 1e-4, (T25, T25), cells_per_layer=8)
    with pytest.raises(HardtackError, match="different numbers of cells"):
        march_many([cut(), finer], [air(0.5)], TIMES, keep=["water"])
    two = march_many([cut(), finer], [air(0.5)], TIMES, keep=["moisture"], chain_of=np.array([0, 1]))
    assert two.moisture is not None
    assert two.moisture[0] == pytest.approx(two.moisture[1], rel=1e-2)
