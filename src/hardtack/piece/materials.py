"""Isotherm and diffusivity of a layer: as the product file gives them, else from the reference shelf.

Each function returns the property and the numbers it leans on, so that the answer can list them.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import MappingProxyType

from hardtack import reference
from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.product.isotherm_spec import IsothermSpec
from hardtack.product.schema import DiffusivitySpec, LayerSpec
from hardtack.reference import Row
from hardtack.sourced import Sourced, Used
from hardtack.states import Diffusivity, IsostericHeat, Isotherm
from hardtack.units import ZERO_CELSIUS

ROOM = ZERO_CELSIUS + 25.0


def isotherm_of(layer: LayerSpec, words: Sequence[str]) -> tuple[Isotherm, tuple[Used, ...]]:
    """The layer's isotherm. `words` are the names to look for on the shelf when the file gives none.

    Raises `NotOnShelf` when the shelf holds none of them.
    """
    if isinstance(layer.isotherm, IsothermSpec):
        return _inline(layer.name, layer.isotherm)
    given = layer.isotherm is not None
    names = [layer.isotherm] if isinstance(layer.isotherm, str) else words
    row = _first("isotherms", names, f"layer {layer.name!r} has no isotherm", "isotherm: soda cracker")
    return reference.isotherm(row.name), _row_used(f"isotherm of {layer.name}", row, given)


def _inline(name: str, spec: IsothermSpec) -> tuple[Isotherm, tuple[Used, ...]]:
    used = [Used(f"isotherm of {name}: {symbol}", amount, True) for symbol, amount in spec.parameters.items()]
    heat: IsostericHeat | None = None
    if spec.isosteric_heat is not None:
        fades = spec.fades_over.value if spec.fades_over is not None else float("inf")
        heat = IsostericHeat(spec.isosteric_heat.value, fades)
        used.append(Used(f"isosteric heat of {name}", spec.isosteric_heat, True))
    elif not spec.enthalpies:
        heat = reference.isosteric_heat()
        used.extend(
            _row_used(f"isosteric heat of {name}", reference.lookup("isosteric heats", "default"), False)
        )
    points = tuple((a.value, X.value) for a, X in sorted(spec.points.items(), key=lambda pair: pair[0].value))
    known = next(iter(spec.parameters.values()), next(iter(spec.points.values()), spec.at))
    low, high = (0.05, 0.90) if not points else (points[0][0], points[-1][0])
    if spec.range is not None and spec.range.low is not None and spec.range.high is not None:
        low, high = spec.range.low, spec.range.high
    iso = Isotherm(
        name=spec.name or f"isotherm of {name}",
        form=spec.form,
        parameters=MappingProxyType({symbol: amount.value for symbol, amount in spec.parameters.items()}),
        points=points,
        reference_temperature=spec.at.value,
        heat=heat,
        enthalpies=MappingProxyType({symbol: amount.value for symbol, amount in spec.enthalpies.items()}),
        activity_range=(low, high),
        branch=spec.branch,
        provenance=known.provenance,
        source=known.source,
    )
    if points:
        used.append(Used(f"isotherm of {name}: {len(points)} measured points", known, True))
    return iso, tuple(used)


def diffusivity_of(layer: LayerSpec, words: Sequence[str]) -> tuple[Diffusivity, tuple[Used, ...]]:
    """The layer's diffusivity law; what a given value leaves out stays constant."""
    if isinstance(layer.diffusivity, DiffusivitySpec):
        spec = layer.diffusivity
        law = Diffusivity(
            D_ref=spec.value.value,
            slope=spec.rises_with_moisture.value if spec.rises_with_moisture else 0.0,
            X_ref=spec.around.value if spec.around else 0.0,
            T_ref=spec.at.value if spec.at else ROOM,
            E=spec.activation_energy.value if spec.activation_energy else 0.0,
        )
        return law, (Used(f"diffusivity of {layer.name}", spec.value, True),)
    given = layer.diffusivity is not None
    names = [layer.diffusivity] if isinstance(layer.diffusivity, str) else words
    row = _first(
        "diffusivities", names, f"layer {layer.name!r} has no diffusivity", "diffusivity: 2e-11 m2/s"
    )
    return reference.diffusivity(row.name), _row_used(f"diffusivity of {layer.name}", row, given)


def _first(topic: str, names: Sequence[str], what: str, example: str) -> Row:
    """The first of the names that the shelf holds."""
    missing: NotOnShelf | None = None
    for name in names:
        try:
            return reference.lookup(topic, name)
        except NotOnShelf as error:
            missing = missing or error
    if len(names) == 1 and missing is not None:
        raise missing
    held = ", ".join(row.name for row in reference.rows(topic))
    raise NotOnShelf(
        Problem(
            f"{what}, and the shelf knows none for {' or '.join(names)}",
            f"add '{example}'; there are: {held}",
        )
    )


def _row_used(what: str, row: Row, given: bool) -> tuple[Used, ...]:
    scenery = ("temperature", "T_ref", "X_ref", "a_low", "a_high")
    return tuple(
        Used(f"{what} ({row.name}): {symbol}", amount, given)
        for symbol, amount in row.values.items()
        if symbol not in scenery
    )


def assumed(value: float, unit: str, written: str, why: str) -> Sourced:
    """A number the program takes for lack of a better one; `why` says on what grounds."""
    return Sourced(value, unit, "assumed", why, written=written)


def need(condition: bool, what: str, mend: str) -> None:
    """Raise a `HardtackError` unless the condition holds."""
    if not condition:
        raise HardtackError(what, mend)
