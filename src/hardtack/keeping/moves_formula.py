"""Moves on formula and bake: longer, hotter, drier; humectant; fat."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from hardtack import reference
from hardtack.dough.ingredients import made_of
from hardtack.errors import NotOnShelf
from hardtack.keeping.inputs import with_amounts
from hardtack.keeping.moves import Move, Setting, range_row, steps, tried, within
from hardtack.oven.awaited import computed_layers
from hardtack.piece import isotherms_of
from hardtack.product import FormulaSpec, IngredientSpec, LayerSpec, Product
from hardtack.product.formula_spec import kind_of_amount
from hardtack.sourced import Sourced
from hardtack.units import celsius
from hardtack.water.isotherm import activity, reconcile

SOFTENS = "a limit of texture by activity is left where it was, though polyols soften: test the bite"
SUGAR = "Sucrose, granulated"
HUMECTANTS = ("Glycerol", "Sorbitol syrup, 70 %")
FAT = 0.6
"""Share of fat from which an ingredient counts as one of the formula's fats."""


def formula_moves(product: Product) -> tuple[Move, ...]:
    """Every move on bake and formulas that applies; some may have no settings."""
    found: list[Move] = []
    if computed_layers(product) and product.oven is not None:
        found += _bake(product)
    for name in dict.fromkeys(layer.formula for layer in product.layers if layer.formula):
        found += _humectant(product, name)
        found += _fat(product, name)
    return tuple(found)


def _bake(product: Product) -> Iterator[Move]:
    """Every zone longer or shorter, hotter or cooler, or drier."""
    oven = product.oven
    assert oven is not None
    total = sum(zone.lasts.value for zone in oven.zones)

    def lasting(factor: float) -> Product:
        amounts: dict[tuple[str | int, ...], Sourced] = {}
        for k, zone in enumerate(oven.zones):
            amounts["oven", "zones", k, "lasts"] = tried(
                factor * zone.lasts.value, "s", f"{factor:.2f} times"
            )
        return with_amounts(product, amounts)

    def shifted(keys: tuple[str, ...], kelvin: float) -> Product:
        amounts: dict[tuple[str | int, ...], Sourced] = {}
        for k, zone in enumerate(oven.zones):
            for key in keys:
                amount = getattr(zone, key.replace(" ", "_"))
                if amount is not None:
                    amounts["oven", "zones", k, key] = tried(
                        amount.value + kelvin, "K", f"{celsius(amount.value + kelvin):.0f} °C"
                    )
        return with_amounts(product, amounts)

    row = range_row("bake, time")
    for end, word in ((row["factor_high"], "longer"), (row["factor_low"], "shorter")):
        settings = tuple(
            Setting(
                factor * total,
                f"{factor * total:.0f} s, {factor:.2f} times",
                partial(lasting, factor),
                f"bake of {'at least' if word == 'longer' else 'at most'} {factor * total:.0f} s, each zone {factor:.2f} times",
                ("colour moves with it: look at the bake's lightness",),
            )
            for factor in steps(1.0, end, row["factor_step"])
        )
        said = within(row, f"each zone up to {end:.2f} times")
        yield Move("bake", f"bake {word}", f"{total:.0f} s", total, "s", settings, said)
    hot, air = range_row("bake, heat"), range_row("bake, drier air")
    ways = (
        ("bake hotter", hot, 1.0, ("temperature", "to"), "air of every zone"),
        ("bake cooler", hot, -1.0, ("temperature", "to"), "air of every zone"),
        ("bake in drier air", air, -1.0, ("dew point",), "dew point of every zone"),
    )
    for what, row, sign, keys, where in ways:
        settings = tuple(
            Setting(
                sign * kelvin,
                f"{sign * kelvin:+.0f} K",
                partial(shifted, keys, sign * kelvin),
                f"{where} {sign * kelvin:+.0f} K against today's",
                ("colour moves with it: look at the bake's lightness",),
            )
            for kelvin in steps(0.0, row["kelvin"], row["kelvin_step"])
        )
        if "dew point" in keys and all(zone.dew_point is None for zone in oven.zones):
            continue
        said = within(row, f"{where} by up to {row['kelvin']:.0f} K")
        yield Move("bake", what, "as it is", 0.0, "K", settings, said)


def _humectant(product: Product, name: str) -> Iterator[Move]:
    """A polyol instead of part of the sugar, or added where there is no sugar."""
    spec = product.formulas[name]
    at = next((k for k, line in enumerate(spec.ingredients) if _is_sugar(line)), None)
    for humectant in HUMECTANTS:
        if at is not None:
            yield from _instead_of_sugar(product, name, humectant, at)
        else:
            yield from _added(product, name, humectant)


def _instead_of_sugar(product: Product, name: str, humectant: str, at: int) -> Iterator[Move]:
    spec, row = product.formulas[name], range_row("humectant, instead of sugar")
    line = spec.ingredients[at]

    def change(share: float) -> Product:
        lines = list(spec.ingredients)
        kept = line.amount.value * (1.0 - share)
        lines[at] = line.model_copy(update={"amount": _amount(spec, kept)})
        lines.append(_line(spec, humectant, line.amount.value * share))
        return _with_formula(product, name, spec.model_copy(update={"ingredients": tuple(lines)}))

    settings = tuple(
        Setting(
            100 * share,
            f"{100 * share:.0f} % of the sugar",
            partial(change, share),
            f"{humectant} instead of {100 * share:.0f} % of the sugar of {name}",
            (*_label(spec, humectant, line.amount.value * share), "less sweet, less browning", SOFTENS),
        )
        for share in steps(0.0, row["high"], row["step"])
    )
    said = within(row, f"up to {100 * row['high']:.0f} % of the sugar")
    yield Move("humectant", f"{humectant} for sugar in {name}", "none", 0.0, "% of the sugar", settings, said)


