"""What ages: firming, sugar, checking, fat and colour, as the file states them or by the shelf."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.failures.names import CHECKING, COLOUR, FIRMING, RANCIDITY, SUGAR
from hardtack.failures.running import Warmth
from hardtack.keeping.judged import ROOM, Judged, NotJudged, Verdict, all_layers, given_or
from hardtack.pack.gas import oxygen_ingress
from hardtack.product.failures_spec import EffectSpec, FirmingSpec, RanciditySpec
from hardtack.product.schema import Product
from hardtack.reference import Row
from hardtack.sourced import Sourced, Used
from hardtack.states import Layer, Pack, Piece
from hardtack.units import DAY
from hardtack.water.isotherm import activity

if TYPE_CHECKING:
    from hardtack.failures.firming import Effect

NO_RATE = "it takes a measured rate, and the file gives none"


def firming_failure(product: Product, pieces: tuple[Piece, ...]) -> Verdict:
    """Firming as the file states it, completed from the shelf; by default of the layer the shelf knows as crumb."""
    spec = product.failures.firming if product.failures else None
    known = crumb_of(product, pieces)
    if spec is None and known is None:
        return NotJudged(
            FIRMING, "the shelf knows none of the layers as crumb that firms, and the file gives no rate"
        )
    from hardtack.failures import firming

    layer = spec.layer if spec else known[0].name if known else ""
    row = known[1] if known else reference.lookup("firming", "white bread")
    spec = spec or FirmingSpec.model_construct(layer=layer)
    room = reference.lookup("firming temperatures", firming.POINTS[1])
    rate, rate_used = given_or(spec.rate, row.values["k"], f"rate of firming of {layer} ({row.name})")
    T, at_used = given_or(spec.at, room.values["temperature"], f"temperature of the firming rate of {layer}")
    n, n_used = given_or(spec.exponent, row.values["n"], f"Avrami exponent of {layer}")
    warm = reference.lookup("firming", "re-warming").values["kept"]
    kept, kept_used = given_or(spec.kept_on_re_warming, warm, f"kept on re-warming of {layer}")
    effects, effect_used = _effects(spec.effects)
    used = [rate_used, at_used, n_used, kept_used, *effect_used]
    limit, limit_used = _firming_limit(spec, layer, room)
    used += limit_used
    for what, amount in (
        ("firmness limit", spec.firmness_limit),
        ("fresh firmness", spec.fresh_firmness),
        ("final firmness", spec.final_firmness),
        ("apparent energy of firming", spec.apparent_energy),
    ):
        if amount is not None:
            used.append(Used(f"{what} of {layer}", amount, True))
    made = firming.Firming(
        layer=layer,
        rate=rate,
        temperature=T,
        n=n,
        limit_share=limit,
        limit=spec.firmness_limit.value if spec.firmness_limit else None,
        fresh=spec.fresh_firmness.value if spec.fresh_firmness else None,
        final=spec.final_firmness.value if spec.final_firmness else None,
        effects=effects,
        kept=kept,
        energy=spec.apparent_energy.value if spec.apparent_energy else None,
        provenance=rate_used.amount.provenance,
        source=rate_used.amount.source or row.source.citation,
    )
    return Judged(FIRMING, layer, partial(firming.course, spec=made), tuple(used))


def crumb_of(product: Product, pieces: tuple[Piece, ...]) -> tuple[Layer, Row] | None:
    """The layer that firms, with its row of the shelf: known by its own words, else the moistest one by the kind."""
    layers = all_layers(pieces)
    for layer in layers:
        if row := _firms((layer.isotherm.name, layer.name)):
            return layer, row
    if row := _firms((product.kind or "",)):
        return max(layers, key=lambda layer: float(activity(layer.isotherm, layer.moisture, ROOM))), row
    return None


def _firms(words: tuple[str, ...]) -> Row | None:
    for word in words:
        row = reference.on_shelf("firming", word)
        if row is not None and "k" in row.values:
            return row
    return None


def _firming_limit(spec: FirmingSpec, layer: str, room: Row) -> tuple[float | None, list[Used]]:
    """The limit as a share of the way: the file's, else where the shelf's bread ends its fresh days at room temperature."""
    if spec.firmness_limit is not None:
        return None, []
    what = f"share of the way to its final firmness at which {layer} is stale"
    if spec.limit is not None:
        return spec.limit.value, [Used(what, spec.limit, True)]
    bread = reference.lookup("firming", "white bread")
    share = -math.expm1(-((bread["k"] * room["keeps"]) ** bread["n"]))
    source = f"bread keeps fresh for {room['keeps'] / DAY:.0f} days at 21 °C ({room.source.citation}), at the shelf's rate of {bread['k'] * DAY:.2f} a day"
    return share, [Used(what, Sourced(share, "", "assumed", source, written=f"{share:.0%}"), False)]


def _effects(specs: tuple[EffectSpec, ...]) -> tuple[tuple[Effect, ...], list[Used]]:
    from hardtack.failures import firming

    effects: list[Effect] = []
    used: list[Used] = []
    for spec in specs:
        if spec.factor is not None and spec.on is not None:
            amount, on, name = spec.factor, spec.on, spec.ingredient
        else:
            row = reference.lookup("firming", spec.ingredient)
            name = row.name
            symbol = "rate_factor" if "rate_factor" in row.values else "firmness_factor"
            if symbol not in row.values:
                raise HardtackError(
                    f"{name} is no ingredient that acts on firming", "name one, or give 'on' and 'factor'"
                )
            amount, on = row.values[symbol], "rate" if symbol == "rate_factor" else "final firmness"
        effects.append(firming.Effect(name, on, amount.value, amount.provenance, amount.source))
        used.append(Used(f"factor of {name} on the {on} of firming", amount, spec.factor is not None))
    return tuple(effects), used


def sugar_failure(product: Product) -> Verdict:
    """Sugar as the file states it."""
    spec = product.failures.sugar if product.failures else None
    if spec is None:
        return NotJudged(
            SUGAR, "the file does not say which sugar of which layer must not weep, grain or crystallise"
        )
    from hardtack.failures import sugar

    if spec.sugar is not None:
        row = reference.lookup("deliquescence", spec.sugar)
        made: sugar.Crossing | sugar.Glassy = sugar.Crossing(
            spec.layer, row.name, "weeping" if spec.must_not == "weep" else "graining"
        )
        point = Used(f"deliquescence point of {row.name}", row.values["RH0"], False)
        return Judged(SUGAR, spec.layer, partial(sugar.course, spec=made), (point,))
    assert spec.glass is not None  # the product file asks for one of the two, and for all of the glass's
    assert spec.crystals_after is not None
    assert spec.moisture is not None
    assert spec.at is not None
    made = sugar.Glassy(
        layer=spec.layer,
        solid=spec.glass,
        life=spec.crystals_after.value,
        X=spec.moisture.value,
        T=spec.at.value,
        provenance=spec.crystals_after.provenance,
        source=spec.crystals_after.source,
    )
    used = (
        Used(f"crystals of {spec.glass} seen after", spec.crystals_after, True),
        Used("moisture of that day", spec.moisture, True),
        Used("temperature of that day", spec.at, True),
    )
    return Judged(SUGAR, spec.layer, partial(sugar.course, spec=made), used)


def checking_failure(product: Product, pieces: tuple[Piece, ...]) -> Verdict:
    """Checking, when the file asks for it: its layers, else all of the first piece."""
    spec = product.failures.checking if product.failures else None
    if spec is None:
        return NotJudged(
            CHECKING, "the file does not ask for it; it takes centre and rim as layers of their own"
        )
    from hardtack.failures import checking

    row = reference.lookup("checking", "hard biscuit")
    difference, used = given_or(
        spec.difference, row.values["difference"], "greatest harmless difference in moisture, centre to rim"
    )
    names = spec.layers or tuple(layer.name for layer in pieces[0].layers)
    piece = next(piece for piece in pieces if names[0] in [layer.name for layer in piece.layers])
    made = checking.Checking(names, difference)
    course = partial(checking.course, piece=piece, spec=made)
    return Judged(CHECKING, names[-1], course, (used,), bounded=True)


def rancidity_failure(product: Product, pieces: tuple[Piece, ...], pack: Pack | None) -> Verdict:
    """Rancidity from the rate the file states, with the oxygen of the pack."""
    spec = product.failures.rancidity if product.failures else None
    if spec is None:
        return NotJudged(RANCIDITY, NO_RATE)
    from hardtack.failures import rancidity

    assert pack is not None  # the product file asks for one
    layer, count = next(
        (layer, piece.count) for piece in pieces for layer in piece.layers if layer.name == spec.layer
    )
    fat = spec.fat.value * layer.dry_mass * (1.0 + layer.moisture) * count
    warmth, warmth_used = _fat_warmth(spec)
    film, film_used = _film_oxygen(product, pack, spec)
    air = Sourced(rancidity.AIR, "", "assumed", "packed in air", written="21 %")
    if product.pack is not None and product.pack.atmosphere is not None:
        air = product.pack.atmosphere.oxygen
    oxygen, oxygen_used = given_or(spec.oxygen, air, "oxygen in the headspace when packed")
    fresh = Sourced(0.0, "", "assumed", "fresh fat", written="0 meq/kg")
    start, start_used = given_or(spec.start, fresh, "peroxide value when packed")
    panel = reference.lookup("rancidity", "biscuit, half of panel rejects").values["PV_limit"]
    limit, limit_used = given_or(spec.limit, panel, "peroxide value at which it is rancid [meq/kg]")
    made = rancidity.Rancidity(
        layer=spec.layer,
        fat=fat,
        rate=spec.rate.value,
        temperature=spec.at.value,
        a=spec.activity.value,
        start=start,
        limit=limit,
        oxygen=oxygen,
        headspace=pack.headspace,
        ingress=oxygen_ingress(pack, film, spec.at.value),
        Q10=warmth.Q10,
        energy=warmth.energy,
        provenance=spec.rate.provenance,
        source=spec.rate.source,
    )
    used = (
        Used(f"fat in {spec.layer}", spec.fat, True),
        Used(f"rise of the peroxide value of {spec.layer} in air", spec.rate, True),
        Used("temperature of that rise", spec.at, True),
        Used("activity of that rise", spec.activity, True),
        start_used,
        limit_used,
        oxygen_used,
        film_used,
        warmth_used,
    )
    return Judged(RANCIDITY, spec.layer, partial(rancidity.course, spec=made), used)


def _fat_warmth(spec: RanciditySpec) -> tuple[Warmth, Used]:
    if spec.activation_energy is not None:
        warmth = Warmth(spec.at.value, energy=spec.activation_energy.value)
        return warmth, Used("activation energy of oxidation", spec.activation_energy, True)
    shelf = reference.lookup("rancidity", "bakery goods").values["Q10"]
    Q10, used = given_or(spec.Q10, shelf, "factor on oxidation per 10 K")
    return Warmth(spec.at.value, Q10), used


def _film_oxygen(product: Product, pack: Pack, spec: RanciditySpec) -> tuple[float, Used]:
    what = "oxygen transmission of the film"
    if spec.film_oxygen is not None:
        return spec.film_oxygen.value, Used(what, spec.film_oxygen, True)
    film = product.pack.film if product.pack else None
    row = reference.film(film) if isinstance(film, str) else None
    if row is None and pack.film.oxygen is not None:
        whole = Sourced(pack.film.oxygen, "m3/m2/s/Pa", "assumed", "from the film or the plies of the pack")
        return pack.film.oxygen, Used(f"{what} ({pack.film.name})", whole, False)
    if row is None or "oxygen" not in row.values:
        raise HardtackError(
            "nothing says how much oxygen the film lets in",
            "add 'film oxygen: 1500 cm3/m2/day/atm' to rancidity, from the supplier's sheet",
        )
    return row["oxygen"], Used(f"{what} ({row.name})", row.values["oxygen"], False)


def colour_failure(product: Product) -> Verdict:
    """Colour from the rate the file states."""
    spec = product.failures.colour if product.failures else None
    if spec is None:
        return NotJudged(COLOUR, NO_RATE)
    from hardtack.failures import colour

    Q10, Q10_used = given_or(spec.Q10, colour.default_Q10(), f"factor on the colour of {spec.layer} per 10 K")
    made = colour.Colour(
        layer=spec.layer,
        rate=spec.rate.value,
        limit=spec.limit.value,
        T=spec.at.value,
        Q10=Q10,
        provenance=spec.rate.provenance,
        source=spec.rate.source,
    )
    used = (
        Used(f"change of colour of {spec.layer}", spec.rate, True),
        Used("temperature of that change", spec.at, True),
        Used(f"colour limit of {spec.layer}", spec.limit, True),
        Q10_used,
    )
    return Judged(COLOUR, spec.layer, partial(colour.course, spec=made), used)
