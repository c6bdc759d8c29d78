"""What one ingredient is made of: by its own composition in the product file, else by the reference shelf.

The shelf's proximate analyses do not say which sugars they count, nor whose protein; `ingredient kinds` does.
Higher saccharides (dextrins) hold water by an isotherm of their own.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.product import CompositionSpec, IngredientSpec
from hardtack.reference import Row
from hardtack.sourced import Sourced, Used
from hardtack.water.composition import Composition, from_proximate

OWN, TABLE, KINDS = "other ingredients", "ingredients", "ingredient kinds"
_LEAVENERS: Mapping[str, tuple[str, str]] = {
    "leavening acids": (OWN, "Leavening acid"),
    "leavening bases": (OWN, "Leavening acid"),
    "yeast": (TABLE, "Baker's yeast, active dry"),
}
"""Leaveners by name, and the row whose composition stands for theirs."""
FEW_SUGARS = 0.01
"""Share of sugars up to which an ingredient needs no word on which they are; `default` is taken."""

_GROUPS: Mapping[str, tuple[str, ...]] = {
    "sugars": ("sucrose", "glucose", "fructose", "maltose", "lactose"),
    "polyols": ("glycerol", "sorbitol"),
    "salts": ("NaHCO3",),
}
_HELD: Mapping[str, str] = {"dextrins": "dextrin"}
"""Keys of the product file that a composition names otherwise."""
_INLINE = (
    "write it out: '{ingredient: NAME, amount: AMOUNT, composition: {water: 20 %, sugars: {sucrose: 30 %, "
    "glucose: 10 %}, starch: 40 %}}', all of it adding up to 100 %"
)


@dataclass(frozen=True, slots=True)
class Ingredient:
    """One line of a formula: `share` of the whole by mass, `water` in it as is, `composition` of its dry matter
    (None when it is all water). `flour` says whether it belongs to the 100 % of baker's percent; `stage` names
    the pre-ferment it goes into, "" for the dough.
    """

    name: str
    share: float
    flour: bool
    water: float
    composition: Composition | None
    stage: str = ""

    @property
    def label(self) -> str:
        """The name, with the pre-ferment it goes into."""
        return f"{self.name} ({self.stage})" if self.stage else self.name


def made_of(line: IngredientSpec) -> tuple[float, Composition | None, tuple[Used, ...]]:
    """Water share as is, composition of the dry matter (None when there is none), and the numbers used.

    Raises `NotOnShelf` for an ingredient, sugar or polyol the shelf lacks, and `HardtackError` when the shelf
    does not say which sugars the ingredient holds.
    """
    if line.composition is not None:
        return _given(line.ingredient, line.composition)
    row = _row(line.ingredient)
    held = row.values.get("water", _no_water(row))
    if held.value >= 1.0:
        return 1.0, None, ()
    water, used = held.value, [Used(f"water in {line.ingredient} ({row.name})", held, False)]
    if row.topic == OWN:
        return (
            water,
            _by_name({symbol: row[symbol] for symbol in row.values if symbol != "water"}),
            tuple(used),
        )
    kinds = _kinds(row, line.ingredient)
    if _sugars(row) > FEW_SUGARS:
        used.append(_sugars_used(line.ingredient, kinds))
    return water, _proximate(row, kinds), tuple(used)


def _no_water(row: Row) -> Sourced:
    return Sourced(0.0, "", row.provenance, row.source.citation, written="none")


def _sugars(row: Row) -> float:
    return row["sugars"] if "sugars" in row.values else 0.0


def _row(name: str) -> Row:
    row = reference.on_shelf(OWN, name) or reference.on_shelf(TABLE, name) or _leavener(name)
    if row is not None:
        return row
    spellings = {
        spelling.casefold(): spelling
        for topic in (OWN, TABLE)
        for row in reference.rows(topic)
        for spelling in (row.name, *row.also)
    }
    close = difflib.get_close_matches(name.casefold(), spellings, n=3, cutoff=0.6)
    holding = [key for key in spellings if name.casefold() in key and key not in close]
    near = [spellings[key] for key in (*close, *holding[:3])]
    guess = f"perhaps {' or '.join(repr(word) for word in near)}; " if near else ""
    raise NotOnShelf(
        Problem(
            f"the shelf holds no ingredient {name!r}",
            f"{guess}`hardtack reference {TABLE}` and `hardtack reference {OWN}` list them; or {_INLINE}",
        )
    )


def _leavener(name: str) -> Row | None:
    """What stands for a leavener that the tables of ingredients do not name: acid salt, or dry yeast."""
    for topic, stand_in in _LEAVENERS.items():
        if reference.on_shelf(topic, name) is not None:
            return reference.lookup(*stand_in)
    return None


def _kinds(row: Row, name: str) -> Row:
    """The shelf's word on the row's sugars and protein."""
    kinds = reference.on_shelf(KINDS, row.name)
    if kinds is not None:
        return kinds
    if _sugars(row) <= FEW_SUGARS:
        return reference.lookup(KINDS, "default")
    raise HardtackError(
        f"{name!r} holds {100 * _sugars(row):.3g} % sugars, and the shelf does not say which", _INLINE
    )


def _sugars_used(name: str, kinds: Row) -> Used:
    said = ", ".join(f"{100 * amount.value:.3g} % {sugar}" for sugar, amount in kinds.values.items())
    most = max(kinds.values.values(), key=lambda amount: amount.value)
    return Used(f"kinds of sugar in {name}", replace(most, written=said), False)


def _proximate(row: Row, kinds: Row) -> Composition:
    split = {sugar: amount.value for sugar, amount in kinds.values.items() if sugar != "higher"}
    made = from_proximate(row, split, kinds.form or "wheat")
    higher = kinds.values["higher"].value if "higher" in kinds.values else 0.0
    total = sum(made.sugars.values())
    return replace(
        made,
        dextrin=higher * total,
        sugars=MappingProxyType({sugar: (1.0 - higher) * mass for sugar, mass in made.sugars.items()}),
    )


def _by_name(amounts: Mapping[str, float]) -> Composition:
    """A composition from the symbols of the topic of other ingredients."""
    sugars, polyols, salts = (
        MappingProxyType({name: amounts[name] for name in _GROUPS[group] if name in amounts})
        for group in ("sugars", "polyols", "salts")
    )
    known = {name for names in _GROUPS.values() for name in names}
    plain = {name: value for name, value in amounts.items() if name not in known}
    return Composition(**plain, sugars=sugars, polyols=polyols, salts=salts)


def _given(name: str, spec: CompositionSpec) -> tuple[float, Composition | None, tuple[Used, ...]]:
    """A composition written out; what it lacks of 100 % for rounding is dealt out over all of it."""
    plain = {
        _HELD.get(field, field): share.value
        for field in (
            "starch",
            "dextrins",
            "wheat_protein",
            "egg_protein",
            "milk_protein",
            "fibre",
            "fat",
            "ash",
            "other",
        )
        if (share := getattr(spec, field)) is not None
    }
    sugars, polyols = _solutes(spec.sugars), _solutes(spec.polyols)
    salts = {"NaCl": spec.salt.value} if spec.salt is not None else {}
    dry = sum(plain.values()) + sum(sugars.values()) + sum(polyols.values()) + sum(salts.values())
    water = spec.water.value if spec.water is not None else 0.0
    used = [Used(f"water in {name}", spec.water, True)] if spec.water is not None else []
    if dry <= 0.0:
        return 1.0, None, tuple(used)
    made = Composition(
        **plain,
        sugars=MappingProxyType(sugars),
        polyols=MappingProxyType(polyols),
        salts=MappingProxyType(salts),
    )
    return water / (water + dry), made, tuple(used)


def _solutes(given: Mapping[str, Sourced]) -> dict[str, float]:
    """Masses by the shelf's own names of solutes."""
    masses: dict[str, float] = {}
    for name, share in given.items():
        known = reference.lookup("solutes", name).name
        masses[known] = masses.get(known, 0.0) + share.value
    return masses
