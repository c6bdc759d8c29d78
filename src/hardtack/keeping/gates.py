"""The gates of one history: where it stands towards growth, food code, toxins, preservatives; and who confirms."""

from __future__ import annotations

from hardtack import reference
from hardtack.failures import growth_gate
from hardtack.keeping.growing import preservatives_of
from hardtack.keeping.judged import all_layers
from hardtack.product import Product
from hardtack.states import Gate, History, Piece


def gates_of(product: Product, pieces: tuple[Piece, ...], history: History) -> tuple[Gate, ...]:
    """The growth gate always; the others once a layer is moist enough for anything on record to grow."""
    growth = growth_gate.gate(history)
    acids = preservatives_of(product.failures.mould if product.failures else None)
    highest = float(history.activity.max())
    moist = highest >= reference.growth_limits()[0]["a_min"]
    if not moist and not acids:
        return (growth,)
    from hardtack.failures import food_code, preservatives, toxins_gate, yeast

    wettest = history.layers[int(history.activity.max(axis=0).argmax())]
    pH = next(layer.pH for layer in all_layers(pieces) if layer.name == wettest)
    found = [growth]
    if moist:
        table: food_code.Table = "A" if product.heat_treated_and_packed else "B"
        found += [food_code.gate(history, pH, table), *toxins_gate.gates(history, pH, _oxygen(product))]
        yeasts = reference.lookup("growth limits", yeast.ORGANISM)["a_min"]
        least = {name: float(history.activity[:, k].max()) for k, name in enumerate(history.layers)}
        fillings = [name for name, a in least.items() if a >= yeasts and not _is_crumb(name, product, pieces)]
        found += [yeast.gate(history, name) for name in fillings]
    if acids:
        found.append(preservatives.gate(acids, pH))
    return tuple(found)


def _oxygen(product: Product) -> float:
    """Share of oxygen in the headspace when packed: as stated; none beside carbon dioxide; else that of air."""
    from hardtack.failures.rancidity import AIR

    failures = product.failures
    if product.pack is not None and product.pack.atmosphere is not None:
        return product.pack.atmosphere.oxygen.value
    if failures and failures.rancidity and failures.rancidity.oxygen:
        return failures.rancidity.oxygen.value
    flushed = failures and failures.mould and failures.mould.carbon_dioxide
    return 0.0 if flushed else AIR


def _is_crumb(name: str, product: Product, pieces: tuple[Piece, ...]) -> bool:
    """Whether the layer is crumb or crust by the shelf, or of a crumb's isotherm: no place for yeasts that bear sugar."""
    from hardtack.keeping.ageing import crumb_of
    from hardtack.keeping.limits import CRUST_ROW

    own = next(layer for layer in all_layers(pieces) if layer.name == name).isotherm
    found = crumb_of(product, pieces)
    if found is None or own.name == CRUST_ROW:
        return own.name == CRUST_ROW
    crumb = found[0].isotherm
    return (own.form, own.parameters, own.points) == (crumb.form, crumb.parameters, crumb.points)
