"""Rims, holes and cracks: textbook resistances, limits, an independent solution, and that they only change how fast.

Published: torsion of rectangular bars, Timoshenko & Goodier, Theory of Elasticity, art. 109, table 3 (from memory);
constriction against a finite-volume solution of Laplace's equation here.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.linalg import spsolve

from hardtack.errors import HardtackError
from hardtack.states import Barrier, Diffusivity, Floats, Layer, Openings, Piece
from hardtack.transport.chain import Chain, chain
from hardtack.transport.march import March, march
from hardtack.transport.resistance import barrier_resistance, inside_resistance, rim_conductance
from hardtack.transport.rosenbrock import RODAS4
from hardtack.transport.side_links import gathering, path_to_ends, path_to_rim, path_to_round_rim
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.water.air import saturation_pressure
from hardtack.water.isotherm import activity, activity_and_slope
from hardtack.water.mixing import Component, common_activity
from tests.transport import test_balance as balance
from tests.transport.chains import DAY, T25, gab, radau, reference

ROOM, CELLS = 1e-4, 6


@pytest.mark.parametrize(
    ("ratio", "k1"), [(1.0, 0.1406), (1.5, 0.196), (2.0, 0.229), (3.0, 0.263), (10.0, 0.312)]
)
def test_a_rectangle_lags_by_its_torsion_constant(ratio: float, k1: float) -> None:
    b = 0.03
    assert path_to_rim(ratio * b, b) == pytest.approx(k1 * ratio * b**4 / (4 * ratio * b**2), rel=2e-3)
    assert path_to_rim(b, ratio * b) == path_to_rim(ratio * b, b)


def test_long_strips_discs_and_rods() -> None:
    assert path_to_rim(1e4, 0.02) == pytest.approx(0.02**2 / 12, rel=1e-5)
    h, kappa, R = 4e-3, 3e-9, 0.02
    area = math.pi * R**2
    assert path_to_round_rim(area) / (area * h * kappa) == pytest.approx(1 / (8 * math.pi * h * kappa))
    assert path_to_ends(0.1) == pytest.approx(path_to_rim(1e6, 0.1), rel=1e-5)


def constriction(share: float, *, round_hole: bool) -> float:
    """Extra length, in widths of the opening, by which a face open to `share` lengthens the way to it.

    Finite volumes on half a period (or on the tube about one hole), the opening held at 0, a steady flow from afar; two
    grids, carried on to none: the corner of an opening makes the error fall with the first power of the cell.
    """
    reach = math.sqrt(share) if round_hole else share  # opening over period, or radius over radius
    n = max(4, round(60 * reach))
    coarse, fine = (_laplace(reach, cells, round_hole) for cells in (n, 2 * n))
    return (2 * fine - coarse) / (2 * reach)


def _laplace(reach: float, n: int, round_hole: bool) -> float:
    m, d = round(n / reach), reach / n  # cells across half a period, and their width in half periods
    deep = round(1.5 / d)
    x = np.arange(m + 1) * d
    face = np.diff(x**2) / 2 if round_hole else np.diff(x)  # per radian, or per metre
    side = x[1:-1] if round_hole else np.ones(m - 1)
    index = np.arange(m * deep).reshape(deep, m)
    rows, columns, values = [], [], []
    diagonal = np.zeros(m * deep)

    def join(i: Floats, j: Floats, G: Floats) -> None:
        for a, b in ((i, j), (j, i)):
            rows.append(a)
            columns.append(b)
            values.append(-G)
            np.add.at(diagonal, a, G)

    for layer in range(deep):
        join(index[layer, :-1], index[layer, 1:], side)
        if layer + 1 < deep:
            join(index[layer], index[layer + 1], face / d)
    diagonal[index[0, :n]] += face[:n] / (d / 2)
    flow = np.zeros(m * deep)
    flow[index[-1]] = face
    everything = [
        np.concatenate([*part, extra])
        for part, extra in zip((rows, columns), [index.ravel()] * 2, strict=True)
    ]
    matrix = coo_array((np.concatenate([*values, diagonal]), tuple(everything))).tocsr()
    u = spsolve(matrix, flow)
    return float(u[index[-1]] @ face / face.sum() - (deep - 0.5) * d)


@pytest.mark.parametrize("share", [0.04, 0.25])
def test_water_gathers_to_holes_and_cracks_as_laplace_says(share: float) -> None:
    assert gathering(Openings("holes", share, 1.0)) == pytest.approx(
        constriction(share, round_hole=True), rel=0.01
    )
    assert gathering(Openings("cracks", share, 1.0)) == pytest.approx(
        constriction(share, round_hole=False), rel=0.01
    )


def test_one_hole_in_a_wide_film_is_the_classical_one() -> None:
    """Number of holes per area n, each with 1/(2 d kappa) on either side."""
    d, n = 1e-3, 1.0
    share = n * math.pi * d**2 / 4
    assert gathering(Openings("holes", share, d)) == pytest.approx(1 / (2 * d * n), rel=2e-3)


def filled(
    *, rim: float = 0.0, fat: Barrier | None = None, coat: Barrier | None = None, effect: float = 1.0
) -> Piece:
    """A moist filling at one end, fat, a dry shell with D(X) and a vapour path, a coat; the last end open."""
    filling = Layer(
        "filling", 4e-3, 6e-3, 0.12, gab("f", 0.06, 6.0, 0.98), Diffusivity(6e-11 * effect), rim=rim
    )
    shell = Layer(
        "shell", 3e-3, 5e-3, 0.03, gab("s", 0.05, 14.0, 0.92), Diffusivity(3e-11, 6.0, 0.05),
        vapour_permeability=4e-12,
    )  # fmt: skip
    fat = fat or Barrier("fat", 0.3e-3, 3e-9, 293.15, 45e3)
    parts = [part for part in (filling, fat, shell, coat) if part is not None]
    return Piece("slab", tuple(parts), 2.5e-3, (False, True), 6, to_rim=path_to_rim(0.05, 0.05))


def still(g: float = 3e-9, last: float = 200.0, T: float = T25) -> Surroundings:
    return surroundings([Stretch(np.array([0.0, last]) * DAY, np.full(2, g), np.full(2, 0.6), np.full(2, T))])


def cut(piece: Piece, T: tuple[float, float] = (T25, T25)) -> Chain:
    return chain([piece], ROOM, T, cells_per_layer=CELLS)


def run(piece: Piece, g: float = 3e-9) -> March:
    return march(cut(piece), still(g), np.linspace(0.0, 200.0, 5) * DAY)


def test_limits_are_the_plain_cases_to_the_bit() -> None:
    fat = Barrier("fat", 0.3e-3, 3e-9, 293.15, 45e3)
    whole = run(filled(fat=fat)).water
    assert np.array_equal(run(filled(fat=replace(fat, openings=Openings("holes", 0.0, 1e-3)))).water, whole)
    bare = replace(filled(), parts=filled().layers)
    gone = filled(fat=replace(fat, openings=Openings("holes", 1.0, 1e-3)))
    assert np.array_equal(run(gone).water, run(bare).water)
    assert np.array_equal(run(filled(rim=0.0)).water, run(replace(filled(), to_rim=0.0)).water)
    # and near its limits an opening is near them
    nearly = [
        run(filled(fat=replace(fat, openings=Openings("holes", o, 1e-3)))).water for o in (1e-9, 1 - 1e-9)
    ]
    assert nearly[0] == pytest.approx(whole, rel=1e-5)
    assert nearly[1] == pytest.approx(run(bare).water, rel=1e-3)


def test_holes_do_not_depend_on_the_number_of_cells() -> None:
    leaky = Barrier("fat", 0.3e-3, 1e-12, openings=Openings("holes", 0.05, 1e-3))
    ends = []
    for n in (10, 20, 40):
        row = chain([filled(fat=leaky)], ROOM, (T25, T25), cells_per_layer=n)
        ends.append(
            march(row, still(0.0), np.array([0.0, 20.0]) * DAY, tolerance=1e-6).layer_moisture(row)[-1]
        )
    assert abs(ends[2] - ends[1]).max() < 2e-5
    assert abs(ends[1] - ends[0]).max() < 1e-4


def test_a_filling_feeds_the_shell_through_the_headspace() -> None:
    tight = Barrier("fat", 0.3e-3, 1e-30)
    shut, opened = (run(filled(rim=rim, fat=tight), g=0.0) for rim in (0.0, 0.3))
    row = cut(filled())
    assert np.ptp(shut.layer_moisture(row)[:, 0]) < 1e-15
    X = opened.layer_moisture(row)
    assert X[-1, 0] < X[0, 0] - 0.01
    assert X[-1, 1] > X[0, 1] + 0.01
    fed = (X[-1] - X[0]) * np.array([6e-3, 5e-3]) * 6
    assert fed[0] == pytest.approx(-fed[1], abs=2e-3 * 18.0 * ROOM)  # all but what the headspace holds
    more = run(filled(rim=0.6, fat=tight), g=0.0).layer_moisture(row)
    assert np.all(more[1:, 1] > X[1:, 1])


ENDS = [
    filled(),
    filled(rim=0.4),
    filled(effect=0.3),
    filled(fat=Barrier("fat", 0.3e-3, 3e-11 * 0.5, openings=Openings("holes", 0.1, 2e-3))),
    filled(rim=1.0, coat=Barrier("coat", 1e-3, 1e-11, openings=Openings("cracks", 0.005, 1e-4)), effect=2.0),
]


@pytest.mark.parametrize("piece", ENDS, ids=["plain", "rim", "emulsifier", "holes", "all"])
def test_none_of_it_moves_the_end(piece: Piece) -> None:
    """Shut up for years, all layers end at the common activity of `water.mixing`, however fast they get there."""
    row = chain([piece], 1e-9, (T25, T25), cells_per_layer=CELLS)  # next to no gas, which mixing leaves out
    last = march(row, still(0.0, 2e5), np.array([0.0, 2e5]) * DAY, tolerance=1e-6)
    parts = [Component(p.name, p.dry_mass * piece.count, p.isotherm, p.moisture) for p in piece.layers]
    common = common_activity(parts, T25).activity
    X = last.layer_moisture(row)[-1]
    a = [float(activity(p.isotherm, x, T25)) for p, x in zip(piece.layers, X, strict=True)]
    assert a == pytest.approx([common, common], abs=1e-6)
    assert np.abs(last.activity[-1, :-1] - common).max() < 1e-6


def test_against_radau_with_rim_holes_and_cracks() -> None:
    """The cells' own equations from `tests/transport/chains.py`, the side links written down anew; swinging air."""
    fat = Barrier("fat", 0.3e-3, 2e-10, 293.15, 45e3, Openings("holes", 0.08, 0.8e-3))
    coat = Barrier("coat", 1e-3, 4e-11, T25, 35e3, Openings("cracks", 0.01, 2e-4))
    piece = filled(rim=0.35, fat=fat, coat=coat)
    rate = _with_side_links(piece, fat, coat)
    row, T0 = cut(piece, (288.15, 308.15)), 298.15
    times = np.linspace(0.0, 2.0, 17) * DAY
    T = T0 + 9.0 * np.sin(2 * np.pi * times / DAY)
    air = surroundings([Stretch(times, np.full(17, 5e-9), np.full(17, 0.6), T, 0.0)])
    first = march(row, air, times[:1]).water[0]
    y0 = np.append(first[:-1] / row.dry_mass, first[-1])
    states = radau(lambda t, y: rate(float(np.interp(t, times, T)), y), y0, times)
    got = march(row, air, times, tolerance=1e-8, scheme=RODAS4)
    X = got.water[:, :-1] / row.dry_mass
    assert np.abs(X - states[:, :-1]).max() < 2e-7
    assert got.water[:, -1] == pytest.approx(states[:, -1], rel=1e-5)
    assert np.ptp(X, axis=0).min() > 1e-4
    plain = (
        march(cut(filled(), (288.15, 308.15)), air, times, tolerance=1e-8, scheme=RODAS4).water[:, :-1]
        / row.dry_mass
    )
    assert np.abs(X - plain).max() > 1e-3  # so that the agreement says something about the links


