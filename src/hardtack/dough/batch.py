"""From a formula to a batch: masses to weigh, pieces, yield, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hardtack.dough.formula import Formula
from hardtack.errors import HardtackError
from hardtack.product import FormulaSpec
from hardtack.sourced import Used

FLOUR = 100.0
"""Flour [kg] of the batch that is shown when the file names none: the trade's round figure."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One ingredient to weigh: `mass` [kg] in the batch, `cost` in the currency or None without a price."""

    stage: str
    name: str
    mass: float
    cost: float | None


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch. `dough` [kg] in the mixer; `dough_piece`, `baked_piece` [kg] and `pieces`, None where not known.

    `yielded` is baked mass over the mass of the dough in the mixer. Costs are of ingredients only, in `currency`:
    `cost_dough` per kg of dough, `cost_baked` per kg baked, `cost_piece`; None where not known. `unpriced` names what
    has no price and is not in them.
    """

    lines: tuple[Weighed, ...]
    dough: float
    dough_piece: float | None
    baked_piece: float | None
    pieces: int | None
    process_loss: float
    yielded: float | None
    currency: str
    cost_dough: float | None
    cost_baked: float | None
    cost_piece: float | None
    unpriced: tuple[str, ...]
    stated: bool
    used: tuple[Used, ...]


def batch_of(spec: FormulaSpec, formula: Formula, baked: float | None, baked_piece: float | None) -> Batch:
    """Scale the formula. `baked` [kg] is what one kg of dough weighs when baked, `baked_piece` [kg] the piece's mass.

    Dough in the mixer = pieces x dough piece / (1 - process loss); dough piece = baked piece / baked. Raises
    `HardtackError` when prices are in two currencies, or pieces are asked for without a mass of one.
    """
    given = spec.batch
    lost = given.process_loss.value if given and given.process_loss else 0.0
    piece = given.dough_piece.value if given and given.dough_piece else None
    if piece is None and baked_piece is not None and baked is not None:
        piece = baked_piece / baked
    dough = _dough(spec, formula, piece, lost)
    pieces = None
    if given is not None and given.pieces is not None:
        pieces = round(given.pieces.value)
    elif piece is not None:
        pieces = int(dough * (1.0 - lost) / piece * (1.0 + 1e-12))
    currency, prices = _prices(spec)
    shares = [part.share for part in formula.ingredients]
    lines = tuple(
        Weighed(
            part.stage, part.name, dough * part.share, None if price is None else dough * part.share * price
        )
        for part, price in zip(formula.ingredients, prices, strict=True)
    )
    cost = (
        sum(s * price for s, price in zip(shares, prices, strict=True) if price is not None)
        if currency
        else None
    )
    unpriced = tuple(
        dict.fromkeys(p.label for p, price in zip(formula.ingredients, prices, strict=True) if price is None)
    )
    in_oven = 1.0 - lost
    return Batch(
        lines=lines,
        dough=dough,
        dough_piece=piece,
        baked_piece=None if piece is None or baked is None else piece * baked,
        pieces=pieces,
        process_loss=lost,
        yielded=None if baked is None else in_oven * baked,
        currency=currency,
        cost_dough=cost,
        cost_baked=None if cost is None or baked is None else cost / (in_oven * baked),
        cost_piece=None if cost is None or piece is None else cost * piece / in_oven,
        unpriced=unpriced if currency else (),
        stated=given is not None and (given.dough is not None or given.pieces is not None),
        used=_used(spec),
    )


def _dough(spec: FormulaSpec, formula: Formula, piece: float | None, lost: float) -> float:
    given = spec.batch
    if given is not None and given.dough is not None:
        return given.dough.value
    if given is not None and given.pieces is not None:
        if piece is None:
            raise HardtackError(
                f"{given.pieces.value:g} pieces of which mass?",
                "add 'dough piece: 32 g' to the batch, or let a layer name this formula and give its moisture",
            )
        return given.pieces.value * piece / (1.0 - lost)
    if spec.basis == "mass":
        return sum(line.amount for line in spec.lines)
    return FLOUR / formula.flour if formula.flour > 0 else FLOUR


def _prices(spec: FormulaSpec) -> tuple[str, Sequence[float | None]]:
    """The one currency ("" without any price), and the price per kg of each line."""
    known: dict[str, float] = {}
    for line in spec.lines:
        if line.spec.price is not None:
            known[line.spec.ingredient.casefold()] = line.spec.price.value
    units = {line.spec.price.unit for line in spec.lines if line.spec.price is not None}
    if len(units) > 1:
        raise HardtackError(
            f"prices in several currencies: {', '.join(sorted(unit.partition('/')[0] for unit in units))}",
            "give all prices in one",
        )
    currency = units.pop().partition("/")[0] if units else ""
    own = [line.spec.price.value if line.spec.price is not None else None for line in spec.lines]
    return currency, [
        price if price is not None else known.get(line.spec.ingredient.casefold())
        for price, line in zip(own, spec.lines, strict=True)
    ]


def _used(spec: FormulaSpec) -> tuple[Used, ...]:
    prices = [
        Used(f"price of {line.spec.ingredient}", line.spec.price, True)
        for line in spec.lines
        if line.spec.price is not None
    ]
    given = spec.batch
    if given is None:
        return tuple(prices)
    named = {
        "dough in the batch": given.dough, "pieces in the batch": given.pieces, "mass of a dough piece": given.dough_piece,
        "process loss": given.process_loss, "bake loss": given.bake_loss, "moisture as baked": given.baked_moisture,
    }  # fmt: skip
    return (*(Used(what, amount, True) for what, amount in named.items() if amount is not None), *prices)
