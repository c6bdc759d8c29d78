"""The numpy march against the compiled one: steps replayed, batches, outputs, and no compiler at all."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Layer, Openings, Piece
from hardtack.transport import bake_march, kernel, many, twin, twin_step
from hardtack.transport.chain import Chain, chain
from hardtack.transport.compiler import WITHOUT
from hardtack.transport.march import ATTEMPTS_PER_RUN, NO_STEPS, Watch, at_rest, audit, follow, watched
from hardtack.transport.rosenbrock import RODAS3, RODAS4, RODAS4_CONTINUOUS, Scheme
from hardtack.transport.side_links import path_to_rim
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from tests.transport.chains import DAY, T25, gab, sandwich
from tests.transport.test_balance import random_pack
from tests.transport.test_many import TIMES, WATCHES, everything, some

ROOT = Path(__file__).resolve().parents[2]
Kept = tuple[Floats, Floats, Floats, Floats]


def room(n: int, outputs: int) -> Kept:
    return np.zeros((outputs, n + 1)), np.zeros((outputs, n + 1)), np.zeros(outputs), np.zeros(outputs)


def recorded(
    cut: Chain, air: Surroundings, times: Floats, scheme: Scheme, steps: Floats = NO_STEPS
) -> tuple[Kept, Floats]:
    """The compiled march, and the steps it took; `steps` are taken instead of its own where given."""
    taken, kept = np.zeros(20_000), room(cut.dry_mass.size, times.size)
    start, nothing = at_rest(cut, air, float(times[0])), watched(cut, [])
    code, _, count, _ = follow(
        start, times, cut, air, scheme, nothing, np.zeros(0), False, 1e-4, kept, 1.0, (taken, steps)
    )
    assert code == 0
    return kept, taken[:count].copy()


def alone(
    cut: Chain, air: Surroundings, times: Floats, scheme: Scheme, steps: Floats | None = None
) -> twin.Lockstep:
    """The numpy march of one scenario."""
    start, nothing = at_rest(cut, air, float(times[0])), watched(cut, [])
    replay = None if steps is None else [steps]
    return twin.lockstep(
        [start], times, [cut], [air], scheme, [nothing], False, 1e-4, ATTEMPTS_PER_RUN, np.ones(1), replay
    )


def replayed(cut: Chain, air: Surroundings, times: Floats, scheme: Scheme) -> tuple[float, float]:
    """Steps of the compiled march taken again in numpy: largest difference in water, relative to all of it, and the
    numpy march's imbalance."""
    kept, steps = recorded(cut, air, times, scheme)
    again, _ = recorded(cut, air, times, scheme, steps)
    assert np.array_equal(kept[0], again[0])
    got = alone(cut, air, times, scheme, steps)
    water = float(kept[0][0].sum())
    return float(np.abs(got.kept[0][0] - kept[0]).max()) / water, audit(got.kept[0][0], got.kept[2][0])


def leaky() -> tuple[Chain, Surroundings, Floats]:
    """A rim, a barrier with holes, air and temperature swinging together."""
    base = sandwich(heat=IsostericHeat(7000.0, 0.1))
    first, crumb, fat, paper, cream, *rest = base.parts
    parts = (
        first,
        crumb,
        replace(fat, openings=Openings("holes", 0.05, 1e-3)),
        paper,
        replace(cream, rim=0.4),
        *rest,
    )
    piece = replace(base, parts=parts, to_rim=path_to_rim(0.05, 0.05))
    times = np.arange(0.0, 3.01, 0.125) * DAY
    T = 293.0 - 14.0 * np.sin(2 * np.pi * times / DAY)
    g = 4e-9 * np.exp(0.05 * (T - 293.0))
    air = surroundings([Stretch(times, g, 0.7 + 0.2 * np.cos(times / DAY), T, 0.0)])
    cut = chain([piece], 1e-2, (float(T.min()), float(T.max())), cells_per_layer=6)
    return cut, air, np.arange(0.0, 3.01, 0.25) * DAY


def test_the_bounds_are_the_same_numbers() -> None:
    for name in ("FLATTEST", "STEEPEST", "LEAST", "WET"):
        assert getattr(twin_step, name) == getattr(kernel, name)
    for name in ("SLIGHT", "FIRST", "SHORTEST", "CROSSING_WIDTH", "DONE", "TOO_MANY", "STUCK"):
        assert getattr(twin, name) == getattr(kernel, name)


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4, RODAS4_CONTINUOUS], ids=lambda scheme: scheme.name)
def test_replayed_steps_give_the_same_water(scheme: Scheme) -> None:
    cut, air, times = leaky()
    difference, imbalance = replayed(cut, air, times, scheme)
    assert difference <= 1e-12
    assert imbalance <= 1e-12


