"""What yeast does in the pre-ferments and in the dough of one formula, per kg of dough.

Each part ferments its own flour with its own yeast, salt and sugar. The gas of a pre-ferment is taken to be lost
when the dough is mixed; its sugar and its alcohol count. Lactic bacteria of a sour are not modelled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hardtack.dough import brought as bring
from hardtack.dough.formula import Formula
from hardtack.dough.leaveners import Leaveners
from hardtack.dough.yeast import Stage, YeastGas, gas_over
from hardtack.product import FormulaSpec
from hardtack.product.dough_spec import FermentSpec
from hardtack.reference import lookup
from hardtack.sourced import Used


@dataclass(frozen=True, slots=True)
class FermentedStage:
    """One stretch: carbon dioxide made in it [mol per kg of dough]."""

    part: str
    stage: str
    duration: float
    T: float
    made: float


@dataclass(frozen=True, slots=True)
class Fermented:
    """Yeast's work per kg of dough. Moles of carbon dioxide: `made` in all, `in_cells` and `dissolved` at the
    end of proof. `in_cells` is the shelf's share of all that the dough itself made, `at_most` all of the last stage
    (moulding drives out what was before): published shares and proof heights lie between. `glucose` used and `ethanol` made [kg]. `enough_sugar` is false where the sugar ran out.
    """

    stages: tuple[FermentedStage, ...]
    made: float
    in_cells: float
    at_most: float
    dissolved: float
    glucose: float
    ethanol: float
    enough_sugar: bool
    remarks: tuple[str, ...]
    used: tuple[Used, ...]


def fermented(spec: FormulaSpec, formula: Formula, leaveners: Leaveners) -> Fermented | None:
    """Yeast over the stages of the file. None when there is no yeast.

    Raises `HardtackError` for temperatures below 0 degC.
    """
    if not any(fresh > 0 for _, fresh in leaveners.yeast):
        return None
    faster, used = _own_rate(spec)
    kept = spec.leavening.kept_in_proof.value if spec.leavening and spec.leavening.kept_in_proof else None
    sugar_of_flour = lookup("dough defaults", "sugar from flour").values["share"]
    used += (Used("fermentable sugar from flour, on flour", sugar_of_flour, False),)
    parts = [(part.name, part.ferments) for part in spec.pre_ferments] + [("", spec.ferments)]
    stages: list[FermentedStage] = []
    remarks: list[str] = []
    eaten, ethanol, last, enough = 0.0, 0.0, (0.0, 0.0, 0.0), True
    for name, ferments in parts:
        here = [part for part in formula.ingredients if not name or part.stage == name]
        fresh = sum(mass for stage, mass in leaveners.yeast if not name or stage == name)
        flour = bring.flour(here)
        if fresh == 0:
            continue
        if not ferments:
            remarks.append(f"No time and temperature for the {name or 'dough'}: its yeast is not counted.")
            continue
        if flour == 0:
            remarks.append(
                f"The {name or 'formula'} has no flour, and the law of yeast is per flour: not counted."
            )
            continue
        food = bring.mass_of(here, bring.fermentable) / flour + sugar_of_flour.value
        left = max(0.0, food - (eaten / flour if not name else 0.0))
        gas = gas_over(
            [Stage(part.lasts.value * faster, part.temperature.value) for part in ferments],
            fresh / flour,
            bring.mass_of(here, bring.salt) / flour,
            bring.mass_of(here, bring.sugars) / flour,
            left,
        )
        stages += _stages(name, ferments, [flour * made for made in gas.made])
        eaten += flour * gas.glucose
        ethanol += flour * gas.ethanol
        enough = enough and bool(gas.enough_sugar)
        if not name:
            last = _kept(gas, flour, kept)
        used += tuple(
            item
            for part in ferments
            for item in (
                Used(f"{_called(name, part.stage)}, time", part.lasts, True),
                Used(f"{_called(name, part.stage)}, temperature", part.temperature, True),
            )
        )
    return Fermented(
        tuple(stages),
        sum(stage.made for stage in stages),
        *last,
        eaten,
        ethanol,
        enough,
        tuple(remarks),
        used,
    )


def food_of(formula: Formula) -> float:
    """Sugar that the yeast can reach [kg of glucose per kg of dough]: added, and what the flour and its starch give."""
    of_flour = lookup("dough defaults", "sugar from flour")["share"]
    return bring.mass_of(formula.ingredients, bring.fermentable) + of_flour * formula.flour


def _kept(gas: YeastGas, flour: float, kept: float | None) -> tuple[float, float, float]:
    """Gas in the cells at the end of proof from least to most, and dissolved [mol per kg of dough]."""
    dissolved = flour * gas.dissolved
    if kept is not None:
        return kept * flour * gas.made[-1], kept * flour * gas.made[-1], dissolved
    final = flour * (gas.made[-1] - (gas.made[-2] if len(gas.made) > 1 else 0.0))
    cells = flour * gas.in_cells
    return cells, max(cells, final - dissolved), dissolved


def _called(part: str, stage: str) -> str:
    """A stage with the part it belongs to, said once where both have one name."""
    return f"fermentation: {stage}" if part in ("", stage) else f"fermentation: {stage} of the {part}"


def _own_rate(spec: FormulaSpec) -> tuple[float, tuple[Used, ...]]:
    """The bakery's own gas rate over the shelf's, and the numbers the law leans on."""
    row, own = lookup("yeast", "gas rate"), spec.leavening
    given = own.gas_rate if own else None
    kept = own.kept_in_proof if own else None
    shares = {name: lookup("yeast", name).values["share"] for name in ("in cells", "dissolved")}
    used = (
        Used("gas of fresh yeast at 30 °C", given or row.values["rate"], given is not None),
        *(Used(f"yeast, {name}", lookup("yeast", name).values["slope"], False) for name in ("salt", "sugar")),
        Used(
            "gas of the dough in its cells at the end of proof", kept or shares["in cells"], kept is not None
        ),
        Used("gas of the dough dissolved at the end of proof", shares["dissolved"], False),
    )
    return (given.value / row["rate"] if given else 1.0), used


def _stages(name: str, ferments: Sequence[FermentSpec], made: Sequence[float]) -> list[FermentedStage]:
    before = [0.0, *made[:-1]]
    return [
        FermentedStage(name, part.stage, part.lasts.value, part.temperature.value, total - earlier)
        for part, total, earlier in zip(ferments, made, before, strict=True)
    ]
