"""Moves on the piece: moisture when packed, barriers, emulsifiers and preservatives."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import pairwise

from hardtack.failures.names import FIRMING, MOULD
from hardtack.keeping.cases import Case
from hardtack.keeping.inputs import with_amounts
from hardtack.keeping.judged import ROOM
from hardtack.keeping.moves import Move, Setting, range_row, steps, tried, within
from hardtack.oven.awaited import computed_layers
from hardtack.product import BarrierSpec, LayerSpec, Product
from hardtack.product.base import Model
from hardtack.product.failures_spec import EffectSpec, FailuresSpec, FirmingSpec, MouldSpec, PreservativeSpec
from hardtack.product.schema import BarrierProperties, PassageEffect, PieceSpec
from hardtack.reference import Row, lookup, rows
from hardtack.sourced import Sourced
from hardtack.states import Layer
from hardtack.units import celsius, wet_basis
from hardtack.water.isotherm import activity

MOIST = 0.6
"""Activity from which goods count as moist for the range of a moisture."""


def piece_moves(product: Product, case: Case, judged: tuple[str, ...]) -> tuple[Move, ...]:
    """Every move on the piece that applies; `judged` names the failures looked out for. Some may have no settings."""
    found: list[Move] = []
    waits = {layer.name for layer in computed_layers(product)}
    built = {layer.name: layer for piece in case.pieces for layer in piece.layers}
    for like in _alike(product):
        if isinstance(like[0][2], BarrierSpec):
            found += _barrier(product, like)
        elif like[0][2].name not in waits:
            found += _moisture(product, like, built)
    for k, piece in enumerate(product.pieces):
        found += _new_barriers(product, k, piece)
    if FIRMING in judged:
        found += _firming(product, case)
    if MOULD in judged:
        found += _preservatives(product, case)
    return tuple(found)


def _path(product: Product, k: int, i: int) -> tuple[str | int, ...]:
    return ("piece", "layers", i) if product.one_piece is not None else ("pieces", k, "layers", i)


Place = tuple[int, int, LayerSpec | BarrierSpec]
"""A kind of piece, the part's place in it, and the part."""


def _alike(product: Product) -> list[list[Place]]:
    """The parts of all pieces; those that are the same but for their name (two like shells) stand together."""
    groups: list[list[Place]] = []
    for k, piece in enumerate(product.pieces):
        for i, part in enumerate(piece.layers):
            own = _bare(part)
            same = next((group for group in groups if _bare(group[0][2]) == own), None)
            if same is None:
                groups.append([(k, i, part)])
            else:
                same.append((k, i, part))
    return groups


def _bare(value: object) -> object:
    """A part as its values alone: neither its name nor the lines its numbers stand in."""
    if isinstance(value, Sourced):
        return value.value
    if isinstance(value, Model):
        fields = type(value).model_fields
        return tuple(_bare(getattr(value, key)) for key in fields if key != "name")
    return tuple(_bare(item) for item in value) if isinstance(value, tuple) else value


def _named(like: list[Place]) -> str:
    return " and ".join(dict.fromkeys(part.name for _, _, part in like))


def with_part(
    product: Product, k: int, change: Callable[[tuple[LayerSpec | BarrierSpec, ...]], tuple[object, ...]]
) -> Product:
    """The product with the layers of its kind of piece number `k` changed."""
    kinds = list(product.pieces)
    kinds[k] = kinds[k].model_copy(update={"layers": change(kinds[k].layers)})
    if product.one_piece is not None:
        return product.model_copy(update={"one_piece": kinds[0]})
    return product.model_copy(update={"several_pieces": tuple(kinds)})


def along_isotherm(
    path: tuple[str | int, ...], spec: LayerSpec, layer: Layer, X: float
) -> dict[tuple[str | int, ...], Sourced]:
    """What the file must state for the layer to be packed at moisture `X` [kg/kg dry] on the isotherm it has now.

    A stated pair of moisture and activity moves together, so that it shifts the isotherm no other way than before.
    """
    amounts: dict[tuple[str | int, ...], Sourced] = {}
    if spec.moisture is not None:
        amounts[*path, "moisture"] = tried(X, "kg/kg dry", f"{100 * wet_basis(X):.4g} %wb")
    if spec.activity is not None:
        T = spec.activity_at.value if spec.activity_at else ROOM
        there = float(activity(layer.isotherm, X, T))
        amounts[*path, "activity"] = tried(there, "", f"{there:.3f}")
    return amounts


