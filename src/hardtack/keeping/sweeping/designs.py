"""From one row of a plan to the product it stands for: a design, and within it one draw of what is not known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hardtack.errors import HardtackError, Problem
from hardtack.keeping.draws import drawn, spreads
from hardtack.keeping.input_kinds import kind_of
from hardtack.keeping.inputs import Path, inputs_of, with_amounts
from hardtack.keeping.sweeping.plan import FILM, STYLE, Design, Factor, SweepPlan
from hardtack.product import Product
from hardtack.states import Floats

REPLACED: Mapping[str, tuple[Path, ...]] = {
    FILM: (("pack", "film"), ("pack", "laminate")),
    STYLE: (("pack", "whole-pack factor"),),
}
"""What a factor of the shelf takes the place of: those numbers of the file are not drawn."""


@dataclass(frozen=True, slots=True)
class Spread:
    """An input that is drawn in one product: where it stands, its kind, and which column of quantiles is its own."""

    path: Path
    kind: str
    column: int


@dataclass(frozen=True, slots=True)
class Recipe:
    """What it takes to make any scenario of a sweep, on any machine: it reads no file."""

    products: tuple[Product, ...]
    factors: tuple[Factor, ...]
    designs: tuple[Design, ...]
    places: tuple[str, ...]
    spreads: tuple[tuple[Spread, ...], ...]
    """For each product, what is drawn."""


def recipe_of(plan: SweepPlan) -> tuple[Recipe, tuple[str, ...]]:
    """The plan's recipe, and the names of the inputs that are drawn, one for each column of quantiles.

    Inputs of one name in several products share a column, and so do all designs: what differs between two designs is
    then the designs, not the luck of the draw. Raises `HardtackError` when samples are asked for and nothing is drawn.
    """
    names: list[str] = []
    found: list[tuple[Spread, ...]] = []
    for number, product in enumerate(plan.products):
        own: list[Spread] = []
        replaced = [REPLACED[factor.name] for factor in plan.factors if factor.name in REPLACED]
        set_at = {factor.paths[number]: factor for factor in plan.factors if factor.paths}
        for one in inputs_of(product) if plan.samples > 1 else ():
            if any(one.path[:2] in paths for paths in replaced):
                continue
            factor = set_at.get(one.path)
            amounts = [one.amount] if factor is None else [c.amount for c in factor.choices if c.amount]
            if any(spreads(amount) for amount in amounts):
                if one.name not in names:
                    names.append(one.name)
                own.append(Spread(one.path, kind_of(product, one.path), names.index(one.name)))
        found.append(tuple(own))
    if plan.samples > 1 and not names:
        raise HardtackError(
            Problem(
                "there is nothing to draw: no number that the designs leave as it is has a spread",
                "write such as 2.6 ± 0.2 %wb in the product file, or take 'samples' out",
                str(plan.file),
                plan.lines.get(("samples",)),
                "samples",
            )
        )
    return Recipe(plan.products, plan.factors, plan.designs, plan.places, tuple(found)), tuple(names)


def design_product(recipe: Recipe, number: int) -> Product:
    """The product of one design, its spreads still on it. A number the plan sets has the spread the plan gives it."""
    design = recipe.designs[number]
    product = recipe.products[design.product]
    amounts = {}
    for factor, chosen in zip(recipe.factors, design.choices, strict=True):
        choice = factor.choices[chosen]
        if choice.amount is None:
            product = _packed_in(product, factor.name, choice.written)
        else:
            amounts[factor.paths[design.product]] = choice.amount
    return with_amounts(product, amounts)


def drawn_product(recipe: Recipe, number: int, product: Product, quantiles: Floats) -> Product:
    """A design's product with what is spread in it at the given quantiles [inputs drawn]."""
    amounts = {}
    there = {one.path: one.amount for one in inputs_of(product)}
    for spread in recipe.spreads[recipe.designs[number].product]:
        amounts[spread.path] = drawn(there[spread.path], spread.kind, float(quantiles[spread.column]))
    return with_amounts(product, amounts)


def design_words(factors: Sequence[Factor], design: Design) -> str:
    """What is set in a design: ``film OPP 20 um, cracker: moisture 2 %wb``."""
    return ", ".join(
        f"{factor.name} {factor.choices[choice].written}"
        for factor, choice in zip(factors, design.choices, strict=True)
    )


def _packed_in(product: Product, factor: str, name: str) -> Product:
    """The product in a film, or a style of pack, of the shelf."""
    pack = product.pack
    if pack is None or factor not in (FILM, STYLE):
        raise HardtackError("there is no pack to change", "add the pack to the product file")
    changed = {"film": name, "laminate": ()} if factor == FILM else {"style": name, "whole_pack_factor": None}
    return product.model_copy(update={"pack": pack.model_copy(update=changed)})