def _with_side_links(piece: Piece, fat: Barrier, coat: Barrier):  # type: ignore[no-untyped-def]
    """dX/dt and the gas space: within layers as in `reference`, all that meets a barrier or the gas space by hand."""
    tight = tuple(
        replace(part, permeance=1e-40, openings=None) if isinstance(part, Barrier) else part
        for part in piece.parts
    )
    inside = reference(replace(piece, parts=tight), CELLS, ROOM, lambda t: (5e-9, 0.6, t))
    row = cut(replace(piece, to_rim=piece.to_rim))
    n, area, count = 2 * CELLS, 2.5e-3, 6
    thick = row.dry_mass / (count * area) * np.repeat([4e-3 / (6e-3 / area), 3e-3 / (5e-3 / area)], CELLS)

    def kappa(layer: Layer, X: Floats, T: float) -> tuple[Floats, Floats]:
        a, rise = activity_and_slope(layer.isotherm, X, T)
        D = layer.diffusivity
        rho = layer.dry_mass / (area * layer.thickness)
        solid = rho * D.D_ref * np.exp(D.slope * (X - D.X_ref)) / rise
        return a, solid + layer.vapour_permeability * saturation_pressure(T)

    def passage(barrier: Barrier, T: float) -> float:
        heat = math.exp(-barrier.E / 8.31446261815324 * (1 / T - 1 / barrier.T_ref))
        return barrier.permeance * heat * float(saturation_pressure(T)) * area

    e = math.sqrt(0.08)
    neighbours = 1 - 1.40978 * e + 0.34406 * e**3 + 0.0435 * e**5 + 0.02271 * e**7
    holes = math.pi * 0.8e-3 / 8 / 0.08 * neighbours
    cracks = 2e-4 / math.pi / 0.01 * math.log(1 / math.sin(0.005 * math.pi))

    def rate(T: float, y: Floats) -> Floats:
        flat = y.reshape(n + 1, -1)
        dy = inside(T, y)
        filling, shell = piece.layers
        psat = float(saturation_pressure(T))
        a_gas = flat[n] / (ROOM * psat * 0.01801528 / (8.31446261815324 * T))
        gas = np.zeros(flat.shape[1])
        dry = row.dry_mass / count
        a_f, k_f = kappa(filling, flat[:CELLS], T)
        a_s, k_s = kappa(shell, flat[CELLS:n], T)
        # rim of the filling: R^2/8's equal of a square of 50 mm, 0.140577 of its torsion, over 4 areas
        out = 0.35 * k_f * (area * thick[:CELLS, None]) / (0.1405770 * 0.05**2 / 4) * (a_f - a_gas)
        dy[:CELLS] -= out / dry[:CELLS, None]
        gas += out.sum(axis=0)
        # through the fat and its holes
        half = thick[CELLS - 1] / 2 / area / k_f[-1] + thick[CELLS] / 2 / area / k_s[0]
        film = 1 / (0.92 * passage(fat, T) + area / (holes * (1 / k_f[-1] + 1 / k_s[0])))
        through = (a_f[-1] - a_s[0]) / (half + film)
        dy[CELLS - 1] -= through / dry[CELLS - 1]
        dy[CELLS] += through / dry[CELLS]
        # through the coat and its cracks
        film = 1 / (0.99 * passage(coat, T) + area * k_s[-1] / cracks)
        out = (a_s[-1] - a_gas) / (thick[-1] / 2 / area / k_s[-1] + film)
        dy[n - 1] -= out / dry[n - 1]
        dy[n] += count * (gas + out)
        return dy

    return rate


