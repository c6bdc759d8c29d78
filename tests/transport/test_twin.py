"""The kernel as plain Python: the same march without the compiler, and the bad input both refuse."""

from __future__ import annotations

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.states import Barrier, Diffusivity, IsostericHeat, Layer, Piece
from hardtack.transport.chain import chain
from hardtack.transport.march import March, Watch, march
from hardtack.transport.rosenbrock import RODAS3, RODAS4
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from tests.transport.chains import DAY, T25, gab, plain_python, sandwich


def small_run() -> tuple[March, March]:
    """Moving air with steps that span its pieces, then a warm leg resolved; a crossing; both schemes."""
    piece = sandwich(heat=IsostericHeat(7000.0, 0.1))
    cut = chain([piece], 1e-4, (291.15, 303.15), cells_per_layer=4)
    t1, t2 = np.arange(0.0, 3.01, 0.125) * DAY, 3 * DAY + np.arange(0.0, 1.01, 0.25) * DAY
    T = 297.15 + 6.0 * np.sin(t2 / DAY)
    wave = 0.5 + 0.2 * np.sin(7 * t1 / DAY)
    air = surroundings(
        [
            Stretch(t1, np.full(t1.size, 3e-9), wave, np.full(t1.size, 293.15), DAY),
            Stretch(t2, 4e-9 + 1e-9 * np.cos(t2 / DAY), np.full(t2.size, 0.7), T, 0.0),
        ]
    )
    times = np.array([0.0, 1.5, 3.0, 4.0]) * DAY
    watches = [Watch("shell", 0.04, True), Watch("crumb", 0.108, False)]
    return march(cut, air, times, watches=watches), march(cut, air, times, tolerance=1e-5, scheme=RODAS4)


def summary(runs: tuple[March, March]) -> np.ndarray:  # type: ignore[type-arg]
    return np.concatenate(
        [
            np.r_[
                run.activity.ravel(), run.water.ravel(), run.inflow, run.crossings, run.temperature, run.steps
            ]
            for run in runs
        ]
    )


def test_the_compiled_march_is_the_python_one() -> None:
    plain = plain_python(
        "import sys; from tests.transport.test_twin import *; sys.stdout.write(summary(small_run()).tobytes().hex())"
    )
    assert plain.returncode == 0, plain.stderr
    got = np.frombuffer(bytes.fromhex(plain.stdout))
    compiled = summary(small_run())
    assert np.all(np.isfinite(compiled))
    assert got == pytest.approx(compiled, rel=1e-12, abs=1e-16)


def steady(T: float = T25, last: float = 100 * DAY) -> Surroundings:
    return surroundings([Stretch(np.array([0.0, last]), np.full(2, 3e-9), np.full(2, 0.6), np.full(2, T))])


def test_a_march_continues_where_another_ended() -> None:
    cut, times = chain([sandwich()], 1e-4, (T25, T25)), np.array([0.0, 20.0, 50.0]) * DAY
    whole = march(cut, steady(), times, tolerance=1e-7)
    first = march(cut, steady(), times[:2], tolerance=1e-7)
    second = march(cut, steady(), times[1:], tolerance=1e-7, start=first.water[-1])
    assert np.abs(second.activity[-1] - whole.activity[-1]).max() < 1e-6
    assert np.array_equal(second.water[0], first.water[-1])


def broken(**changes: float) -> Piece:
    values = {"thickness": 3e-3, "dry_mass": 5e-3, "moisture": 0.04, "D": 1e-10, "permeance": 1e-9, **changes}
    crumb = Layer(
        "crumb",
        values["thickness"],
        values["dry_mass"],
        values["moisture"],
        gab("g", 0.05, 10, 0.9),
        Diffusivity(values["D"]),
    )
    return Piece("slab", (crumb, Barrier("fat", 1e-4, values["permeance"])), 2e-3, (False, True))


@pytest.mark.parametrize("what", ["thickness", "dry_mass", "moisture", "D", "permeance"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan")])
def test_pieces_no_water_could_be_followed_through(what: str, value: float) -> None:
    with pytest.raises(HardtackError, match=r"above zero|wetter|moisture"):
        chain([broken(**{what: value})], 1e-4, (T25, T25))


def test_other_bad_input() -> None:
    good = broken()
    cut = chain([good], 1e-4, (T25, T25))
    with pytest.raises(HardtackError, match="volume"):
        chain([good], 0.0, (T25, T25))
    with pytest.raises(HardtackError, match="without layers"):
        chain([Piece("slab", (Barrier("fat", 1e-4, 1e-9),), 1e-3, (False, True))], 1e-4, (T25, T25))
    with pytest.raises(HardtackError, match="centre of a sphere"):
        chain([Piece("sphere", good.parts, 1e-3, (True, True))], 1e-4, (T25, T25))
    with pytest.raises(HardtackError, match="air is known"):
        march(cut, steady(), np.array([0.0, 101.0]) * DAY)
    with pytest.raises(HardtackError, match="were prepared for"):
        march(cut, steady(T25 + 1), np.array([0.0, 1.0]) * DAY)
    with pytest.raises(HardtackError, match="output times"):
        march(cut, steady(), np.array([0.0, 1.0, 1.0]) * DAY)
    with pytest.raises(HardtackError, match="no layer 'crust'"):
        march(cut, steady(), np.array([0.0, 1.0]) * DAY, watches=[Watch("crust", 0.1, True)])
    with pytest.raises(HardtackError, match="start does not fit"):
        march(cut, steady(), np.array([0.0, 1.0]) * DAY, start=np.ones(3))
    assert march(cut, steady(), np.array([0.0, 100.0]) * DAY, scheme=RODAS3).steps > 5


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"times": np.array([0.0, 0.0])}, "must rise"),
        ({"g": np.array([1e-9, -1e-9])}, "conductance"),
        ({"g": np.array([1e-9, np.nan])}, "conductance"),
        ({"a_out": np.array([0.5, 50.0])}, "humidity"),
        ({"T": np.array([25.0, 25.0])}, "temperature"),
        ({"step_limit": -1.0}, "step limit"),
    ],
)
def test_bad_air(change: dict[str, object], match: str) -> None:
    good = {
        "times": np.array([0.0, 9.0]),
        "g": np.full(2, 1e-9),
        "a_out": np.full(2, 0.5),
        "T": np.full(2, T25),
    }
    with pytest.raises(HardtackError, match=match):
        surroundings([Stretch(**{**good, **change})])  # type: ignore[arg-type]


def test_legs_that_do_not_meet() -> None:
    legs = [
        Stretch(np.array(t), np.full(2, 1e-9), np.full(2, 0.5), np.full(2, T25))
        for t in ([0.0, 9.0], [10.0, 12.0])
    ]
    with pytest.raises(HardtackError, match="one leg ends"):
        surroundings(legs)
