"""The oven's march: balances, the plateau, convergence, an independent solution, and random bakes to their end."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from hardtack.errors import HardtackError
from hardtack.states import Isotherm
from hardtack.transport import bake_march as module
from hardtack.transport.bake_march import (
    BakeMarch,
    BakeMaterial,
    BakePiece,
    EndAir,
    Spell,
    bake_march,
    boiling_point,
)
from hardtack.transport.bake_table import bake_table
from hardtack.transport.grid import graded_faces
from hardtack.transport.rosenbrock import RODAS3, RODAS4
from tests.house.tree import ROOT
from tests.oven.twin import Twin

GAB = Isotherm("crumb-like", "gab", MappingProxyType({"Xm": 0.07, "C": 15.0, "K": 0.93}))
TABLE = bake_table(GAB)
CRUMB = BakeMaterial(
    TABLE, 1700.0, 4190.0, 1450.0, 990.0, (0.25, 1e-3, -3e-6), (0.571, 1.76e-3, -6.7e-6), 0.027, 2.2e-5, 0.05, 1.0, 0.25,
    1e-10, 20e3,
)  # fmt: skip
SHUT = EndAir(300.0, 0.0, 0.0, 300.0, 0.0, 300.0, 0.0, 0.0)
HOT = EndAir(513.15, 8000.0, 20.0, 513.15, 0.9, 300.0, 0.0, 1.0)
SLAB = BakePiece("slab", 0.02, 0.01, 200 * 0.01 * 0.02, 0.7, 303.15)


def bake(minutes: float = 20.0, last: EndAir = HOT, piece: BakePiece = SLAB, **other: Any) -> BakeMarch:
    material = other.pop("material", CRUMB)
    spells = (Spell(60 * minutes, (SHUT, last), (SHUT, last)),)
    return bake_march(piece, material, spells, np.linspace(0, 60 * minutes, 21), **other)


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4], ids=lambda scheme: scheme.name)
def test_a_closed_piece_keeps_its_water_and_its_heat(scheme: Any) -> None:
    # half the cells wetter than the rest: water and heat move within, nothing comes or goes
    wet = np.where(np.arange(40) < 20, 0.3, 0.7)
    shut = (Spell(3600.0, (SHUT, SHUT), (SHUT, SHUT)),)
    warm = replace(SLAB, temperature=363.15)
    done = bake_march(warm, CRUMB, shut, np.linspace(0, 3600.0, 9), moisture=wet, scheme=scheme)
    water = done.moisture @ done.dry_mass
    heat = (done.dry_mass * (1700.0 + done.moisture * 4190.0) * (done.temperature - 273.15)).sum(axis=1)
    assert np.all(done.inflow == 0.0)
    assert np.allclose(water, water[0], rtol=1e-13, atol=0)
    assert np.allclose(heat, heat[0], rtol=1e-13, atol=0)
    assert done.moisture[-1, 0] > 0.31  # it did move


def test_the_audit_closes_and_would_see_a_leak(monkeypatch: pytest.MonkeyPatch) -> None:
    done = bake()
    assert max(done.water_imbalance, done.energy_imbalance) < 1e-14
    gone = (done.moisture[0] - done.moisture[-1]) @ done.dry_mass
    assert gone == pytest.approx(-done.inflow[-1, 0].sum(), rel=1e-12)
    run = module._run

    def leaking(state: Any, *rest: Any) -> tuple[int, int]:
        answer = run(state, *rest)
        state[0, 3] *= 1 + 1e-9
        return answer

    monkeypatch.setattr(module, "_run", leaking)
    with pytest.raises(HardtackError, match="water off by"):
        bake()


def test_wet_crumb_stays_at_its_boiling_point() -> None:
    """Fact of the trade, no source: the wet crumb does not pass the boiling point. The physics: a_w p_sat(T) = P."""
    strong = replace(HOT, h=60.0, air=533.15, wall=533.15)
    done = bake(40.0, strong, material=replace(CRUMB, dry_path=0.01), eps=1e-3)
    wet = done.activity[-1] > 0.9
    boils = np.array([boiling_point(float(a)) for a in done.activity[-1][wet]])
    assert wet.sum() > 5
    assert np.all(done.temperature[-1][wet] <= boils + 0.3)
    assert np.max(done.temperature[-1][wet] - boils) > -0.3  # the plateau is reached, not merely respected


def test_boiling_water_boils_at_the_steam_point() -> None:
    # IAPWS R7-97: 99.974 degC at 101.325 kPa
    assert boiling_point(1.0) - 273.15 == pytest.approx(99.974, abs=0.02)


def test_the_centre_gains_water_before_the_plateau() -> None:
    """Steam from the hot rim condenses in the cold centre (Thorvaldsson and Skjoldebrand 1998, LWT 31:658: the
    centre of a loaf gains water until the front is near; from memory)."""
    done = bake(20.0)
    centre = done.moisture[:, 0]
    assert centre[-1] > 0.72
    assert done.temperature[np.argmax(centre > 0.702), 0] < 363.15


def test_closed_pores_pass_heat_and_keep_their_water() -> None:
    """Vapour condenses on the colder wall and creeps back through the membrane (De Vries et al. 1989 as told by Wagner et
    al. 2007, J. Food Eng. 78:1167): heat goes, water stays, and what has opened stays open."""
    shut = (Spell(3600.0, (SHUT, SHUT), (SHUT, SHUT)),)
    times = np.linspace(0, 3600.0, 9)
    # one half a little wetter at one temperature: water moves as vapour where it can
    wet = np.where(np.arange(40) < 20, 0.15, 0.2)
    still = replace(CRUMB, liquid=1e-16)
    warm = replace(SLAB, temperature=333.15)
    moved = [
        np.abs(bake_march(warm, material, shut, times, moisture=wet).moisture[-1] - wet).max()
        for material in (still, replace(still, opens=400.0, open=410.0))
    ]
    assert moved[0] > 1e-3
    assert moved[1] < 1e-5 * moved[0]  # what the liquid's trace of diffusivity moves
    # and an oven warms the centre no slower for it
    closed, opened = (
        bake(8.0, material=replace(still, opens=first, open=first + 10.0)) for first in (400.0, 0.0)
    )
    assert closed.temperature[-1, 0] > opened.temperature[-1, 0] - 1.0
    assert closed.moisture[-1, 0] == pytest.approx(0.7, abs=1e-3)
    assert max(closed.water_imbalance, closed.energy_imbalance) < 1e-14


def test_cold_dough_in_a_steamy_oven_gains_weight_first() -> None:
    steam = replace(HOT, vapour_pressure=60e3)
    first = bake(1.0, steam)
    assert first.inflow[1, 0, 1] > 0  # water came in through the open end
    assert first.mean_moisture[-1] > first.mean_moisture[0]


def test_the_grid_converges() -> None:
    losses = [bake(20.0, cells_across=n, tolerance=0.02).mean_moisture[-1] for n in (20, 40, 80, 160)]
    steps = np.abs(np.diff(losses))
    assert steps[1] < steps[0]
    assert steps[2] < steps[1]
    assert steps[2] < 0.005


@pytest.mark.parametrize("scheme", [RODAS3, RODAS4], ids=lambda scheme: scheme.name)
def test_the_error_falls_with_the_tolerance(scheme: Any) -> None:
    best = bake(20.0, scheme=RODAS4, tolerance=1e-3).temperature
    far, near = (
        np.abs(bake(20.0, scheme=scheme, tolerance=tol).temperature - best).max() for tol in (1.0, 0.02)
    )
    assert near < far / 4
    assert near < 0.1


@pytest.mark.parametrize("opening", [(0.0, 1.0), (344.15, 354.15)], ids=["open", "opens"])
def test_an_independent_solution_agrees(opening: tuple[float, float]) -> None:
    """scipy's Radau (Hairer & Wanner) on the plain twin, no tables: closer than the tolerance asked for."""
    n, seconds = 16, 480.0
    material = replace(CRUMB, opens=opening[0], open=opening[1], cell_gas=0.7)
    piece = replace(SLAB, thickness=0.01, dry_mass=200 * 0.01 * 0.01)
    band = EndAir(493.15, 8000.0, 0.0, 493.15, 0.0, 473.15, 40.0, 0.0)
    faces = graded_faces(0.0, piece.thickness, n, first=True, last=True)
    dry = piece.dry_mass * np.diff(faces) / piece.thickness
    twin = Twin(GAB, material, faces, piece.area, dry, 3e-3)
    start = np.concatenate([dry * 0.7, dry * (1700.0 + 0.7 * 4190.0) * 30.0])
    times = np.linspace(0, seconds, 9)
    done = solve_ivp(
        lambda t, u: twin.rates(u, band, HOT),
        (0, seconds),
        start,
        method="Radau",
        t_eval=times,
        rtol=1e-7,
        atol=1e-9,
    )
    X, T = zip(*(twin.split(u) for u in done.y.T), strict=True)
    ours = bake_march(
        piece,
        material,
        (Spell(seconds, (band, HOT), (band, HOT)),),
        times,
        cells_across=n,
        tolerance=0.005,
        scheme=RODAS4,
    )
    assert np.abs(ours.temperature - np.array(T)).max() < 0.05
    assert np.abs(ours.moisture - np.array(X)).max() < 5e-4


