"""Chemical leavening: acids against bases, what gas they give, what they leave behind.

Amounts are in kg, all of the same dough. Acids are counted by their working neutralising value, an agreed
titration; the stoichiometric value is a separate function and no guide for phosphates. Where acid and soda do
not match, the residue is told in kg of soda (or of soda that the acid could still neutralise).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from hardtack.errors import HardtackError
from hardtack.reference import Row, lookup, rows

SODA = "sodium bicarbonate"
AMMONIUM = "ammonium bicarbonate"
MOLAR_MASS_CARBON_DIOXIDE = 0.0440095
"""[kg/mol], standard atomic weights."""
MOLAR_MASS_SODIUM = 0.02298977
"""[kg/mol], standard atomic weights."""
BALANCED = 0.05
"""Acid within this share of the soda counts as balanced: sources of neutralising values differ by as much (up
to 10 % for cream of tartar). Assumed."""

Leaning = Literal["balanced", "alkaline", "sour", "no soda"]


@dataclass(frozen=True, slots=True)
class Dose:
    """A leavening base or acid of the shelf, by name, and its `mass` [kg]."""

    name: str
    mass: float


@dataclass(frozen=True, slots=True)
class SourIngredient:
    """An ingredient that brings acid, such as buttermilk: `acidity` is titratable acid as lactic [kg/kg]."""

    name: str
    mass: float
    acidity: float


@dataclass(frozen=True, slots=True)
class Balance:
    """Acids against bases of one dough.

    `soda` is the soda-equivalent [kg] of the fixed bases, `neutralised` the part of it that finds acid,
    `left_soda` what finds none, `left_acid` the acid without soda, as soda it could neutralise. Moles: carbon
    dioxide `by_acid`; `by_heat`, what the left soda gives if all of it splits; `by_ammonium`, with as many
    moles of `ammonia` leaving as gas. `sodium` [kg] is all that the leavening brings. `finding` says it in
    words.
    """

    dough: float
    soda: float
    acid: float
    neutralised: float
    left_soda: float
    left_acid: float
    by_acid: float
    by_heat: float
    by_ammonium: float
    ammonia: float
    sodium: float
    leaning: Leaning
    finding: str

    @property
    def carbon_dioxide(self) -> float:
        """Most carbon dioxide the leavening can give [mol per kg of dough], all left soda split by heat."""
        return (self.by_acid + self.by_heat + self.by_ammonium) / self.dough


def bases() -> tuple[str, ...]:
    """The gas-giving bicarbonates of the shelf."""
    return tuple(row.name for row in rows("leavening bases"))


def acids() -> tuple[str, ...]:
    """The leavening acids of the shelf."""
    return tuple(row.name for row in rows("leavening acids"))


def neutralising_value(acid: str) -> float:
    """Working neutralising value NV: g of sodium bicarbonate neutralised by 100 g of the acid."""
    return lookup("leavening acids", acid)["NV"]


def equivalence_value(acid: str) -> float:
    """Equivalence value EV = 100 / NV: parts of acid for one part of soda."""
    return 100.0 / neutralising_value(acid)


def stoichiometric_value(acid: str) -> float:
    """NV by stoichiometry, 100 protons M(NaHCO3) / M(acid): right for carboxylic acids, no guide for
    phosphates.

    Raises `NotOnShelf` for an acid whose protons are not on the shelf (SALP, dicalcium phosphate).
    """
    row = lookup("leavening acids", acid)
    return 100.0 * row["protons"] * _soda_mass() / row["M"]


def acid_to_neutralise(acid: str, soda: float, sour: Sequence[SourIngredient] = ()) -> float:
    """Acid [kg] that neutralises `soda` [kg] beside the sour ingredients: 100 (soda - theirs) / NV, not below
    0.
    """
    _amount("soda", soda)
    return max(0.0, soda - _natural(sour)) * equivalence_value(acid)


def soda_for_gas(moles: float) -> float:
    """Soda [kg] that gives `moles` of carbon dioxide when acid neutralises all of it."""
    if not moles >= 0:
        raise HardtackError(
            "an amount of gas cannot be negative", "give moles of carbon dioxide, zero or more"
        )
    return moles * _soda_mass()


def powder(mass: float, acid: str, soda: float | None = None) -> tuple[Dose, Dose]:
    """The soda and the acid in `mass` [kg] of a ready powder that holds the share `soda` of sodium
    bicarbonate.

    The acid is taken to neutralise the soda exactly, the rest is starch; without a share, the household
    powder of the shelf (about 30 %). Raises `HardtackError` when soda and acid would be more than the powder.
    """
    _amount("the powder", mass)
    share = lookup("powder law", "household baking powder")["soda"] if soda is None else soda
    parts = 1.0 + equivalence_value(acid)
    if not 0.0 < share * parts <= 1.0:
        raise HardtackError(
            f"a powder with {100 * share:g} % soda cannot hold the {acid} that neutralises it",
            f"with this acid the share of soda lies above 0 and up to {100 / parts:.0f} %",
        )
    return Dose(SODA, mass * share), Dose(acid, mass * share * (parts - 1.0))


def powder_yield(soda: float) -> float:
    """Carbon dioxide a powder gives in theory, share of its mass, from its share of `soda`, fully
    neutralised.
    """
    if not 0 <= soda <= 1:
        raise HardtackError(
            f"a share of soda of {soda:g} cannot be", "give a share from 0 to 1, such as 0.30"
        )
    return soda * MOLAR_MASS_CARBON_DIOXIDE / _soda_mass()


def below_legal_minimum(carbon_dioxide: float, kind: str = "baking powder") -> tuple[Row, ...]:
    """The rules of the shelf for that `kind` (baking powder, self-rising flour) that a yield of carbon dioxide (share
    of mass) falls short of.

    A sum on paper: the law asks for a measured yield of the powder as sold, and the local code decides.
    """
    powders = (row for row in rows("powder law") if row.name.startswith(kind))
    return tuple(row for row in powders if carbon_dioxide < row["carbon_dioxide"])


def balance(
    dough: float,
    base_doses: Sequence[Dose],
    acid_doses: Sequence[Dose] = (),
    sour: Sequence[SourIngredient] = (),
) -> Balance:
    """Balance the leavening of `dough` [kg].

    Acid goes to the fixed bases (sodium, potassium) first: ammonia that took up acid gives it back when the
    heat drives it off. Ammonium bicarbonate gives all its carbon dioxide either way; acid beyond the fixed
    bases binds its ammonia, one mole each. Raises `HardtackError` for amounts that cannot be, `NotOnShelf`
    for names unknown.
    """
    if not dough > 0:
        raise HardtackError("the dough has no mass", "give kg of dough above zero")
    base_rows = [(lookup("leavening bases", dose.name), _amount(dose.name, dose.mass)) for dose in base_doses]
    acid_rows = [(lookup("leavening acids", dose.name), _amount(dose.name, dose.mass)) for dose in acid_doses]
    fixed = sum(mass / row["M"] for row, mass in base_rows if row.name != AMMONIUM)
    ammonium = sum(mass / row["M"] for row, mass in base_rows if row.name == AMMONIUM)
    M = _soda_mass()
    acid = (sum(mass * row["NV"] / 100.0 for row, mass in acid_rows) + _natural(sour)) / M
    met = min(fixed, acid)
    bound = min(ammonium, acid - met)
    sodium = sum(
        mass * row["sodium"] / row["M"] for row, mass in (*base_rows, *acid_rows) if "sodium" in row.values
    )
    left_soda, left_acid = (fixed - met) * M, (acid - met - bound) * M
    leaning = _leaning(fixed, acid)
    return Balance(
        dough=dough,
        soda=fixed * M,
        acid=acid * M,
        neutralised=met * M,
        left_soda=left_soda,
        left_acid=left_acid,
        by_acid=met,
        by_heat=(fixed - met) / 2.0,
        by_ammonium=ammonium,
        ammonia=ammonium - bound,
        sodium=sodium * MOLAR_MASS_SODIUM,
        leaning=leaning,
        finding=_finding(leaning, dough, left_soda, left_acid, (ammonium - bound) > 0),
    )


def _leaning(fixed: float, acid: float) -> Leaning:
    if fixed == 0:
        return "no soda" if acid == 0 else "sour"
    if abs(acid / fixed - 1.0) <= BALANCED:
        return "balanced"
    return "alkaline" if acid < fixed else "sour"


def _finding(leaning: Leaning, dough: float, soda: float, acid: float, ammonia: bool) -> str:
    words = {
        "balanced": "Acid and soda match as closely as their values are known: neither soapy nor sour.",
        "alkaline": (
            f"{1000 * soda / dough:.2g} g of soda per kg of dough find no acid: heat splits part of them for "
            "half the gas, and what stays is alkaline: a darker, yellower crumb, more browning and spread, a "
            "soapy taste when it is much. Wanted in pretzels, gingerbread and devil's food."
        ),
        "sour": (
            f"Acid for {1000 * acid / dough:.2g} g of soda per kg of dough is left over: a sour taste, a "
            "paler crust. Wanted in buttermilk goods."
        ),
        "no soda": "No soda and no acid: the leavening leaves no taste behind.",
    }[leaning]
    if ammonia:
        words += (
            " Ammonium bicarbonate leaves nothing only where its ammonia can go: small, thin, dry pieces. "
            "Ammonia irritates: vent the oven."
        )
    return words


def _natural(sour: Sequence[SourIngredient]) -> float:
    """Soda [kg] that the sour ingredients neutralise: their acid as lactic, mole for mole."""
    lactic = lookup("leavening acids", "lactic acid")["M"]
    for part in sour:
        _amount(part.name, part.mass)
        if not 0 <= part.acidity < 1:
            raise HardtackError(
                f"{part.name}: an acidity of {part.acidity:g} cannot be",
                "give titratable acid as lactic, as a share of its mass, such as 0.009",
            )
    return sum(part.mass * part.acidity / lactic for part in sour) * _soda_mass()


def _soda_mass() -> float:
    return lookup("leavening bases", SODA)["M"]


def _amount(name: str, mass: float) -> float:
    if not 0 <= mass < float("inf"):
        raise HardtackError(f"{name}: a mass of {mass:g} kg cannot be", "give kg, zero or more")
    return mass
