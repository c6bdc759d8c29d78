"""What materials of a pack cost, of which a remedy changes some: film, desiccant, ingredients."""

from __future__ import annotations

from dataclasses import dataclass

from hardtack.dough import formula_of
from hardtack.dough.batch import batch_of
from hardtack.keeping.cases import Case
from hardtack.product import FormulaSpec, Product
from hardtack.reference import lookup, on_shelf
from hardtack.sourced import Sourced

NOT_GIVEN = "cost not given"


@dataclass(frozen=True, slots=True)
class Materials:
    """Costs of a pack by part, in `currency` per piece; None where a price is not given. Parts that a product has not
    are left out."""

    film: float | None
    desiccant: float | None
    dough: float | None
    currency: str


def materials(product: Product, case: Case) -> Materials:
    """Cost per piece: film = area x price; desiccant = mass x price; dough = dry mass / dry share / (1 - process loss)
    x price of dough."""
    costs = product.costs
    pieces = sum(piece.count for piece in case.pieces)
    money = ""
    film = desiccant = None
    if case.pack is not None:
        price = film_price(product, case.pack.film.name)
        if price is not None:
            money, film = _currency(price), case.pack.area * price.value / pieces
        desiccant = 0.0
        spec = product.pack.desiccant if product.pack else None
        if spec is not None:
            name = lookup("desiccants", spec.kind).name
            price = costs.desiccants.get(name) if costs else None
            money = _currency(price) if price is not None else money
            desiccant = None if price is None else spec.mass.value * price.value / pieces
    dough, currency = _dough(product, case)
    return Materials(film, desiccant, None if dough is None else dough / pieces, money or currency)


def film_price(product: Product, name: str) -> Sourced | None:
    """The price the file gives for a film by its name, or by another name the shelf has for it; None without one."""
    for said, price in (product.costs.films if product.costs else {}).items():
        row = on_shelf("films", said)
        if name.casefold() in (said.casefold(), row.name.casefold() if row else ""):
            return price
    return None


def _currency(price: Sourced) -> str:
    return price.unit.partition("/")[0]


def _dough(product: Product, case: Case) -> tuple[float | None, str]:
    """Cost of a pack's dough, None where an ingredient of it has no price."""
    total, currency = 0.0, ""
    priced = product.model_copy(
        update={"formulas": {name: _priced(product, name) for name in product.formulas}}
    )
    specs = {layer.name: layer.formula for layer in product.layers}
    for piece in case.pieces:
        for layer in piece.layers:
            name = specs.get(layer.name)
            if name is None:
                continue
            formula = formula_of(priced, name)
            batch = batch_of(priced.formulas[name], formula, None, None)
            if batch.cost_dough is None or batch.unpriced:
                return None, ""
            dry = 1.0 - formula.moisture_wet
            total += layer.dry_mass * piece.count / dry / (1.0 - batch.process_loss) * batch.cost_dough
            currency = batch.currency
    return (total, currency) if currency else (None, "")


def _priced(product: Product, name: str) -> FormulaSpec:
    """The formula with the prices that the costs give for ingredients it states none of."""
    spec = product.formulas[name]
    held = (
        {key.casefold(): price for key, price in product.costs.ingredients.items()} if product.costs else {}
    )
    lines = tuple(
        line.model_copy(update={"price": held[line.ingredient.casefold()]})
        if line.price is None and line.ingredient.casefold() in held
        else line
        for line in spec.ingredients
    )
    # of the batch only its process loss bears on a price, not how many pieces it makes
    batch = None if spec.batch is None else spec.batch.model_copy(update={"pieces": None})
    return spec.model_copy(update={"ingredients": lines, "batch": batch})


@dataclass(frozen=True, slots=True)
class Cost:
    """What a remedy costs: `more` in `currency` per pack of today's count (below zero: saved), None when not given.

    `words` say it, with what it is made of.
    """

    more: float | None
    currency: str
    words: str


def cost_of_change(
    family: str, before: tuple[Product, Case], after: tuple[Product, Case], film_scale: float | None
) -> Cost:
    """Materials after less before, times today's pieces in a pack, and what the file adds for this kind of remedy.

    `film_scale` is the film's thickness over today's where the same film is made thicker: its price goes with it.
    """
    was, now = materials(*before), materials(*after)
    count = sum(piece.count for piece in before[1].pieces)
    extra = before[0].costs.remedies.get(family) if before[0].costs else None
    currency = was.currency or now.currency or (_currency(extra) if extra else "")
    film = (
        None if family == "transmission" else now.film
    )  # no price is known of a film told by its test alone
    if film_scale is not None and was.film is not None:
        film = was.film * film_scale
    parts = [
        ("film", was.film, film),
        ("desiccant", was.desiccant, now.desiccant),
        ("dough", was.dough, now.dough),
    ]
    touched = {
        "film": ("film",), "gauge": ("film",), "transmission": ("film",), "pack size": ("film", "desiccant"),
        "desiccant": ("desiccant",), "humectant": ("dough",), "fat": ("dough",), "moisture": ("dough",), "bake": ("dough",),
    }.get(family, ())  # fmt: skip
    if family in ("moisture", "bake"):
        touched = touched if was.dough is not None and extra is not None else ()
    lacking = [name for name, a, b in parts if name in touched and (a is None or b is None)]
    if lacking or (not touched and extra is None):
        what = f": no price of the {' and '.join(lacking)}" if lacking else ""
        return Cost(None, currency, f"{NOT_GIVEN}{what}")
    more = sum((b - a) * count for name, a, b in parts if name in touched and a is not None and b is not None)
    said = [
        f"{name} {1e3 * (b - a) * count:+.3g}"
        for name, a, b in parts
        if name in touched and a is not None and b is not None
    ]
    if extra is not None:
        more += extra.value
        said.append(f"{family} {1e3 * extra.value:+.3g}")
    return Cost(more, currency, f"{1e3 * more:+.3g} {currency} per 1000 packs ({', '.join(said)})")
