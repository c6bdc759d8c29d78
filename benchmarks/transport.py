"""The storage cases of the benchmark: one invented pack, its air, the march and its peers. `speed.py` runs them."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import peers
import vectors
from equal_error import Point, Run, cpu, sweep
from peers import Rate, compiled_rate, numpy_rate, problem

from hardtack.states import Barrier, Diffusivity, Floats, IsostericHeat, Isotherm, Layer, Piece
from hardtack.transport import many
from hardtack.transport.chain import Chain, chain
from hardtack.transport.many import Draws, march_many
from hardtack.transport.march import at_rest, march
from hardtack.transport.rosenbrock import RODAS3, RODAS4, RODAS4_CONTINUOUS, Scheme
from hardtack.transport.surroundings import Stretch, Surroundings, surroundings
from hardtack.units import DAY
from hardtack.water.air import saturation_pressure
from hardtack.water.isotherm import activity_and_slope

T = 298.15
DAYS = np.arange(366) * DAY
HOURS = np.arange(365 * 24 + 1) * 3600.0
G = 3e-9
TARGET = 1e-5
SWING = T + 7 * np.cos(2 * np.pi * (HOURS / DAY - 14 / 24)) + 3 * np.sin(2 * np.pi * HOURS / (9 * DAY))
"""Invented hourly temperature [K]: by the day, and fronts."""


def piece() -> Piece:
    """Invented: a soft filling and a cracker with fat between, activities that rise with temperature, D(X)."""
    heat = IsostericHeat(8000.0, 0.1)
    filling = Isotherm("filling", "gab", {"Xm": 0.07, "C": 9.0, "K": 0.97}, heat=heat)
    cracker = Isotherm("cracker", "gab", {"Xm": 0.06, "C": 10.0, "K": 0.95}, heat=heat)
    return Piece(
        "slab",
        (
            Layer("filling", 5e-3, 8e-3, 0.12, filling, Diffusivity(6e-11, 5.0, 0.1, T, 30e3)),
            Barrier("fat", 3e-4, 3e-10, T, 40e3),
            Layer("cracker", 3e-3, 5e-3, 0.03, cracker, Diffusivity(2e-11, 6.0, 0.05, T, 30e3)),
        ),
        2.5e-3,
        (False, True),
        6,
    )


def cut(cells: int = 40) -> Chain:
    """Curves of three temperatures, as on a journey that swings: the march interpolates among them."""
    return chain([piece()], 1e-4, (T - 2.5, T + 2.5), cells_per_layer=cells // 2)


def steady() -> Surroundings:
    """Constant air."""
    return surroundings([Stretch(DAYS[[0, -1]], np.full(2, G), np.full(2, 0.6), np.full(2, T))])


def humidity() -> Floats:
    """Invented hourly weather, and a film that lets through more when it is damp."""
    noise = 0.04 * np.random.default_rng(7).standard_normal(HOURS.size)
    daily, season = 0.12 * np.sin(2 * np.pi * HOURS / DAY), 0.08 * np.sin(2 * np.pi * HOURS / (365 * DAY))
    return np.clip(0.55 + season + daily + noise, 0.05, 0.98)


def damp_film() -> Floats:
    """Conductance of the film at every hour."""
    film: Floats = G * np.exp(1.5 * (humidity() - 0.55))
    return film


def weather(limit: float) -> Surroundings:
    """Hourly air; steps span up to `limit` [s], or resolve every hour at 0."""
    return surroundings([Stretch(HOURS, damp_film(), humidity(), np.full(HOURS.size, T), limit)])


def swinging(limit: float) -> Surroundings:
    """Hourly air whose temperature swings, too; steps span up to `limit` [s], or resolve every hour at 0."""
    film = G * np.asarray(saturation_pressure(SWING)) / float(saturation_pressure(T))
    return surroundings([Stretch(HOURS, film, humidity(), SWING, limit)])


def peers_of(row: Chain, edges: Floats, g: Floats, b: Floats) -> tuple[Floats, dict[str, Rate]]:
    """First state and the two right-hand sides."""
    p = problem(row, T)
    water = at_rest(row, steady(), 0.0)
    width = edges[1] - edges[0]

    def air(t: float) -> tuple[float, float]:
        k = min(max(int(t / width), 0), edges.size - 2)
        w = (t - edges[k]) / width
        return float(g[k] + w * (g[k + 1] - g[k])), float(b[k] + w * (b[k + 1] - b[k]))

    rates: dict[str, Rate] = {"numpy": numpy_rate(p, air), "compiled": compiled_rate(p, edges, g, b)}
    return np.append(water[:-1] / row.dry_mass, water[-1] / p.unit), rates


def own_run(row: Chain, air: Surroundings, scheme: Scheme = RODAS3) -> Run:
    """The march as moistures of all cells [days, cells]."""
    start = at_rest(row, air, 0.0)
    return lambda tol: (
        march(row, air, DAYS, tolerance=tol, scheme=scheme, start=start).water[:, :-1] / row.dry_mass
    )


def in_activity(
    row: Chain, exact: Floats, *, means: bool, layers: Sequence[Layer] = piece().layers
) -> Callable[[Floats], float]:
    """Largest error of moistures as activity, by cells or by layers' means."""
    slopes = np.concatenate([activity_and_slope(x.isotherm, exact[:, i:j], T)[1] for x, (i, j) in zip(layers, row.spans, strict=True)], axis=1)  # fmt: skip

    def error(X: Floats) -> float:
        wrong = X[:, : exact.shape[1]] - exact
        if not means:
            return float(np.abs(wrong * slopes).max())
        held = row.dry_mass / slopes  # water for one unit of activity
        return max(
            float(np.abs((wrong * row.dry_mass)[:, i:j].sum(axis=1) / held[:, i:j].sum(axis=1)).max())
            for i, j in row.spans
        )

    return error