def test_random_packs_with_side_links() -> None:
    """Balance (held by `march`), bounds, and that no march gets stuck."""
    rng = np.random.default_rng(77)
    attempts = []
    for number in range(40):
        T = float(rng.uniform(278, 308))
        pieces = [_linked(balance.piece(rng, None, T), rng) for _ in range(rng.integers(1, 3))]
        air = balance.journey(rng, np.array([T]), sum(p.area * p.count for p in pieces), True)
        row = chain(
            pieces, balance.between(rng, 1e-6, 1e-2), (T, T), cells_per_layer=int(rng.choice([4, 10]))
        )
        got = march(row, surroundings(air), np.linspace(0.0, air[-1].times[-1], 8))
        attempts.append(got.attempts)
        assert 0.0 <= got.activity[:, :-1].min() <= got.activity[:, :-1].max() <= 1.0, number
    assert max(attempts) < 3000


def _linked(piece: Piece, rng: np.random.Generator) -> Piece:
    parts: list[Layer | Barrier] = []
    before: Layer | Barrier | None = None
    for part in piece.parts:
        if isinstance(part, Layer) and piece.shape != "sphere":
            part = replace(part, rim=float(rng.choice([0.0, rng.random()])))
        elif isinstance(part, Barrier) and not isinstance(before, Barrier):
            kind = "holes" if rng.random() < 0.5 else "cracks"
            part = replace(
                part,
                openings=Openings(kind, balance.between(rng, 1e-4, 0.9), balance.between(rng, 1e-5, 5e-3)),
            )
        parts.append(part)
        before = part
    return replace(piece, parts=tuple(parts), to_rim=balance.between(rng, 1e-6, 1e-3))


