"""What holds the gas, how the piece bites, and what folding makes: a guide for trials, in directions only.

Thresholds between few, some and much are from memory; no number here predicts a measurement. The one law with
a number, bite strength against density, starts from the user's own reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod
from typing import Literal

from hardtack.errors import HardtackError
from hardtack.reference import lookup

GUIDE = "A guide for trials from the practice of the trade, from memory: directions, not numbers."
Direction = Literal["low", "middle", "high"]
Holder = Literal["gluten", "gelled starch", "egg", "gum", "no network"]
_LEVELS: tuple[Direction, Direction, Direction] = ("low", "middle", "high")


@dataclass(frozen=True, slots=True)
class Makeup:
    """What decides structure, as shares of the flour (egg and gluten as protein, fat as mixed into the
    dough). `hydration` is all water but the flour's own.

    `sheets` is the number of dough sheets parted by fat, 1 when not laminated; `final_moisture` is of the
    baked piece on wet basis.
    """

    gluten_protein: float
    hydration: float
    fat: float
    sugar: float
    final_moisture: float
    egg_protein: float = 0.0
    gum: float = 0.0
    gelled_starch: float = 0.0
    sheets: int = 1


@dataclass(frozen=True, slots=True)
class StructureCard:
    """Directions for one piece: which polymer holds the gas, how far gluten develops, how tough the dough is, lift,
    crispness.

    `toughness` is of the dough under the hands and rolls, and goes with its gluten; the bite of a crumb hangs on its
    lift and age too, and no word is given for it.
    """

    holder: Holder
    gluten: Direction
    shortening: Direction
    toughness: Direction
    lift: Direction
    crispness: Direction
    reasons: tuple[str, ...]
    guide: str


@dataclass(frozen=True, slots=True)
class Laminate:
    """A folded dough rolled out to `thickness` [m]: sheets of fat and dough, and the mean thickness of each
    [m].

    `merged` says that the sheets are too thin to stay apart; the limit is assumed.
    """

    fat_sheets: int
    dough_sheets: int
    fat_thickness: float
    dough_thickness: float
    merged: bool
    finding: str


@dataclass(frozen=True, slots=True)
class BiteStrength:
    """Strength scaled from a reading, in the reading's unit; `low` and `high` by the powers of open and
    closed cells.

    `outside` is true where the relative density leaves the range the law was seen to hold in.
    """

    value: float
    low: float
    high: float
    exponent: float
    outside: bool
    source: str


def structure_card(makeup: Makeup) -> StructureCard:
    """Directions for a piece of this makeup. Raises `HardtackError` for shares that cannot be."""
    gluten, shortening, dryness, reasons = _levels(makeup)
    holder, holds, why = _holder(makeup, gluten)
    reasons.append(why)
    lift = 2 if makeup.sheets > 2 else holds
    if makeup.sheets > 2:
        reasons.append(f"{makeup.sheets} sheets parted by fat: steam lifts them apart.")
    if dryness == 0:
        crispness = 0
        reasons.append("Baked moist: soft, whatever holds the gas.")
    else:
        crispness = min(dryness, 1 if shortening == 2 and makeup.sheets <= 2 else 2)
        if shortening == 2 and makeup.sheets <= 2:
            reasons.append("Much fat: it crumbles rather than snaps.")
    return StructureCard(
        holder,
        _LEVELS[gluten],
        _LEVELS[shortening],
        _LEVELS[gluten],
        _LEVELS[lift],
        _LEVELS[crispness],
        tuple(reasons),
        GUIDE,
    )


def laminate(turns: Sequence[int], thickness: float, fat_share: float) -> Laminate:
    """Sheets after folding a dough that wraps one sheet of fat: `turns` are the folds, 3 for in three, 4 for
    book.

    Each turn multiplies the fat sheets; where dough meets dough the two count as one: fat = product of the
    turns, dough = fat + 1. `thickness` [m] as rolled out, `fat_share` of the volume. Raises `HardtackError`
    for turns below 2 and for values that cannot be.
    """
    if any(turn < 2 for turn in turns) or not thickness > 0 or not 0 < fat_share < 1:
        raise HardtackError(
            "turns are 2 or more, the thickness above zero, the share of fat between 0 and 1",
            "such as turns 3, 3, 3, 3, a thickness of 0.006 m and a share of 0.33",
        )
    fat = prod(turns)
    limit = lookup("structure", "merging sheets")["pair"]
    merged = thickness / fat < limit
    micrometres = 1e6 * thickness / fat
    finding = (
        f"{fat} sheets of fat between {fat + 1} of dough, {micrometres:.3g} um for a pair: "
        + ("too thin to stay apart: fold less." if merged else "thick enough to lift.")
        + f" The limit of {1e6 * limit:.0f} um is assumed."
    )
    return Laminate(
        fat, fat + 1, thickness * fat_share / fat, thickness * (1 - fat_share) / (fat + 1), merged, finding
    )


def bite_strength(reading: float, density_read: float, density: float, solid_density: float) -> BiteStrength:
    """Bite strength at another density: reading (density / density_read)^n, by the law of open cells.

    `reading` in any unit at `density_read`; densities in kg/m3, `solid_density` that of the cell walls. Both
    pieces must have the same walls: the same formula, moisture and temperature. n = 1.5 for open cells, 2 for
    closed ones gives the other side. Raises `HardtackError` for values that cannot be. Source: Gibson and
    Ashby's scaling law.
    """
    if not (reading > 0 and 0 < density_read <= solid_density and 0 < density <= solid_density):
        raise HardtackError(
            "the reading and the densities must be above zero, and no piece is denser than its walls",
            "give densities in kg/m3, such as 400 read, 320 wanted, 1450 of the walls",
        )
    row = lookup("structure", "open cells")
    span = row.values["density_range"]
    ratio = density / density_read
    powers = [ratio ** lookup("structure", name)["exponent"] for name in ("open cells", "closed cells")]
    relative = (density / solid_density, density_read / solid_density)
    return BiteStrength(
        reading * powers[0],
        reading * min(powers),
        reading * max(powers),
        row["exponent"],
        min(relative) < (span.low or 0.0) or max(relative) > (span.high or 1.0),
        row.source.citation,
    )


def _level(name: str, amount: float) -> int:
    """0 below some, 1 from some, 2 from much."""
    if not 0 <= amount < 10:
        raise HardtackError(f"{name} of {amount:g} cannot be", "give a share, such as 0.12 for 12 %")
    row = lookup("structure", name)
    return int(amount >= row["some"]) + int(amount >= row["much"])


def _levels(makeup: Makeup) -> tuple[int, int, int, list[str]]:
    """Gluten development, shortening, dryness (each 0..2), and the reasons."""
    protein, water = _level("gluten protein", makeup.gluten_protein), _level("hydration", makeup.hydration)
    fat, sugar = _level("fat", makeup.fat), _level("sugar", makeup.sugar)
    dryness = 2 - _level("final moisture", makeup.final_moisture)
    if makeup.sheets < 1:
        raise HardtackError("a piece has at least one sheet", "give 1 for a dough that is not laminated")
    gluten = max(0, min(protein, water) - max(fat, sugar))
    if makeup.gluten_protein == 0:
        reasons = ["No gluten-forming protein."]
    elif min(protein, water) == 0:
        reasons = ["Too little protein or water for gluten to develop."]
    else:
        reasons = ["Protein and water enough for gluten to develop with work."]
    if fat and fat >= sugar:
        reasons.append("Fat coats the flour and keeps gluten short.")
    if sugar and sugar >= fat:
        reasons.append("Sugar takes the water that gluten needs.")
    return gluten, fat, dryness, reasons


def _holder(makeup: Makeup, gluten: int) -> tuple[Holder, int, str]:
    """Which polymer holds the gas, how well (0..2), and the reason: the strongest one, gluten first."""
    candidates: tuple[tuple[Holder, int, str], ...] = (
        ("gluten", gluten, "Gluten holds the gas."),
        ("egg", _level("egg protein", makeup.egg_protein), "Egg protein holds the gas and sets it."),
        ("gelled starch", _level("gelled starch", makeup.gelled_starch), "Gelled starch holds the steam."),
        ("gum", min(1, _level("gum", makeup.gum)), "A gum holds the gas until the starch sets."),
    )
    best = max(candidates, key=lambda candidate: candidate[1])
    if best[1] > 0:
        return best
    if _level("fat", makeup.fat) or _level("sugar", makeup.sugar):
        return (
            "no network",
            0,
            "A short dough: no gluten to speak of stretches round the gas. Its stiffness holds bubbles until fat melts "
            "and sugar dissolves; sugar, fat and starch set the piece.",
        )
    return "no network", 0, "Nothing stretches round the gas: it stays flat and dense."
