"""From the product file's pack to the frozen `Pack`: film as tested, temperature law, whole-pack factor."""

from __future__ import annotations

from hardtack import reference
from hardtack.errors import NotOnShelf
from hardtack.pack.film import permeance_from_rate
from hardtack.product import Product
from hardtack.product.journey_spec import FilmSpec
from hardtack.sourced import Sourced, Used
from hardtack.states import Film, Pack
from hardtack.units import celsius


def pack_of(product: Product) -> tuple[Pack | None, tuple[Used, ...]]:
    """Build the pack, or None when the file has none. Returns it with every number used."""
    spec = product.pack
    if spec is None:
        return None, ()
    film, used = _given_film(spec.film) if isinstance(spec.film, FilmSpec) else _shelf_film(spec.film)
    used += [Used("film area of the pack", spec.area, True), Used("headspace", spec.headspace, True)]
    factor = spec.whole_pack_factor
    if isinstance(factor, Sourced):
        used.append(Used("whole-pack factor", factor, True))
    else:
        given = factor is not None
        factor = reference.whole_pack_factor(factor or "default")
        used.append(Used("whole-pack factor (seals and folds)", factor, given))
    return Pack(film, spec.area.value, spec.headspace.value, factor.value), tuple(used)


def _shelf_film(name: str) -> tuple[Film, list[Used]]:
    row = reference.film(name)
    permeance = permeance_from_rate(
        row["transmission"], row["temperature"], row["humidity_wet"], row["humidity_dry"]
    )
    used = [
        Used(f"transmission rate of {row.name} ({row.conditions})", row.values["transmission"], True),
        Used(f"activation energy of permeance of {row.name}", row.values["E"], False),
    ]
    return Film(row.name, permeance, row["temperature"], row["E"]), used


def _given_film(spec: FilmSpec) -> tuple[Film, list[Used]]:
    tested, T = spec.tested_at, spec.tested_at.temperature.value
    name = spec.name or "film"
    if spec.transmission is not None:
        assert tested.humidity_outside is not None  # the product file asks for both
        assert tested.humidity_inside is not None
        wet, dry = tested.humidity_outside.value, tested.humidity_inside.value
        permeance = permeance_from_rate(spec.transmission.value, T, wet, dry)
        conditions = f"{celsius(T):.0f} °C, {wet:.0%} against {dry:.0%}"
        used = [Used(f"transmission rate of the {name} ({conditions})", spec.transmission, True)]
    else:
        assert spec.permeance is not None  # the product file has one of the two
        permeance = spec.permeance.value
        used = [Used(f"permeance of the {name} (at {celsius(T):.0f} °C)", spec.permeance, True)]
    if spec.activation_energy is not None:
        energy = spec.activation_energy
        used.append(Used(f"activation energy of permeance of the {name}", energy, True))
    else:
        row = _law(name)
        energy = row.values["E"]
        used.append(Used(f"activation energy of permeance of the {name} ({row.name})", energy, False))
    return Film(name, permeance, T, energy.value), used


def _law(name: str) -> reference.Row:
    """The temperature law of the first polymer named in the film's name, else that of any other film."""
    for word in name.replace("/", " ").split():
        try:
            return reference.lookup("film temperature law", word)
        except NotOnShelf:
            continue
    return reference.lookup("film temperature law", "any other film")
