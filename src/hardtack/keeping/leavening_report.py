"""The leavening of one dough: balance, residue, when the gas comes, pH, and how to mend or reach it."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.dough.alkalinity import PH, Titration, crumb_pH
from hardtack.dough.ammonium import AmmoniumUse, ammonium_use
from hardtack.dough.baked import Baked
from hardtack.dough.dose import Leavened, Wanted, leavening_for_lift
from hardtack.dough.leaveners import Leaveners
from hardtack.dough.leavening import (
    AMMONIUM,
    Balance,
    acid_to_neutralise,
    balance,
    below_legal_minimum,
    neutralising_value,
    powder_yield,
    stoichiometric_value,
)
from hardtack.dough.release import BenchAction, bench_action
from hardtack.dough.rising import Rise
from hardtack.errors import NotOnShelf
from hardtack.product.dough_spec import LeaveningSpec
from hardtack.reference import lookup
from hardtack.sourced import Sourced, Used

SUGGESTED = ("sodium acid pyrophosphate, 28", "monocalcium phosphate monohydrate", "cream of tartar")
"""Acids offered where a dough has soda and brings no acid of its own."""


@dataclass(frozen=True, slots=True)
class ToNeutral:
    """An acid and how much of it [kg per kg of dough] a balanced dough would hold beside all others; `now` what it
    holds. `working` and `stoichiometric` are its two values, the latter None where the shelf gives no protons.
    """

    acid: str
    now: float
    needed: float
    working: float
    stoichiometric: float | None


@dataclass(frozen=True, slots=True)
class PowderYield:
    """Carbon dioxide a ready powder can give, share of its mass, and the rules it falls short of."""

    name: str
    carbon_dioxide: float
    short_of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lift:
    """What a wanted lift asks for: `dose` per kg of dough with `acid`, for `cells` [m3 per kg] at `T` [K]."""

    acid: str
    cells: float
    T: float
    dose: Leavened


@dataclass(frozen=True, slots=True)
class Leavening:
    """The leavening of one dough, per kg of dough. `ammonium` and `lift` are None where there is nothing to say."""

    balance: Balance
    bench: BenchAction
    neutral: tuple[ToNeutral, ...]
    powders: tuple[PowderYield, ...]
    ammonium: AmmoniumUse | None
    pH: PH  # noqa: N815 -- the symbol is spelled so
    lift: Lift | None
    used: tuple[Used, ...]


def leavening_report(
    spec: LeaveningSpec | None,
    leaveners: Leaveners,
    dough: tuple[float, float],
    risen: Rise,
    baked: Baked | None,
    thickness: float | None,
) -> Leavening:
    """Report on the chemical leavening. `dough` is its water [kg per kg] and activity, `thickness` [m] of the piece.

    Raises `HardtackError` as the solvers do: a lift wanted where the dough boils, an acid unknown.
    """
    sums = balance(1.0, leaveners.bases, leaveners.acids, leaveners.sour)
    lift, used = _lift(spec, dough, risen)
    return Leavening(
        balance=sums,
        bench=bench_action(1.0, leaveners.bases, leaveners.acids, leaveners.sour),
        neutral=_neutral(spec, leaveners, sums) if sums.soda > 0 else (),
        powders=tuple(
            PowderYield(held.name, got, tuple(row.name for row in below_legal_minimum(got, held.kind)))
            for held in leaveners.powders
            for got in (powder_yield(held.soda),)
        ),
        ammonium=(
            ammonium_use(baked.moisture if baked else None, thickness) if _has_ammonium(leaveners) else None
        ),
        pH=_pH(spec, sums, dough[0]),
        lift=lift,
        used=used,
    )


def _has_ammonium(leaveners: Leaveners) -> bool:
    return any(dose.name == AMMONIUM and dose.mass > 0 for dose in leaveners.bases)


def _neutral(spec: LeaveningSpec | None, leaveners: Leaveners, sums: Balance) -> tuple[ToNeutral, ...]:
    """For each acid of the dough, of the file, or else of `SUGGESTED`: how much of it makes the dough neutral."""
    own: dict[str, float] = {}
    for dose in leaveners.acids:
        own[dose.name] = own.get(dose.name, 0.0) + dose.mass
    wished = (lookup("leavening acids", spec.neutral_with).name,) if spec and spec.neutral_with else ()
    names = dict.fromkeys((*own, *wished)) or dict.fromkeys(SUGGESTED)
    found = []
    for name in names:
        others = sums.acid - own.get(name, 0.0) * neutralising_value(name) / 100.0
        needed = acid_to_neutralise(name, max(0.0, sums.soda - others))
        found.append(ToNeutral(name, own.get(name, 0.0), needed, neutralising_value(name), _by_protons(name)))
    return tuple(found)


def _by_protons(acid: str) -> float | None:
    try:
        return stoichiometric_value(acid)
    except NotOnShelf:
        return None


def _lift(
    spec: LeaveningSpec | None, dough: tuple[float, float], risen: Rise
) -> tuple[Lift | None, tuple[Used, ...]]:
    """The dose for the lift the file wants."""
    given = spec.wanted if spec else None
    if given is None:
        return None, ()
    kept: Sourced = given.kept or lookup("dough defaults", "gas kept").values["share"]
    water, a = dough
    wanted = Wanted(given.cells.value, given.at.value, a, risen.air, water, kept.value)
    used = (
        Used("cells wanted when the dough sets, per mass of dough", given.cells, True),
        Used("temperature at which it sets", given.at, True),
        Used("share of the gas kept until then", kept, given.kept is not None),
    )
    acid = lookup("leavening acids", given.acid).name
    return Lift(acid, given.cells.value, given.at.value, leavening_for_lift(acid, wanted)), used


def _pH(spec: LeaveningSpec | None, sums: Balance, water: float) -> PH:
    given = spec.titration if spec else None
    if given is None:
        return crumb_pH(sums, None, None)
    points = given.points
    titration = Titration(
        [point.pH.value for point in points],
        [point.alkali.value for point in points],
        given.reading_error.value,
        water,
    )
    return crumb_pH(sums, titration, given.carbon_dioxide)
