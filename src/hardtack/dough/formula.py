"""A formula: shares of the whole, baker's percent, moisture of the dough, and the isotherm it gives.

Baker's percent is mass of an ingredient over mass of all flours, true percent over that of all ingredients.
Nominal hydration counts the water added as such, effective hydration all water (flour, egg, butter, syrup).
Nothing is said here of what fermentation and baking change: the dry matter of the piece is taken to be that
of its dough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from hardtack.dough.ingredients import Ingredient, made_of
from hardtack.dough.sugar_state import ROOM, crystallising, dissolvable, stays_glass
from hardtack.errors import HardtackError, Problem
from hardtack.product import Product
from hardtack.sourced import Sourced, Used
from hardtack.states import Branch, Isotherm
from hardtack.water.composition import Composition, blend
from hardtack.water.sharing import formula_isotherm

MOSTLY = 0.5
"""Share of the sugar from which on it counts as dissolved in the dough; assumed."""

Sugar = Literal["crystalline", "amorphous"]
SUGAR_WHY: Mapping[str, str] = {
    "amorphous": "not stated: with flour and baked dry, sugar that dissolved in the dough stays a glass as long as starch, "
    "gluten and sugar together are hard at 25 degC, as X-rays and the break of sorption curves show; sugar never dissolved "
    "stays crystals, which reach the limit sooner",
    "crystalline": "not stated: in creams, syrups and soft goods what crystallises ends as crystals, and crystals "
    "hold least water",
    "undissolved": "not stated: even hot, the water of the dough dissolves less than half of the sugar, so most of it "
    "never was anything but crystals",
    "soft": "not stated: at the layer's moisture starch, gluten and sugar together are soft at 25 degC, so that sugar "
    "crystallises in time",
}
"""Why a state is taken when the file names none; sources SHRESTHA, COOKIEXRAY, YU07, MAKOWER of the shelf."""

History = Branch | Literal["scanning"]
BRANCH: History = "adsorption"


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula worked out: `moisture` of the dough [kg/kg dry], `composition` of its dry matter.

    `crystalline` names the sugars taken for crystals as far as they are not dissolved; `branch` is the
    history of the finished layer (scanning: dried, then taking up water). `used` are the numbers it leans on.
    """

    name: str
    ingredients: tuple[Ingredient, ...]
    moisture: float
    composition: Composition
    sugar: Sugar
    crystalline: tuple[str, ...]
    branch: History
    used: tuple[Used, ...]

    @property
    def moisture_wet(self) -> float:
        """Moisture of the dough on wet basis."""
        return self.moisture / (1.0 + self.moisture)

    @property
    def from_the_oven(self) -> Branch:
        """The branch on which the fresh piece stands: where it scans later, the drying one."""
        return "desorption" if self.branch == "scanning" else self.branch

    @property
    def flour(self) -> float:
        """Share of all flours in the whole."""
        return sum(part.share for part in self.ingredients if part.flour)

    @property
    def hydration(self) -> float | None:
        """Nominal: water added as such over flour, None without flour."""
        added = sum(part.share for part in self.ingredients if part.composition is None)
        return added / self.flour if self.flour > 0 else None

    @property
    def effective_hydration(self) -> float | None:
        """Effective: all water over flour, None without flour."""
        return self.moisture_wet / self.flour if self.flour > 0 else None


def shares(amounts: Sequence[float]) -> tuple[float, ...]:
    """True percents as fractions, from amounts in any basis: baker's percents, true percents or masses.

    Raises `HardtackError` when they add up to nothing.
    """
    total = sum(amounts)
    if not total > 0:
        raise HardtackError("the formula's amounts add up to nothing", "give at least one amount above zero")
    return tuple(amount / total for amount in amounts)


def bakers_percents(amounts: Sequence[float], flour: Sequence[bool]) -> tuple[float, ...]:
    """Baker's percents as fractions (all flours together 1) from amounts in any basis.

    `flour` says of each whether it is flour. Raises `HardtackError` when there is no flour.
    """
    total = sum(amount for amount, is_flour in zip(amounts, flour, strict=True) if is_flour)
    if not total > 0:
        raise HardtackError(
            "baker's percent refers to the flour, and there is none",
            "add 'flour: yes' to the line that is flour",
        )
    return tuple(amount / total for amount in amounts)


def masses(amounts: Sequence[float], whole: float) -> tuple[float, ...]:
    """Masses [kg] of each ingredient for a dough of `whole` [kg], from amounts in any basis."""
    return tuple(whole * share for share in shares(amounts))