def _moisture(product: Product, like: list[Place], built: dict[str, Layer]) -> Iterator[Move]:
    """Drier, then moister, along the isotherm the layers have: a stated pair of moisture and activity moves together."""
    spec = like[0][2]
    assert isinstance(spec, LayerSpec)
    layer, name = built[spec.name], _named(like)
    T = spec.activity_at.value if spec.activity_at else ROOM
    a = float(activity(layer.isotherm, layer.moisture, T))
    now = wet_basis(layer.moisture)
    row = range_row("moisture, moist goods" if a >= MOIST else "moisture, dry goods")
    driest = max(now - row["low"], row["step"]) if a >= MOIST else row["low"]

    def change(wet: float) -> Product:
        amounts: dict[tuple[str | int, ...], Sourced] = {}
        for k, i, part in like:
            assert isinstance(part, LayerSpec)
            amounts |= along_isotherm(_path(product, k, i), part, built[part.name], wet / (1.0 - wet))
        return with_amounts(product, amounts)

    for end, most in ((driest, "at most"), (now + row["high"], "at least")):
        settings = []
        for wet in steps(now, end, row["step"]):
            there = float(activity(layer.isotherm, wet / (1.0 - wet), T))
            line = (
                f"moisture of the {name} when packed {most} {100 * wet:.1f} %wb (activity {most} {there:.2f} at "
                f"{celsius(T):.0f} °C)"
            )
            if there < 1.0:
                settings.append(
                    Setting(100 * wet, f"{100 * wet:.1f} %wb", partial(change, wet), line, _dry(there))
                )
        way = "drier" if most == "at most" else "moister"
        yield Move(
            "moisture",
            f"{name} packed {way}",
            f"{100 * now:.1f} %wb",
            100 * now,
            "%wb",
            tuple(settings),
            within(row, f"{way} to {100 * end:.1f} %wb in steps of {100 * row['step']:.1f} %"),
        )


def _dry(a: float) -> tuple[str, ...]:
    return ("drier breaks more easily, and below an activity of about 0.2 fat oxidises faster",) * (a < 0.2)


def _barrier(product: Product, like: list[Place]) -> Iterator[Move]:
    """Barriers that are there: thicker, covering more, cracked less, or with an emulsifier in them."""
    spec = like[0][2]
    assert isinstance(spec, BarrierSpec)
    given, name = spec.barrier, _named(like)
    changed = partial(_with_barriers, product, like)
    row = range_row("barrier")
    if given.thickness is not None and given.permeance is None:
        now = 1e3 * given.thickness.value
        settings = tuple(
            Setting(
                mm,
                f"{mm:.3g} mm",
                partial(changed, thickness=tried(1e-3 * mm, "m", f"{mm:.3g} mm")),
                f"thickness of the {name} at least {mm:.3g} mm, everywhere",
            )
            for mm in steps(now, now * row["factor_high"], now * row["factor_step"])
        )
        said = within(row, f"up to {now * row['factor_high']:.3g} mm")
        yield Move("barrier", f"{name} thicker", f"{now:.3g} mm", now, "mm", settings, said)
    for key, end, word in (("coverage", 1.0, "at least"), ("cracks", 0.0, "at most")):
        amount = getattr(given, key)
        if amount is None or amount.value == end:
            continue
        ends = steps(amount.value, end, row["step"]) or (end,)
        settings = tuple(
            Setting(
                100 * share,
                f"{100 * share:.3g} %",
                partial(changed, **{key: tried(share, "", f"{100 * share:.3g} %")}),
                f"{key} of the {name} {word} {100 * share:.3g} % of its face",
            )
            for share in ends
        )
        said = within(row, f"to {100 * end:.0f} %")
        yield Move(
            "barrier",
            f"{key} of the {name}",
            f"{100 * amount.value:.3g} %",
            100 * amount.value,
            "%",
            settings,
            said,
        )
    yield _passage(product, like, given, name)


def _with_barriers(product: Product, like: list[Place], **update: object) -> Product:
    """The product with the properties of like barriers changed."""
    made = product
    for k, i, part in like:
        assert isinstance(part, BarrierSpec)
        own = part.model_copy(update={"barrier": part.barrier.model_copy(update=update)})
        made = with_part(made, k, partial(_put, i, own))
    return made


def _put(
    i: int, own: LayerSpec | BarrierSpec, parts: tuple[LayerSpec | BarrierSpec, ...]
) -> tuple[LayerSpec | BarrierSpec, ...]:
    return (*parts[:i], own, *parts[i + 1 :])


def _passage(product: Product, like: list[Place], given: BarrierProperties, name: str) -> Move:
    """An emulsifier in a fat film that slows water's passage, by the factor that would do."""
    row = range_row("passage")
    settings = tuple(
        Setting(
            factor,
            f"{factor:.2f} of today's",
            partial(
                _with_barriers,
                product,
                like,
                effects=(
                    *given.effects,
                    PassageEffect.model_construct(
                        ingredient="emulsifier", factor=tried(factor, "", f"{factor:.2f}")
                    ),
                ),
            ),
            f"water's passage through the {name} at most {factor:.2f} of today's, shown by measurement",
            ("no emulsifier is named: one that does this must be found and measured in this fat",),
        )
        for factor in steps(1.0, row["factor_low"], row["factor_step"])
    )
    return Move(
        "emulsifier",
        f"emulsifier in the {name}",
        "1.00 of today's",
        1.0,
        "of today's passage",
        settings,
        within(row, f"to {row['factor_low']:.2f} of today's passage"),
    )