def wet() -> tuple[Chain, Surroundings, Floats]:
    """Damp air chilled and warmed again in a wide room, over pieces behind a coat: water falls on the film and goes."""
    coat = Barrier("coat", 1e-4, 1e-11)
    layer = Layer("one", 3e-3, 5e-3, 0.06, gab("one", 0.06, 8.0, 0.95), Diffusivity(3e-11))
    times = np.arange(97) / 24 * DAY
    T = 294.0 + 6.0 * np.cos(2 * np.pi * times / (2 * DAY))
    air = surroundings([Stretch(times, np.full(times.size, 3e-7), np.full(times.size, 0.9), T, 0.0)])
    pieces = [Piece("slab", (layer, coat), 2e-3, (False, True), 200)]
    return chain(pieces, 1.0, (288.0, 300.0), cells_per_layer=8), air, times


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4, RODAS4_CONTINUOUS], ids=lambda scheme: scheme.name)
def test_replayed_with_water_on_the_film(scheme: Scheme) -> None:
    cut, air, times = wet()
    difference, imbalance = replayed(cut, air, times, scheme)
    assert difference <= 1e-12
    assert imbalance <= 1e-12
    lies = recorded(cut, air, times, scheme)[0][1][:, -1] > 1.0
    assert lies.any()
    assert not lies[-1]


@pytest.mark.parametrize("number", [0, 3, 6, 7, 8, 12, 16, 26])
def test_replayed_random_packs(number: int) -> None:
    cut, air, times = random_pack(number)
    difference, imbalance = replayed(cut, air, times, RODAS3)
    assert difference <= 1e-12
    assert imbalance <= 1e-12


def test_left_to_themselves_they_agree_within_the_tolerance() -> None:
    cut, air, times = leaky()
    kept, _ = recorded(cut, air, times, RODAS3)
    got = alone(cut, air, times, RODAS3)
    assert got.code.tolist() == [0]
    assert np.abs(got.kept[1][0] - kept[1]).max() <= 1e-4


def test_a_batch_without_the_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    """Scenarios of their own films, moistures, airs and limits, side by side."""
    chains, airs, draws, which = some(9)
    asked = {"draws": draws, "watches": WATCHES, "keep": many.KEPT, "threads": 2, **which}
    compiled = many.march_many(chains, airs, TIMES, **asked)
    monkeypatch.setattr(many, "compiled", lambda: False)
    plain = many.march_many(chains, airs, TIMES, **asked)
    assert np.array_equal(plain.steps, compiled.steps)
    assert np.isfinite(plain.crossings).any()
    for a, b in zip(everything(plain), everything(compiled), strict=True):
        assert a == pytest.approx(b, rel=1e-9, abs=1e-15, nan_ok=True)


def test_lots_hold_chains_of_one_structure() -> None:
    coarse = chain([sandwich()], 1e-4, (T25, T25), cells_per_layer=4)
    fine = chain([sandwich()], 1e-4, (T25, T25), cells_per_layer=5)
    chains = [coarse, fine, coarse, replace(fine, headspace=1.0), coarse]
    lots = twin.lots(chains, [RODAS3] * 4 + [RODAS4])
    assert [lot.tolist() for lot in lots] == [[0, 2], [1, 3], [4]]
    assert [lot.size for lot in twin.lots([coarse] * 300, [RODAS3] * 300)] == [256, 44]


def test_the_cap_and_the_early_stop() -> None:
    cut, air, times = leaky()
    start = at_rest(cut, air, 0.0)
    capped = twin.lockstep(
        [start], times, [cut], [air], RODAS3, [watched(cut, [])], False, 1e-4, 5, np.ones(1)
    )
    assert capped.code.tolist() == [kernel.TOO_MANY]
    crumb = cut.names.index("crumb")
    held = float(cut.start_moisture[cut.spans[crumb, 0]])
    met = watched(cut, [Watch("crumb", held * 0.999, rising=False)])
    stopped = twin.lockstep(
        [start], times, [cut], [air], RODAS3, [met], True, 1e-4, ATTEMPTS_PER_RUN, np.ones(1)
    )
    assert 1 < stopped.done[0] < times.size
    assert times[stopped.done[0] - 2] <= stopped.crossed[0, 0] <= times[stopped.done[0] - 1]


BLOCKED = """
import sys
class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "numba":
            raise ImportError("not here")
sys.meta_path.insert(0, Blocked())
from hardtack.cli import main
sys.exit(main(sys.argv[1:]))
"""


def without_numba(*arguments: str) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own where numba cannot be imported."""
    return subprocess.run(
        [sys.executable, "-c", BLOCKED, *arguments],
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_keep_answers_without_numba() -> None:
    from hardtack import keep, load

    file = "examples/crackers-with-dried-fruit.yaml"
    done = without_numba("keep", file, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    statement = keep(load(ROOT / file))
    assert told["days"] == pytest.approx(statement.end / DAY, abs=0.01)
    assert WITHOUT in told["cautions"]
    assert WITHOUT not in statement.cautions


def test_the_oven_says_that_it_needs_numba(monkeypatch: pytest.MonkeyPatch) -> None:
    done = without_numba("oven", "examples/bake-cracker.yaml")
    assert done.returncode != 0
    assert "needs numba" in done.stderr
    assert "Traceback" not in done.stderr
    monkeypatch.setattr(bake_march, "compiled", lambda: False)
    with pytest.raises(HardtackError, match="needs numba"):
        bake_march._run(*[None] * 9)  # type: ignore[arg-type]
