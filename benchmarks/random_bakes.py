"""Random bakes to their end: nothing may stall, go below zero water, or lose water or energy.

    python benchmarks/random_bakes.py              3000 bakes
    python benchmarks/random_bakes.py --count 50   a quick look

Drawn: 20 to 60 cells, half thickness 1 to 63 mm, dry density 100 to 600 kg/m3, paths for vapour from next to none to
open, dough from 15 to 100 % dry basis and from -18 to 40 degC, ovens of 150 to 300 degC and h of 5 to 160 W/m2/K, from
dry to nearly pure steam, eps 1e-3 to 2e-2, all three shapes, some with a hot contact, most cooled in room air after.
The march raises on its attempt cap, on anything not finite, and when a balance is off by more than 1e-12.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from types import MappingProxyType

import numpy as np

from hardtack.states import Isotherm
from hardtack.transport.bake_march import BakeMarch, BakeMaterial, BakePiece, EndAir, Spell, bake_march
from hardtack.transport.bake_table import bake_table

CAP = 1000
GAB = Isotherm("crumb-like", "gab", MappingProxyType({"Xm": 0.07, "C": 15.0, "K": 0.93}))
SHUT = EndAir(300.0, 0.0, 0.0, 300.0, 0.0, 300.0, 0.0, 0.0)
ROOM = EndAir(298.15, 1500.0, 8.0, 298.15, 0.9, 298.15, 0.0, 1.0)


def bakes(count: int, pores: tuple[float, float] = (0.0, 1.0), seed: int = 1) -> Iterator[BakeMarch]:
    """Bake `count` random pieces whose pores open between the temperatures `pores` [K]."""
    rng = np.random.default_rng(seed)
    table = bake_table(GAB)
    for _ in range(count):
        shape = ("slab", "cylinder", "sphere")[rng.integers(3)]
        thickness = float(np.exp(rng.uniform(np.log(1e-3), np.log(63e-3))))
        material = BakeMaterial(
            table, rng.uniform(1400, 1900), 4190.0, 1450.0, 990.0, (0.25, 1e-3, -3e-6), (0.571, 1.76e-3, -6.7e-6), 0.027,
            2.2e-5, float(10 ** rng.uniform(-2.3, 0)), float(10 ** rng.uniform(-2, 0.3)), rng.uniform(0.05, 0.4),
            float(10 ** rng.uniform(-11, -9)), 20e3, *pores,
        )  # fmt: skip
        volume = 0.01 * thickness / {"slab": 1, "cylinder": 2, "sphere": 3}[shape]
        piece = BakePiece(
            shape,
            thickness,
            0.01,
            rng.uniform(100, 600) * volume,
            rng.uniform(0.15, 1.0),
            rng.uniform(255, 313),
        )
        T = rng.uniform(423, 573)
        top = EndAir(
            T, rng.uniform(0, 0.95) * 101325, rng.uniform(5, 160), T + rng.uniform(-20, 60), 0.9, T, 0.0, 1.0
        )
        low = EndAir(T, 0.0, 0.0, T, 0.9, T, rng.uniform(0, 200), 0.0) if rng.random() < 0.3 else SHUT
        minutes = rng.uniform(2, 60)
        spells = (
            Spell(60 * minutes, (low, top), (low, top), (1.0, rng.uniform(0.8, 3.0))),
            Spell(
                3600.0, (ROOM if shape == "slab" else SHUT, ROOM), (ROOM if shape == "slab" else SHUT, ROOM)
            ),
        )
        yield bake_march(
            piece, material, spells, np.linspace(0, 60 * minutes + 3600.0, 32),
            cells_across=int(rng.integers(20, 61)), eps=float(10 ** rng.uniform(-3, -1.7)),
        )  # fmt: skip


def main(count: int) -> int:
    """Bake them, with pores open from the start and with pores that open, and print how many attempts they took; returns
    how many with open pores took more than 1000. Every bake comes to its end, or the march raises.
    """
    over = _report(f"{count} bakes", bakes(count))
    _report(f"{count} bakes whose pores open at 71 to 81 degC", bakes(count, (344.15, 354.15)))
    return over


def _report(what: str, baked: Iterator[BakeMarch]) -> int:
    attempts, worst = [], 0.0
    for bake in baked:
        assert np.all(np.isfinite(bake.temperature))
        assert bake.moisture.min() > 0
        attempts.append(bake.attempts)
        worst = max(worst, bake.water_imbalance, bake.energy_imbalance)
    middle, high, most = np.quantile(attempts, [0.5, 0.99, 1.0])
    over = sum(number > CAP for number in attempts)
    print(f"{what}: attempts median {middle:.0f}, 99 % {high:.0f}, most {most:.0f}; {over} over {CAP}")
    print(f"largest imbalance of water or energy {worst:.1e} of the content")
    return over


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=3000)
    main(parser.parse_args().count)