def _new_barriers(product: Product, k: int, piece: PieceSpec) -> Iterator[Move]:
    """A film of fat between two layers that touch."""
    row = range_row("barrier, new")
    for i, (first, second) in enumerate(pairwise(piece.layers)):
        if isinstance(first, BarrierSpec) or isinstance(second, BarrierSpec):
            continue

        def change(mm: float, at: int = i) -> Product:
            film = BarrierSpec.model_construct(
                name="new fat film",
                barrier=BarrierProperties.model_construct(
                    material="fat barrier", thickness=tried(1e-3 * mm, "m", f"{mm:.3g} mm")
                ),
            )
            return with_part(product, k, lambda parts: (*parts[: at + 1], film, *parts[at + 1 :]))

        settings = tuple(
            Setting(
                mm,
                f"{mm:.3g} mm",
                partial(change, mm),
                f"a film of fat, at least {mm:.3g} mm everywhere, between {first.name} and {second.name}",
            )
            for mm in steps(0.0, 1e3 * row["length_high"], 1e3 * row["length_step"])
        )
        what = f"fat film between {first.name} and {second.name}"
        said = within(row, f"up to {1e3 * row['length_high']:.3g} mm")
        yield Move("barrier", what, "none", 0.0, "mm", settings, said)


def _firming(product: Product, case: Case) -> Iterator[Move]:
    """Emulsifiers and enzymes that the shelf knows to act on firming, each on top of those the file states."""
    from hardtack.keeping.ageing import crumb_of

    spec = product.failures.firming if product.failures else None
    if spec is None:
        known = crumb_of(product, case.pieces)
        if known is None:
            return
        spec = FirmingSpec.model_construct(layer=known[0].name)
    firming = spec
    held = {lookup("firming", one.ingredient).name for one in spec.effects if one.factor is None}

    def change(name: str) -> Product:
        better = firming.model_copy(
            update={"effects": (*firming.effects, EffectSpec.model_construct(ingredient=name))}
        )
        failures = product.failures or FailuresSpec.model_construct()
        return product.model_copy(update={"failures": failures.model_copy(update={"firming": better})})

    for row in rows("firming"):
        symbol = next((key for key in ("rate_factor", "firmness_factor") if key in row.values), None)
        if symbol is None or row.name in held:
            continue
        acts = "rate" if symbol == "rate_factor" else "final firmness"
        setting = Setting(
            row[symbol],
            f"{row.name}: {row[symbol]:.2g} times the {acts} of firming",
            partial(change, row.name),
            f"{row.name} in the dough: {row.conditions}",
            ("its usual dose; the label names it",),
        )
        said = f"its usual dose ({row.provenance})"
        yield Move("emulsifier", f"{row.name} in the {firming.layer}", "none", 1.0, acts, (setting,), said)


def _preservatives(product: Product, case: Case) -> Iterator[Move]:
    """More of a weak acid, up to a common ceiling, where the way mould is judged minds it."""
    spec = product.failures.mould if product.failures else None
    layers = [layer for piece in case.pieces for layer in piece.layers]
    if spec is None:
        spec = MouldSpec.model_construct(way="growth")
        if not any(layer.pH for layer in layers):
            return
    if spec.way == "lines" or not (spec.pH or any(layer.pH for layer in layers)):
        return
    mould = spec
    for name in ("propionic acid", "sorbic acid"):
        row, acid = range_row(name), lookup("preservatives", name)
        now = _dose(mould, acid)
        settings = tuple(
            Setting(
                100 * dose,
                f"{100 * dose:.2f} %",
                partial(_with_dose, product, mould, name, dose),
                f"{name} {100 * dose:.2f} % of the finished product, as free acid ({1e6 * dose:.0f} mg/kg)",
                (f"{row.note} The person responsible for the label and the food law must confirm it.",),
            )
            for dose in steps(now, row["high"], row["step"])
        )
        said = within(row, f"up to {100 * row['high']:.1f} % as free acid")
        yield Move("preservative", name, f"{100 * now:.2f} %", 100 * now, "%", settings, said)


def _dose(spec: MouldSpec, acid: Row) -> float:
    """Share of the product as free acid [kg/kg]."""
    total = 0.0
    for held in spec.preservatives:
        row = lookup("preservatives", held.name)
        if row.name == acid.name:
            total += held.dose.value * (row["salt"] if held.weighed_as == "salt" else 1.0)
    return total


def _with_dose(product: Product, spec: MouldSpec, name: str, dose: float) -> Product:
    """The product with that dose; a measured day keeps the setting it was measured in."""
    others = tuple(held for held in spec.preservatives if lookup("preservatives", held.name).name != name)
    more = PreservativeSpec.model_construct(
        name=name, dose=tried(dose, "", f"{100 * dose:.2f} %"), weighed_as="acid"
    )
    update: dict[str, object] = {"preservatives": (*others, more)}
    if spec.way == "measured day" and spec.measured_in is None:
        from hardtack.product.failures_spec import SettingSpec

        own = next((layer.pH for layer in product.layers if layer.pH), None)
        update["measured_in"] = SettingSpec.model_construct(
            pH=spec.pH or own, preservatives=spec.preservatives, carbon_dioxide=spec.carbon_dioxide
        )
    failures = product.failures or FailuresSpec.model_construct()
    mould = spec.model_copy(update=update)
    return product.model_copy(update={"failures": failures.model_copy(update={"mould": mould})})
