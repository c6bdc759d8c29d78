"""What a dough, crumb, filling or cracker is made of, water left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from types import MappingProxyType

from hardtack.errors import HardtackError
from hardtack.reference import Row

_NOTHING: Mapping[str, float] = MappingProxyType({})
_PROTEINS = ("wheat", "egg", "milk")
_SODIUM_OF_SALT = 22.990 / 58.443
"""Share of sodium in NaCl by mass (IUPAC atomic masses)."""


@dataclass(frozen=True, slots=True)
class Composition:
    """Dry matter by kind, in kg or in shares: only ratios matter.

    `dextrin` is what hydrolysis leaves of starch above maltose. `sugars`, `polyols` and `salts` go by the names of the shelf (sucrose, glycerol, NaCl). `fat`, `ash` (that
    part of it not named as salt) and `other` hold no water. Raises `HardtackError` when an amount is negative
    or all are zero.
    """

    starch: float = 0.0
    dextrin: float = 0.0
    wheat_protein: float = 0.0
    egg_protein: float = 0.0
    milk_protein: float = 0.0
    fibre: float = 0.0
    sugars: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    polyols: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    salts: Mapping[str, float] = field(default_factory=lambda: _NOTHING)
    fat: float = 0.0
    ash: float = 0.0
    other: float = 0.0

    def __post_init__(self) -> None:
        amounts = _amounts(self)
        wrong = [name for name, mass in amounts.items() if not 0.0 <= mass < float("inf")]
        if wrong or not sum(amounts.values()) > 0:
            raise HardtackError(
                f"a composition with impossible amounts: {', '.join(wrong) or 'nothing in it'}",
                "give masses of dry matter, zero or more, at least one above zero",
            )

    @property
    def dry_mass(self) -> float:
        """All dry matter, in the unit of the amounts."""
        return sum(_amounts(self).values())


def blend(parts: Sequence[tuple[float, Composition]]) -> Composition:
    """The composition of several together: pairs of dry mass [kg] and composition."""
    plain: dict[str, float] = {}
    maps: dict[str, dict[str, float]] = {"sugars": {}, "polyols": {}, "salts": {}}
    for dry_mass, part in parts:
        scale = dry_mass / part.dry_mass
        for item in fields(part):
            value = getattr(part, item.name)
            if item.name in maps:
                for name, mass in value.items():
                    maps[item.name][name] = maps[item.name].get(name, 0.0) + scale * mass
            else:
                plain[item.name] = plain.get(item.name, 0.0) + scale * value
    return Composition(
        **plain,
        sugars=MappingProxyType(maps["sugars"]),
        polyols=MappingProxyType(maps["polyols"]),
        salts=MappingProxyType(maps["salts"]),
    )


def from_proximate(row: Row, sugars: Mapping[str, float], protein: str = "wheat") -> Composition:
    """A composition from a proximate analysis on the shelf (ingredients, finished goods).

    Starch = carbohydrate - fibre - sugars, not below zero; sodium is taken for NaCl, the rest of the ash is
    inert. `sugars` splits the row's sugars by kind (shares, any scale); `protein` is wheat, egg or milk.
    Raises `HardtackError` when the row has sugars and no split is given, or the protein is of no known kind.
    """
    amount = {symbol: value.value for symbol, value in row.values.items()}
    total_sugar = amount.get("sugars", 0.0)
    split = sum(sugars.values())
    if total_sugar > 0 and not split > 0:
        raise HardtackError(
            f"{row.name}: {total_sugar:.3g} sugars of unknown kind", "say which sugars they are"
        )
    salt = min(amount.get("sodium", 0.0) / _SODIUM_OF_SALT, amount["ash"])
    fibre = amount.get("fibre", 0.0)
    if protein not in _PROTEINS:
        raise HardtackError(f"{row.name}: {protein!r} is no kind of protein", f"it is {', '.join(_PROTEINS)}")
    return Composition(
        wheat_protein=amount["protein"] if protein == "wheat" else 0.0,
        egg_protein=amount["protein"] if protein == "egg" else 0.0,
        milk_protein=amount["protein"] if protein == "milk" else 0.0,
        starch=max(0.0, amount["carbohydrate"] - fibre - total_sugar),
        fibre=fibre,
        sugars=MappingProxyType({name: total_sugar * share / split for name, share in sugars.items()}),
        salts=MappingProxyType({"NaCl": salt}),
        fat=amount["fat"],
        ash=amount["ash"] - salt,
    )


def _amounts(composition: Composition) -> dict[str, float]:
    flat: dict[str, float] = {}
    for item in fields(composition):
        value = getattr(composition, item.name)
        if isinstance(value, Mapping):
            flat.update(value)
        else:
            flat[item.name] = value
    return flat