def _added(product: Product, name: str, humectant: str) -> Iterator[Move]:
    spec, row = product.formulas[name], range_row("humectant, added")
    whole = sum(line.amount for line in spec.lines)
    base = 1.0 if spec.basis == "baker's percent" else whole

    def change(share: float) -> Product:
        lines = (*spec.ingredients, _line(spec, humectant, share * base))
        if spec.basis == "true percent":
            scale = 1.0 / (1.0 + share)
            lines = tuple(
                one.model_copy(update={"amount": _amount(spec, scale * one.amount.value)}) for one in lines
            )
        return _with_formula(product, name, spec.model_copy(update={"ingredients": lines}))

    of = "of the flour" if spec.basis == "baker's percent" else "of the rest"
    settings = tuple(
        Setting(
            100 * share,
            f"{100 * share:.1f} % {of}",
            partial(change, share),
            f"{humectant} {100 * share:.1f} % {of} in {name}",
            (*_label(spec, humectant, share * base), SOFTENS),
        )
        for share in steps(0.0, row["high"], row["step"])
    )
    said = within(row, f"up to {100 * row['high']:.0f} % {of}")
    yield Move("humectant", f"{humectant} in {name}", "none", 0.0, f"% {of}", settings, said)


def _fat(product: Product, name: str) -> Iterator[Move]:
    """All fats of the formula, more or less."""
    spec, row = product.formulas[name], range_row("fat")
    fats = [k for k, line in enumerate(spec.ingredients) if _fat_share(line) >= FAT]
    total = sum(spec.ingredients[k].amount.value for k in fats)
    if not fats or total <= 0.0 or spec.basis == "true percent":
        return

    def change(factor: float) -> Product:
        lines = list(spec.ingredients)
        for k in fats:
            lines[k] = lines[k].model_copy(update={"amount": _amount(spec, factor * lines[k].amount.value)})
        return _with_formula(product, name, spec.model_copy(update={"ingredients": tuple(lines)}))

    share = kind_of_amount(spec.basis) == "proportion"
    for end, word in ((row["factor_high"], "more"), (row["factor_low"], "less")):
        settings = tuple(
            Setting(
                factor,
                f"{100 * factor * total:.3g} % of the flour" if share else f"{factor:.1f} times",
                partial(change, factor),
                f"fat in {name} {'at least' if word == 'more' else 'at most'} {factor:.1f} times today's",
                ("dough handling, bite and nutrition label move with it",),
            )
            for factor in steps(1.0, end, row["factor_step"])
        )
        said = within(row, f"up to {end:.1f} times")
        now = f"{100 * total:.3g} % of the flour" if share else "as it is"
        yield Move("fat", f"{word} fat in {name}", now, 1.0, "times", settings, said)


def _is_sugar(line: IngredientSpec) -> bool:
    row = reference.on_shelf("ingredients", line.ingredient) if line.composition is None else None
    return row is not None and row.name == SUGAR


def _fat_share(line: IngredientSpec) -> float:
    """Share of fat in an ingredient as it is; none where the shelf does not know it."""
    try:
        water, dry, _ = made_of(line)
    except NotOnShelf:
        return 0.0
    return 0.0 if dry is None else (1.0 - water) * dry.fat / dry.dry_mass


def _amount(spec: FormulaSpec, value: float) -> Sourced:
    unit = "kg" if kind_of_amount(spec.basis) == "mass" else ""
    return tried(value, unit, f"{value:.4g} kg" if unit else f"{100 * value:.4g} %")


def _line(spec: FormulaSpec, name: str, value: float) -> IngredientSpec:
    return IngredientSpec.model_construct(ingredient=name, amount=_amount(spec, value))


def _label(spec: FormulaSpec, humectant: str, amount: float) -> tuple[str, ...]:
    """What the label must tell: the polyol itself, and laxative effect from a stated share."""
    share = amount / sum(line.amount for line in spec.lines)
    told: tuple[str, ...] = (f"the label names {humectant.lower()}, about {100 * share:.1f} % of the dough",)
    if share > range_row("polyols")["high"]:
        told = (*told, "so much polyol asks for a warning of laxative effect in many markets")
    return told


def _with_formula(product: Product, name: str, spec: FormulaSpec) -> Product:
    """The product with that formula. A layer's stated pair keeps its moisture and the factor its isotherm was moved by."""
    changed = product.model_copy(update={"formulas": {**product.formulas, name: spec}})
    pairs = [layer for layer in product.layers if layer.formula == name and layer.moisture and layer.activity]
    if not pairs:
        return changed
    before, after = isotherms_of(product)[0], isotherms_of(changed)[0]
    amounts: dict[tuple[str | int, ...], Sourced] = {}
    for path, layer in _places(product):
        if layer in pairs:
            assert layer.moisture is not None
            assert layer.activity is not None
            T = layer.activity_at.value if layer.activity_at else 298.15
            X = layer.moisture.value
            _, factor = reconcile(before[layer.name], X, layer.activity.value, T)
            there = float(activity(after[layer.name], X / factor, T))
            amounts[*path, "activity"] = tried(there, "", f"{there:.3f}")
    return with_amounts(changed, amounts)


def _places(product: Product) -> Iterator[tuple[tuple[str | int, ...], LayerSpec]]:
    for k, piece in enumerate(product.pieces):
        for i, part in enumerate(piece.layers):
            if isinstance(part, LayerSpec):
                head = ("piece",) if product.one_piece is not None else ("pieces", k)
                yield (*head, "layers", i), part
