"""The leaveners among the ingredients of a formula, recognised by their names on the reference shelf."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from hardtack.dough.formula import Formula
from hardtack.dough.leavening import SODA, Dose, SourIngredient, balance, equivalence_value, powder
from hardtack.product import FormulaSpec
from hardtack.reference import Row, lookup, on_shelf, rows
from hardtack.sourced import Used

BASES, ACIDS, YEAST, POWDERS, SOUR = (
    "leavening bases", "leavening acids", "yeast", "ready powders", "sour ingredients",
)  # fmt: skip
SELF_RISING = "Self-rising AP flour"
POWDER = "baking powder"
UNNAMED = "no source names it"


@dataclass(frozen=True, slots=True)
class Powder:
    """A ready powder in the dough: `share` [kg per kg of dough] and its share of soda.

    `kind` is what the law calls it: baking powder, or self-rising flour, whose share is of the flour.
    """

    name: str
    share: float
    soda: float
    kind: str


@dataclass(frozen=True, slots=True)
class Leaveners:
    """What leavens a dough, in kg per kg of dough.

    `yeast` gives fresh yeast by the part of the dough it stands in ("" for the dough itself). `names` are the
    ingredients that count as chemical leaveners. `remarks` say what is known to be left out.
    """

    bases: tuple[Dose, ...]
    acids: tuple[Dose, ...]
    sour: tuple[SourIngredient, ...]
    powders: tuple[Powder, ...]
    yeast: tuple[tuple[str, float], ...]
    names: tuple[str, ...]
    remarks: tuple[str, ...]
    used: tuple[Used, ...]

    @property
    def chemical(self) -> bool:
        """Whether there is a base to give gas."""
        return any(dose.mass > 0 for dose in self.bases)


def leaveners_of(spec: FormulaSpec, formula: Formula) -> Leaveners:
    """Find bases, acids, ready powders, yeast and sour ingredients among the ingredients.

    A sour ingredient counts by its measured acidity only; without one it is named in `remarks`. Raises
    `HardtackError` when a powder's soda and acid would be more than the powder.
    """
    bases: list[Dose] = []
    acids: list[Dose] = []
    sour: list[SourIngredient] = []
    powders: list[Powder] = []
    yeast: list[tuple[str, float]] = []
    names: list[str] = []
    remarks: list[str] = []
    used: list[Used] = []
    for line, part in zip(spec.lines, formula.ingredients, strict=True):
        name, mass = part.name, part.share
        if (row := on_shelf(BASES, name)) is not None:
            bases.append(Dose(row.name, mass))
            names.append(name)
            if "trigger" in row.values:
                used.append(Used(f"{row.name} splits over", row.values["trigger"], False))
        elif (row := on_shelf(ACIDS, name)) is not None:
            acids.append(Dose(row.name, mass))
            names.append(name)
            used.extend(_numbers(row))
        elif (row := on_shelf(POWDERS, name)) is not None:
            doses, held, numbers = _powder(spec, row, name, mass)
            bases.append(doses[0])
            acids.extend(doses[1:])
            powders.append(held)
            if row.name != SELF_RISING:  # it stays flour: its salts count with its ash
                names.append(name)
            used.extend(numbers)
        elif (row := on_shelf(YEAST, name)) is not None and "equivalent" in row.values:
            yeast.append((part.stage, mass / row["equivalent"]))
            if row["equivalent"] != 1.0:
                used.append(
                    Used(f"{row.name} yeast for one part of fresh yeast", row.values["equivalent"], False)
                )
        if line.spec.acidity is not None:
            sour.append(SourIngredient(part.label, mass, line.spec.acidity.value))
            used.append(Used(f"acidity of {part.label}, as lactic acid", line.spec.acidity, True))
        else:
            remarks.extend(_unmeasured(name, mass))
    for ferment in spec.pre_ferments:
        if ferment.acidity is not None:
            mass = sum(part.share for part in formula.ingredients if part.stage == ferment.name)
            sour.append(SourIngredient(ferment.name, mass, ferment.acidity.value))
            used.append(Used(f"acidity of the ripe {ferment.name}, as lactic acid", ferment.acidity, True))
    return Leaveners(
        tuple(bases), tuple(acids), tuple(sour), tuple(powders), tuple(yeast), tuple(names), tuple(remarks),
        tuple(dict.fromkeys(used)),
    )  # fmt: skip


def _numbers(acid: Row) -> list[Used]:
    """What the answer takes from the shelf of an acid: its value, and when it acts."""
    named = {
        "NV": "neutralising value of",
        "bench": "dough rate of reaction of",
        "trigger": "range of the rest of",
    }
    amounts = {key: acid.values[key] for key in named if key in acid.values}
    return [
        Used(f"{named[key]} {acid.name}", amount if amount.source else replace(amount, source=UNNAMED), False)
        for key, amount in amounts.items()
    ]


def _powder(
    spec: FormulaSpec, row: Row, name: str, mass: float
) -> tuple[tuple[Dose, ...], Powder, tuple[Used, ...]]:
    """Soda and acids of a ready powder: as the file says, else as the shelf assumes."""
    flour = row.name == SELF_RISING
    given = spec.leavening.powder if spec.leavening and not flour else None
    if given is not None:
        soda, acid = powder(mass, given.acid, given.soda.value)
        numbers = (
            Used(f"soda in the {name}", given.soda, True),
            *_numbers(lookup(ACIDS, given.acid)),
        )
        return (soda, acid), Powder(name, mass, given.soda.value, POWDER), numbers
    share, early = row["soda"], row["early"]
    parts = {row.form: early, row.see: 1.0 - early}
    acids = {acid: part for acid, part in parts.items() if part > 0}
    doses = (
        Dose(SODA, mass * share),
        *(Dose(acid, mass * share * part * equivalence_value(acid)) for acid, part in acids.items()),
    )
    numbers = (
        Used(f"soda in the {name} ({row.name})", row.values["soda"], False),
        Used(f"share of it neutralised by {row.form}, the rest by {row.see}", row.values["early"], False),
        *(number for acid in acids for number in _numbers(lookup(ACIDS, acid))),
    )
    return doses, Powder(name, mass, share, "self-rising flour" if flour else POWDER), numbers


def _unmeasured(name: str, mass: float) -> tuple[str, ...]:
    """What an ingredient may do to the balance although nothing of it was measured."""
    if (row := on_shelf(POWDERS, name)) is not None and row.name == SELF_RISING:
        return (
            f"The {name} is counted with {100 * row['soda']:.3g} % soda ({row.provenance}) and the acid that neutralises "
            "it. If its maker's sheet says otherwise, name plain flour, soda and acid instead.",
        )
    words = set(re.findall(r"[a-z]+", name.casefold()))
    for row in rows(SOUR):
        for spelling in (row.name, *row.also):
            if set(spelling.casefold().split()) <= words:
                soda = balance(1.0, (), (), (SourIngredient(name, mass, row["acidity"]),)).acid
                return (
                    f"The acid of the {name} is not counted, for it was not measured: at {100 * row['acidity']:.2g} % "
                    f"({row.provenance}) it would neutralise {1e3 * soda:.2g} g of soda per kg of dough. Give its "
                    "'acidity', titrated, as lactic acid.",
                )
    return ()