def test_resistances_for_reading_off() -> None:
    leaky = Barrier("fat", 0.3e-3, 3e-10, openings=Openings("holes", 0.1, 1e-3))
    piece = filled(fat=leaky, rim=0.5)
    whole = filled(fat=replace(leaky, openings=None))
    assert barrier_resistance(piece, leaky, T25) < barrier_resistance(whole, whole.parts[1], T25)
    gone = replace(leaky, openings=Openings("holes", 1.0, 1e-3))
    assert barrier_resistance(filled(fat=gone), gone, T25) == 0.0
    filling = piece.layers[0]
    rim = rim_conductance(piece, filling, filling.moisture, T25)
    _, rise = activity_and_slope(filling.isotherm, filling.moisture, T25)
    kappa = filling.dry_mass / (2.5e-3 * 4e-3) * 6e-11 / float(rise)
    assert rim == pytest.approx(0.5 * 6 * kappa * 2.5e-3 * 4e-3 / path_to_rim(0.05, 0.05))
    X = tuple(layer.moisture for layer in piece.layers)
    assert 1 / inside_resistance(piece, X, T25) > 1 / inside_resistance(
        replace(piece, parts=(replace(filling, rim=0.0), *piece.parts[1:])), X, T25
    )


@pytest.mark.parametrize(
    ("piece", "match"),
    [
        (filled(rim=1.5), "rim open to 1.5"),
        (filled(rim=float("nan")), "rim open to nan"),
        (replace(filled(rim=0.2), to_rim=0.0), "without an edge"),
        (filled(fat=Barrier("fat", 1e-4, 1e-9, openings=Openings("holes", -0.1, 1e-3))), "open to -0.1"),
        (filled(fat=Barrier("fat", 1e-4, 1e-9, openings=Openings("holes", 0.1, 0.0))), "width of an opening"),
    ],
)
def test_bad_side_links(piece: Piece, match: str) -> None:
    with pytest.raises(HardtackError, match=match):
        cut(piece)


def test_two_barriers_with_holes_on_one_face_are_refused() -> None:
    holes = Openings("holes", 0.1, 1e-3)
    first, second = (Barrier(name, 1e-4, 1e-9, openings=holes) for name in ("fat", "paper"))
    filling, _, shell = filled().parts
    with pytest.raises(HardtackError, match="both have openings"):
        cut(replace(filled(), parts=(filling, first, second, shell)))
    pairs = itertools.permutations((first, replace(second, openings=None)))
    both = [run(replace(filled(), parts=(filling, *pair, shell))).water[-1] for pair in pairs]
    assert both[0] == pytest.approx(both[1], rel=1e-9)  # in a row, either way round