def constant(repeats: int) -> list[Point]:
    """Constant air, 365 daily outputs; peers with their own differences and with the exact Jacobian."""
    row, edges, g = cut(), DAYS[[0, -1]], np.full(2, G)
    exact = own_run(row, steady(), RODAS4)(1e-9)
    y0, rates = peers_of(row, edges, g, g * 0.6)
    p = problem(row, T)
    bands = {
        "numpy": peers.numpy_bands(p, lambda _t: (G, G * 0.6)),
        "compiled": peers.compiled_bands(p, edges, g),
    }
    runs: dict[str, tuple[Run, Sequence[float]]] = {
        "march": (own_run(row, steady(), RODAS4_CONTINUOUS), (1e-3, 1e-4, 3e-5, 1e-5, 1e-6)),
        "march, stopping at outputs": (own_run(row, steady(), RODAS3), (1e-3, 1e-4, 1e-5, 1e-6)),
    }
    tols = (1e-4, 1e-5, 1e-6, 1e-7)
    for name, solve in (("LSODA", peers.lsoda), ("CVODE", peers.cvode)):
        if name == "CVODE" and not peers.has_cvode():
            continue
        for kind, f in rates.items():
            for said, J in (("", None), (", exact J", bands[kind])):
                runs[f"{name} {kind}{said}"] = (
                    lambda tol, f=f, J=J, solve=solve: solve(f, y0, DAYS, tol, 0.0, J),
                    tols,
                )
    for kind, f in rates.items():
        runs[f"BDF {kind}, sparsity given"] = (
            lambda tol, f=f: peers.bdf(f, y0, DAYS, tol),
            (1e-4, 1e-5, 1e-6),
        )
    return sweep(runs, in_activity(row, exact, means=False), repeats)


def hourly(repeats: int) -> list[Point]:
    """Hourly air: projected steps, and every hour resolved; layer means."""
    row = cut()
    exact = own_run(row, weather(0.0), RODAS4)(1e-7)
    y0, rates = peers_of(row, HOURS, damp_film(), damp_film() * humidity())
    J = peers.compiled_bands(problem(row, T), HOURS, damp_film())
    runs: dict[str, tuple[Run, Sequence[float]]] = {
        "march, steps of a day": (own_run(row, weather(DAY)), (1e-4, 1e-5)),
        "march, steps of six hours": (own_run(row, weather(DAY / 4)), (1e-4, 1e-5)),
        "march, every hour": (own_run(row, weather(0.0)), (1e-4, 1e-5)),
    }
    tols, hour = (1e-4, 1e-5, 1e-6), 3600.0
    if peers.has_cvode():
        runs["CVODE numpy, every hour"] = (lambda tol: peers.cvode(rates["numpy"], y0, DAYS, tol, hour), tols)
        runs["CVODE compiled, every hour"] = (
            lambda tol: peers.cvode(rates["compiled"], y0, DAYS, tol, hour, J),
            tols,
        )
    runs["LSODA compiled, every hour"] = (
        lambda tol: peers.lsoda(rates["compiled"], y0, DAYS, tol, hour, J),
        tols,
    )
    return sweep(runs, in_activity(row, exact, means=True), repeats)


