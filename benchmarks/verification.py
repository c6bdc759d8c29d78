"""Write docs/verification.md and its pictures: the march against exact solutions, another solver, and itself.

    python benchmarks/verification.py                 the page as committed, some minutes
    python benchmarks/verification.py --packs 60      fewer random packs

The cases are those of tests/transport, which hold every figure here to a limit; here they are run for their figures.
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.transport import test_balance as balance
from tests.transport import test_composite as composite
from tests.transport import test_crank as crank
from tests.transport import test_lanes as in_lanes
from tests.transport import test_lockstep as lockstep
from tests.transport import test_lumped
from tests.transport import test_manufactured as manufactured
from tests.transport import test_twin as twin
from tests.transport.chains import DAY, plain_python, radau, reference, sandwich

from hardtack.errors import HardtackError
from hardtack.states import Floats, IsostericHeat
from hardtack.transport import many
from hardtack.transport.chain import Ints, chain
from hardtack.transport.march import march
from hardtack.transport.rosenbrock import RODAS3, RODAS4
from hardtack.transport.surroundings import Stretch, surroundings

ROOT = Path(__file__).parents[1]
LOCKSTEP_PACKS = 30
Rows = list[dict[str, float | str]]


def orders(errors: Sequence[float]) -> list[float]:
    """Order between each error and the next, the cells or steps doubled."""
    return [float(np.log2(a / b)) for a, b in itertools.pairwise(errors)]


def crank_rows(cells: Sequence[int]) -> Rows:
    """Uptake at Fo = 0.05 against Crank's series."""
    rows: Rows = []
    for shape in ("slab", "cylinder", "sphere"):
        exact = crank.uptake(shape, 0.05)
        errors = [abs(crank.marched(shape, n, 0.05) - exact) for n in cells]
        for n, error, order in zip(cells, errors, [float("nan"), *orders(errors)], strict=True):
            rows.append({"case": shape, "cells": n, "error": error, "order": order})
    return rows


def manufactured_rows(cells: Sequence[int], steps: Sequence[int]) -> tuple[Rows, Rows]:
    """The exact solution with D(X), a curved isotherm and moving air: by cells, and by steps."""
    errors = [manufactured.error_of(n) for n in cells]
    space: Rows = [
        {"case": "D(X), GAB, moving air", "cells": n, "error": e, "order": o}
        for n, e, o in zip(cells, errors, [float("nan"), *orders(errors)], strict=True)
    ]
    cut, water = manufactured.ready(20)

    def end(n: int, scheme: object) -> Floats:
        air = manufactured.fitted_air(400, np.inf)
        run = march(
            cut, air, np.linspace(0, manufactured.END, n + 1), start=water, tolerance=1e9, scheme=scheme
        )  # type: ignore[arg-type]
        final: Floats = run.water[-1, :-1] / cut.dry_mass
        return final

    time: Rows = []
    for scheme in (RODAS3, RODAS4):
        exact = end(400, RODAS4)
        wrong = [float(np.abs(end(n, scheme) - exact).max()) for n in steps]
        time += [
            {"case": scheme.name, "steps": n, "error": e, "order": o}
            for n, e, o in zip(steps, wrong, [float("nan"), *orders(wrong)], strict=True)
        ]
    return space, time


def against_radau() -> list[tuple[str, float]]:
    """Largest difference in activity from scipy's Radau at 1e-9 on the equations written anew."""
    figures = []
    for shape in ("slab", "cylinder", "sphere"):
        piece, T = sandwich(shape, composite.HEAT), 303.15  # type: ignore[arg-type]
        times = np.array([0.0, 10.0]) * DAY
        cut, air = (
            chain([piece], composite.ROOM, (T, T), cells_per_layer=composite.CELLS),
            composite.constant(T),
        )
        rate = reference(piece, composite.CELLS, composite.ROOM, lambda t: (composite.G, 0.7, 303.15))
        states = radau(rate, composite.start(cut, air), times)
        exact = composite.activities(piece, states, np.full(2, T))
        got = march(cut, air, times, tolerance=1e-8, scheme=RODAS4)
        figures.append(
            (f"three layers, four barriers, {shape}, constant air", float(np.abs(got.activity - exact).max()))
        )
    figures.append(("the same slab, film, air and temperature swinging together", swinging()))
    return figures