def test_time_within_a_spell_counts() -> None:
    # an oven that falls from 240 to 160 degC, against the same fall in 64 small steps
    cold = replace(HOT, air=433.15, wall=433.15)
    falling = (Spell(1200.0, (SHUT, HOT), (SHUT, cold), (1.0, 1.6)),)

    def at(share: float) -> tuple[EndAir, EndAir]:
        T = 513.15 - 80.0 * share
        return SHUT, replace(HOT, air=T, wall=T)

    stairs = tuple(
        Spell(1200.0 / 64, at((k + 0.5) / 64), at((k + 0.5) / 64), (1 + 0.6 * (k + 0.5) / 64,) * 2)
        for k in range(64)
    )
    times = np.linspace(0, 1200.0, 5)
    smooth, steps = (bake_march(SLAB, CRUMB, spells, times) for spells in (falling, stairs))
    assert np.abs(smooth.temperature - steps.temperature)[-1].max() < 0.5
    assert smooth.mean_moisture[-1] == pytest.approx(steps.mean_moisture[-1], abs=5e-4)


def test_random_bakes_come_to_their_end(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    spec = importlib.util.spec_from_file_location("random_bakes", ROOT / "benchmarks" / "random_bakes.py")
    assert spec is not None
    assert spec.loader is not None
    bakes = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "random_bakes", bakes)
    spec.loader.exec_module(bakes)
    assert bakes.main(300) == 0
    assert "300 bakes" in capsys.readouterr().out


def test_what_cannot_be_baked_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(HardtackError, match="stalls"):
        bake(eps=1e-4)
    with pytest.raises(HardtackError, match="thickness"):
        bake(piece=replace(SLAB, thickness=0.0))
    with pytest.raises(HardtackError, match="vapour pressure"):
        bake(last=replace(HOT, vapour_pressure=2e5))
    monkeypatch.setattr(module, "ATTEMPTS", 10)
    with pytest.raises(HardtackError, match="the cap"):
        bake()