def hourly_temperature(repeats: int) -> list[Point]:
    """Hourly temperature and humidity, means of layers: a cracker alone, and one beside a filling with fat between."""
    points: list[Point] = []
    both = piece()
    alone = replace(both, parts=both.parts[-1:], open_ends=(True, True))
    for name, kind in (("cracker", alone), ("filling, fat, cracker", both)):
        row = chain([kind], 1e-4, (float(SWING.min()), float(SWING.max())))
        exact = own_run(row, swinging(0.0), RODAS4)(1e-6)
        runs: dict[str, tuple[Run, Sequence[float]]] = {
            f"{name}, {how}": (own_run(row, swinging(limit)), (1e-4,))
            for how, limit in (
                ("every hour", 0.0),
                ("steps of up to 8 h", DAY / 3),
                ("steps of up to a day", DAY),
            )
        }
        points += sweep(runs, in_activity(row, exact, means=True, layers=kind.layers), repeats)
    return points


def draws(count: int) -> Draws:
    """Film and diffusivity a fifth either way."""
    rng = np.random.default_rng(1)
    return Draws(
        film=np.exp(rng.normal(0, 0.2, count)), diffusivity={"cracker": np.exp(rng.normal(0, 0.2, count))}
    )


def batch(count: int, air: Surroundings, cells: int = 40, threads: int = 1) -> tuple[float, float]:
    """CPU and wall seconds a scenario, end states only."""
    row, drawn = cut(cells), draws(count)
    compiled = draws(min(count, many.ENOUGH))  # what a batch of this size goes through
    march_many([row], [air], DAYS[[0, -1]], draws=compiled, keep=["moisture"], threads=threads)
    wall, start = time.perf_counter(), time.process_time()
    march_many([row], [air], DAYS[[0, -1]], draws=drawn, keep=["moisture"], threads=threads)
    return (time.process_time() - start) / count, (time.perf_counter() - wall) / count


def scalar_and_lanes(count: int, air: Surroundings, repeats: int = 3) -> tuple[float, float]:
    """CPU seconds a scenario one by one and in lanes, end states only."""
    enough, each = many.ENOUGH, []
    try:
        for many.ENOUGH in (count + 1, 1):
            each.append(min(batch(count, air)[0] for _ in range(repeats)))
    finally:
        many.ENOUGH = enough
    return each[0], each[1]


def against_twin(count: int, air: Surroundings) -> tuple[float, float]:
    """CPU seconds a scenario of the compiled batch and of the numpy lockstep, end states only."""
    mine, _ = batch(count, air)
    compiled = many.compiled
    many.compiled = lambda: False
    try:
        start = time.process_time()
        march_many([cut()], [air], DAYS[[0, -1]], draws=draws(count), keep=["moisture"], threads=1)
        twin = (time.process_time() - start) / count
    finally:
        many.compiled = compiled
    return mine, twin


def against_vectors(count: int) -> tuple[float, float, float]:
    """CPU seconds a scenario-year of daily stops of the compiled batch and of C with vectors; how far their ends differ."""
    row, drawn = cut(), draws(count)
    start = at_rest(row, steady(), 0.0)
    p = problem(row, T)
    solid = np.tile(p.solid[[0, -1]], (count, 1))
    solid[:, 1] *= drawn.diffusivity["cracker"]
    assert drawn.film is not None
    film = np.stack([G * drawn.film, G * 0.6 * drawn.film], axis=1)
    with tempfile.TemporaryDirectory() as folder:
        library = vectors.build(Path(folder))
        c = lambda: vectors.march_vectors(library, row, T, start, solid, film, DAYS, 1e-4)  # noqa: E731
        ends, _ = c()
        theirs = min(cpu(c) for _ in range(3)) / count
    own = lambda: march_many([row], [steady()], DAYS, draws=drawn, keep=["water"], threads=1, scheme=RODAS3)  # noqa: E731
    got = own().water
    assert got is not None
    off = float(np.abs(got[:, -1] - ends[:, :-1]).max() / start.sum())
    return min(cpu(own) for _ in range(3)) / count, theirs, off