def swinging() -> float:
    """a(X, T), every conductance and the air move together for a day."""
    piece = sandwich(heat=IsostericHeat(9000.0, 0.08))
    times = np.arange(0.0, 1.01, 0.25) * DAY
    T = 295.0 + 9.0 * np.sin(2 * np.pi * times / (1.3 * DAY))
    g, a_out = composite.G * np.exp(0.05 * (T - 295.0)), 0.6 - 0.2 * np.sin(2 * np.pi * times / (1.3 * DAY))
    cut = chain([piece], composite.ROOM, (float(T.min()), float(T.max())), cells_per_layer=composite.CELLS)
    air = surroundings([Stretch(times, g, a_out, T, 0.0)])

    def between(t: float) -> tuple[float, float, float]:
        g_t = float(np.interp(t, times, g))
        return g_t, float(np.interp(t, times, g * a_out)) / g_t, float(np.interp(t, times, T))

    states = radau(
        reference(piece, composite.CELLS, composite.ROOM, between), composite.start(cut, air), times
    )
    got = march(cut, air, times, tolerance=1e-8, scheme=RODAS4)
    return float(np.abs(got.activity - composite.activities(piece, states, T)).max())


def random_packs(count: int) -> tuple[Floats, Floats, int]:
    """Water imbalance and step attempts of invented packs like those of tests/transport/test_balance.py, and how many of
    them could not be followed to the end."""
    imbalance, attempts, stopped = [], [], 0
    for number in range(count):
        cut, air, times = balance.random_pack(number)
        try:
            run = march(cut, air, times)
        except HardtackError:
            stopped += 1
            continue
        imbalance.append(run.imbalance)
        attempts.append(run.attempts)
    return np.array(imbalance), np.array(attempts, dtype=float), stopped


def packs_in_lanes(count: int) -> tuple[int, float, int]:
    """The same packs, two films of each, as batches in lanes: how many of these scenarios lanes held to the end, their
    largest imbalance, and how many could not be followed at all."""
    held, worst, stopped = 0, 0.0, 0
    enough, alone = many.ENOUGH, many._one_by_one

    def counted(job: many._Job, part: Ints, *rest: object) -> None:
        nonlocal held
        held -= part.size
        alone(job, part, *rest)  # type: ignore[arg-type]

    many.ENOUGH, many._one_by_one = 1, counted
    try:
        for number in range(count):
            cut, air, times = balance.random_pack(number)
            got = many.march_many([cut], [air], times, draws=many.Draws(film=np.array([1.0, 1.1])), threads=1)
            held, worst, stopped = (
                held + 2,
                max(worst, float(np.nanmax(got.imbalance))),
                stopped + got.failed.size,
            )
    finally:
        many.ENOUGH, many._one_by_one = enough, alone
    return held, worst, stopped


def lanes_replayed(packs: int) -> tuple[float, int]:
    """The scalar march's steps taken again in lanes: largest difference of water, relative to all of it, and of how many
    packs; those with air that lanes do not take, or with water on the film, are left out."""
    differences = []
    for cut, air, times in [in_lanes.warm(), *(balance.random_pack(k) for k in range(packs))]:
        kept, steps = lockstep.recorded(cut, air, times, RODAS3)
        got = in_lanes.alike(cut, air, times, RODAS3, 1, steps)
        if not air.swings and got.code[0] == 0:
            differences.append(float(np.abs(got.water[0] - kept[0]).max() / kept[0][0].sum()))
    return max(differences), len(differences)


def replayed() -> float:
    """Compiled against the same arithmetic as plain Python, in a process of its own: largest relative difference."""
    plain = plain_python(
        "import sys; from tests.transport.test_twin import *; sys.stdout.write(summary(small_run()).tobytes().hex())"
    )
    got, compiled = np.frombuffer(bytes.fromhex(plain.stdout)), twin.summary(twin.small_run())
    big = np.abs(compiled) > 1e-12
    return float(np.abs(got[big] / compiled[big] - 1.0).max())