def formula_of(product: Product, name: str) -> Formula:
    """Work out the product file's formula of that name.

    Raises `HardtackError` with every ingredient that the shelf lacks or knows too little of, and its line.
    """
    if name not in product.formulas:
        raise HardtackError(
            f"no formula is called {name!r}", f"there are: {', '.join(product.formulas) or 'none'}"
        )
    spec = product.formulas[name]
    problems: list[Problem] = []
    parts: list[Ingredient] = []
    used: list[Used] = []
    amounts = shares([line.amount for line in spec.lines])
    for place, share in zip(spec.lines, amounts, strict=True):
        line = place.spec
        try:
            water, composition, numbers = made_of(line)
        except HardtackError as error:
            problems.extend(
                _placed(product, name, place.path, line.ingredient, problem) for problem in error.problems
            )
            continue
        parts.append(Ingredient(line.ingredient, share, line.is_flour, water, composition, place.stage))
        where = f"the formula {name}" + (f", {place.stage}" if place.stage else "")
        used.append(Used(f"{line.ingredient} in {where} ({spec.basis})", line.amount, True))
        used.extend(numbers)
    if problems:
        raise HardtackError(problems)
    water, composition = _together(name, parts)
    branch = spec.branch or BRANCH
    baked_dry = branch != "desorption" and any(part.flour for part in parts)
    dissolved = dissolvable(composition, water * composition.dry_mass) >= MOSTLY
    sugar: Sugar = spec.sugar or ("amorphous" if baked_dry and dissolved else "crystalline")
    crystalline = crystallising(composition) if sugar == "crystalline" else ()
    if crystallising(composition):
        why = "undissolved" if baked_dry and not dissolved else sugar
        used.append(_sugar_used(name, composition, sugar, None if spec.sugar else SUGAR_WHY[why]))
    return Formula(name, tuple(parts), water, composition, sugar, crystalline, branch, tuple(used))


def sugar_settled(product: Product, formula: Formula, X: float) -> Formula:
    """The formula of a layer that holds X [kg/kg dry], its sugar as crystals where its glass is soft at 25 degC.

    Only where the file does not say the state of the sugar.
    """
    if product.formulas[formula.name].sugar is not None or formula.sugar == "crystalline":
        return formula
    names = crystallising(formula.composition)
    if not names or stays_glass(formula.composition, formula.from_the_oven, X):
        return formula
    why = SUGAR_WHY["soft"]
    glass = _sugar_used(formula.name, formula.composition, "amorphous", why)
    crystals = _sugar_used(formula.name, formula.composition, "crystalline", why)
    used = tuple(crystals if item.what == glass.what else item for item in formula.used)
    return replace(formula, sugar="crystalline", crystalline=names, used=used)


def isotherm_of_formula(formula: Formula, branch: Branch, T: float = ROOM) -> Isotherm:
    """The isotherm of the formula's dry matter at T [K], with its stated error in `activity_sd`.

    `branch` is desorption for dough, crumb and what was never dried hard, adsorption for baked dry goods.
    Raises `NotOnShelf` for a sugar, polyol or salt without constants.
    """
    return formula_isotherm(
        formula.name, formula.composition, crystalline=formula.crystalline, branch=branch, T=T
    )


def _together(name: str, parts: Sequence[Ingredient]) -> tuple[float, Composition]:
    """Moisture [kg/kg dry] and composition of all ingredients."""
    dry = [
        (part.share * (1.0 - part.water), part.composition) for part in parts if part.composition is not None
    ]
    solids = [(mass, composition) for mass, composition in dry if mass > 0]
    if not solids:
        raise HardtackError(
            f"the formula {name!r} holds nothing but water", "add an ingredient with dry matter"
        )
    water = sum(part.share * part.water for part in parts)
    return water / sum(mass for mass, _ in solids), blend(solids)


def _sugar_used(name: str, composition: Composition, sugar: Sugar, why: str | None) -> Used:
    """What is taken of the sugar's state; `why` is None where the file says it."""
    solutes = {**composition.sugars, **composition.polyols}
    names = crystallising(composition)
    share = sum(solutes[solute] for solute in names) / composition.dry_mass
    written = f"{100 * share:.3g} % of the dry matter"
    return Used(
        f"{', '.join(names)} in {name}, taken as {sugar} where not dissolved",
        Sourced(share, "", "assumed", why or "given in the product file", written=written),
        why is None,
    )


def _placed(
    product: Product, name: str, place: tuple[str | int, ...], ingredient: str, problem: Problem
) -> Problem:
    """The problem with the place of its ingredient in the product file."""
    path = ("formulas", name, *place)
    return Problem(
        problem.what,
        problem.mend.replace("NAME", ingredient, 1),
        str(product.file or ""),
        product.lines.get((*path, "ingredient"), product.lines.get(path)),
        f"formulas / {name} / {ingredient}",
    )