def in_lockstep(packs: int) -> tuple[float, float, float]:
    """The compiled march's steps taken again in numpy, for invented packs, leaky ones and water on the film: largest
    difference of water, relative to all of it; largest imbalance in numpy; and, each with its own steps, in activity."""
    cases = [lockstep.leaky(), lockstep.wet(), *(balance.random_pack(k) for k in range(packs))]
    differences, imbalances, apart = [], [], []
    for cut, air, times in cases:
        difference, imbalance = lockstep.replayed(cut, air, times, RODAS3)
        differences.append(difference)
        imbalances.append(imbalance)
        free = lockstep.alone(cut, air, times, RODAS3)
        kept, _ = lockstep.recorded(cut, air, times, RODAS3)
        apart.append(float(np.abs(free.kept[1][0] - kept[1]).max()))
    return max(differences), max(imbalances), max(apart)


def lumped() -> float:
    """A piece without inner resistance in next to no gas, against the quadrature: largest difference in activity."""
    cut, air, course = test_lumped.lumped_case(test_lumped.BISCUIT, 0.15, 0.75)
    times = np.linspace(0.0, 3.0, 31) * (0.2 / 1e-9) * 0.15
    run = march(cut, air, times, tolerance=1e-9, scheme=RODAS4)
    return float(np.abs(run.activity[1:, :-1] - course.activity(times[1:])[:, None]).max())


def table(rows: Rows) -> str:
    """Markdown."""
    keys = list(rows[0])
    lines = ["| " + " | ".join(keys) + " |", "|" + " --- |" * len(keys)]
    for row in rows:
        cells = [f"{x:.2e}" if key == "error" else f"{x:.2f}" if key == "order" and x == x else "" if key == "order" else str(x) for key, x in row.items()]  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def lines_plot(rows: Rows, x: str, title: str, path: Path) -> None:
    """Error against cells or steps, both in logarithms, with a line of second order."""
    import vl_convert

    first = rows[0]
    least, cells = 0.5 * float(first["error"]), float(first[x])
    guide = [
        {"case": "second order", x: row[x], "error": least * (cells / float(row[x])) ** 2}
        for row in rows
        if row["case"] == first["case"]
    ]
    log = {"type": "quantitative", "scale": {"type": "log", "nice": False}}
    one = {"field": "case", "type": "nominal", "title": None, "sort": None}
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": 420,
        "height": 280,
        "data": {"values": [{key: row[key] for key in ("case", x, "error")} for row in [*rows, *guide]]},
        "mark": {"type": "line", "point": True},
        "encoding": {
            "x": {"field": x, "title": f"number of {x}", **log},
            "y": {"field": "error", "title": title, "axis": {"format": ".0e"}, **log},
            "strokeDash": one,
            "shape": one,
            "color": one,
        },
    }
    path.write_text(vl_convert.vegalite_to_svg(json.dumps(spec)), encoding="utf-8")


def histogram(imbalance: Floats, path: Path) -> None:
    """How many packs have an imbalance of which size."""
    import vl_convert

    decade = np.log10(np.maximum(imbalance, 1e-18))
    spec = {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": 420,
        "height": 200,
        "data": {"values": [{"decade": float(x)} for x in decade]},
        "mark": {"type": "bar", "color": "#666"},
        "encoding": {
            "x": {
                "field": "decade",
                "bin": {"step": 0.5},
                "title": "log10 of the water imbalance, relative (limit: -12)",
            },
            "y": {"aggregate": "count", "title": "packs"},
        },
    }
    path.write_text(vl_convert.vegalite_to_svg(json.dumps(spec)), encoding="utf-8")


PAGE = """# Verification

What the march of water is held to, with the figures of one run. `python benchmarks/verification.py` writes this page;
the tests in `tests/transport` hold the same cases to limits. Validation, against what was measured on goods, is another matter:
see the [evidence](evidence.md).

## Uptake by a slab, a cylinder and a sphere

Against the series of Crank (The Mathematics of Diffusion, 2nd ed. 1975, eq. 4.18, 5.23, 6.20) at Fo = 0.05. Asked: order 1.95 to 2.05.

{crank}

![Error of uptake against the number of cells](pictures/verification-crank.svg)

## An exact solution with D(X), a curved isotherm and moving air

u = exp(s X) turns the equation into u_t = D0 u u_xx, which u = (F + λ x²/2)/(1 − D0 λ t) solves; film and air are made to
bring just that water, while the gas space takes up its own. Order in space:

{space}

![Error against the number of cells](pictures/verification-space.svg)

Order in time, at 20 cells, in steps that span many pieces of air (which is made straight over each step):

{time}

![Error against the number of steps](pictures/verification-time.svg)

## Layers, barriers and swinging air against another solver

The equations written a second time, without tables, and carried by scipy's Radau IIA at 10⁻⁹; largest difference in activity,
over cells and headspace.

{radau}

## Balance and robustness

{packs} invented packs (one to eight layers in three shapes, diffusivities from 10⁻¹⁴ to 10⁻⁸ m²/s, wild air, also unpacked): {stopped}.
Step attempts: median {median:.0f}, most {most:.0f}. Water imbalance, relative to the water in the piece: median {middle:.1e},
largest {worst:.1e}; above 10⁻¹² a run stops with an error.
Two films of each as batches in lanes: {lanes_stopped}. Lanes held {lanes_held:.0%} of them, the scalar march took
the rest from their start: they met what lanes do not hold; largest imbalance {lanes_worst:.1e}.

![Water imbalance of the packs](pictures/verification-balance.svg)

## Twins and limits

| what | figure | asked |
| --- | --- | --- |
| compiled against the same arithmetic as plain Python, relative | {replay:.1e} | 1e-12 |
| the march in numpy, at the compiled one's recorded steps, {lockstep_packs} packs, relative to the water | {replay_numpy:.1e} | 1e-12 |
| its water imbalance | {numpy_imbalance:.1e} | 1e-12 |
| the two with steps of their own, in activity | {apart:.1e} | 1e-4, the tolerance |
| lanes, at the scalar march's recorded steps, {lanes_packs} packs, relative to the water | {replay_lanes:.1e} | 1e-12 |
| without inner resistance, against the quadrature, in activity | {lumped:.1e} | 1e-7 |

## Speed

How fast it is, against LSODA (ODEPACK), CVODE (SUNDIALS) and BDF at equal error: see [speed](speed.md).
"""


def _followed(stopped: int) -> str:
    return "all were followed to the end" if stopped == 0 else f"{stopped} could not be followed to the end"


def main(packs: int, docs: Path) -> None:
    """Write the page and its pictures."""
    pictures = docs / "pictures"
    spheres = crank_rows((10, 20, 40, 80, 160))
    space, time = manufactured_rows((10, 20, 40, 80, 160), (8, 16, 32, 64))
    imbalance, attempts, stopped = random_packs(packs)
    replay_numpy, numpy_imbalance, apart = in_lockstep(min(packs, LOCKSTEP_PACKS))
    held, lanes_worst, lanes_stopped = packs_in_lanes(packs)
    replay_lanes, lanes_packs = lanes_replayed(min(packs, LOCKSTEP_PACKS))
    lines_plot(spheres, "cells", "error of relative uptake", pictures / "verification-crank.svg")
    lines_plot(space, "cells", "largest error of moisture [kg/kg]", pictures / "verification-space.svg")
    lines_plot(time, "steps", "largest error of moisture [kg/kg]", pictures / "verification-time.svg")
    histogram(imbalance, pictures / "verification-balance.svg")
    differences = "\n".join(
        ["| case | difference |", "| --- | --- |", *(f"| {a} | {b:.1e} |" for a, b in against_radau())]
    )
    page = PAGE.format(
        crank=table(spheres),
        space=table(space),
        time=table(time),
        radau=differences,
        packs=packs,
        stopped=_followed(stopped),
        median=float(np.median(attempts)),
        most=float(attempts.max()),
        middle=float(np.median(imbalance)),
        worst=float(imbalance.max()),
        replay=replayed(),
        lockstep_packs=min(packs, LOCKSTEP_PACKS) + 2,
        replay_numpy=replay_numpy,
        numpy_imbalance=numpy_imbalance,
        apart=apart,
        lanes_stopped=_followed(lanes_stopped),
        lanes_held=held / (2 * packs),
        lanes_worst=lanes_worst,
        lanes_packs=lanes_packs,
        replay_lanes=replay_lanes,
        lumped=lumped(),
    )
    (docs / "verification.md").write_text(page, encoding="utf-8")
    print(f"{docs / 'verification.md'} written")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--packs", type=int, default=3000, help="number of random packs")
    parser.add_argument("--docs", type=Path, default=ROOT / "docs", help="folder to write to")
    given = parser.parse_args()
    main(given.packs, given.docs)
